"""A small weather table, and ways to read tables and name what was found."""

from pathlib import Path

from headland.files import user_tables

PROJECT = Path(__file__).parents[3]
SCHEMAS = PROJECT / "workflow/schemas"
TEXT = (
    "time_utc,air_temperature,relative_humidity,pressure,wind_speed\n"
    "2026-05-21T09:00:00Z,19.5,50,975,2.5\n2026-05-21T10:00:00Z,20.5,,,\n"
)


def read(folder, content, name="weather.csv", kind="weather"):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return user_tables.read_user_table(path, kind)


def codes(found):
    return [finding.code + (f"/{finding.variant}" if finding.variant else "") for finding in found]


def register(*rows, header="set,logger_id,channel,sensor_id,factor,factor_unit,certificate_date"):
    return header + "\n" + "".join(row + "\n" for row in rows)
