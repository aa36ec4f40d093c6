"""The plan of a day to come: sun, headings without shadow, hours in which tilt costs least, expected values, passes, order of visits, timetable.

It turns the functions of the chain round: the same geometry says which headings keep the carrier's shadow out, and the same model of uncertainty,
fed with expected values of a clear day from the table of surfaces, says which surfaces the day will tell apart. Sizes without another source are common practice.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base.groups import GROUPINGS
from headland.base.times import since_1970
from headland.chain import balance, summarise
from headland.chain.calibrate import CERTIFICATE
from headland.physics import evaporation, geometry, plane, radiation, series, sun
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.geometry import GUARD_RADIUS
from headland.physics.instruments import RESPONSE_TIME
from headland.physics.longwave import own_emission
from headland.uncertainty import inputs, propagate
from headland.uncertainty.model import LOWEST_SUN
from headland.uncertainty.terms import of_term

STEP = 300.0
"""s between the moments of the day that are worked out."""
AIR, HUMIDITY = 20.0, 60.0
"""degC and %: taken where campaign.yaml says nothing of the weather."""
HIGH_SUN = 800.0
"""W m-2 of clear sky at which the table's surface minus air holds; with less sun it is less in proportion (common practice, no source)."""
GROUND_SCATTER, GROUND_SCATTER_K, PATCH = 0.025, 0.35, 2.0
"""What the head sees of uneven ground: relative scatter of reflected light, scatter of the temperature in K, and the size of its patches in m (common practice, no source)."""
BODY_WARMER = 3.0
"""K by which a head in the sun is warmer than the air (common practice, no source)."""
PROMISE = 1.65
"""Half widths of the 95 % interval by which two surfaces must differ to be told apart nine times in ten: (1.960 + 1.282) / 1.960 (normal distribution)."""
CHEAP_TILT = 1.25
"""Times the least cost of the day's tilt up to which an hour counts as cheap."""
LITTLE_SHADOW = 1.25
"""Times the least loss around the compass up to which a heading counts as keeping the shadow out: even behind the carrier it is a little in the view."""
PASSES = 2
"""Passes of a visit: there and back, so that tilt and shadow turn round."""
CHECK_MINUTES, SIDE_MINUTES, COVER_SECONDS = 2, 5, 20
"""min for reading all clocks, min of each side-by-side visit, s that each head is covered in the channel check (methods of this project)."""
LONG_ENOUGH = 0.7
"""Of the longest line across a field, what a transect must reach to be chosen for little shadow (common practice, no source)."""
MEMORY_STEP = 10.0
"""s between the moments at which a surface's memory of the sun is worked out."""
COMPARED = ("albedo", "surface_temperature", "net_radiation_common_sky")


def headings_of(text: str) -> list[float]:
    """Directions in which a transect can lie, degrees from north, as a list in steps of 5 where a range (`60-120`) or nothing is given. ValueError where that is not so."""
    found: list[float] = []
    for part in re.split(r"[\s;,]+", text.strip()):
        if part in ("", "any"):
            continue
        match = re.fullmatch(r"(\d{1,3}(?:\.\d+)?)(?:-(\d{1,3}(?:\.\d+)?))?", part)
        if not match or float(match[1]) > 360 or (match[2] and float(match[2]) > 360):
            raise ValueError(part)
        start = float(match[1])
        found += (
            [start]
            if not match[2]
            else [
                x % 360.0
                for x in np.arange(
                    start,
                    (float(match[2]) if float(match[2]) >= start else float(match[2]) + 360.0) + 0.1,
                    5.0,
                )
            ]
        )
    return found or [float(x) for x in np.arange(0.0, 180.0, 5.0)]


# The day ---------------------------------------------------------------------------------------------------------


def sky(times, site: Mapping[str, float], air: float, humidity: float) -> pd.DataFrame:
    """Sun and clear sky at times in UTC: elevation and azimuth (degrees), sw_in, diffuse_fraction, beam (normal to it), lw_in (W m-2).

    site: latitude, longitude, elevation. air: degC; humidity: %. Longwave by Prata 1996.
    """
    times = pd.DatetimeIndex(times)
    elevation, azimuth = sun.position(times, site["latitude"], site["longitude"], site["elevation"])
    sw_in = sun.clear_sky_global(elevation, times, site["elevation"])
    up = np.clip(np.sin(np.radians(elevation)), 0.0, None)
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(up > 0, sw_in / (sun.top_of_atmosphere(times) * up), 0.0)
        diffuse = sun.diffuse_fraction(np.clip(clearness, 0.0, 1.0))
        beam = np.where(elevation > LOWEST_SUN, (1.0 - diffuse) * sw_in / up, 0.0)
    vapour = 10.0 * float(evaporation.saturation_vapour_pressure(air)) * humidity / 100.0
    lw_in = float(
        sun.clear_sky_emissivity_prata(vapour, air + ZERO_CELSIUS) * own_emission(air + ZERO_CELSIUS)
    )
    return pd.DataFrame(
        {
            "time_utc": times,
            "elevation": elevation,
            "azimuth": azimuth,
            "sw_in": sw_in,
            "diffuse_fraction": diffuse,
            "beam": beam,
            "lw_in": lw_in,
        }
    )


def shade_loss(heading, day: pd.DataFrame, carrying: Mapping[str, float]):
    """Share of the reflected light that the carrier's shadow takes when walking towards a heading: beam fraction times view factor of the shadow.

    heading: degrees, one a row of the result. day: as `sky` gives it, one column of the result a row.
    """
    heading = np.atleast_1d(np.asarray(heading, float))[:, None]
    phi = day["azimuth"].to_numpy()[None, :] - heading
    view = geometry.shadow_view(
        phi,
        day["elevation"].to_numpy()[None, :] + 0.0 * phi,
        carrying["sensor_height"],
        carrying["reach"],
        carrying["carrier_height"],
        carrying["carrier_width"],
    )
    return (1.0 - day["diffuse_fraction"].to_numpy()[None, :]) * view


def tilt_cost(day: pd.DataFrame):
    """What a degree of tilt towards the sun adds to the incoming shortwave, W m-2: the beam on the level times `geometry.tilt_effect`."""
    level = day["beam"] * np.clip(np.sin(np.radians(day["elevation"])), 0.0, None)
    return np.where(
        level > 0, level * geometry.tilt_effect(1.0, 90.0 - day["elevation"].to_numpy(), 0.0), 0.0
    )


def along_outline(
    rings: Sequence[np.ndarray], free: Sequence[float], most: float
) -> tuple[list[float], list[float]]:
    """The free directions in which a field is long, and its length in each, m: those of LONG_ENOUGH of the longest at least.

    rings: of its outline, m. most: m that can be walked in any direction, NaN where nothing limits it.
    """
    lengths = np.fmin([plane.longest_chord(rings, heading) for heading in free], most)
    kept = lengths >= LONG_ENOUGH * lengths.max()
    return np.asarray(free, float)[kept].tolist(), lengths[kept].tolist()


def best_heading(
    free: Sequence[float], day: pd.DataFrame, carrying: Mapping[str, float]
) -> tuple[float, float, float]:
    """The direction of a transect whose two ways lose least to the carrier's shadow over the day's given hours: (heading, mean loss there, mean loss back)."""
    free = np.asarray(free, float)
    there, back = (
        shade_loss(free, day, carrying).mean(axis=1),
        shade_loss(free + 180.0, day, carrying).mean(axis=1),
    )
    best = int(np.argmin(np.round(np.maximum(there, back), 6)))
    return float(free[best]), float(there[best]), float(back[best])


# The timetable ---------------------------------------------------------------------------------------------------


def timetable(
    fields: pd.DataFrame,
    sets: Sequence[str],
    speed: float,
    minutes_between: float,
    start: pd.Timestamp,
    end: pd.Timestamp,
    monitor: bool,
    rounds: int,
    seed: int,
) -> tuple[pd.DataFrame, int]:
    """The visits of a day, a row each, and how many rounds A B C C B A there are in it: as many as fit, up to `rounds`, but one.

    fields: field, surface, length (m), heading. speed: m s-1. Every field is visited in the middle of the same time: what drifts evenly cancels. Each visit
    is a transect of its own, there and back. Pauses are irregular to the second, drawn by the seed: a regular timetable hides a shifted
    clock. Rows: set, start_utc, end_utc, field, surface, activity, transect, pass, heading, length, remark.
    """
    walkers = list(sets[:1]) if monitor and len(sets) > 1 else list(sets)
    rows, opening = _opening(fields, sets, start)
    closing = pd.Timedelta(minutes=CHECK_MINUTES + (2 * SIDE_MINUTES + 3 if len(sets) > 1 else 0))
    done, cycles = [], 0
    for count in range(1, rounds + 1):
        more = [
            row
            for i, name in enumerate(walkers)
            for row in _rounds(name, i, len(walkers), fields, speed, minutes_between, opening, count, seed)
        ]
        if done and max(row["end_utc"] for row in more) + closing > end:
            break
        done, cycles = more, count
    last = max(row["end_utc"] for row in done)
    if walkers != list(sets):
        rows += [
            _row(
                name,
                opening,
                last,
                fields.iloc[0],
                "sky_monitor",
                remark="stands level and free of shadows, all the time",
            )
            for name in sets[1:]
        ]
    rows += done + _closing(fields, sets, last + pd.Timedelta(minutes=minutes_between))
    return pd.DataFrame(rows).sort_values(["start_utc", "set"], kind="stable").reset_index(drop=True), cycles


def _row(name, start, end, place=None, activity="walk", **more) -> dict:
    where = (
        {"field": place["field"], "surface": place["surface"]}
        if place is not None
        else {"field": "", "surface": ""}
    )
    return {
        "set": name,
        "start_utc": start,
        "end_utc": end,
        **where,
        "activity": activity,
        "transect": "",
        "pass": "",
        "heading": math.nan,
        "length": math.nan,
        "remark": "",
        **more,
    }


def _opening(fields, sets, start) -> tuple[list[dict], pd.Timestamp]:
    minutes, first = lambda m: pd.Timedelta(minutes=m), fields.iloc[0]
    rows = [
        _row(
            name,
            start,
            start + minutes(CHECK_MINUTES),
            activity="clock_check",
            remark="the time, and what the logger shows, to the second",
        )
        for name in sets
    ]
    now = start + minutes(CHECK_MINUTES)
    covered = pd.Timedelta(seconds=COVER_SECONDS * len(RADIATION))
    rows += [
        _row(name, now, now + covered, activity="channel_check", remark=" ".join(RADIATION)) for name in sets
    ]
    now += covered + minutes(2)
    if len(sets) > 1:
        rows += [
            _row(name, now, now + minutes(SIDE_MINUTES), first, "side_by_side", remark=f"place {i + 1}")
            for i, name in enumerate(sets)
        ]
        now += minutes(SIDE_MINUTES + 1)
        rows += [
            _row(
                name,
                now,
                now + minutes(SIDE_MINUTES),
                first,
                "side_by_side",
                remark=f"place {(i + 1) % len(sets) + 1}: positions swapped",
            )
            for i, name in enumerate(sets)
        ]
        now += minutes(SIDE_MINUTES)
    return rows, now + minutes(3)


def _closing(fields, sets, now) -> list[dict]:
    minutes, rows = lambda m: pd.Timedelta(minutes=m), []
    if len(sets) > 1:
        for turn in (0, 1):
            rows += [
                _row(
                    name,
                    now,
                    now + minutes(SIDE_MINUTES),
                    fields.iloc[0],
                    "side_by_side",
                    remark=f"place {(i + turn) % len(sets) + 1}{': positions swapped' if turn else ''}",
                )
                for i, name in enumerate(sets)
            ]
            now += minutes(SIDE_MINUTES + 1)
    return rows + [
        _row(
            name,
            now,
            now + minutes(CHECK_MINUTES),
            activity="clock_check",
            remark="before the logger is switched off",
        )
        for name in sets
    ]


def _rounds(name, index, walkers, fields, speed, minutes_between, start, count, seed) -> list[dict]:
    """The visits of one set: rounds A B C C B A, each set beginning at another field, there and back on a new transect at each visit."""
    generator = np.random.default_rng([seed, index])
    n = len(fields)
    order = [(k + index * n // walkers) % n for k in range(n)]
    rows, now, visits, before = (
        [],
        start + pd.Timedelta(seconds=float(generator.integers(0, 45))),
        dict.fromkeys(order, 0),
        None,
    )
    for k in (order + order[::-1]) * count:
        if before is not None:
            now += pd.Timedelta(
                seconds=float(generator.integers(40, 200)) + (minutes_between * 60.0 if k != before else 0.0)
            )
        before, place = k, fields.iloc[k]
        visits[k] += 1
        transect = index + 1 + walkers * (visits[k] - 1)
        for number in range(1, PASSES + 1):
            end = now + pd.Timedelta(seconds=round(place["length"] / speed))
            heading = place["heading"] if number == 1 else (place["heading"] + 180.0) % 360.0
            rows.append(
                _row(
                    name,
                    now,
                    end,
                    place,
                    transect=str(transect),
                    **{"pass": str(number)},
                    heading=heading,
                    length=place["length"],
                )
            )
            now = end + pd.Timedelta(seconds=float(generator.integers(20, 75)) if number < PASSES else 0.0)
    return rows


# What the day will tell ------------------------------------------------------------------------------------------


def unsettled(
    visits: pd.DataFrame,
    walks: pd.DataFrame,
    site: Mapping[str, float],
    levelling: float,
    air: float,
    humidity: float,
) -> np.ndarray:
    """By how much the shortwave that a surface remembers (`summarise.remembered`) differs from that of each walk, W m-2: by the sun's course since the samples before, and, as a standard
    deviation, because a head that leans sees more of the beam one way than the other.

    visits: a timetable. walks: its walks, with `incoming_set`. levelling: standard deviation of a head's lean along and across, degrees.
    """
    result = np.zeros(len(walks))
    for name, own in walks.groupby("incoming_set"):
        stored = visits[
            (visits["set"] == name) & ~visits["activity"].isin(("clock_check", "channel_check"))
        ].sort_values("start_utc")
        parts = [
            pd.date_range(start, end, freq=f"{MEMORY_STEP:.0f}s")
            for start, end in zip(stored["start_utc"], stored["end_utc"])
        ]
        times, heading = (
            parts[0].append(parts[1:]),
            np.repeat(stored["heading"].to_numpy(float), [len(part) for part in parts]),
        )
        day, seconds = sky(times, site, air, humidity), since_1970(times)
        beam = day["beam"].to_numpy() * np.clip(np.sin(np.radians(day["elevation"].to_numpy())), 0.0, None)
        ahead = day["azimuth"].to_numpy() - np.nan_to_num(heading)
        lean = lambda towards: (
            beam * geometry.tilt_effect(levelling, 90.0 - day["elevation"].to_numpy(), ahead - towards)
        )
        off = [series.remembered(seconds, x) - x for x in (day["sw_in"].to_numpy(), lean(0.0), lean(90.0))]
        for index, start, end in zip(own.index, own["start_utc"], own["end_utc"]):
            during = (times >= start) & (times <= end)
            result[index] = math.sqrt(sum(float(x[during].mean()) ** 2 for x in off))
    return result


def expected_segments(
    visits: pd.DataFrame,
    site: Mapping[str, float],
    carrying: Mapping[str, float],
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
    air: float,
    humidity: float,
    response: float = RESPONSE_TIME,
) -> pd.DataFrame:
    """The walks of a timetable as step 6 would find them under a clear sky over ground as the table of surfaces has it. terms: of uncertainty.csv. response: 95 % response time of the heads, s."""
    walks = visits[visits["activity"] == "walk"].reset_index(drop=True)
    middle = walks["start_utc"] + (walks["end_utc"] - walks["start_utc"]) / 2
    day = sky(pd.DatetimeIndex(middle), site, air, humidity)
    of = lambda key: np.array([surfaces[s][key]["value"] for s in walks["surface"]], dtype=float)
    height, speed = carrying["sensor_height"], carrying["walking_speed"]
    used = np.maximum(
        walks["length"].to_numpy(float) / speed - 2 * GUARD_RADIUS * height / speed - response, 0.0
    )
    albedo, emissivity = of("albedo"), of("emissivity")
    surface = air + ZERO_CELSIUS + of("surface_minus_air") * np.clip(day["sw_in"] / HIGH_SUN, 0.0, 1.3)
    body = air + BODY_WARMER
    flux = {
        "sw_in": day["sw_in"].to_numpy(),
        "sw_out": albedo * day["sw_in"],
        "lw_in": day["lw_in"].to_numpy(),
        "lw_out": emissivity * own_emission(surface) + (1 - emissivity) * day["lw_in"],
    }
    sunny = (day["elevation"] > radiation.ALBEDO_ELEVATION) & (day["sw_in"] > radiation.ALBEDO_SW_IN)
    frame = walks.assign(
        **flux,
        segment=[f"{s}-{i:03d}" for i, s in enumerate(walks["set"])],
        samples=used.astype(int),
        samples_used=used.astype(int),
        weight=used,
        height=height,
        speed=speed,
        solar_elevation=day["elevation"],
        solar_azimuth=day["azimuth"],
        body_temperature=body,
        noted_sky="",
        sky="clear",
        notes_row=range(len(walks)),
    )
    emission = float(own_emission(body + ZERO_CELSIUS))
    monitors = visits.loc[visits["activity"] == "sky_monitor", "set"]
    frame = frame.assign(
        incoming_set=monitors.iloc[0] if len(monitors) else frame["set"],
        incoming_heading=0.0 if len(monitors) else frame["heading"],
        incoming_body_temperature=body,
        thermal_shock=0.0,
        **{f"rate_{c}": 0.0 for c in RADIATION},
        lw_in_net=frame["lw_in"] - emission,
        lw_out_net=frame["lw_out"] - emission,
        albedo=np.where(sunny, albedo, np.nan),
        albedo_sw_in=np.where(sunny, frame["sw_in"] * used, 0.0),
        albedo_sw_out=np.where(sunny, frame["sw_out"] * used, 0.0),
        net_radiation=radiation.net_radiation(*(frame[c] for c in RADIATION)),
        surface_temperature=surface - ZERO_CELSIUS,
        **{f"noise_{c}": 0.0 for c in RADIATION},
        ground_sw_out=GROUND_SCATTER * frame["sw_out"],
        ground_lw_out=4.0 * emissivity * own_emission(surface) / surface * GROUND_SCATTER_K,
        ground_correlation=0.0,
        independent=used * speed / (series.VIEW_LENGTH * height + 2.0 * PATCH) / series.CAUTION,
    )
    levelling = of_term(terms["levelling"]).sigma if terms["levelling"]["enabled"] == "true" else 0.0
    return frame.assign(
        sw_in_memory=frame["sw_in"] + unsettled(visits, frame, site, levelling, air, humidity)
    )


def default_certificates(sets: Sequence[str]) -> pd.DataFrame:
    """Certificates a year old without a figure of their own, where there is no register yet."""
    rows = [
        {
            "set": name,
            "channel": c,
            "age_months": 12.0,
            **dict.fromkeys(CERTIFICATE, math.nan),
            "instrument_class": "",
        }
        for name in sets
        for c in RADIATION
    ]
    return pd.DataFrame(rows)


def expected_differences(
    segments: pd.DataFrame,
    certificates: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
    site: Mapping,
    carrying: Mapping[str, float],
    air: float,
    seed: int,
    draws: int,
) -> pd.DataFrame:
    """One row a pair of surfaces and compared quantity: expected difference, half width of its 95 % interval as planned and by what no number of passes mends, the passes planned,
    and the passes needed for nine in ten (inf where no number does).

    The chain's own model is run twice, with and without the ground not walked, whose part falls with the number of passes.
    """
    frame = segments[segments["weight"] > 0].reset_index(drop=True)
    common = summarise.reference_sky(frame)
    frame = inputs.prepare(
        summarise.with_common_sky(frame, surfaces, common), carrying, np.full(len(frame), air), surfaces
    )
    means = {kind: summarise.groups(frame, by, surfaces, common) for kind, by in GROUPINGS.items()}
    balances = {}
    for kind, by in GROUPINGS.items():
        weather = pd.DataFrame(
            {
                "air_temperature": air,
                "pressure": 10.0 * float(evaporation.pressure_at(site["elevation"])),
                "wind_speed": math.nan,
            },
            index=range(len(means[kind])),
        )
        middle = means[kind]["start_utc"] + (means[kind]["end_utc"] - means[kind]["start_utc"]) / 2
        balances[kind], _ = balance.groups(
            means[kind],
            frame,
            by,
            surfaces,
            {"ground_heat": "class_fraction", "green_cover": "priestley_taylor"},
            weather,
            sun.seconds_after_noon(middle, site["longitude"]),
        )
    calm = {**terms, "ground": {**terms["ground"], "enabled": "false"}}
    full, firm = (
        propagate.propagate(
            inputs.Inputs(frame, means, balances, certificates, surfaces, t, carrying), seed, draws
        ).differences
        for t in (terms, calm)
    )
    passes = frame.groupby("surface").size()
    records = []
    for row, other in zip(full.to_dict("records"), firm.to_dict("records")):
        if row["quantity"] not in COMPARED:
            continue
        planned = int(min(passes[row["surface_a"]], passes[row["surface_b"]]))
        width, least = ((r["difference_high"] - r["difference_low"]) / 2.0 for r in (row, other))
        records.append(
            {
                "surface_a": row["surface_a"],
                "surface_b": row["surface_b"],
                "quantity": row["quantity"],
                "difference": row["difference"],
                "half_width": width,
                "half_width_firm": least,
                "passes": planned,
                "passes_needed": passes_needed(abs(row["difference"]), width, least, planned),
            }
        )
    return pd.DataFrame(
        records,
        columns=[
            "surface_a",
            "surface_b",
            "quantity",
            "difference",
            "half_width",
            "half_width_firm",
            "passes",
            "passes_needed",
        ],
    )


def passes_needed(difference: float, half_width: float, firm: float, passes: int) -> float:
    """Passes over each surface that tell a difference nine times in ten: half widths add in squares, and the ground's part falls with the passes. inf where the firm part alone is too wide."""
    room = (difference / PROMISE) ** 2 - firm**2
    if not room > 0:
        return math.inf if math.isfinite(half_width) else math.nan
    return max(1.0, math.ceil(max(half_width**2 - firm**2, 0.0) * passes / room))


def too_short(fields: pd.DataFrame, carrying: Mapping[str, float]) -> list[str]:
    """Fields on which no sample is left between the guards at both ends."""
    least = 2 * GUARD_RADIUS * carrying["sensor_height"] + RESPONSE_TIME * carrying["walking_speed"]
    return [
        f"{row['field']} ({row['length']:.0f} m)"
        for row in fields.to_dict("records")
        if row["length"] <= least
    ]
