"""Signs and places of the four channels: leads reversed, channels exchanged, the set upside down."""

from __future__ import annotations

import numpy as np

from headland.checks.one_set import ENOUGH, OneSet
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.instruments import factor_from_responsivity, inverted_correction
from headland.physics.longwave import irradiance, surface_temperature

MOST = 0.9
"""Share of the samples in which a sign or an exchange must show (common practice, no source)."""
MOST_WITH_OTHER_BAND = 0.5
"""The same for shortwave where longwave shows an exchange (common practice, no source)."""
NEGATIVE = {"sw_in": 5.0, "sw_out": 2.0}
"""W m-2 below zero from which shortwave is negative, and not a zero offset (common practice, no source)."""
BRIGHTER = 0.2
"""ln(SW_out / SW_in) above which more light came from below: snow reflects less (common practice, no
source)."""
LONGWAVE_CLEAR = 25.0
"""W m-2 of a net signal, or between the two, from which its sign or place is judged (common practice, no
source)."""
DIM_SUN, FAINT = 300.0, 40.0
"""W m-2: with less SW_in, an upper net signal smaller than the second may be a warm low cloud
(common practice, no source)."""
SNOW_ALBEDO = 0.5
"""SW_out over SW_in from which the ground may be snow (common practice, no source)."""
WATER_ALBEDO, BLACK = 0.10, 0.03
"""SW_out over SW_in up to which the ground may be water, and from which it may be any (common practice, no
source)."""
DARK_SKY, CLEAR_SKY = 0.35, (0.6, 1.2)
"""SW_in over the clear-sky model under a thick overcast, and with little cloud (common practice, no
source)."""
WEAK_NET_OUT = 15.0
"""W m-2: net signal of the lower longwave head over land in strong sun from which its sign is judged
(common practice, no source)."""
COLDEST_LAND = 8.0
"""K below the air: no land in strong sun is colder, snow excepted. Crops reach 6 K in hot, dry air; the air
of the weather table is known to 2 K (common practice, no source)."""


def find_signs_and_exchanges(one: OneSet) -> None:
    """Signs of the shortwave first, then places by both bands together, then the sign of the lower
    longwave."""
    _find_shortwave_signs(one)
    lit = one.lit
    day = lit.sum() >= ENOUGH
    upside_down = _more_from_below(one, lit, day)
    longwave = _longwave_reading(one, lit, day, upside_down)
    if longwave == "exchanged":
        upside_down |= day and _brighter(one, lit, "sw_out", "sw_in") > MOST_WITH_OTHER_BAND
    # over snow a factor entered the wrong way looks like exchanged shortwave channels
    shortwave = upside_down and (longwave == "exchanged" or not one_of_two_inverted(one, "sw"))
    if shortwave and longwave != "exchanged" and _inverted_fits_better(one, lit):
        ratio = f"{one.ratio(lit):.1f}"
        one.report(
            "channels-exchanged", "undecided", where=lit, channel="sw_in sw_out", error=False, ratio=ratio
        )
        shortwave = False
    _report_longwave_sign(one, longwave)
    exchanged = longwave == "exchanged"
    _report_exchange(one, lit, shortwave, exchanged)
    for found, band in ((shortwave, "sw"), (exchanged, "lw")):
        for series in (one.flux, one.usable) if found else ():
            above, below = f"{band}_in", f"{band}_out"
            series[above], series[below] = series[below], series[above]
    _find_longwave_out_reversed(one)


def one_of_two_inverted(one: OneSet, band: str) -> bool:
    """Whether the factors of a band's two channels are each other's responsivity, as when one of two like
    heads is inverted."""
    a, b = one.factor.get(f"{band}_in", np.nan), one.factor.get(f"{band}_out", np.nan)
    return bool(
        a > 0 and b > 0 and abs(np.log(a / factor_from_responsivity(b))) < 0.2 and abs(np.log(a / b)) > 1.0
    )


def _inverted_fits_better(one: OneSet, lit: np.ndarray) -> bool:
    """Whether one inverted factor makes any ground where exchanged channels would make snow, or a clear sky
    where they would make a dark one."""
    ratio = one.ratio(lit)
    clear = {c: float(np.median(one.flux[c][lit] / one.clear[lit])) for c in ("sw_in", "sw_out")}
    for channel, power in (("sw_in", -1.0), ("sw_out", 1.0)):
        factor = one.factor.get(channel, np.nan)
        times = inverted_correction(factor) if factor > 0 else np.nan
        index = clear["sw_in"] * (times if channel == "sw_in" else 1.0)
        snow = 1.0 / ratio > SNOW_ALBEDO
        dark = clear["sw_out"] < DARK_SKY and CLEAR_SKY[0] < index < CLEAR_SKY[1]
        if (snow or dark) and BLACK < ratio * times**power < SNOW_ALBEDO:
            return True
    return False


def _find_shortwave_signs(one: OneSet) -> None:
    for channel, least in NEGATIVE.items():
        lit = one.lit
        if lit.sum() < ENOUGH:
            one.can_t_tell("sign-reversed", "low-sun", channel)
        elif np.mean(one.flux[channel][lit] < -least) > MOST:
            median = f"{np.median(one.flux[channel][lit]):.0f}"
            one.report("sign-reversed", where=lit, channel=channel, median=median)
            one.flux[channel] = -one.flux[channel]


def _brighter(one: OneSet, lit: np.ndarray, channel: str, other: str) -> float:
    """Share of the lit samples in which one shortwave channel is plainly brighter than the other."""
    return float(np.mean(one.flux[channel][lit] > np.exp(BRIGHTER) * one.flux[other][lit]))


def _more_from_below(one: OneSet, lit: np.ndarray, day: bool) -> bool:
    """Whether the lower shortwave head is the brighter one; a check that can't be made where they are
    alike."""
    upside_down = day and _brighter(one, lit, "sw_out", "sw_in") > MOST
    if not upside_down and not (day and _brighter(one, lit, "sw_in", "sw_out") > MOST):
        reason = "alike-shortwave" if day else "low-sun"
        one.can_t_tell("channels-exchanged", reason, "sw_in sw_out")
        one.can_t_tell("head-inverted", reason)
    return upside_down


def _longwave_reading(one: OneSet, lit: np.ndarray, day: bool, upside_down: bool) -> str:
    """What the two net longwave signals show.

    `exchanged`; `sign`, the upper one's leads reversed; `undecided` between these; `night`, where no
    shortwave can separate a head upside down from exchanged leads; or nothing. The sky is colder than the
    head, and colder than the ground. An upper signal far above 0 is either ground, or sky with reversed
    leads. Ground is not that warm without sun, and snow never is. Under a beam the sky is not as near to
    the head's temperature as the lower signal would then say."""
    above, below = one.middle("lw_in"), one.middle("lw_out")
    if min(abs(above), abs(above) - below) <= LONGWAVE_CLEAR:
        one.can_t_tell("sign-reversed", "small-signal", "lw_in")
    if abs(above - below) <= LONGWAVE_CLEAR:
        one.can_t_tell("channels-exchanged", "alike-longwave", "lw_in lw_out")
    if not above - below > LONGWAVE_CLEAR:
        return ""
    if upside_down:
        return "exchanged"
    snow = day and SNOW_ALBEDO < one.ratio(lit) <= 1.0
    if above > LONGWAVE_CLEAR and (snow or not day):
        return "sign"
    if above > LONGWAVE_CLEAR and below > -LONGWAVE_CLEAR:
        bright = np.quantile(one.flux["sw_in"][lit], 0.9)
        return "undecided" if bright < DIM_SUN and above < FAINT and below < 0.0 else "sign"
    return "exchanged" if day else "night"


def _report_longwave_sign(one: OneSet, reading: str) -> None:
    median = f"{one.middle('lw_in'):.0f}"
    if reading == "sign":
        one.report("sign-reversed", channel="lw_in", median=median)
        one.flux["lw_in"] = -one.flux["lw_in"]
    elif reading == "undecided":
        one.report("sign-reversed", "undecided", channel="lw_in", error=False, median=median)
    elif reading == "night":
        one.report(
            "head-inverted", "undecided", channel="lw_in lw_out", error=False, difference=_difference(one)
        )


def _report_exchange(one: OneSet, lit: np.ndarray, shortwave: bool, longwave: bool) -> None:
    if shortwave and longwave:
        channels = "sw_in sw_out lw_in lw_out"
        ratio, difference = f"{one.ratio(lit):.1f}", _difference(one)
        one.report("head-inverted", where=lit, channel=channels, ratio=ratio, difference=difference)
    elif shortwave and abs(one.middle("lw_in") - one.middle("lw_out")) <= LONGWAVE_CLEAR:
        channels, ratio = "sw_in sw_out lw_in lw_out", f"{one.ratio(lit):.1f}"
        one.report("head-inverted", "either", where=lit, channel=channels, ratio=ratio)
    elif shortwave:
        ratio = f"{one.ratio(lit):.1f}"
        one.report("channels-exchanged", "shortwave", where=lit, channel="sw_in sw_out", ratio=ratio)
    elif longwave:
        one.report("channels-exchanged", "longwave", channel="lw_in lw_out", difference=_difference(one))


def _difference(one: OneSet) -> str:
    return f"{one.middle('lw_in') - one.middle('lw_out'):.0f}"


def _find_longwave_out_reversed(one: OneSet) -> None:
    """Land in strong sun, snow excepted, is not COLDEST_LAND colder than the air.

    Crops and wet ground are cooler than a head in the sun, and so is anything below a head that is still
    warm."""
    sunny = one.lit & (one.flux["sw_in"] > DIM_SUN) & ~one.result.flags["thermal-shock"]
    middle = one.middle("lw_out", sunny)
    if not abs(middle) > WEAK_NET_OUT:
        one.can_t_tell("sign-reversed", "weak-sun" if np.isnan(middle) else "small-signal", "lw_out")
        return
    if not WATER_ALBEDO < one.ratio(sunny) < SNOW_ALBEDO:
        one.can_t_tell("sign-reversed", "no-land", "lw_out")
        return
    if middle > 0.0:
        return
    if not _colder_than_air(one, sunny, middle) > COLDEST_LAND:
        one.can_t_tell("sign-reversed", "cool-ground", "lw_out")
        return
    one.report("sign-reversed", where=sunny, channel="lw_out", median=f"{middle:.0f}")
    one.flux["lw_out"] = -one.flux["lw_out"]


def _colder_than_air(one: OneSet, sunny: np.ndarray, net: float) -> float:
    """How much colder than the air the ground reads, K; NaN where the air or the body is not known.

    A body in the sun is not colder than the air, so the air is taken to be no warmer than it. net: W m-2.
    """
    known = sunny & np.isfinite(one.body["lw_out"])
    if not known.any() or not np.isfinite(one.record.air):
        return np.nan
    body = float(np.median(one.body["lw_out"][known]))
    lw_out = irradiance(net, body + ZERO_CELSIUS)
    ground = float(surface_temperature(lw_out, 0.0, 1.0)) - ZERO_CELSIUS
    return min(one.record.air, body) - ground
