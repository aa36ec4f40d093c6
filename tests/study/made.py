"""A small made record of one set, for tests of single checks: no simulator, every number is written here."""

from pathlib import Path

import numpy as np
import pandas as pd

from headland.base.flags import limits_of
from headland.checks import instruments
from headland.checks.one_set import Diagnosis, SetRecord
from headland.files.own_numbers import quality_rows
from headland.physics.constants import RADIATION

LIMITS = limits_of(quality_rows(Path(__file__).parents[2] / "config" / "quality.csv"))
SIGMA = 5.670374419e-8
CLEAR = 800.0
"""W m-2: the clear sky's shortwave, and that of the top of the atmosphere is 1300 W m-2, the sun at 45
degrees."""


def emission(celsius):
    return SIGMA * (np.asarray(celsius) + 273.15) ** 4


def record(
    seconds: int = 900,
    *,
    interval: float = 1.0,
    air: float = 20.0,
    factor: float = 66.0,
    step: float = 0.0,
    **series,
) -> SetRecord:
    """A sound set under a clear sky, with what is given changed.

    seconds: length. factor: of all channels, W m-2 per mV. step: W m-2 to which the logger rounds what it
    stores (0: it does not), in fluxes instead of mV. series: `sw_in`, `sw_out`, `lw_in`, `lw_out` (net) in
    W m-2, `body` in degC, `elevation` in degrees, `held`, a channel's sample and the value that it keeps
    from there on, `response` (95 %) in s; numbers or arrays."""
    count = round(seconds / interval)
    rng = np.random.default_rng(1)
    usual = {"sw_in": 780.0, "sw_out": 160.0, "lw_in": -95.0, "lw_out": 30.0}
    flux = {
        name: np.asarray(series.get(name, value)) + 0.2 * rng.standard_normal(count)
        for name, value in usual.items()
    }
    flux = {name: np.round(value / step) * step if step else value for name, value in flux.items()}
    for name, (since, value) in series.get("held", {}).items():
        flux[name][since:] = value
    body = np.broadcast_to(np.asarray(series.get("body", 23.0), float), count)
    elevation = np.broadcast_to(np.asarray(series.get("elevation", 45.0), float), count)
    time = pd.Series(
        pd.date_range("2025-06-16 10:00", periods=count, freq=pd.Timedelta(seconds=interval), tz="UTC")
    )
    net = {"sw_in": "sw_in", "sw_out": "sw_out", "lw_in": "lw_in_net", "lw_out": "lw_out_net"}
    sensed = {net[name]: value for name, value in flux.items()}
    bodies = {f"body_temperature_{name}": body for name in ("lw_in", "lw_out")}
    clear = CLEAR * np.sin(np.radians(elevation)) / np.sin(np.radians(45.0))
    unit = "W m-2" if step else "mV"
    return SetRecord(
        "heron",
        raw=pd.DataFrame(flux if step else {c: v / factor for c, v in flux.items()}).assign(
            body_temperature=body
        ),
        sensed=pd.DataFrame({**sensed, **bodies}),
        sun=pd.DataFrame({"time_utc": time, "solar_elevation": elevation, "sw_clear": clear, "toa": 1300.0}),
        air=air,
        certificates=pd.DataFrame(
            {"channel": list(RADIATION), "factor": factor, "response_time_95": series.get("response", 12.0)}
        ),
        channels={**{c: {"unit": unit} for c in RADIATION}, "body_temperature": {"unit": "degC"}},
        longwave="net",
        interval=interval,
        limits=LIMITS,
    )


def diagnosed(**series) -> Diagnosis:
    return instruments.diagnosed(record(**series))


def found(diagnosis: Diagnosis) -> list[tuple[str, str, str]]:
    """Code, variant and channels of what was found."""
    return [(f.code, f.variant, f.channel) for f in diagnosis.findings]


def unmade(diagnosis: Diagnosis) -> set[tuple[str, str]]:
    """Code and reason of the checks that could not be made."""
    return {(u.code, u.reason) for u in diagnosis.untold}
