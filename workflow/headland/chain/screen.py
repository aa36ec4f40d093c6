"""Step 4: flags on single samples, and the state of the sky. Nothing is deleted here.

Which flags keep a sample out of the averages, and the limits, stand in `config/quality.csv`, each with its
source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import joined
from headland.base.frames import Made, Pieces, Table
from headland.base.time_text import time_decimals, time_text
from headland.chain import weather
from headland.chain.ingest import middle_of_interval
from headland.checks import instruments
from headland.checks.one_set import SetRecord
from headland.files import options, step
from headland.files.tables import gathered, pieces_of
from headland.physics import sun
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import own_emission

READS = {
    "raw": step.stored("samples_raw"),
    "calibrated": step.stored("samples_calibrated"),
    "corrected": step.stored("samples_corrected"),
    "certificates": step.table("certificates"),
    "limits": options.LIMITS,
    "weather": options.WEATHER,
}
WRITES = {"screened": "samples_screened"}

GUARD = 1e-9
"""W m-2: limits are compared exactly, with this much for rounding."""

CLEAR_INDEX, OVERCAST_INDEX = 0.85, 0.45
CLEAR_SCATTER, OVERCAST_SCATTER = 0.03, 0.10
"""Sky by the clear-sky index and its relative scatter about a straight line (common practice, no source)."""


def upper_limit(top_of_atmosphere, elevation, scale, power, offset):
    """Upper limit of a shortwave flux, W m-2: scale Sa mu0^power + offset (Long & Dutton 2002).

    top_of_atmosphere: Sa, W m-2, normal to the beam. elevation: of the sun, degrees; mu0, the sine of it,
    is 0 below the horizon.
    """
    mu0 = np.clip(np.sin(np.radians(elevation)), 0.0, None)
    return scale * top_of_atmosphere * mu0**power + offset


def outside(values, low, high):
    """Where a flux is outside its limits, compared strictly."""
    return (values < low - GUARD) | (values > high + GUARD)


def flags(
    samples: pd.DataFrame, limits: Mapping[str, Mapping], air_temperature, top_of_atmosphere
) -> dict[str, np.ndarray]:
    """One truth value a sample for each screening test.

    samples: sw_in, sw_out, lw_in, lw_out (W m-2), solar_elevation (degrees). limits: rows of quality.csv by
    flag, with numbers where a limit is one. air_temperature: degC, NaN where unknown (then no test against
    the air). top_of_atmosphere: W m-2.
    """
    sw_in, sw_out, lw_in, lw_out = (samples[c].to_numpy(float) for c in RADIATION)
    elevation = samples["solar_elevation"].to_numpy(float)
    air = np.asarray(air_temperature, dtype=float) + ZERO_CELSIUS
    found = {"missing": np.isnan(sw_in) | np.isnan(sw_out) | np.isnan(lw_in) | np.isnan(lw_out)}
    for flag, row in limits.items():
        if flag.endswith(("-impossible", "-rare")):
            values = samples[row["channel"]].to_numpy(float)
            high = (
                row["offset"]
                if np.isnan(row["scale"])
                else upper_limit(top_of_atmosphere, elevation, row["scale"], row["power"], row["offset"])
            )
            found[flag] = outside(values, row["low"], high)
    row = limits["sw-up-over-down"]
    found["sw-up-over-down"] = (sw_in > 50.0) & outside(sw_out, -np.inf, row["scale"] * sw_in + row["offset"])
    row = limits["lw_in-against-air"]
    found["lw_in-against-air"] = outside(
        lw_in, row["low"] * own_emission(air), row["scale"] * own_emission(air) + row["offset"]
    )
    row = limits["lw_out-against-air"]
    found["lw_out-against-air"] = outside(
        lw_out, own_emission(air + row["low"]), own_emission(air + row["offset"])
    )
    row = limits["lw-in-against-out"]
    found["lw-in-against-out"] = outside(lw_in, lw_out + row["low"], lw_out + row["offset"])
    found["sun-low"] = elevation < limits["sun-low"]["low"]
    return found


def sky_state(sw_in, sw_clear) -> str:
    """`clear`, `broken` or `overcast` for one interval, from SW_in and the clear-sky global in W m-2; empty
    where it can't be told.

    The index is the ratio of the means; the scatter is that of SW_in / SW_clear about a straight line in
    the order of the samples, relative to the index, so that the sun's own course is no scatter.
    """
    sw_in, sw_clear = np.asarray(sw_in, float), np.asarray(sw_clear, float)
    good = np.isfinite(sw_in) & (sw_clear > 50.0)
    if good.sum() == 0:
        return ""
    index = sw_in[good].mean() / sw_clear[good].mean()
    ratio = sw_in[good] / sw_clear[good]
    scatter = 0.0
    if good.sum() >= 5:
        order = np.arange(len(ratio))
        scatter = np.std(ratio - np.polyval(np.polyfit(order, ratio, 1), order)) / max(index, 0.05)
    if index >= CLEAR_INDEX and scatter <= CLEAR_SCATTER:
        return "clear"
    if index <= OVERCAST_INDEX and scatter <= OVERCAST_SCATTER:
        return "overcast"
    return "broken"


def found(
    flags_: Mapping[str, np.ndarray],
    limits: Mapping[str, Mapping],
    times: pd.Series,
    set_name: str,
    explained: set[str],
) -> list[Finding]:
    """A finding for each channel that is beyond what is physically possible, with how often and from when
    to when.

    explained: channels of which something is known to be wrong, so that this follows from it and is not
    listed beside it.
    """
    findings = []
    for flag, hit in flags_.items():
        if flag.endswith("-impossible") and hit.any() and limits[flag]["channel"] not in explained:
            first, last = time_text(times[hit].iloc[[0, -1]])
            findings.append(
                Finding(
                    "beyond-possible",
                    "",
                    set_name,
                    start_utc=first,
                    end_utc=last,
                    channel=limits[flag]["channel"],
                    facts={"count": int(hit.sum()), "meaning": limits[flag]["meaning"]},
                )
            )
    return findings


@dataclass(frozen=True)
class Recorded:
    """A set as steps 1 to 3 leave it, and its certificates in force."""

    raw: Table
    calibrated: Table
    corrected: Table
    certificates: pd.DataFrame


@dataclass(frozen=True)
class _Surroundings:
    """The sun and the air at the samples of a set.

    times: as stamped. position: the sun's elevation and azimuth at the middles of intervals. air: rows of
    the weather table.
    """

    times: pd.Series
    position: Callable
    limits: Mapping[str, Mapping]
    air: pd.DataFrame
    settings: Mapping

    def middle(self, times: pd.Series) -> pd.Series:
        """Middles of the averaging intervals of samples stamped at these times."""
        return middle_of_interval(times, self.settings["stamp"], self.settings["interval"])

    def seen(self, samples: pd.DataFrame) -> dict[str, np.ndarray]:
        """Sun and air at some samples, and the tests of single samples."""
        at = self.middle(self.times.loc[samples.index])
        elevation, _ = self.position(at)
        toa = sun.top_of_atmosphere(at)
        air = weather.at(at, self.air, self.settings["weather"])["air_temperature"]
        return {
            "solar_elevation": elevation,
            "sw_clear": sun.clear_sky_global(elevation, at, self.settings["site"]["elevation"]),
            "toa": toa,
            "air_temperature": air,
            **flags(samples.assign(solar_elevation=elevation), self.limits, air, toa),
        }

    def with_azimuth(self, samples: pd.DataFrame) -> pd.DataFrame:
        """Some samples with the sun's azimuth. It is written and not held."""
        return samples.assign(solar_azimuth=self.position(self.middle(samples["time_utc"]))[1])


def surroundings(times: pd.Series, limits: Mapping, air: pd.DataFrame, settings: Mapping) -> _Surroundings:
    """The sun's course over all samples of a set, and the air."""
    site = settings["site"]
    middle = middle_of_interval(times, settings["stamp"], settings["interval"])
    position = sun.course(middle, site["latitude"], site["longitude"], site["elevation"])
    return _Surroundings(times, position, limits, air, settings)


def run(recorded: Recorded, limits: Mapping[str, Mapping], air: pd.DataFrame, settings: Mapping) -> Made:
    """The sun at every sample of a set, and flags on those that look wrong.

    limits: rows of quality.csv by flag. air: rows of the weather table. settings: `set`, `site`, `weather`,
    `stamp`, `interval`, `channels` and `longwave`. Makes `screened`.
    """
    times = recorded.corrected["time_utc"]
    around = surroundings(times, limits, air, settings)
    tests = gathered(map(around.seen, recorded.corrected.pieces(RADIATION)), len(times))
    sky = {name: tests.pop(name) for name in ("solar_elevation", "sw_clear", "toa")}
    samples = pd.DataFrame({"time_utc": times, **sky}, copy=False)
    del sky
    air_course = tests.pop("air_temperature")
    record = SetRecord(
        settings["set"],
        raw=recorded.raw,
        sensed=recorded.calibrated,
        sun=samples,
        air=weather.usual(air_course),
        certificates=recorded.certificates,
        channels=settings["channels"],
        longwave=settings["longwave"],
        interval=settings["interval"],
        limits=limits,
        air_course=air_course,
    )
    diagnosis = instruments.diagnosed(record)
    tests |= diagnosis.flags
    samples["flags"] = joined(tests)
    pieces = (around.with_azimuth(samples.iloc[piece]) for piece in pieces_of(len(samples)))
    findings = found(tests, limits, times, settings["set"], diagnosis.wrong) + diagnosis.findings
    return Made({"screened": Pieces(pieces, {"time_utc": time_decimals(times)})}, findings, diagnosis.untold)
