"""Students' numbers against the chain's, and the wrong answers that have names.

A wrong answer is not a formula of its own: it is the chain run once more with one slip in it (`outcome`), so that whatever follows
from the slip follows here as well. Right means that the same data gave the same number, which is something else than lying
within the measurement's uncertainty.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base import findings
from headland.base.flags import has_any, merged
from headland.base.groups import GROUPINGS, counted_segments
from headland.base.time_text import time_text
from headland.base.words import did_you_mean
from headland.chain import balance, calibrate, segment, summarise
from headland.chain.ingest import middle_of_interval
from headland.physics import evaporation, heat, instruments, radiation
from headland.physics.constants import RADIATION, SIGMA, ZERO_CELSIUS
from headland.physics.longwave import irradiance
from headland.report.report import SHOWN, WITHOUT, interval, number
from headland.uncertainty import intercompare, model

OF_SEGMENTS = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
OF_SURFACES = (*OF_SEGMENTS, "net_radiation_common_sky", *heat.ESTIMATED)
"""The quantities that can be asked for."""

RELATIVE, FLUX = 0.005, 1.0
"""Right is a number within 0.5 % or, for fluxes, 1 W m-2 of the chain's (methods of this project)."""
COARSEST = 0.05
"""A number that is right as far as it is rounded counts as rounded if half its last digit is no more than this share of it (common practice, no source)."""

KIND = {
    "albedo": "ratio",
    "bowen_ratio": "ratio",
    "surface_temperature": "temperature",
    "evaporation": "water",
}
"""What sort of quantity each is; the others are fluxes."""
UNITS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "flux": {
        "Wm-2": (1.0, 0.0),
        "W/m2": (1.0, 0.0),
        "kWm-2": (1e3, 0.0),
        "kW/m2": (1e3, 0.0),
        "mWcm-2": (10.0, 0.0),
        "mW/cm2": (10.0, 0.0),
        "MJm-2h-1": (1e6 / 3600.0, 0.0),
        "MJ/m2/h": (1e6 / 3600.0, 0.0),
        "MJ/(m2h)": (1e6 / 3600.0, 0.0),
    },
    "ratio": {"": (1.0, 0.0), "1": (1.0, 0.0), "-": (1.0, 0.0), "%": (0.01, 0.0), "percent": (0.01, 0.0)},
    "temperature": {
        "degC": (1.0, 0.0),
        "°C": (1.0, 0.0),
        "C": (1.0, 0.0),
        "K": (1.0, -ZERO_CELSIUS),
        "degF": (5.0 / 9.0, -160.0 / 9.0),
        "°F": (5.0 / 9.0, -160.0 / 9.0),
    },
    "water": {
        "mmh-1": (1.0, 0.0),
        "mm/h": (1.0, 0.0),
        "mm/hr": (1.0, 0.0),
        "mmd-1": (1.0 / 24.0, 0.0),
        "mm/d": (1.0 / 24.0, 0.0),
        "mm/day": (1.0 / 24.0, 0.0),
        "kgm-2s-1": (3600.0, 0.0),
        "kg/m2/s": (3600.0, 0.0),
        "kgm-2h-1": (1.0, 0.0),
        "kg/m2/h": (1.0, 0.0),
    },
}
"""Factor and offset that lead from a unit to the project's own (W m-2, 1, degC, mm h-1); spellings as `bare_unit` leaves them."""
EXPECTED = {"flux": "W m-2", "ratio": "1 or %", "temperature": "degC or K", "water": "mm h-1"}

VERDICTS = {
    "right": "right",
    "rounded": "right as far as it is rounded",
    "mistake": "a known slip",
    "other": "another number",
    "unreadable": "can't be read",
    "withheld": "withheld by the chain",
    "no-reference": "no value to compare with",
}
"""Every verdict, in words for people."""
VALUES = ["e_n", "reference", "reference_low", "reference_high", "difference"]
"""Columns that give the chain's number away."""


# The chain, with a slip in it ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Survey:
    """What the chain works on, from the samples as stored to the balance.

    raw, segmented: by set, as steps 1 and 5 leave them. certificates: by set, those in force. sets: by set its `channels`, `longwave`, `interval`, `stamp`,
    `utc_offset` (s). register: instruments.csv with factors in W m-2 per mV. noted: every interval and clock check; segments: the listed segments (step 5).
    balances: step 7's table of the surfaces. notes_offset: of the notes' zone from UTC on the day, s. found: what steps 1 to 5 found. set_scale: as in campaign.yaml. fixed, stamp: a
    fixed station whose incoming terms replace the sets' own, as in `summarise.segments`.
    """

    raw: Mapping[str, pd.DataFrame]
    segmented: Mapping[str, pd.DataFrame]
    certificates: Mapping[str, pd.DataFrame]
    sets: Mapping[str, Mapping]
    register: pd.DataFrame
    noted: pd.DataFrame
    segments: pd.DataFrame
    balances: pd.DataFrame
    surfaces: Mapping[str, Mapping]
    excluding: frozenset[str]
    walks: bool
    notes_offset: float
    found: Sequence[findings.Finding] = ()
    set_scale: str = "none"
    fixed: pd.DataFrame | None = None
    stamp: str = "end"


Slip = Mapping[str, object]
"""What is done otherwise, by the step that it changes: `lw_in`, `lw_out` (as in `samples_of`), `certificates`, `shift` (as in `placed`), `kept`, `surfaces` (as in
`segments_of`), `net`, `fractions` (as in `outcome`), `set_scale`, `found` (of the survey), and `last`, which makes the outcome another."""
PAIR = "+"
"""Stands between the codes of two slips that were made together."""
MOST_PAIRS = 3
"""Pairs of slips that may give one number and still be named: where more do, the number says nothing of them (common practice, no source)."""


@dataclass(frozen=True)
class Outcome:
    """The values of segments and surfaces, each by its name."""

    segments: pd.DataFrame
    surfaces: pd.DataFrame


OF_PLACE = {"edge", "overlap", "low-head"}
"""The flags that a sample has because of the interval that it lies in."""


def samples_of(
    survey: Survey, lw_in: Callable = irradiance, lw_out: Callable = irradiance
) -> dict[str, pd.DataFrame]:
    """The samples of every set as steps 5 and 6 have them. lw_in, lw_out: how the longwave term comes from the net signal, W m-2, and the body temperature, K."""
    result = {}
    for name, entry in survey.sets.items():
        sensed = calibrate.calibrate(
            survey.raw[name], entry["channels"], survey.certificates[name], entry["longwave"]
        )
        terms = {column: sensed[column] for column in ("sw_in", "sw_out", "lw_in_net", "lw_out_net")}
        for channel, rule in (("lw_in", lw_in), ("lw_out", lw_out)):
            terms[channel] = rule(
                sensed[f"{channel}_net"].to_numpy(float),
                sensed[f"body_temperature_{channel}"].to_numpy(float) + ZERO_CELSIUS,
            )
        result[name] = survey.segmented[name].assign(**terms)
    return result


def placed(
    survey: Survey, samples: Mapping[str, pd.DataFrame], shift: Callable = lambda entry: 0.0
) -> dict[str, pd.DataFrame]:
    """The same samples placed anew in the survey's segments. shift: s by which a set's notes are taken too late."""
    result = {}
    for name, frame in samples.items():
        entry, own = survey.sets[name], survey.segments[survey.segments["set"] == name].copy()
        for column in ("start_utc", "end_utc"):
            own[column] += pd.to_timedelta(shift(entry), unit="s")
        checks = survey.noted[(survey.noted["set"] == name) & (survey.noted["activity"] == "clock_check")]
        found, _ = segment.assign(
            middle_of_interval(frame["time_utc"], entry["stamp"], entry["interval"]),
            checks,
            own,
            entry["interval"],
            segment.response_time(survey.certificates[name]),
            survey.walks,
        )
        others = frame["flags"].map(
            {
                text: " ".join(flag for flag in text.split() if flag not in OF_PLACE)
                for text in frame["flags"].unique()
            }
        )
        result[name] = frame.assign(
            segment=found["segment"],
            position=found["position"],
            middle_utc=found["middle_utc"],
            flags=merged(others, found["flags"]),
        )
    return result


def segments_of(
    survey: Survey,
    samples: Mapping[str, pd.DataFrame],
    kept: frozenset[str] = frozenset(),
    surfaces: Mapping[str, Mapping] | None = None,
) -> pd.DataFrame:
    """Means of the segments, as step 6 has them. kept: flags that, wrongly, keep no sample out. surfaces: class properties, where not the survey's."""
    excluding = set(survey.excluding - kept)
    samples = {name: summarise.with_sky_memory(frame, excluding) for name, frame in samples.items()}
    return summarise.segments(
        survey.segments,
        samples,
        survey.sets,
        excluding,
        surfaces or survey.surfaces,
        findings.withheld(survey.found),
        survey.fixed,
        survey.stamp,
    )[0]


def on_scale(survey: Survey, segments: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> pd.DataFrame:
    """Means of segments with all sets on the scale that the campaign asks for, as step 8 puts them."""
    scale, _ = intercompare.scale_of(segments, survey.set_scale)
    if scale is None:
        return segments
    flux = intercompare.on_one_scale({c: segments[c].to_numpy(float)[None, :] for c in RADIATION}, scale, {})
    emissivity = np.array([surfaces[s]["emissivity"]["value"] if s else 1.0 for s in segments["surface"]])
    flux |= model.derived(flux, segments, emissivity)
    return segments.assign(
        **{
            name: np.nan_to_num(value[0]) if name.startswith("albedo_") else value[0]
            for name, value in flux.items()
        }
    )


def outcome(
    survey: Survey,
    segments: pd.DataFrame,
    net: Callable = radiation.net_radiation,
    surfaces: Mapping[str, Mapping] | None = None,
    fractions: Mapping[str, float] | None = None,
) -> Outcome:
    """Segments and surfaces from the means of segments; with the default arguments what the chain reports.

    net: net radiation from the four terms. surfaces: class properties, where not the survey's. fractions: ground heat fraction by surface, where not its class's.
    """
    segments = on_scale(survey, segments, surfaces or survey.surfaces)
    of_terms = lambda table: net(*(table[name] for name in calibrate.RADIATION))
    groups = summarise.groups(
        segments,
        GROUPINGS["surfaces"],
        surfaces or survey.surfaces,
        summarise.reference_sky(segments),
    )
    slip = of_terms(groups) - groups["net_radiation"]
    groups = groups.assign(
        **{name: groups[name] + slip for name in ("net_radiation", "net_radiation_common_sky")}
    )
    segments = segments.assign(net_radiation=of_terms(segments))
    known = survey.balances.set_index("surface").reindex(groups["surface"]).reset_index()
    if fractions:
        known["fraction"] = known["surface"].map(fractions)
    terms = heat.estimate(
        known.assign(reason=known["reason"].fillna("unknown")),
        groups["net_radiation"].to_numpy(float),
        0.0,
        0.0,
    )
    return Outcome(segments.set_index("segment"), groups.assign(**terms).set_index("surface"))


def mean_of_ratios(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> list[Outcome]:
    """The albedo, in three ways, as people get it who divide first: the mean of the samples' ratios and, of a surface, the mean of its segments' albedos."""
    every = pd.concat(samples.values(), ignore_index=True)
    sunny = (every["solar_elevation"] > radiation.ALBEDO_ELEVATION) & (
        every["sw_in"] > radiation.ALBEDO_SW_IN
    )
    good = every[sunny & (every["segment"] != "") & ~has_any(every["flags"], set(survey.excluding))]
    ratios = (good["sw_out"] / good["sw_in"]).groupby(good["segment"]).agg(["mean", "count"])
    own = counted_segments(right.segments.reset_index()).join(ratios, on="segment")
    by = own.groupby("surface")
    of_samples = (own["mean"] * own["count"]).groupby(own["surface"]).sum() / by["count"].sum()
    return [
        Outcome(right.segments.assign(albedo=ratios["mean"]), right.surfaces.assign(albedo=column))
        for column in (of_samples, by["mean"].mean(), by["albedo"].mean())
    ]


def _with_factors(
    survey: Survey, factor_of: Callable[[str, Mapping], float]
) -> dict[str, pd.DataFrame] | None:
    """The certificates with another factor wherever `factor_of` (set, row of the certificate) gives one; None where it gives none at all."""
    changed, certificates = False, {}
    for name, table in survey.certificates.items():
        factors = [factor_of(name, row) for row in table.to_dict("records")]
        changed |= any(math.isfinite(f) for f in factors)
        certificates[name] = table.assign(
            factor=[f if math.isfinite(f) else old for f, old in zip(factors, table["factor"])]
        )
    return certificates if changed else None


def _wrong_factors(survey: Survey) -> Iterator[tuple[str, dict[str, pd.DataFrame] | None]]:
    """Certificates with wrong factors, each with the code of its slip."""
    in_force = {name: table.set_index("channel")["factor"] for name, table in survey.certificates.items()}
    pairs = {"sw_in": "sw_out", "sw_out": "sw_in", "lw_in": "lw_out", "lw_out": "lw_in"}
    for channels in (
        ("sw_in",),
        ("sw_out",),
        ("lw_in",),
        ("lw_out",),
        ("sw_in", "sw_out"),
        ("lw_in", "lw_out"),
    ):
        yield (
            "factor-of-other-head",
            _with_factors(
                survey,
                lambda name, row: (
                    in_force[name][pairs[row["channel"]]] if row["channel"] in channels else math.nan
                ),
            ),
        )

    def older(name, row):
        own = survey.register[
            (survey.register["set"] == name)
            & (survey.register["channel"] == row["channel"])
            & (survey.register["certificate_date"] < row["certificate_date"])
        ].sort_values("certificate_date")
        return own["factor"].iloc[-1] if len(own) else row["programmed_factor"]

    yield "factor-outdated", _with_factors(survey, older)
    millivolts = lambda name, row: (
        survey.sets[name]["channels"][row["channel"]]["unit"] in instruments.MILLIVOLTS
    )
    for channels in (("sw_in", "sw_out"), ("lw_in", "lw_out"), RADIATION):
        yield (
            "factor-inverted",
            _with_factors(
                survey,
                lambda name, row: (
                    calibrate.factor_from_responsivity(row["factor"])
                    if row["channel"] in channels and millivolts(name, row)
                    else math.nan
                ),
            ),
        )


def slips_of(survey: Survey) -> list[tuple[str, Slip]]:
    """Every known slip: code of wrong_answers.csv, and what it changes. A code comes as often as the slip can be made in different ways."""
    bare = lambda net, kelvin: net
    celsius = lambda net, kelvin: irradiance(net, kelvin - ZERO_CELSIUS)
    twice = lambda net, kelvin: irradiance(irradiance(net, kelvin), kelvin)
    made: list[tuple[str, Slip]] = [
        (code, {"lw_in": rule, "lw_out": rule})
        for code, rule in (
            ("no-own-emission", bare),
            ("emission-twice", twice),
            ("celsius-in-fourth-power", celsius),
        )
    ]
    made += [("emission-in-one-term", {channel: bare}) for channel in ("lw_in", "lw_out")]
    made.append(
        (
            "emissivity-one",
            {
                "surfaces": {
                    name: {**entry, "emissivity": {**entry["emissivity"], "value": 1.0}}
                    for name, entry in survey.surfaces.items()
                }
            },
        )
    )
    made += [
        (
            "mean-of-ratios",
            {"last": lambda own, samples, right, way=way: mean_of_ratios(own, samples, right)[way]},
        )
        for way in range(3)
    ]
    made += [
        (code, {"certificates": certificates})
        for code, certificates in _wrong_factors(survey)
        if certificates
    ]
    made += [
        ("wrong-sign", {"net": net})
        for net in (
            lambda si, so, li, lo: -radiation.net_radiation(si, so, li, lo),
            lambda si, so, li, lo: radiation.net_radiation(si, so, lo, li),
            lambda si, so, li, lo: radiation.net_radiation(so, si, li, lo),
            lambda si, so, li, lo: radiation.net_radiation(si, -so, li, lo),
            lambda si, so, li, lo: radiation.net_radiation(si, so, li, -lo),
        )
    ]
    made.append(
        (
            "wrong-sign",
            {
                "last": lambda own, samples, right: Outcome(
                    -right.segments.select_dtypes("number"), -right.surfaces.select_dtypes("number")
                )
            },
        )
    )
    made += [
        (
            "net-of-three-terms",
            {
                "net": lambda *terms, missing=missing: radiation.net_radiation(
                    *(0.0 if n == missing else t for n, t in enumerate(terms))
                )
            },
        )
        for missing in range(4)
    ]
    shifts = (
        lambda entry: survey.notes_offset,
        lambda entry: -entry["utc_offset"],
        lambda entry: survey.notes_offset - entry["utc_offset"],
    )
    made += [
        ("local-time-as-utc", {"shift": shift})
        for shift in shifts
        if any(shift(entry) for entry in survey.sets.values())
    ]
    made.append(("edges-included", {"kept": frozenset({"edge"})}))
    day = survey.balances.set_index("surface")["day"]
    made += [
        (
            "ground-heat-of-another-class",
            {
                "fractions": {
                    own: balance.ground_heat_terms(
                        entry, "class_fraction", bool(day[own]), math.nan, math.nan
                    )[0]
                    for own in day.index
                }
            },
        )
        for entry in survey.surfaces.values()
        if "ground_heat_fraction_day" in entry
    ]
    if survey.set_scale != "none":
        made.append(("set-scale-missing", {"set_scale": "none"}))
    if findings.withheld(survey.found):
        made.append(("withheld-included", {"found": ()}))
    return made


def through(survey: Survey, slip: Slip, made: dict) -> Outcome:
    """The chain with a slip in it, with two, or with none (an empty one). made: segments made before, by the parts of a slip that reach them; it is added to."""
    changed = replace(
        survey, **{name: slip[name] for name in ("certificates", "set_scale", "found") if name in slip}
    )
    key = tuple(
        id(slip.get(name))
        for name in ("lw_in", "lw_out", "certificates", "shift", "kept", "surfaces", "found")
    )
    if key not in made:
        samples = samples_of(changed, **{name: slip[name] for name in ("lw_in", "lw_out") if name in slip})
        samples = placed(changed, samples, slip["shift"]) if "shift" in slip else samples
        made[key] = (
            samples,
            segments_of(changed, samples, slip.get("kept", frozenset()), slip.get("surfaces")),
        )
    samples, segments = made[key]
    result = outcome(
        changed,
        segments,
        slip.get("net", radiation.net_radiation),
        slip.get("surfaces"),
        slip.get("fractions"),
    )
    return slip["last"](changed, samples, result) if "last" in slip else result


def part_of(survey: Survey, kind: str, item: str) -> Survey:
    """The survey with no more segments than one segment or surface needs: its own, and those that lend it their sky or their scale. The common sky needs all."""
    own = survey.segments["segment" if kind == "segments" else "surface"] == item
    lent = survey.segments["activity"].isin(
        ("sky_monitor",) if survey.set_scale == "none" else ("sky_monitor", "side_by_side")
    )
    return replace(survey, segments=survey.segments[own | lent])


def two_slips(
    survey: Survey, slips: Sequence[tuple[str, Slip]], wrong: Sequence[tuple[str, Outcome]]
) -> Callable[[str, str, str, float], list[tuple[str, float]]]:
    """What leads from (`segments` or `surfaces`, name, quantity, right value) to the values of every two slips together, their codes joined by `PAIR`.

    slips: `slips_of`; wrong: their outcomes, in the same order. Two slips at the same step can't be made together. Both must change the number, alone and beside the other.
    """
    made: dict[tuple[str, str], dict] = {}
    known: dict[tuple[str, str, str], list[tuple[str, float]]] = {}

    def values(kind: str, item: str, quantity: str, right: float) -> list[tuple[str, float]]:
        if (kind, item, quantity) not in known:
            whole = quantity == "net_radiation_common_sky"
            own = survey if whole else part_of(survey, kind, item)
            cache = made.setdefault(("", "") if whole else (kind, item), {})
            same = tolerance(quantity, right)
            single = [
                (code, slip, value_in(result, kind, item, quantity))
                for (code, slip), (_, result) in zip(slips, wrong)
            ]
            single = [(code, slip, value) for code, slip, value in single if abs(value - right) > same]
            known[kind, item, quantity] = []
            for (a, first, alone), (b, second, other) in combinations(single, 2):
                if a != b and not set(first) & set(second):
                    value = value_in(through(own, {**first, **second}, cache), kind, item, quantity)
                    if all(abs(value - one) > same for one in (right, alone, other)):
                        known[kind, item, quantity].append((PAIR.join(sorted((a, b))), value))
        return known[kind, item, quantity]

    return values


# Numbers as people write them ------------------------------------------------------------------------------------


def bare_unit(text: str) -> str:
    """A unit without what people write differently: blanks, dots, hats, raised digits (`W·m⁻²`, `W m^-2` and `Wm-2` are one)."""
    text = text.strip().translate(str.maketrans("⁻¹²³⁰−", "-1230-"))
    return re.sub(r"[\s·*^.]|\u202f", "", text)


def number_of(text: str) -> tuple[float, float]:
    """A number as written, with a point or a comma before the decimals, and half of its last digit; NaN where it is none."""
    text = text.strip().replace("−", "-").replace("\u202f", "").replace(" ", "")
    if not re.fullmatch(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d{1,2})?", text, re.ASCII):
        return math.nan, math.nan
    mantissa, _, exponent = text.replace(",", ".").lower().partition("e")
    return float(text.replace(",", ".")), 0.5 * 10.0 ** (int(exponent or 0) - len(mantissa.partition(".")[2]))


def converted(value: float, unit: str, quantity: str) -> float:
    """A value in the project's own unit of a quantity (W m-2, 1, degC, mm h-1). Raises KeyError for a unit that the quantity can't have."""
    factor, offset = UNITS[KIND.get(quantity, "flux")][bare_unit(unit)]
    return value * factor + offset


def tolerance(quantity: str, value: float) -> float:
    """How far a number may be off and still be the same: 0.5 % or 1 W m-2, and for a temperature or evaporation what 1 W m-2 amounts to.

    For a surface temperature that is dL / (4 sigma T^3) (derivative of the Stefan-Boltzmann law); value in the quantity's own unit.
    """
    match KIND.get(quantity, "flux"):
        case "flux":
            return max(RELATIVE * abs(value), FLUX)
        case "temperature":
            return FLUX / (4.0 * SIGMA * (value + ZERO_CELSIUS) ** 3)
        case "water":
            return max(RELATIVE * abs(value), float(evaporation.evaporation(FLUX, 20.0)))
    return RELATIVE * abs(value)


def error_of_answer(value: float, uncertainty: float, reference: float, low: float, high: float) -> float:
    """E_n of an answer against a number with an interval.

    uncertainty: expanded, of the answer. That of the reference is half of its interval, on the answer's side.
    """
    own = high - reference if value > reference else reference - low
    return intercompare.normalised_error(value - reference, uncertainty, own)


# The check -------------------------------------------------------------------------------------------------------


def value_in(outcome_: Outcome, kind: str, item: str, quantity: str) -> float:
    """A value of an outcome; NaN where it has none. kind: `segments` or `surfaces`."""
    table = getattr(outcome_, kind)
    return float(table[quantity].get(item, math.nan)) if quantity in table else math.nan


def candidates(
    kind: str, item: str, quantity: str, right: float, wrong: Sequence[tuple[str, Outcome]]
) -> list[tuple[str, float]]:
    """The named wrong values of one quantity of one segment or surface, without those that are right all the same."""
    result = []
    for code, values in wrong:
        value = value_in(values, kind, item, quantity)
        if abs(value - right) > tolerance(quantity, right):
            result.append((code, value))
    return result


def fitting(
    value: float, half_digit: float, quantity: str, wrong: Sequence[tuple[str, float]]
) -> dict[str, float]:
    """Codes whose value is the given one within the tolerance, or as far as it is rounded, with the difference, the nearest first."""
    rounding = half_digit if half_digit <= COARSEST * abs(value) else 0.0
    near: dict[str, float] = {}
    for code, candidate in wrong:
        away = abs(value - candidate)
        if away <= max(tolerance(quantity, candidate), rounding):
            near[code] = min(away, near.get(code, math.inf))
    return dict(sorted(near.items(), key=lambda item: item[1]))


def judged(
    value: float, half_digit: float, quantity: str, reference: float, wrong: Sequence[tuple[str, float]]
) -> tuple[str, list[str]]:
    """The verdict on a value in the quantity's own unit, and the codes of the slips that give that number, the nearest first.

    half_digit: half of the last digit that was written, in the same unit. wrong: as `candidates` gives them.
    """
    rounding = half_digit if half_digit <= COARSEST * abs(value) else 0.0
    if abs(value - reference) <= tolerance(quantity, reference):
        return "right", []
    near = fitting(value, half_digit, quantity, wrong)
    codes = list(near)
    if abs(value - reference) <= rounding and abs(value - reference) <= min(near.values(), default=math.inf):
        return "rounded", []
    return ("mistake", codes) if codes else ("other", [])


def check(
    answers: pd.DataFrame,
    tables: Mapping[str, pd.DataFrame],
    labels: Mapping[str, str],
    wrong: Sequence[tuple[str, Outcome]],
    slips: Mapping[str, Mapping[str, str]],
    pairs: Callable = lambda *of: [],
    reasons: Callable = lambda *of: [],
) -> pd.DataFrame:
    """Every answer with its verdict: the rows of answers_checked.json.

    answers: texts of who, segment, surface, quantity, value, unit, uncertainty, and `line`. tables: `segments` and `surfaces` as users get them. labels: what people
    call a surface, by its name. wrong: `wrong_answers` as a list. slips: rows of wrong_answers.csv by code. pairs: as `two_slips` gives it; asked only
    where no single slip explains a number. reasons: from (`segments` or `surfaces`, name, quantity) to the sentences that say why the chain withholds it.
    """
    by_name = {
        "segments": tables["segments"].set_index("segment"),
        "surfaces": tables["surfaces"].set_index("surface"),
    }
    rows = []
    for row in answers.to_dict("records"):
        kind, item, quantity, problem = _asked(row, by_name, labels)
        record = {
            "line": row["line"],
            "who": row["who"] or "everybody",
            "item": item,
            **{c: row[c] for c in ("quantity", "value", "unit", "uncertainty")},
            "mistake": "",
            "also_possible": "",
            "hint": "",
            "verdict": "unreadable",
        }
        rows.append(record)
        value, half = number_of(row["value"])
        if not problem and not math.isfinite(value):
            problem = f'"{row["value"]}" is no number; write digits with one decimal point'
        if not problem and bare_unit(row["unit"]) not in UNITS[KIND.get(quantity, "flux")]:
            problem = f'"{row["unit"]}" is no unit of {quantity.replace("_", " ")}; write {EXPECTED[KIND.get(quantity, "flux")]}'
        own = number_of(row["uncertainty"])[0] if row["uncertainty"].strip() else math.nan
        if not problem and row["uncertainty"].strip() and not own >= 0:
            problem = (
                f'the uncertainty "{row["uncertainty"]}" is no number; write it in the unit of the value'
            )
        if problem:
            record["hint"] = problem[0].upper() + problem[1:] + "."
            continue
        scale = UNITS[KIND.get(quantity, "flux")][bare_unit(row["unit"])][0]
        value, half, own = converted(value, row["unit"], quantity), half * scale, own * scale
        reference, low, high = (
            float(by_name[kind].loc[item, quantity + end]) for end in ("", "_low", "_high")
        )
        record |= {
            "quantity": quantity,
            "reference": reference,
            "reference_low": low,
            "reference_high": high,
            "difference": value - reference,
        }
        if not math.isfinite(reference):
            record |= dict(
                zip(("verdict", "hint"), without_reference(reasons(kind, item, quantity), quantity))
            )
            continue
        named = candidates(kind, item, quantity, reference, wrong)
        verdict, codes = judged(value, half, quantity, reference, named)
        if verdict == "other" and _fits_another_unit(number_of(row["value"])[0], quantity, reference):
            verdict, codes = "mistake", ["unit-mistaken"]
        together = (
            fitting(value, half, quantity, pairs(kind, item, quantity, reference))
            if verdict == "other"
            else {}
        )
        if 0 < len(together) <= MOST_PAIRS:
            verdict, codes = "mistake", list(together)
        record["verdict"] = verdict
        if math.isfinite(low) and math.isfinite(high):
            record["within_uncertainty"] = low <= value <= high
            record["e_n"] = error_of_answer(value, own, reference, low, high)
        if codes:
            record |= {
                "mistake": codes[0],
                "also_possible": " ".join(codes[1:]),
                "hint": " ".join(slips[code]["hint"] for code in codes[0].split(PAIR)),
            }
        elif verdict == "other":
            record["hint"] = (
                (
                    ""
                    if not together
                    else f"{len(together)} different pairs of known slips would give this number, so it does not tell which. "
                )
                + "Follow one sample by hand, step by step, as the report's appendix does, and see where your number leaves the path."
            )
        elif verdict == "rounded":
            record["hint"] = "One more digit would show that it is the same number."
    columns = (
        "line",
        "who",
        "item",
        "quantity",
        "value",
        "unit",
        "uncertainty",
        "verdict",
        "within_uncertainty",
        "e_n",
        "mistake",
        "also_possible",
        "hint",
        "reference",
        "reference_low",
        "reference_high",
        "difference",
    )
    return pd.DataFrame(rows, columns=columns)


def without_reference(reasons: Sequence[str], quantity: str) -> tuple[str, str]:
    """The verdict where the chain gives no number, and why it gives none. reasons: sentences of the errors that make it withhold the number."""
    if reasons:
        return (
            "withheld",
            "Not compared: the chain withholds this number, because it would be wrong. " + " ".join(reasons),
        )
    return (
        "no-reference",
        f"Not compared: the chain has no value here ({WITHOUT.get(quantity, 'nothing measured; see the findings')}).",
    )


NEEDS = {
    "sw_in": {"sw_in"},
    "sw_out": {"sw_out"},
    "albedo": {"sw_in", "sw_out"},
    "lw_in": {"lw_in"},
    "lw_out": {"lw_out"},
    "surface_temperature": {"lw_in", "lw_out"},
}
"""The channels that a quantity is made from; the others need all."""


def withholding(
    survey: Survey, segments: pd.DataFrame, kind: str, item: str, quantity: str
) -> list[findings.Finding]:
    """The errors for which the chain withholds a quantity of a segment or surface. segments: the chain's own, by name, with `incoming_set`."""
    rows = segments.loc[[item]] if kind == "segments" else segments[segments["surface"] == item]
    needed = NEEDS.get(quantity, set(RADIATION))
    spans = [
        (row["set"], row["incoming_set"], *time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]])))
        for row in rows.to_dict("records")
    ]
    return [
        finding
        for finding in survey.found
        if any(needed & summarise.untrustworthy(findings.withheld([finding]), *span) for span in spans)
    ]


def _asked(
    row: Mapping[str, str], by_name: Mapping[str, pd.DataFrame], labels: Mapping[str, str]
) -> tuple[str, str, str, str]:
    """Table, name and quantity that an answer is about, and what is wrong with them in words."""
    segment_, surface = row["segment"].strip(), row["surface"].strip()
    if bool(segment_) == bool(surface):
        return "", segment_ or surface, row["quantity"], "each row names either a segment or a surface"
    kind, given = ("segments", segment_) if segment_ else ("surfaces", surface)
    names = {name.lower(): name for name in by_name[kind].index}
    if kind == "surfaces":
        names |= {labels[name].lower(): name for name in by_name[kind].index}
    item = names.get(given.lower(), "")
    if not item:
        return (
            kind,
            given,
            row["quantity"],
            f'there is no {kind[:-1]} "{given}" here{did_you_mean(given, names).rstrip("?")}',
        )
    allowed = OF_SEGMENTS if segment_ else OF_SURFACES
    quantity = row["quantity"].strip().lower().replace(" ", "_")
    if quantity not in allowed:
        return (
            kind,
            item,
            row["quantity"],
            f'"{row["quantity"]}" is no quantity of a {kind[:-1]}{did_you_mean(quantity, allowed).rstrip("?")}; known are {", ".join(allowed)}',
        )
    return kind, item, quantity, ""


def _fits_another_unit(written: float, quantity: str, reference: float) -> bool:
    """Whether the bare number would be right in another unit of the quantity."""
    return any(
        abs(written * factor + offset - reference) <= tolerance(quantity, reference)
        for factor, offset in UNITS[KIND.get(quantity, "flux")].values()
    )


# Pages -----------------------------------------------------------------------------------------------------------


def page_names(people: Sequence[str]) -> dict[str, str]:
    """A file name for each person or group, in their order: letters and digits only, so that no name leaves the folder."""
    return {
        who: f"{count:02d}_{re.sub(r'[^a-z0-9]+', '-', who.lower()).strip('-')[:40] or 'page'}.html"
        for count, who in enumerate(people, 1)
    }


def counted(checked: pd.DataFrame) -> pd.DataFrame:
    """How many of each verdict, a row a person or group, for the teacher."""
    table = pd.crosstab(checked["who"], checked["verdict"]).reindex(columns=list(VERDICTS), fill_value=0)
    return table.reindex(list(dict.fromkeys(checked["who"])))


def shown(checked: pd.DataFrame, labels: Mapping[str, str], hide: bool) -> list[dict]:
    """Rows of a page in words. labels: what people call a surface. hide: whether the chain's numbers stay out."""
    rows = []
    for row in checked.to_dict("records"):
        known = math.isfinite(row["reference"]) and not hide
        decimals = {"flux": 1, "ratio": 4, "temperature": 2, "water": 3}[KIND.get(row["quantity"], "flux")]
        ends = interval(row["reference_low"], row["reference_high"], decimals) if known else ""
        inside = {True: "yes", False: "no"}.get(row["within_uncertainty"], "–")
        rows.append(
            {
                **row,
                "item": labels.get(row["item"], row["item"]),
                "quantity": SHOWN[row["quantity"]][0] if row["quantity"] in SHOWN else row["quantity"],
                "inside": inside,
                "reference": f"{number(row['reference'], decimals)} {ends}".strip() if known else "",
                "e_n": number(row["e_n"], 2) if not hide else "",
                "codes": [
                    code.split(PAIR) for code in (row["mistake"], *row["also_possible"].split()) if code
                ],
            }
        )
    return rows
