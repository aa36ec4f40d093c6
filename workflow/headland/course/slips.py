"""The wrong answers that have names: each known slip as a change of the chain."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import combinations

import numpy as np
import pandas as pd

from headland.base import findings
from headland.base.flags import has_any
from headland.base.groups import counted_segments
from headland.chain import balance
from headland.course.rerun import Outcome, Slip, Survey
from headland.course.slips_of_balance import slips_of_balance
from headland.physics import instruments, longwave, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import irradiance

Named = Iterator[tuple[str, Slip]]
"""Slips, each with its code of wrong_answers.csv.

A code comes as often as the slip can be made in different ways.
"""
SHORTWAVE, LONGWAVE = ("sw_in", "sw_out"), ("lw_in", "lw_out")
ROUNDED_ZERO = 273.0
"""K: what people write for 273.15."""


def slips_of(survey: Survey) -> list[tuple[str, Slip]]:
    """Every known slip that this survey can hold."""
    return [
        *_of_emission(survey),
        *_of_factors(survey),
        *_of_ratios(),
        *_of_signs(),
        *_of_times(survey),
        *_of_sets(survey),
        *_of_surfaces(survey),
        *slips_of_balance(survey),
        *_of_sky(),
    ]


# Longwave: own emission -------------------------------------------------------------------------------------


def _bare(net, kelvin):
    return net


def _twice(net, kelvin):
    return irradiance(irradiance(net, kelvin), kelvin)


def _celsius(net, kelvin):
    return irradiance(net, kelvin - ZERO_CELSIUS)


def _short_of_zero(net, kelvin):
    return irradiance(net, kelvin - (ZERO_CELSIUS - ROUNDED_ZERO))


def _warmer(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
    """A surface temperature in K minus 273 instead of 273.15."""
    return _each(
        right,
        lambda table: table.assign(
            surface_temperature=table["surface_temperature"] + ZERO_CELSIUS - ROUNDED_ZERO
        ),
    )


def _of_emission(survey: Survey) -> Named:
    yield "no-own-emission", Slip(lw_in=_bare, lw_out=_bare)
    yield "emission-twice", Slip(lw_in=_twice, lw_out=_twice)
    yield "celsius-in-fourth-power", Slip(lw_in=_celsius, lw_out=_celsius)
    yield "emission-in-one-term", Slip(lw_in=_bare)
    yield "emission-in-one-term", Slip(lw_out=_bare)
    if any(np.isfinite(air).any() for air in survey.air.values()):
        yield "air-for-body", Slip(body={name: air + ZERO_CELSIUS for name, air in survey.air.items()})
    yield "zero-of-273", Slip(lw_in=_short_of_zero, lw_out=_short_of_zero)
    yield "zero-of-273", Slip(last=_warmer)
    yield "zero-of-273", Slip(lw_in=_short_of_zero, lw_out=_short_of_zero, last=_warmer)


# Factors ----------------------------------------------------------------------------------------------------


def _with_factors(survey: Survey, factor_of: Callable[[str, Mapping], float]) -> Slip | None:
    """Other factors wherever `factor_of` (set, row of the certificate) gives one; None where it gives none at
    all."""
    changed, certificates = False, {}
    for name, table in survey.certificates.items():
        own = table["factor"].to_numpy(float)
        other = np.array([factor_of(name, row) for row in table.to_dict("records")], float)
        changed |= bool((np.isfinite(other) & (other != own)).any())
        certificates[name] = table.assign(factor=np.where(np.isfinite(other), other, own))
    return Slip(certificates=certificates) if changed else None


def _of_factors(survey: Survey) -> Named:
    for code, slip in (
        *(("factor-of-other-head", _of_other_head(survey, channels)) for channels in _SINGLE_OR_BAND),
        ("factor-outdated", _with_factors(survey, lambda name, row: _older(survey, name, row))),
        *(("factor-inverted", _inverted(survey, channels)) for channels in (SHORTWAVE, LONGWAVE, RADIATION)),
        *(
            ("factor-of-another-set", _of_another_set(survey, other, channels))
            for other in survey.certificates
            for channels in (*_SINGLE_OR_BAND, RADIATION)
        ),
    ):
        if slip:
            yield code, slip


_SINGLE_OR_BAND = (*((channel,) for channel in RADIATION), SHORTWAVE, LONGWAVE)


def _factors(table: pd.DataFrame) -> pd.Series:
    return table.set_index("channel")["factor"]


def _of_other_head(survey: Survey, channels: tuple[str, ...]) -> Slip | None:
    pairs = {"sw_in": "sw_out", "sw_out": "sw_in", "lw_in": "lw_out", "lw_out": "lw_in"}
    in_force = {name: _factors(table) for name, table in survey.certificates.items()}

    def other(name: str, row: Mapping) -> float:
        return in_force[name][pairs[row["channel"]]] if row["channel"] in channels else math.nan

    return _with_factors(survey, other)


def _of_another_set(survey: Survey, lender: str, channels: tuple[str, ...]) -> Slip | None:
    """The factors of one set used for all."""
    lent = _factors(survey.certificates[lender])

    def other(name: str, row: Mapping) -> float:
        return lent.get(row["channel"], math.nan) if row["channel"] in channels else math.nan

    return _with_factors(survey, other)


def _older(survey: Survey, name: str, row: Mapping) -> float:
    """The factor of the certificate before, or the one programmed into the logger."""
    register = survey.register
    own = register[
        (register["set"] == name)
        & (register["channel"] == row["channel"])
        & (register["certificate_date"] < row["certificate_date"])
    ].sort_values("certificate_date")
    return own["factor"].iloc[-1] if len(own) else row["programmed_factor"]


def _inverted(survey: Survey, channels: tuple[str, ...]) -> Slip | None:
    def other(name: str, row: Mapping) -> float:
        unit = survey.sets[name]["channels"][row["channel"]]["unit"]
        if row["channel"] not in channels or unit not in instruments.MILLIVOLTS:
            return math.nan
        return instruments.factor_from_responsivity(row["factor"])

    return _with_factors(survey, other)


# Ratios and signs -------------------------------------------------------------------------------------------


def _each(right: Outcome, change: Callable[[pd.DataFrame], pd.DataFrame]) -> Outcome:
    return Outcome(change(right.segments), change(right.surfaces))


def mean_of_ratios(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> list[Outcome]:
    """The albedo in three ways as people get it who divide first.

    The mean of the samples' ratios (with the surface's mean over samples or over segments), and of a surface
    the mean of its segments' albedos.
    """
    every = pd.concat(samples.values(), ignore_index=True)
    high = every["solar_elevation"] > radiation.ALBEDO_ELEVATION
    sunny = high & (every["sw_in"] > radiation.ALBEDO_SW_IN)
    good = every[sunny & (every["segment"] != "") & ~has_any(every["flags"], set(survey.excluding))]
    ratios = (good["sw_out"] / good["sw_in"]).groupby(good["segment"]).agg(["mean", "count"])
    own = counted_segments(right.segments.reset_index()).join(ratios, on="segment")
    by = own.groupby("surface")
    of_samples = (own["mean"] * own["count"]).groupby(own["surface"]).sum() / by["count"].sum()
    return [
        Outcome(right.segments.assign(albedo=ratios["mean"]), right.surfaces.assign(albedo=column))
        for column in (of_samples, by["mean"].mean(), by["albedo"].mean())
    ]


def _ratio_way(way: int) -> Callable:
    return lambda survey, samples, right: mean_of_ratios(survey, samples, right)[way]


def _upside_down(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
    def change(table: pd.DataFrame) -> pd.DataFrame:
        ratios = [name for name in ("albedo", "bowen_ratio") if name in table]
        return table.assign(**{name: 1.0 / table[name].where(table[name] != 0.0) for name in ratios})

    return _each(right, change)


def _of_ratios() -> Named:
    for way in range(3):
        yield "mean-of-ratios", Slip(last=_ratio_way(way))
    yield "ratio-upside-down", Slip(last=_upside_down)


def _net(*signs: float) -> Callable:
    """Net radiation with the four terms multiplied by these first: 0 leaves a term out, -1 reverses it."""
    return lambda *terms: radiation.net_radiation(
        *(sign * term for sign, term in zip(signs, terms, strict=True))
    )


def _negative(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
    return _each(right, lambda table: -table.select_dtypes("number"))


def _of_signs() -> Named:
    # all reversed; longwave reversed; shortwave reversed; the reflected or the emitted term added
    for signs in ((-1, -1, -1, -1), (1, 1, -1, -1), (-1, -1, 1, 1), (1, -1, 1, 1), (1, 1, 1, -1)):
        yield "wrong-sign", Slip(net=_net(*signs))
    yield "wrong-sign", Slip(last=_negative)
    for missing in range(4):
        yield "net-of-three-terms", Slip(net=_net(*(0.0 if n == missing else 1.0 for n in range(4))))
    yield "one-band-only", Slip(net=_net(1, 1, 0, 0))
    yield "one-band-only", Slip(net=_net(0, 0, 1, 1))


# Times, samples and sets ------------------------------------------------------------------------------------


def _of_times(survey: Survey) -> Named:
    shifts: tuple[Callable[[Mapping], float], ...] = (
        lambda entry: survey.notes_offset,
        lambda entry: -entry["utc_offset"],
        lambda entry: survey.notes_offset - entry["utc_offset"],
    )
    for shift in shifts:
        if any(shift(entry) for entry in survey.sets.values()):
            yield "local-time-as-utc", Slip(shift=shift)
    yield "edges-included", Slip(kept=frozenset({"edge"}))
    if findings.withheld(survey.found):
        yield "withheld-included", Slip(found=())


def _of_sets(survey: Survey) -> Named:
    if survey.set_scale != "none":
        yield "set-scale-missing", Slip(set_scale="none")
    for pair in combinations(survey.sets, 2):
        yield "sets-swapped", Slip(swap=pair)


# Surfaces and sky -------------------------------------------------------------------------------------------


def _of_surfaces(survey: Survey) -> Named:
    black = {
        name: {**entry, "emissivity": {**entry["emissivity"], "value": 1.0}}
        for name, entry in survey.surfaces.items()
    }
    yield "emissivity-one", Slip(surfaces=black)
    yield "reflected-sky-forgotten", Slip(last=_without_reflected_sky)
    for entry in survey.surfaces.values():
        if "ground_heat_fraction_day" in entry:
            fractions = {day: _class_fraction(entry, day) for day in (True, False)}
            yield "ground-heat-of-another-class", Slip(fractions=fractions)
    yield "ground-heat-forgotten", Slip(fractions={True: 0.0, False: 0.0})


def _class_fraction(entry: Mapping, day: bool) -> float:
    return balance.ground_heat_terms(entry, "class_fraction", day, math.nan, math.nan)[0]


def _without_reflected_sky(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
    """The surface temperature as if a grey surface reflected nothing of the sky."""

    def change(table: pd.DataFrame) -> pd.DataFrame:
        names = table.get("surface", table.index)
        emissivity = [survey.surfaces[s]["emissivity"]["value"] if s else 1.0 for s in names]
        kelvin = longwave.surface_temperature(table["lw_out"].to_numpy(float), 0.0, np.array(emissivity))
        return table.assign(surface_temperature=kelvin - ZERO_CELSIUS)

    return _each(right, change)


def _as_visited(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
    return Outcome(
        right.segments, right.surfaces.assign(net_radiation_common_sky=right.surfaces["net_radiation"])
    )


def _of_sky() -> Named:
    yield "net-as-visited", Slip(last=_as_visited)
