"""What people write: the notes, the register, the settings and the weather file."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from . import sky as skies
from .files import iso
from .sky import KELVIN
from .spec import Spec, layout_of
from .stays import Stay, seconds

NOTES_COLUMNS = (
    "date",
    "set",
    "start",
    "end",
    "field",
    "surface",
    "activity",
    "transect",
    "pass",
    "heading",
    "speed",
    "length",
    "slope",
    "aspect",
    "canopy_height",
    "sky",
    "logger_shows",
    "remark",
)
REGISTER_COLUMNS = (
    "set",
    "logger_id",
    "channel",
    "sensor_id",
    "factor",
    "factor_unit",
    "programmed_factor",
    "expanded_uncertainty_percent",
    "certificate_date",
    "response_time_95",
    "instrument_class",
    "remark",
)


def note(spec: Spec, stay: Stay, zone: ZoneInfo, start: float) -> dict[str, str]:
    """One line of the notes."""
    v, f = stay.visit, stay.field

    def wall(t):
        return dt.datetime.fromtimestamp(t + spec.notes_shift, zone)

    form = "%H:%M" if spec.notes_to_minute else "%H:%M:%S"
    row = dict.fromkeys(NOTES_COLUMNS, "")
    first = wall(stay.start)
    row.update(
        date=first.strftime("%Y-%m-%d"),
        set=v.set,
        start=first.strftime(form),
        activity=v.activity,
        remark=v.remark,
    )
    if v.activity == "clock_check":
        s = next(s for s in spec.sets if s.name == v.set)
        shows = (
            stay.start + seconds(s.utc_offset) + s.clock_error + s.clock_drift * (stay.start - start) / 86400
        )
        shows = np.floor(shows + 1e-6) if spec.errors.clock_reading else np.round(shows)
        row["logger_shows"] = dt.datetime.fromtimestamp(shows, dt.UTC).strftime("%H:%M:%S")
        return row
    last = wall(stay.end)
    row["end"] = last.strftime(form if last.date() == first.date() else f"%Y-%m-%d {form}")
    row.update(
        field=f.name,
        surface=f.surface,
        canopy_height=f"{f.canopy_height:g}" if f.canopy_height else "",
        sky=spec.sky.kind,
    )
    row.update(transect=str(v.transect), heading=f"{stay.heading:g}" if v.heading_noted else "")
    if v.activity == "walk":
        row.update(
            {
                "pass": str(v.pass_number),
                "speed": f"{v.speed or spec.carrying.walking_speed:.2f}",
                "length": f"{f.length:g}",
            }
        )
    return row


def weather(
    spec: Spec, rng: np.random.Generator, overhead: skies.Overhead, begin: float, end: float
) -> pd.DataFrame:
    step = spec.weather_step or 600.0
    time = np.arange(np.floor(begin / step), np.ceil(end / step) + 1) * step
    air = np.interp(time, overhead.time, overhead.air) - KELVIN
    saturated = 6.112 * np.exp(17.62 * air / (243.12 + air))  # hPa, Magnus form of WMO-No. 8, from memory
    wind = spec.sky.wind_speed * np.exp(0.2 * skies.wander(rng, time.size, step, 1800.0))
    return pd.DataFrame(
        {
            "time_utc": [iso(t) for t in time],
            "air_temperature": air,
            "relative_humidity": np.minimum(100 * spec.sky.vapour_pressure / saturated, 100.0),
            "pressure": 1013.25 * np.exp(-spec.site.elevation / 8400.0) + 0.0 * air,
            "wind_speed": wind,
        }
    )


def settings(spec: Spec, air: pd.DataFrame) -> dict:
    """campaign.yaml as a mapping."""
    sets = {}
    for s in spec.sets:
        layout, named = layout_of(s)
        sets[s.name] = {
            "logger_id": s.logger_id,
            "utc_offset": s.utc_offset,
            "files": f"logger/{s.name}_*.csv",
            "layout": s.layout if named else layout,
            "longwave": s.longwave,
        }
    site = spec.site
    out = {
        "title": spec.title,
        "site": {
            "name": site.name,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "elevation": site.elevation,
            "timezone": site.timezone,
        },
        "sets": sets,
        "notes": {"timezone": spec.notes_timezone or site.timezone, "shift": _clock(-spec.notes_shift)},
        "carrying": {
            name: float(getattr(spec.carrying, name))
            for name in ("sensor_height", "reach", "carrier_height", "carrier_width", "walking_speed")
        },
    }
    if spec.weather_step is None:
        middle = air.iloc[len(air) // 2]
        out["weather"] = {
            "air_temperature": round(float(middle["air_temperature"]), 1),
            "relative_humidity": round(float(middle["relative_humidity"])),
        }
    if spec.methods:
        out["methods"] = dict(spec.methods)
    if spec.declare_emissivity:
        out["overrides"] = {"surfaces": {f.surface: {"emissivity": f.emissivity} for f in spec.fields}}
    if spec.workflow_seed is not None:
        out["seed"] = spec.workflow_seed
    if spec.plan:
        out["plan"] = dict(spec.plan)
    return out


def register(spec: Spec) -> pd.DataFrame:
    """instruments.csv: a row for each sensor and certificate."""
    rows = []
    for s in spec.sets:
        for channel, sensor in s.sensors.items():
            seconds = "" if sensor.response_time_95 is None else f"{sensor.response_time_95:g}"
            start = (s.name, s.logger_id, channel, sensor.sensor_id)
            if not sensor.certificates and channel != "body_temperature":
                raise ValueError(f"set {s.name}: {channel} has no certificate")
            for c in sensor.certificates:
                programmed = "" if sensor.programmed_factor is None else f"{sensor.programmed_factor:g}"
                percent = (
                    "" if c.expanded_uncertainty_percent is None else f"{c.expanded_uncertainty_percent:g}"
                )
                rows.append(
                    (
                        *start,
                        repr(c.factor),
                        c.unit,
                        programmed,
                        percent,
                        c.date,
                        seconds,
                        sensor.instrument_class,
                        "",
                    )
                )
    return pd.DataFrame(rows, columns=REGISTER_COLUMNS)


def _clock(seconds: float) -> str:
    """A shift as campaign.yaml has it, such as -01:00:00."""
    whole = abs(int(round(seconds)))
    return f"{'-' if seconds < 0 else ''}{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"
