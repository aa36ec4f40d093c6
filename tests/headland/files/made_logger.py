"""Logger files and layouts for tests."""

import datetime
import io
from pathlib import Path

import pandas as pd

from headland.files.logger_files import read_logger_file

REAL = Path(__file__).parents[3].parent / "shared" / "real"
CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out", "body_temperature")
UTC = datetime.timedelta(0)
HEADER = "stamp,a,b,c,d,e\n"
SOUND = "".join(f"2026-05-21 10:00:{second:02d},{second}.5,20,-90.25,3,18.1\n" for second in range(20))


def layout(*columns, **changes):
    """A complete layout: comma-separated, with names; `columns` are those of the five channels."""
    channels = {
        channel: {"column": column, "unit": "mV"}
        for channel, column in zip(CHANNELS, columns or "abcde", strict=True)
    }
    return {
        "delimiter": ",",
        "decimal": ".",
        "encoding": "utf-8",
        "skip_lines": 0,
        "names": True,
        "lines_after_names": 0,
        "missing": ["", "NaN"],
        "interval": 1.0,
        "stamp": "end",
        "channels": channels,
        "time": {"column": "stamp", "format": "%Y-%m-%d %H:%M:%S"},
    } | changes


def read(content, plan=None, utc_offset=UTC, name="logger/heron_1.csv"):
    raw = content if isinstance(content, bytes) else content.encode("utf-8")
    return read_logger_file(
        io.BytesIO(raw), name, "heron", plan or layout(), utc_offset=utc_offset, logger_id="L-07"
    )


def codes(findings):
    return [(finding.code, finding.variant) for finding in findings]


def only(findings, code, variant=""):
    """The one finding there is, which must be this."""
    assert codes(findings) == [(code, variant)]
    assert findings[0].set == "heron" and findings[0].file == "logger/heron_1.csv"
    return findings[0]


def moments(*texts):
    return pd.DatetimeIndex(pd.to_datetime(list(texts), format="ISO8601", utc=True)).as_unit("us")


def time_of(cells, plan_time, **changes):
    """Times read from rows that hold `cells` before five sound channels, by position."""
    rows = "".join(",".join(str(cell) for cell in row) + ",1,2,3,4,5\n" for row in cells)
    first = len(cells[0]) + 1
    return read(rows, layout(*range(first, first + 5), names=False, time=plan_time, **changes))


def identified(pattern=r"logger (\S+)", line=1):
    return layout(skip_lines=1, identity={"logger_id": {"line": line, "pattern": pattern}})
