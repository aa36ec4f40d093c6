"""Loggers: sampling, steps, noise, clocks and the layouts in which they store."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .seeds import log_uniform, stream

MILLIVOLT_STEPS = (0.0001, 0.001, 0.001, 0.005)
WATT_STEPS = (0.01, 0.1, 0.5, 1.0)
ORDER = ("sw_in", "sw_out", "lw_in", "lw_out", "body_temperature", "battery")


@dataclass
class Logger:
    """One logger."""

    label: str
    kind: str  # layout: comma-clock, semicolon-day or inline
    variant: int  # of the inline layouts
    interval: float  # s
    stamp: str
    unit: str  # mV, uV or W m-2
    step: float  # in that unit
    noise: float  # in steps
    averages: bool
    offset: float  # s, clock minus true time at the middle of the survey
    drift: float  # s per s
    missed: float  # share of seconds
    utc_offset: int  # h
    longwave: str  # net or corrected
    programmed: dict[str, float]  # uV per W m-2, where it stores fluxes
    battery: float
    thermometer_step: float
    checked: bool  # clock checks are noted


def draw_logger(seed: int, set_name: str, *, kind: str | None, offset_hours: int, certified: dict) -> Logger:
    """Draw the logger of a set; certified holds each channel's sensitivity by its certificate in force."""
    rng = stream(seed, "logger", set_name)
    drawn = str(rng.choice(["comma-clock", "semicolon-day", "inline"], p=[0.35, 0.3, 0.35]))
    kind = kind or drawn
    variant = int(rng.integers(3))
    unit = {"comma-clock": "mV", "semicolon-day": "W m-2", "inline": ("mV", "uV", "W m-2")[variant]}[kind]
    step = float(rng.choice(WATT_STEPS if unit == "W m-2" else MILLIVOLT_STEPS))
    if unit == "uV":
        step = float(rng.choice([0.1, 1.0]))
    inline = kind == "inline"
    stale = bool(rng.uniform() < 0.3)
    programmed = {}
    for channel, value in certified.items():
        programmed[channel] = float(np.round(value * (1.0 + rng.normal(0.0, 0.02) * stale), 2))
    offset = float(rng.normal(0.0, 12.0))
    return Logger(
        label=f"{set_name[0].upper()}-{int(rng.integers(10, 99))}",
        kind=kind,
        variant=variant,
        interval=float(rng.choice([1.0, 1.0, 2.0, 5.0])) if inline else 1.0,
        stamp=str(rng.choice(["end", "start", "instant"])) if inline else "end",
        unit=unit,
        step=step,
        noise=float(log_uniform(rng, 0.2, 1.5)),
        averages=bool(rng.uniform() < 0.7),
        offset=float(np.clip(offset, -40.0, 40.0)),
        drift=float(rng.normal(0.0, 1.5e-5)),
        missed=float(rng.choice([0.0, 0.0003, 0.002])),
        utc_offset=offset_hours if rng.uniform() < 0.6 and not (inline and variant == 1) else 0,
        longwave="corrected" if unit == "W m-2" and rng.uniform() < 0.3 else "net",
        programmed=programmed if unit == "W m-2" else {},
        battery=float(rng.uniform(12.2, 13.1)),
        thermometer_step=float(rng.choice([0.01, 0.01, 0.1])),
        checked=bool(rng.uniform() < 0.85),
    )


def layout_of(logger: Logger, two: bool) -> str | dict:
    """Return the layout for campaign.yaml: a name, or a mapping."""
    if logger.kind != "inline":
        return logger.kind
    base = {
        "interval": logger.interval,
        "stamp": logger.stamp,
        "encoding": ("utf-8", "utf-8", "latin-1")[logger.variant],
        "missing": ["", "NaN", "-9999"],
    }
    unit = logger.unit
    names = [
        ["3", "4", "5", "6", "7", "8"],
        ["k1", "k2", "e1", "e2", "t1", "t2", "ub"],
        ["Kurz oben", "Kurz unten", "Lang oben", "Lang unten", "Körper"],
    ][logger.variant]
    if logger.variant == 0:
        base |= {
            "delimiter": "whitespace",
            "decimal": ".",
            "skip_lines": 1,
            "names": False,
            "time": {"columns": [1, 2], "format": "%Y-%m-%d %H:%M:%S"},
            "identity": {"logger_id": {"line": 1, "pattern": "box (\\S+)"}},
        }
        columns = [int(name) for name in names]
    elif logger.variant == 1:
        base |= {
            "delimiter": "\t",
            "decimal": ".",
            "skip_lines": 0,
            "names": True,
            "lines_after_names": 0,
            "time": {"column": "t", "unit": "s", "since": "1970-01-01"},
        }
        columns = names
    else:
        base |= {
            "delimiter": ";",
            "decimal": ",",
            "skip_lines": 1,
            "names": True,
            "lines_after_names": 1,
            "time": {"column": "Zeit", "format": "%d.%m.%Y %H:%M:%S"},
        }
        columns = names
    channels = {name: {"column": columns[k], "unit": unit} for k, name in enumerate(ORDER[:4])}
    warm = "K" if logger.variant == 2 else "degC"
    if two and logger.variant < 2:
        channels["body_temperature_lw_in"] = {"column": columns[4], "unit": warm}
        channels["body_temperature_lw_out"] = {"column": columns[5], "unit": warm}
    else:
        channels["body_temperature"] = {"column": columns[4], "unit": warm}
    return base | {"channels": channels}


def decimals(step: float) -> int:
    """Return the decimals that show a step."""
    return max(0, int(np.ceil(-np.log10(step) - 1e-9)))


def column_text(values: np.ndarray, step: float, comma: bool) -> list[str]:
    """Return values as texts with the step's decimals; missing ones are empty."""
    places = decimals(step)
    texts = [f"{value:.{places}f}" for value in values]
    if comma:
        texts = [text.replace(".", ",") for text in texts]
    return ["" if text == "nan" else text for text in texts]


def file_text(logger: Logger, records: pd.DataFrame, two: bool) -> tuple[str, str]:
    """Return the file as text and its encoding; records: clock (logger's own time), channels as stored."""
    comma = logger.kind == "semicolon-day" or (logger.kind == "inline" and logger.variant == 2)
    clock = pd.DatetimeIndex(records["clock"])
    columns = [column_text(records[name].to_numpy(), logger.step, comma) for name in ORDER[:4]]
    warm = 273.15 if logger.kind == "inline" and logger.variant == 2 else 0.0
    first = column_text(records["body_temperature"].to_numpy() + warm, logger.thermometer_step, comma)
    second = column_text(records["body_temperature_2"].to_numpy(), logger.thermometer_step, comma)
    battery = column_text(records["battery"].to_numpy(), 0.01, comma)
    if logger.kind == "comma-clock":
        head = [
            f"logger {logger.label}",
            "field logger, records switched by hand",
            "clock,short_from_above,short_from_below,long_from_above,long_from_below,head,supply",
            "-,mV,mV,mV,mV,degC,V",
        ]
        return lines(head, [clock.strftime("%Y-%m-%d %H:%M:%S"), *columns, first, battery], ","), "utf-8"
    if logger.kind == "semicolon-day":
        head = [
            "field logger, records switched by hand",
            f"ident={logger.label}",
            "day;time;K_top;K_bottom;L_top;L_bottom;T_head;U_supply",
        ]
        stamps = [clock.strftime("%d.%m.%Y"), clock.strftime("%H:%M:%S")]
        return lines(head, [*stamps, *columns, first, battery], ";"), "utf-8"
    if logger.variant == 0:
        stamps = [clock.strftime("%Y-%m-%d"), clock.strftime("%H:%M:%S")]
        last = second if two else battery
        filled = [[text or "-9999" for text in column] for column in (*columns, first, last)]
        return lines([f"box {logger.label}"], [*stamps, *filled], " "), "utf-8"
    if logger.variant == 1:
        seconds = [str(round(stamp.timestamp())) for stamp in clock.tz_localize("UTC")]
        return lines(
            ["t\tk1\tk2\te1\te2\tt1\tt2\tub"], [seconds, *columns, first, second, battery], "\t"
        ), "utf-8"
    head = [
        f"Messkoffer {logger.label}",
        "Zeit;Kurz oben;Kurz unten;Lang oben;Lang unten;Körper",
        ";W/m²;W/m²;W/m²;W/m²;K",
    ]
    return lines(head, [clock.strftime("%d.%m.%Y %H:%M:%S"), *columns, first], ";"), "latin-1"


def lines(head: list[str], columns: list, delimiter: str) -> str:
    """Return a file of head lines and joined columns."""
    body = (delimiter.join(row) for row in zip(*columns, strict=True))
    return "\n".join([*head, *body]) + "\n"
