"""Radiation held against what it should be: one set against another, against a station, against the tables of surfaces, and against its own carrying.

The limits are multiples of the standard uncertainties of the campaign's own model (`propagate`), so that what a sound campaign may show is
no finding.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd
from scipy.special import fdtrc, ndtri, stdtrit

from headland.base.findings import Finding
from headland.base.flags import has_any
from headland.base.groups import counted_segments
from headland.base.station import records
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, Untold, unheard
from headland.checks.diagnose import LONGEST_STEP, binned, shadow_limit, smoothed
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import own_emission
from headland.uncertainty import inputs
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.draws import one_at_a_time
from headland.uncertainty.intercompare import normalised_error
from headland.uncertainty.linear import contributions
from headland.uncertainty.model import LOWEST_SUN, measured
from headland.uncertainty.sources import instrument_sources

FALSE_ALARM = 3.2e-4
"""Two-sided chance of 3.6 standard uncertainties of a normal distribution, over all comparisons of one campaign."""

INCOMING = {"sw_in": "shortwave", "lw_in": "longwave"}

SIDES = ("walk", "stand", "side_by_side", "sky_monitor")
"""Activities in which a set looks at the sky with all its heads."""

CALM_WITHIN = 60.0
"""s around a sample within which SW_in may move by no more than half of `shadow_limit` for two places to see the same sky (common practice, no source)."""

USUAL_FREEDOM = 5
"""Degrees of freedom that a usual scatter is worth where few windows or walks show their own (common practice, no source)."""

SKY_SCATTER = {"sw_in": 0.02, "lw_in": 0.005}
"""Usual relative scatter of a window's ratio by what differs overhead between two places under a calm sky (common practice, no source)."""

SHORTEST_COMMON = 60.0
"""s that two records must have in common to be compared (common practice, no source)."""

LEAST_SW_IN = 50.0
"""W m-2: below it the shortwave ratio is one of zero offsets."""

OWN_SHADE_LIMIT = 0.15
"""Share of the reflected light. With the sun in the back a usual carrier (0.5 m broad, 1.2 m behind the head at 1.5 m) takes up to this, which the
intervals hold; more is a mistake of carrying."""

TILT_LIMIT = 4.0
"""Degrees: of heads levelled to 1 degree (one standard uncertainty in each direction) 0.03 % lean further, exp(-4.0^2 / 2)."""

TILT_SCATTER, TILT_SEEN = 0.03, 0.004
"""Relative: residual of the fit of a clear sky, and what a degree of tilt must change between the headings to be seen (common practice, no source)."""

WALK_SCATTER = 0.01
"""Usual relative scatter of level walks under a clear sky (common practice, no source)."""

CLEAR_WALK, CLEAR_WALKS = (0.03, 0.5), 0.9
"""A walk is clear whose SW_in over the clear-sky model scatters by less than the one and is above the other; a set's sky where this share of walks is."""

AIR_UNSURE = 2.0
"""K: how far the air over a field may be from the weather table's (common practice, no source)."""

MISLABEL_SUN = 20.0
"""Degrees: ranges of the tables are those of a high sun; albedo rises below it (Oke 1987, from memory)."""


# Two records of the same sky -------------------------------------------------------------------------------------


def windows(samples: pd.DataFrame, moments, interval: float, step: float) -> pd.DataFrame:
    """One set's record in steps of so many seconds: means, the segment of each step, and whether SW_in is calm around it."""
    numbers = samples[
        ["sw_in", "sw_out", "lw_in", "lw_out", "body_temperature", "solar_elevation", "solar_azimuth"]
    ].astype(float)
    means = binned(moments, numbers, step)
    segment = pd.Series(samples["segment"].to_numpy()).groupby(np.floor(np.asarray(moments) / step)).first()
    level, limit = smoothed(means["sw_in"], 5.0), shadow_limit(means["solar_elevation"]) / 2.0
    swing = smoothed(level, 2 * CALM_WITHIN, "max") - smoothed(level, 2 * CALM_WITHIN, "min")
    return means.assign(segment=segment.to_numpy(), calm=swing <= limit * level)


def common_windows(a: pd.DataFrame, b: pd.DataFrame, step: float) -> pd.DataFrame:
    """Means of both records over the time in which each is in one of its segments: a row a pair of segments, with columns `_a` and `_b`.

    The shortwave means are over calm steps only; `seconds_sw_in` and `seconds_lw_in` say how long that is.
    """
    both = a.add_suffix("_a").join(b.add_suffix("_b"), how="inner")
    both = both[(both["segment_a"] != "") & (both["segment_b"] != "")]
    rows = []
    for (one, two), part in both.groupby(["segment_a", "segment_b"], sort=False):
        calm = part[part["calm_a"] & part["calm_b"]]
        row = {
            "segment_a": one,
            "segment_b": two,
            "start_utc": part.index[0],
            "end_utc": part.index[-1],
            "seconds_sw_in": len(calm) * step,
            "seconds_lw_in": len(part) * step,
        }
        for side in ("a", "b"):
            row |= {
                f"{name}_{side}": (calm if len(calm) and name in ("sw_in", "sw_out") else part)[
                    f"{name}_{side}"
                ].mean()
                for name in (*RADIATION, "body_temperature", "solar_elevation", "solar_azimuth")
            }
        rows.append(row)
    return pd.DataFrame(rows)


def modelled(
    frame: pd.DataFrame,
    heading: pd.Series,
    certificates: pd.DataFrame,
    terms: Mapping,
    carrying: Mapping,
    air,
) -> tuple[dict, dict]:
    """Incoming terms of windows as the measurement model has them with all errors in their middle, and what each source contributes (sources x windows).

    frame: windows with the columns of `common_windows` without endings, and `set`. heading: of each, degrees. air: degC or NaN.
    """
    body = frame["body_temperature"] + ZERO_CELSIUS
    window = frame.assign(
        segment=[f"{name}/{number}" for number, name in enumerate(frame["set"])],
        surface="",
        heading=heading.to_numpy(float),
        lw_in_net=frame["lw_in"] - own_emission(body),
        lw_out_net=frame["lw_out"] - own_emission(body),
        albedo_sw_in=0.0,
        albedo_sw_out=0.0,
        incoming_set=frame["set"],
        incoming_heading=heading.to_numpy(float),
        incoming_body_temperature=frame["body_temperature"],
        field="",
        activity="",
        samples_used=0,
        thermal_shock=0.0,
        **{f"{kind}_{channel}": 0.0 for kind in ("noise", "rate") for channel in RADIATION},
    )
    window = inputs.prepare(window, carrying, air, {})
    errors = one_at_a_time(instrument_sources(window, certificates, terms))
    flux = measured(window, inputs.no_shade, errors)
    some = {
        name: np.broadcast_to(flux[name], (len(next(iter(errors.values()))), len(window)))
        for name in INCOMING
    }
    return {name: values.mean(axis=0) for name, values in some.items()}, contributions(some)


def sky_scatter(name: str, logs: np.ndarray, weights: np.ndarray, chance: float) -> float:
    """Standard uncertainty of a mean log ratio by the sky's differing from place to place, relative.

    From the windows' scatter, pooled with the usual one, and widened so that a normal quantile covers what Student's t would at this chance.
    """
    squares = len(logs) * np.average((logs - np.average(logs, weights=weights)) ** 2, weights=weights)
    freedom = len(logs) - 1 + USUAL_FREEDOM
    spread = math.sqrt((squares + USUAL_FREEDOM * SKY_SCATTER[name] ** 2) / freedom)
    widened = stdtrit(freedom, 1.0 - chance / 2.0) / ndtri(1.0 - chance / 2.0)
    return spread * widened * math.sqrt(np.sum(weights**2)) / np.sum(weights)


def ratio(
    name: str,
    rows: pd.DataFrame,
    a: tuple[dict, dict],
    b: tuple[dict, dict] | None,
    chance: float,
    also: float = 0.0,
) -> tuple[float, float] | None:
    """Ratio of one incoming term of two records over their common windows, and its relative standard uncertainty; None where they have too little.

    a, b: `modelled` of both sides, over all windows of both together (a, then b); b is None where the other side is a station, whose values are
    rows' `_b` and whose relative standard uncertainty is `also`.
    """
    weights = rows[f"seconds_{name}"].to_numpy(float)
    n = len(rows)
    values, parts = a
    one, two = values[name][:n], values[name][n:] if b is not None else rows[f"{name}_b"].to_numpy(float)
    use = (weights > 0) & np.isfinite(one) & np.isfinite(two) & (one > 0) & (two > 0)
    if weights[use].sum() < SHORTEST_COMMON:
        return None
    weights, total = weights[use], np.sum(weights[use])
    mean_one, mean_two = weights @ one[use] / total, weights @ two[use] / total
    if min(mean_one, mean_two) < LEAST_SW_IN:
        return None
    moved = parts[name][:, :n][:, use] @ weights / total / mean_one
    if b is not None:
        moved = moved - parts[name][:, n:][:, use] @ weights / total / mean_two
    scatter = sky_scatter(name, np.log(one[use] / two[use]), weights, chance)
    return mean_one / mean_two, math.sqrt(np.sum(moved**2) + scatter**2 + also**2)


def _records(
    samples: Mapping[str, pd.DataFrame],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    segments: pd.DataFrame,
    step: float,
    spoilt: Mapping[str, np.ndarray],
) -> dict[str, pd.DataFrame]:
    """Each set's record in steps, of the time in which it looked at the sky and nothing spoilt it."""
    looking = set(segments.loc[segments["activity"].isin(SIDES), "segment"])
    result = {}
    for name, frame in samples.items():
        keep = frame["segment"].isin(looking).to_numpy() & ~spoilt[name]
        if keep.any():
            result[name] = windows(frame[keep], moments[name][keep], intervals[name], step)
    return result


def sets_disagree(
    samples: Mapping[str, pd.DataFrame],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    spoilt: Mapping[str, np.ndarray],
    segments: pd.DataFrame,
    certificates: pd.DataFrame,
    terms: Mapping,
    carrying: Mapping,
    tell: Tell = unheard,
) -> list[Finding]:
    """Pairs of sets whose incoming terms differ by more than their own uncertainty allows, where they recorded at the same time.

    samples: as step 5 leaves them. moments: s. intervals: s. spoilt: samples that must not count. segments: step 6's, with `heading`,
    `activity`. certificates: in force, all sets. tell: called with what can't be told. Where one set differs from several, it is named once.
    """
    near = [name for name in samples if intervals[name] <= LONGEST_STEP]
    near = near if len(near) > 1 else []
    step = max([1.0, *(intervals[name] for name in near)])
    records = _records({name: samples[name] for name in near}, moments, intervals, segments, step, spoilt)
    heading = segments.set_index("segment")["heading"]
    chance = FALSE_ALARM / max(math.comb(len(near), 2), 1)
    limit = ndtri(1.0 - chance / 2.0)
    odd: dict[str, list] = {name: [] for name in INCOMING}
    compared: dict[str, set[str]] = {name: set() for name in INCOMING}
    for a, b in combinations(records, 2):
        rows = common_windows(records[a], records[b], step)
        if not len(rows):
            continue
        sides = [
            rows[[c for c in rows if not c.endswith(("_a", "_b"))]].assign(
                set=name, **{c.removesuffix(end): rows[c] for c in rows if c.endswith(end)}
            )
            for name, end in ((a, "_a"), (b, "_b"))
        ]
        frame = pd.concat(sides, ignore_index=True)
        model = modelled(
            frame,
            heading.reindex(frame["segment"]),
            certificates,
            terms,
            carrying,
            np.full(len(frame), np.nan),
        )
        for name in INCOMING:
            found = ratio(name, rows, model, model, chance)
            compared[name] |= {a, b} if found else set()
            if found and abs(found[0] - 1.0) > limit * found[1]:
                odd[name].append((a, b, *found, rows))
    _untold("sets-disagree", "not-together" if len(samples) > 1 else "one-set", samples, compared, tell)
    return [finding for name, pairs in odd.items() for finding in _disagreements(name, pairs, len(records))]


def _untold(
    code: str, reason: str, names: Iterable[str], compared: Mapping[str, set[str]], tell: Tell
) -> None:
    """Tell of each set of which all, or a term, was compared with nothing."""
    for name in names:
        missing = [term for term in INCOMING if name not in compared[term]]
        if missing:
            tell(Untold(code, reason, name, " ".join(missing) if len(missing) < len(INCOMING) else ""))


def _disagreements(name: str, pairs: list, sets: int) -> list[Finding]:
    findings, left = [], list(pairs)
    while left:
        counts = pd.Series([n for pair in left for n in pair[:2]]).value_counts()
        one = counts.index[0] if counts.iloc[0] > 1 else left[0][0]
        mine = [pair for pair in left if one in pair[:2]]
        a, b, value, u, rows = mine[0]
        other, value = (b, value) if a == one else (a, 1.0 / value)
        start, end = time_text(pd.DatetimeIndex([rows["start_utc"].min(), rows["end_utc"].max()]).round("s"))
        findings.append(
            Finding(
                "sets-disagree",
                "several" if len(mine) > 1 else "",
                one,
                start_utc=start,
                end_utc=end,
                channel=name,
                facts={
                    "others": ", ".join(pair[1] if pair[0] == one else pair[0] for pair in mine),
                    "percent": f"{100 * abs(value - 1.0):.1f}",
                    "direction": "more" if value > 1.0 else "less",
                    "allowed": f"{100 * 3.6 * u:.1f}",
                    "band": INCOMING[name],
                },
            )
        )
        left = [pair for pair in left if one not in pair[:2]]
    return findings


AGAINST_STATION = (
    "set",
    "channel",
    "records",
    "start_utc",
    "end_utc",
    "ratio",
    "ratio_low",
    "ratio_high",
    "e_n",
)


def against_station(
    station: pd.DataFrame,
    stamp: str,
    samples: Mapping[str, pd.DataFrame],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    spoilt: Mapping[str, np.ndarray],
    segments: pd.DataFrame,
    certificates: pd.DataFrame,
    terms: Mapping,
    carrying: Mapping,
) -> pd.DataFrame:
    """What each set read of an incoming term over what a fixed station did, a row a set and term that can be compared.

    station: time_utc, sw_in, lw_in (W m-2). stamp: what its times name. Outgoing terms are not compared: the station has other ground. Others as for
    `sets_disagree`. Columns: AGAINST_STATION; the ratio's ends are those of its 95 % interval, `e_n` is its distance from 1 over the expanded uncertainty (k = 2)
    of both records and of the sky's differing between them (ISO/IEC 17043, from memory).
    """
    known, ends, step = records(station, stamp)
    if len(known) < 2:
        return pd.DataFrame(columns=AGAINST_STATION)
    heading, found_rows = segments.set_index("segment")["heading"], []
    for name, record in _records(samples, moments, intervals, segments, 1.0, spoilt).items():
        seconds = since_1970(record.index)
        number = np.searchsorted(ends, seconds)
        inside = (number < len(ends)) & (ends[np.minimum(number, len(ends) - 1)] - step < seconds)
        record = record[inside].assign(record=number[inside])
        rows = []
        for (row, segment), part in record.groupby(["record", "segment"], sort=False):
            if len(part) * max(intervals[name], 1.0) >= 0.5 * step:
                rows.append(
                    {
                        "set": name,
                        "segment": segment,
                        "start_utc": part.index[0],
                        "end_utc": part.index[-1],
                        "seconds_sw_in": step * bool(part["calm"].all()),
                        "seconds_lw_in": step,
                        "sw_in_b": known["sw_in"].iloc[row],
                        "lw_in_b": known["lw_in"].iloc[row],
                        **{
                            c: part[c].mean()
                            for c in (*RADIATION, "body_temperature", "solar_elevation", "solar_azimuth")
                        },
                    }
                )
        if not rows:
            continue
        frame = pd.DataFrame(rows)
        model = modelled(
            frame,
            heading.reindex(frame["segment"]),
            certificates,
            terms,
            carrying,
            np.full(len(frame), np.nan),
        )
        for term in INCOMING:
            found = ratio(
                term, frame, model, None, FALSE_ALARM, float(terms[f"station_{term[:2]}"]["sigma"]) / 100.0
            )
            if found:
                start, end = pd.DatetimeIndex([frame["start_utc"].min(), frame["end_utc"].max()]).round("s")
                half = NORMAL_95 * found[1] * found[0]
                found_rows.append(
                    (
                        name,
                        term,
                        len(frame),
                        start,
                        end,
                        found[0],
                        found[0] - half,
                        found[0] + half,
                        normalised_error(found[0] - 1.0, 2.0 * found[1]),
                    )
                )
    return pd.DataFrame(found_rows, columns=AGAINST_STATION)


def station_disagrees(
    compared: pd.DataFrame, station: pd.DataFrame, stamp: str, names: Iterable[str], tell: Tell = unheard
) -> list[Finding]:
    """Sets whose incoming terms are off a fixed station's by E_n over 1.8, that is 3.6 standard uncertainties.

    compared: as `against_station` gives it. station: rows of station.csv. stamp: what its times name. names: of all sets. tell: called with what can't be told.
    """
    findings = []
    for row in compared[compared["e_n"] > 1.8].to_dict("records"):
        start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
        findings.append(
            Finding(
                "station-disagrees",
                "",
                row["set"],
                "station.csv",
                start_utc=start,
                end_utc=end,
                channel=row["channel"],
                facts={
                    "percent": f"{100 * abs(row['ratio'] - 1.0):.1f}",
                    "direction": "more" if row["ratio"] > 1.0 else "less",
                    "band": INCOMING[row["channel"]],
                    "normalised": f"{row['e_n']:.1f}",
                    "records": row["records"],
                    "stamp": stamp,
                },
            )
        )
    sets = {term: set(compared.loc[compared["channel"] == term, "set"]) for term in INCOMING}
    _untold(
        "station-disagrees",
        "station-apart" if len(records(station, stamp)[0]) > 1 else "no-station",
        names,
        sets,
        tell,
    )
    return [
        finding
        for term in INCOMING
        for finding in _off_station([f for f in findings if f.channel == term], len(sets[term]))
    ]


def _off_station(findings: list[Finding], compared: int) -> list[Finding]:
    """One finding about the station where all of several sets are off it to the same side: then it is hardly they."""
    if (
        len(findings) < 2
        or len(findings) < compared
        or len({finding.facts["direction"] for finding in findings}) > 1
    ):
        return findings
    first = findings[0]
    facts = {**first.facts, "sets": ", ".join(finding.set for finding in findings)}
    return [
        Finding(
            "station-disagrees",
            "all-sets",
            "",
            first.file,
            start_utc=first.start_utc,
            end_utc=first.end_utc,
            channel=first.channel,
            facts=facts,
        )
    ]


# Carrying --------------------------------------------------------------------------------------------------------


def own_shade(segments: pd.DataFrame, shade, tell: Tell = unheard) -> list[Finding]:
    """Walks in which the carrier's shadow took too much of the reflected light: beam fraction times the shadow's share of the view.

    segments: as `inputs.prepare` gives them. shade: as `inputs.shade_of` gives it. tell: called with what can't be told. One finding a set. Beside the geometry stands what
    was measured, the mean log ratio of albedos between shaded and other passes of the same ground, where there are two of each.
    """
    phi = segments["solar_azimuth"].to_numpy(float) - segments["heading"].to_numpy(float)
    beam = np.where(segments["solar_elevation"] > LOWEST_SUN, 1.0 - segments["diffuse_fraction"], 0.0)
    loss = np.where(np.isfinite(phi), beam * shade(np.nan_to_num(phi)[None, :])[0], 0.0)
    table = segments.assign(loss=loss, known=segments["heading"].notna())
    table = table[table.index.isin(counted_segments(table).index)]
    findings = []
    for name, rows in table.groupby("set", sort=False):
        if not rows["known"].all():
            tell(Untold("own-shade", "no-heading", name))
        bad = rows[rows["loss"] > OWN_SHADE_LIMIT]
        if not len(bad):
            continue
        worst = bad.loc[bad["loss"].idxmax()]
        start, end = time_text(pd.DatetimeIndex([bad["start_utc"].min(), bad["end_utc"].max()]))
        findings.append(
            Finding(
                "own-shade",
                "",
                name,
                start_utc=start,
                end_utc=end,
                channel="sw_out",
                facts={
                    "count": len(bad),
                    "walks": len(rows),
                    "loss": f"{100 * worst['loss']:.0f}",
                    "segment": worst["segment"],
                    "heading": f"{worst['heading']:.0f}",
                    "azimuth": f"{worst['solar_azimuth']:.0f}",
                    "elevation": f"{worst['solar_elevation']:.0f}",
                    "measured": _measured_loss(rows),
                },
            )
        )
    return findings


def _measured_loss(rows: pd.DataFrame) -> str:
    differences = []
    for _, ground in rows[rows["albedo"] > 0].groupby(["surface", "field", "transect"], dropna=False):
        dark, light = (
            np.log(ground.loc[chosen, "albedo"])
            for chosen in (ground["loss"] > OWN_SHADE_LIMIT, ground["loss"] < OWN_SHADE_LIMIT / 4)
        )
        if len(dark) >= 2 and len(light) >= 2:
            differences.append(dark.mean() - light.mean())
    return (
        f"measured between opposite headings: {100 * (1 - math.exp(np.mean(differences))):.0f} %"
        if differences
        else "not to be measured: no ground with two passes each way"
    )


def head_tilted(
    segments: pd.DataFrame, samples: Mapping[str, pd.DataFrame], excluding: set[str], tell: Tell = unheard
) -> list[Finding]:
    """Upper heads that lean by more than 4 degrees: under a clear sky SW_in over the clear-sky model turns with the heading (F test).

    SW_in / SW_clear of each segment, relative to their mean, on beam share times tan Z times cos and sin of the sun's azimuth less the heading, beside a constant
    and time. Directions of lean that the headings can't show are taken as 0, so the answer is a lower bound; one heading shows none.
    segments: as `inputs.prepare` gives them. samples: as step 5 leaves them. excluding: flags that keep a sample out, as while a head
    settles after a turn. tell: called with what can't be told.
    """
    findings = []
    for name, rows in segments.groupby("set", sort=False):
        rows = rows[rows["heading"].notna() & (rows["solar_elevation"] > 10.0) & (rows["weight"] > 0)]
        frame = samples[name]
        parts = dict(
            list(
                frame[
                    frame["segment"].isin(rows["segment"])
                    & (frame["sw_clear"] > 0)
                    & ~has_any(frame["flags"], excluding)
                ].groupby("segment")
            )
        )
        rows = rows[rows["segment"].isin(parts)]
        index = np.array([parts[s]["sw_in"].mean() / parts[s]["sw_clear"].mean() for s in rows["segment"]])
        spread = np.array([(parts[s]["sw_in"] / parts[s]["sw_clear"]).std() for s in rows["segment"]])
        calm = (spread < CLEAR_WALK[0] * index) & (index > CLEAR_WALK[1])
        if calm.sum() < 4 or calm.mean() < CLEAR_WALKS:
            tell(Untold("head-tilted", "no-clear-walks", name))
            continue
        rows, relative = rows[calm], index[calm] / index[calm].mean()
        radians = np.radians(rows["solar_azimuth"] - rows["heading"]).to_numpy(float)
        lever = (
            (1.0 - rows["diffuse_fraction"].median())
            / np.tan(np.radians(rows["solar_elevation"].to_numpy(float)))
            * math.radians(1.0)
        )
        time = pd.DatetimeIndex(rows["start_utc"]).as_unit("us").asi8 / 3.6e9
        known = np.column_stack([np.ones(len(rows)), time - time.mean()])[:, : 2 if len(rows) >= 6 else 1]
        tilt = np.column_stack([lever * np.cos(radians), lever * np.sin(radians)])
        clean = lambda y: y - known @ np.linalg.lstsq(known, y, rcond=None)[0]
        y, x = clean(relative), clean(tilt)
        u, size, v = np.linalg.svd(x, full_matrices=False)
        seen = size > TILT_SEEN * math.sqrt(len(rows))
        freedom = len(rows) - known.shape[1] - seen.sum()
        if not seen.any() or freedom < 1:
            tell(Untold("head-tilted", "one-heading", name))
            continue
        along = u[:, seen].T @ y
        unexplained = float(np.sum(y**2) - np.sum(along**2))
        residual = (unexplained + USUAL_FREEDOM * WALK_SCATTER**2) / (freedom + USUAL_FREEDOM)
        lean = v[seen].T @ (along / size[seen])
        degrees = float(np.hypot(*lean))
        unsure = math.sqrt(residual) / size[seen].min()
        chance = fdtrc(seen.sum(), freedom + USUAL_FREEDOM, np.sum(along**2) / seen.sum() / residual)
        if (
            math.sqrt(unexplained / freedom) <= TILT_SCATTER
            and chance < FALSE_ALARM
            and degrees - 2.0 * unsure >= TILT_LIMIT - 1.0
            and degrees >= TILT_LIMIT
        ):
            start, end = time_text(pd.DatetimeIndex([rows["start_utc"].min(), rows["end_utc"].max()]))
            findings.append(
                Finding(
                    "head-tilted",
                    "",
                    name,
                    start_utc=start,
                    end_utc=end,
                    channel="sw_in",
                    facts={"degrees": f"{degrees:.1f}", "unsure": f"{2.0 * unsure:.1f}", "walks": len(rows)},
                )
            )
    return findings


# Surfaces --------------------------------------------------------------------------------------------------------


def surface_mislabelled(
    fields: pd.DataFrame,
    segments: pd.DataFrame,
    air: Sequence[float],
    surfaces: Mapping[str, Mapping],
    file: str,
    tell: Tell = unheard,
) -> list[Finding]:
    """Fields whose albedo or surface temperature is outside the class's range by more than 3.6 standard uncertainties.

    fields, segments: step 8's, with intervals. air: degC at each segment, NaN where unknown. file: of the notes. Only with the sun above
    20 degrees: the ranges are those of the day; else `tell` is called. Classes whose ranges hold what was found are offered.
    """
    segments = counted_segments(
        segments.assign(air=np.asarray(air, dtype=float), weight=segments["samples_used"])
    )
    findings = []
    for row in fields.to_dict("records"):
        mine = segments[(segments["field"] == row["field"]) & (segments["surface"] == row["surface"])]
        if not len(mine):
            continue
        if not mine["solar_elevation"].min() > MISLABEL_SUN:
            tell(Untold("surface-mislabelled", "sun-under-20"))
            continue
        warmer = row["surface_temperature"] - mine["air"].mean()
        wide = {
            name: 3.6 / NORMAL_95 * _half_width(row, mine, name) for name in ("albedo", "surface_temperature")
        }
        shown = {
            "albedo": (row["albedo"], wide["albedo"]),
            "surface_minus_air": (warmer, wide["surface_temperature"] + AIR_UNSURE),
        }
        outside = [
            key
            for key, (value, width) in shown.items()
            if not _holds(surfaces[row["surface"]], key, value, width)
        ]
        fits = [
            name for name, entry in surfaces.items() if all(_holds(entry, key, *shown[key]) for key in shown)
        ]
        first = mine["notes_row"].min()
        for key in outside[:1]:
            value, width = shown[key]
            entry = surfaces[row["surface"]][key]
            digits = 2 if key == "albedo" else 1
            findings.append(
                Finding(
                    "surface-mislabelled",
                    "albedo" if key == "albedo" else "temperature",
                    file=file,
                    line=int(first),
                    facts={
                        "field": row["field"],
                        "surface": row["surface"],
                        "value": f"{value:.{digits}f}",
                        "low": f"{entry['low']:g}",
                        "high": f"{entry['high']:g}",
                        "width": f"{width:.{digits}f}",
                        "fits": ", ".join(fits) or "no class of the table",
                    },
                )
            )
    return findings


def _half_width(row: Mapping, segments: pd.DataFrame, name: str) -> float:
    """Half width of a field's interval; where it has none, the widest of its segments'."""
    own = max(row[f"{name}_high"] - row[name], row[name] - row[f"{name}_low"])
    return (
        own
        if math.isfinite(own)
        else float(
            np.max(
                np.maximum(
                    segments[f"{name}_high"] - segments[name], segments[name] - segments[f"{name}_low"]
                )
            )
        )
    )


def _holds(entry: Mapping, key: str, value: float, width: float) -> bool:
    """Whether a class's range, widened, holds a value; a class without a range holds any, and so does what can't be known."""
    low, high = (entry.get(key, {}).get(end, "") for end in ("low", "high"))
    if (
        not isinstance(low, float)
        or not isinstance(high, float)
        or not math.isfinite(value)
        or not math.isfinite(width)
    ):
        return True
    return low - width <= value <= high + width


# All of it -------------------------------------------------------------------------------------------------------


def diagnose(
    samples: Mapping[str, pd.DataFrame],
    moments: Mapping[str, np.ndarray],
    intervals: Mapping[str, float],
    excluding: set[str],
    prepared: pd.DataFrame,
    segments: pd.DataFrame,
    fields: pd.DataFrame,
    air,
    station: pd.DataFrame,
    stamp: str,
    certificates: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: Mapping[str, Mapping],
    carrying: Mapping[str, float],
    notes_file: str,
    tell: Tell = unheard,
) -> tuple[list[Finding], pd.DataFrame]:
    """Everything that shows once all numbers are there, and each set against the station (`against_station`).

    samples: of each set, as step 5 leaves them, at least those in a segment. moments: theirs, s, by the clock as far as it is corrected. intervals: s.
    excluding: flags that keep a sample out. prepared: step 6's segments, as `inputs.prepare` gives them. segments, fields: step 8's. air: degC at each segment. station: rows of station.csv. stamp: what its times name. certificates: in force. surfaces, terms: the tables of config/. tell: called with
    what can't be told.
    """
    # near an edge or low over the canopy a head sees its sky all the same
    spoilt = {
        name: has_any(frame["flags"], excluding - {"edge", "low-head"}) for name, frame in samples.items()
    }
    common = (samples, moments, intervals, spoilt, prepared, certificates, terms, carrying)
    compared = against_station(station, stamp, *common)
    findings = sets_disagree(*common, tell) + station_disagrees(compared, station, stamp, samples, tell)
    if carrying["walking_speed"] > 0:
        findings += own_shade(prepared, inputs.shade_of(prepared, carrying), tell) + head_tilted(
            prepared, samples, excluding, tell
        )
    return findings + surface_mislabelled(fields, segments, air, surfaces, notes_file, tell), compared
