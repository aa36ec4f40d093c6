"""What a planned day will show: expected values of a clear day through the chain's own model of uncertainty.

The table of surfaces gives the expected values. The model gives the half width of each difference, and from
it the number of passes that tells two surfaces apart. Sizes without another source are common practice.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from headland.base.times import since_1970
from headland.chain import balance, measured, propagate, summarise
from headland.chain.calibrate import CERTIFICATE
from headland.field.day import sky
from headland.files import user_tables
from headland.physics import geometry, radiation, series
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.geometry import GUARD_RADIUS
from headland.physics.instruments import RESPONSE_TIME
from headland.physics.longwave import own_emission
from headland.uncertainty import inputs
from headland.uncertainty.course import CourseSizes
from headland.uncertainty.distributions import COVERAGE, NORMAL_95
from headland.uncertainty.terms import of_term

HIGH_SUN = 800.0
"""W m-2 of clear sky at which the table's surface minus air holds; with less sun it is less in proportion
(common practice, no source)."""
GROUND_SCATTER, GROUND_SCATTER_K, PATCH = 0.025, 0.35, 2.0
"""Uneven ground under the head: relative scatter of reflected light, scatter of the temperature in K, and the
size of its patches in m (common practice, no source)."""
BODY_WARMER = 3.0
"""K by which a head in the sun is warmer than the air (common practice, no source)."""
NINE_IN_TEN = 1.2816
"""Standard deviations below its mean that a normal number stays above nine times in ten."""
MEMORY_STEP = 10.0
"""s between the moments at which a surface's memory of the sun is computed."""
COMPARED = ("albedo", "surface_temperature", "net_radiation_common_sky")


@dataclass(frozen=True)
class Circumstances:
    """What a plan assumes of a day.

    site: latitude, longitude, elevation. carrying: as in campaign.yaml. surfaces: class properties. terms: of
    uncertainty.csv. air: degC. humidity: %. response: 95 % response time of the heads, s.
    """

    site: Mapping[str, float]
    carrying: Mapping[str, float]
    surfaces: Mapping[str, Mapping]
    terms: Mapping[str, Mapping]
    course: Mapping[str, CourseSizes]
    air: float
    humidity: float
    response: float = RESPONSE_TIME

    def sky(self, times) -> pd.DataFrame:
        return sky(times, self.site, self.air, self.humidity)

    def settings(self, seed: int, draws: int) -> dict[str, Any]:
        """What steps 7 and 8 take of a campaign's settings."""
        methods = {
            "ground_heat": "class_fraction",
            "green_cover": "priestley_taylor",
            "latent_heat": "estimated",
            "set_scale": "none",
            "one_sided": "correct",
        }
        return {
            "site": self.site,
            "weather": {"air_temperature": self.air},
            "carrying": self.carrying,
            "methods": methods,
            "measured": {"stamp": "end", "wind_height": 2.0, "air_height": 2.0},
            "station": {"stamp": "end"},
            "sensor_height": self.carrying["sensor_height"],
            "seed": seed,
            "draws": draws,
        }

    @property
    def levelling(self) -> float:
        """Standard deviation of a head's lean along and across the walk, degrees."""
        term = self.terms["levelling"]
        return of_term(term).sigma if term["enabled"] == "true" else 0.0


def unsettled(visits: pd.DataFrame, walks: pd.DataFrame, given: Circumstances) -> np.ndarray:
    """By how much the shortwave that a surface remembers differs from that of each walk, W m-2.

    The sun moves on after the samples before (`series.remembered`), and a head that leans sees more of the
    beam one way than the other, of which the standard deviation counts. visits: a timetable. walks: its
    walks, with `incoming_set`.
    """
    result = np.zeros(len(walks))
    for name, own in walks.groupby("incoming_set"):
        stored = visits[
            (visits["set"] == name) & ~visits["activity"].isin(("clock_check", "channel_check"))
        ].sort_values("start_utc")
        parts = [
            pd.date_range(start, end, freq=f"{MEMORY_STEP:.0f}s")
            for start, end in zip(stored["start_utc"], stored["end_utc"], strict=True)
        ]
        times = parts[0].append(parts[1:])
        heading = np.repeat(stored["heading"].to_numpy(float), [len(part) for part in parts])
        off = _off_memory(pd.DatetimeIndex(times), heading, given)
        for index, start, end in zip(own.index, own["start_utc"], own["end_utc"], strict=True):
            during = (times >= start) & (times <= end)
            result[index] = math.sqrt(sum(float(x[during].mean()) ** 2 for x in off))
    return result


def _off_memory(times: pd.DatetimeIndex, heading: np.ndarray, given: Circumstances) -> list[np.ndarray]:
    """What a surface remembers minus what it gets: of the sun, and of a lean along and across the heading, W
    m-2."""
    day, seconds = given.sky(times), since_1970(times)
    elevation = day["elevation"].to_numpy()
    level = day["beam"].to_numpy() * np.clip(np.sin(np.radians(elevation)), 0.0, None)
    ahead = day["azimuth"].to_numpy() - np.nan_to_num(heading)
    leaning = [
        level * geometry.tilt_effect(given.levelling, 90.0 - elevation, ahead - towards)
        for towards in (0.0, 90.0)
    ]
    return [series.remembered(seconds, x) - x for x in (day["sw_in"].to_numpy(), *leaning)]


def expected_segments(visits: pd.DataFrame, given: Circumstances) -> pd.DataFrame:
    """The walks of a timetable as step 6 would find them, under a clear sky, over the table's surfaces."""
    walks = visits[visits["activity"] == "walk"].reset_index(drop=True)
    middle = walks["start_utc"] + (walks["end_utc"] - walks["start_utc"]) / 2
    day = given.sky(pd.DatetimeIndex(middle))
    height, speed = given.carrying["sensor_height"], given.carrying["walking_speed"]
    lost = 2 * GUARD_RADIUS * height / speed + given.response
    used = np.maximum(walks["length"].to_numpy(float) / speed - lost, 0.0)
    frame = walks.assign(
        segment=[f"{s}-{i:03d}" for i, s in enumerate(walks["set"])],
        samples=used.astype(int),
        samples_used=used.astype(int),
        weight=used,
        height=height,
        speed=speed,
        independent=used * speed / (series.VIEW_LENGTH * height + 2.0 * PATCH) / series.CAUTION,
        solar_elevation=day["elevation"],
        solar_azimuth=day["azimuth"],
        noted_sky="",
        sky="clear",
        notes_row=range(len(walks)),
    )
    monitors = visits.loc[visits["activity"] == "sky_monitor", "set"]
    frame = frame.assign(
        incoming_set=monitors.iloc[0] if len(monitors) else frame["set"],
        incoming_heading=0.0 if len(monitors) else frame["heading"],
        **inputs.UNDISTURBED,
    )
    frame = frame.assign(**_expected_values(frame, day, given))
    return frame.assign(sw_in_memory=frame["sw_in"] + unsettled(visits, frame, given))


def _property(walks: pd.DataFrame, key: str, surfaces: Mapping[str, Mapping]) -> np.ndarray:
    """A property of each walk's surface class."""
    return np.array([surfaces[s][key]["value"] for s in walks["surface"]], dtype=float)


def _expected_values(walks: pd.DataFrame, day: pd.DataFrame, given: Circumstances) -> dict[str, Any]:
    """The columns of radiation and temperature that step 6 gives of each walk. day: the sky in the middle of
    each."""
    albedo = _property(walks, "albedo", given.surfaces)
    emissivity = _property(walks, "emissivity", given.surfaces)
    warmer = _property(walks, "surface_minus_air", given.surfaces) * np.clip(
        day["sw_in"] / HIGH_SUN, 0.0, 1.3
    )
    surface = given.air + ZERO_CELSIUS + warmer
    body = given.air + BODY_WARMER
    emission = float(own_emission(body + ZERO_CELSIUS))
    sw_in, lw_in = day["sw_in"].to_numpy(), day["lw_in"].to_numpy()
    flux = {
        "sw_in": sw_in,
        "sw_out": albedo * day["sw_in"],
        "lw_in": lw_in,
        "lw_out": emissivity * own_emission(surface) + (1 - emissivity) * day["lw_in"],
    }
    sunny = (day["elevation"] > radiation.ALBEDO_ELEVATION) & (day["sw_in"] > radiation.ALBEDO_SW_IN)
    weight = walks["weight"].to_numpy()
    return {
        **flux,
        "body_temperature": body,
        "incoming_body_temperature": body,
        "lw_in_net": lw_in - emission,
        "lw_out_net": flux["lw_out"] - emission,
        "albedo": np.where(sunny, albedo, np.nan),
        "albedo_sw_in": np.where(sunny, sw_in * weight, 0.0),
        "albedo_sw_out": np.where(sunny, flux["sw_out"] * weight, 0.0),
        "net_radiation": radiation.net_radiation(*(flux[c] for c in RADIATION)),
        "surface_temperature": surface - ZERO_CELSIUS,
        "ground_sw_out": GROUND_SCATTER * flux["sw_out"],
        "ground_lw_out": 4.0 * emissivity * own_emission(surface) / surface * GROUND_SCATTER_K,
        "ground_correlation": 0.0,
    }


def default_certificates(sets: Sequence[str]) -> pd.DataFrame:
    """Certificates a year old without a figure of their own, where there is no register yet."""
    rows = [
        {
            "set": name,
            "channel": c,
            "age_months": 12.0,
            **dict.fromkeys(CERTIFICATE, math.nan),
            **dict.fromkeys(("instrument_class", "reference", "body_channel"), ""),
        }
        for name in sets
        for c in RADIATION
    ]
    return pd.DataFrame(rows)


def expected_differences(
    segments: pd.DataFrame, certificates: pd.DataFrame, given: Circumstances, seed: int, draws: int
) -> pd.DataFrame:
    """One row a pair of surfaces and compared quantity.

    Columns: expected difference; half width of its 95 % interval as planned, and the part of it that more
    passes do not reduce; passes planned; passes needed for nine in ten (inf where no number is enough). The
    chain's own model is run twice, with and without the ground between the walks, whose part falls with the
    number of passes.
    """
    frame = segments[segments["weight"] > 0].reset_index(drop=True)
    frame, means, _ = summarise.under_one_sky(frame, given.surfaces)
    settings = given.settings(seed, draws)
    no_table, _ = user_tables.read_weather(())
    outside = measured.only_weather(no_table)
    balances = balance.run(frame, means, given.surfaces, outside, settings).tables
    calm = {**given.terms, "ground": {**given.terms["ground"], "enabled": "false"}}
    full, firm = (
        propagate.intervals(
            {"segments": frame, **means},
            balances,
            settings,
            propagate.Known(certificates, given.surfaces, terms, given.course, no_table),
        ).differences
        for terms in (given.terms, calm)
    )
    passes = frame.groupby("surface").size()
    pairs = max(1, len(passes) * (len(passes) - 1) // 2)
    records = [
        _difference(row, other, int(min(passes[row["surface_a"]], passes[row["surface_b"]])), pairs)
        for row, other in zip(full.to_dict("records"), firm.to_dict("records"), strict=True)
        if row["quantity"] in COMPARED
    ]
    return pd.DataFrame(records, columns=DIFFERENCE_COLUMNS)


DIFFERENCE_COLUMNS = (
    "surface_a",
    "surface_b",
    "quantity",
    "difference",
    "half_width",
    "half_width_firm",
    "passes",
    "passes_needed",
)


def _difference(row: Mapping, firm: Mapping, passes: int, pairs: int) -> dict[str, object]:
    """A row of `expected_differences`. firm: the same row without the ground between the walks. pairs: of
    surfaces, which are all tested.
    """
    width, least = ((r["difference_high"] - r["difference_low"]) / 2.0 for r in (row, firm))
    return {
        **{name: row[name] for name in ("surface_a", "surface_b", "quantity", "difference")},
        "half_width": width,
        "half_width_firm": least,
        "passes": passes,
        "passes_needed": passes_needed(abs(row["difference"]), (width, least), passes, pairs),
    }


def promise(pairs: int) -> float:
    """Half widths of the 95 % interval by which two surfaces must differ to be told apart nine times in ten.

    One pair: (1.960 + 1.282) / 1.960. With more pairs the first of Holm's tests asks for 0.05 over their
    number (`differences.significant`), so each must differ by more.
    """
    tested = -ndtri((1.0 - COVERAGE) / (2.0 * pairs))
    return float((tested + NINE_IN_TEN) / NORMAL_95)


def passes_needed(difference: float, widths: tuple[float, float], passes: int, pairs: int) -> float:
    """Passes over each surface that tell a difference nine times in ten.

    Half widths add in squares, and the ground's part falls with the passes. widths: half width of the 95 %
    interval with so many passes, and that without the ground's part. pairs: that are tested together. Returns
    inf where the rest alone is too wide, NaN where nothing is known.
    """
    half_width, firm = widths
    room = (difference / promise(pairs)) ** 2 - firm**2
    if not room > 0:
        return math.inf if math.isfinite(half_width) else math.nan
    return max(1.0, math.ceil(max(half_width**2 - firm**2, 0.0) * passes / room))
