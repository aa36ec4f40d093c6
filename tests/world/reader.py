"""Reads the world's own logger files by their layouts, for the tests and for injected mistakes."""

import io

import numpy as np
import pandas as pd

from .sky import KELVIN, SIGMA

KNOWN = {
    "comma-clock": {
        "delimiter": ",",
        "decimal": ".",
        "skip_lines": 2,
        "names": True,
        "lines_after_names": 1,
        "interval": 1.0,
        "time": {"column": "clock", "format": "%Y-%m-%d %H:%M:%S"},
        "stamp": "end",
        "channels": {
            "sw_in": {"column": "short_from_above", "unit": "mV"},
            "sw_out": {"column": "short_from_below", "unit": "mV"},
            "lw_in": {"column": "long_from_above", "unit": "mV"},
            "lw_out": {"column": "long_from_below", "unit": "mV"},
            "body_temperature": {"column": "head", "unit": "degC"},
        },
    },
    "semicolon-day": {
        "delimiter": ";",
        "decimal": ",",
        "skip_lines": 2,
        "names": True,
        "lines_after_names": 0,
        "interval": 1.0,
        "time": {"columns": ["day", "time"], "format": "%d.%m.%Y %H:%M:%S"},
        "stamp": "end",
        "channels": {
            "sw_in": {"column": "K_top", "unit": "W m-2"},
            "sw_out": {"column": "K_bottom", "unit": "W m-2"},
            "lw_in": {"column": "L_top", "unit": "W m-2"},
            "lw_out": {"column": "L_bottom", "unit": "W m-2"},
            "body_temperature": {"column": "T_head", "unit": "degC"},
        },
    },
}


def layout_mapping(layout: str | dict) -> dict:
    """Return a layout as a mapping."""
    return KNOWN[layout] if isinstance(layout, str) else layout


def head_lines(layout: dict) -> int:
    """Return the lines before the first record."""
    return layout.get("skip_lines", 0) + int(layout.get("names", True)) + layout.get("lines_after_names", 0)


def read_file(text: str, layout: str | dict) -> pd.DataFrame:
    """Return the records of a file: clock (logger's time) and the channels in the file's units."""
    layout = layout_mapping(layout)
    rows = text.splitlines()
    names_line = rows[layout.get("skip_lines", 0)] if layout.get("names", True) else None
    separator = r"\s+" if layout["delimiter"] == "whitespace" else layout["delimiter"]
    body = "\n".join(rows[head_lines(layout) :])
    table = pd.read_csv(
        io.StringIO(body), sep=separator, header=None, dtype=str, keep_default_na=False, engine="c"
    )
    table.columns = names_line.split(layout["delimiter"]) if names_line else range(1, table.shape[1] + 1)
    time = layout["time"]
    if "unit" in time:
        clock = pd.Timestamp(time["since"]) + pd.to_timedelta(table[time["column"]].astype(float), unit="s")
    else:
        columns = time.get("columns") or [time["column"]]
        text_time = table[columns[0]]
        for column in columns[1:]:
            text_time = text_time + " " + table[column]
        clock = pd.to_datetime(text_time, format=time["format"])
    out = pd.DataFrame({"clock": clock})
    for name, channel in layout["channels"].items():
        values = table[channel["column"]].replace(list(layout.get("missing", [""])), "nan")
        out[name] = values.str.replace(",", ".").astype(float)
    return out


def to_fluxes(
    records: pd.DataFrame, layout: str | dict, register: pd.DataFrame, longwave: str
) -> pd.DataFrame:
    """Return fluxes as the textbook has them, W m-2: the latest certificate, the body's emission added."""
    layout = layout_mapping(layout)
    out = pd.DataFrame({"clock": records["clock"]})
    for name in ("sw_in", "sw_out", "lw_in", "lw_out"):
        row = register[register["channel"] == name].iloc[-1]
        unit = layout["channels"][name]["unit"]
        factor = per_microvolt(row["factor"], row["factor_unit"])
        programmed = row["programmed_factor"]
        old = per_microvolt(programmed, row["factor_unit"]) if programmed else factor
        warm = records.get("body_temperature_" + name, records.get("body_temperature"))
        warm = warm if warm is not None else np.nan
        kelvin = (
            0.0 if layout["channels"].get("body_temperature", {"unit": "degC"})["unit"] == "K" else KELVIN
        )
        emission = SIGMA * (warm + kelvin) ** 4 if name.startswith("lw") else 0.0
        values = records[name] - (emission if longwave == "corrected" and unit == "W m-2" else 0.0)
        scale = {"mV": 1000.0 * factor, "uV": factor, "W m-2": factor / old}[unit]
        out[name] = values * scale + emission
    return out


def per_microvolt(text: str, unit: str) -> float:
    """Return W m-2 per uV."""
    return float(text) / 1000.0 if unit == "W m-2 per mV" else 1.0 / float(text)
