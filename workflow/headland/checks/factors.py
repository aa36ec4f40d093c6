"""Factors entered the wrong way: a responsivity (uV per W m-2) as a factor (W m-2 per mV), or the reverse."""

from __future__ import annotations

import numpy as np

from headland.checks.leads import one_of_two_inverted
from headland.checks.one_set import ENOUGH, SMOOTH, SUN_UP, OneSet, scatter_about_line
from headland.physics.instruments import factor_from_responsivity, inverted_correction

INDEX = (0.75, 1.3)
"""SW_in over the clear-sky model, under a sky with a beam, of a channel with the right factor
(common practice, no source)."""
CORRECTED_INDEX = (0.8, 1.25)
"""The same of a channel once its factor is inverted, from which it is named (common practice, no source)."""
LEAST_OVERCAST = 0.12
"""SW_in over the clear-sky model below which a sky without a beam is darker than usual overcast
(common practice, no source)."""
MOST_ENHANCED = 1.6
"""SW_in over the clear-sky model that no cloud beside the sun gives: enhancement reaches 1.5 for seconds
(common practice, no source)."""
COLD_NET = -60.0
"""W m-2: net signal of an upward longwave head that only a sky without low or middle cloud gives. Between
clouds it is reached now and then (common practice, no source)."""
COURSE, COURSE_RANGE = 1200.0, 0.06
"""s over which SW_in over the clear-sky model stays within the second, relative, only under a clear sky: a
level head's own errors take 0.04 of it (common practice, no source)."""
COLD_SHARE = 0.1
"""Share of the samples in which a broken sky must be that cold (common practice, no source)."""
DECIMAL = (10.0, 0.1)
"""What corrects a factor whose decimal point is one place off (definition)."""
DIM = 10.0
"""W m-2 of the larger shortwave term above which factors are judged: what an inverted one leaves of an
overcast day (common practice, no source)."""
ALBEDO = (0.06, 0.92)
"""Of anything that one walks over except water (common practice, no source)."""
LARGEST_NET = 250.0
"""W m-2: no longwave head senses a larger balance in the field (common practice, no source)."""
CLEAR_NET = (-170.0, -40.0)
"""W m-2: net signal of an upward longwave head under a clear sky (common practice, no source)."""
SMALL_NET = (-28.0, -2.0)
"""W m-2: net signal too small for a clear sky, yet not that of a wet window (common practice, no source)."""
LEAST_EFFECT = np.log(1.5)
"""ln of the change by 1000 / c^2 below which an inverted factor can't be seen (common practice, no
source)."""


def find_inverted_factors(one: OneSet) -> None:
    """Inverted factors of the shortwave, then of the longwave channels."""
    larger = np.fmax(one.flux["sw_in"], one.flux["sw_out"])
    up = (one.elevation > SUN_UP) & (larger > DIM) & one.usable["sw_in"] & one.usable["sw_out"]
    beam, share = one.sky(up)
    if np.isfinite(share):
        _find_inverted_shortwave(one, up, beam, share)
    elif one_of_two_inverted(one, "sw"):
        _report(one, ["sw_in", "sw_out"], "one-of-two")
    else:
        one.can_t_tell("factor-inverted", "low-sun", "sw_in sw_out")
    _find_inverted_longwave(one)


def correction(one: OneSet, channel: str) -> float:
    """1000 / c^2: what corrects a channel whose factor c is inverted. NaN where that is too near 1 to be
    seen."""
    factor = one.factor.get(channel, np.nan)
    value = inverted_correction(factor) if factor > 0 else np.nan
    return value if abs(np.log(value)) > LEAST_EFFECT else np.nan


def _report(one: OneSet, channels: list[str], variant: str = "") -> None:
    factors = [one.factor[c] for c in channels]
    one.report(
        "factor-inverted",
        variant,
        channel=" ".join(channels),
        error=not variant,
        factor=" and ".join(f"{f:.4g}" for f in factors),
        right=" and ".join(f"{factor_from_responsivity(f):.4g}" for f in factors),
        times=" and ".join(f"{inverted_correction(f):.2f}" for f in factors),
    )
    for channel in channels if not variant else []:
        one.flux[channel] = one.flux[channel] * correction(one, channel)


def _report_decimal(one: OneSet, channel: str, times: float) -> None:
    """A factor whose decimal point is in the wrong place. times: what corrects it."""
    factor = one.factor[channel]
    own, right = f"{factor:.4g}", f"{factor * times:.4g}"
    one.report("factor-inverted", "decimal", channel=channel, factor=own, right=right)
    one.flux[channel] = one.flux[channel] * times


def _between(value: float, ends: tuple[float, float]) -> bool:
    return bool(ends[0] <= value <= ends[1])


def _both_or_upper(one: OneSet, band: str) -> list[str]:
    """Channels of a band to correct where the upper one is inverted: the lower one, too, if that can be
    seen."""
    upper, lower = f"{band}_in", f"{band}_out"
    return [upper, lower] if np.isfinite(correction(one, lower)) else [upper]


def _find_inverted_shortwave(one: OneSet, up: np.ndarray, beam: str, share: float) -> None:
    """share: SW_in over the clear-sky model, as `OneSet.sky` gives it with the beam."""
    if not beam:
        one.can_t_tell("factor-inverted", "no-beam", "sw_in sw_out")
    if one_of_two_inverted(one, "sw"):
        _find_one_of_two(one, up, beam, share)
        return
    if not beam or _between(share, INDEX):
        return
    times = correction(one, "sw_in")
    inverted = bool(np.isfinite(times) and _between(share * times, CORRECTED_INDEX))
    places = [times for times in DECIMAL if _between(share * times, CORRECTED_INDEX)]
    if not inverted and not places:
        return
    if not sun_is_out(one, up, beam, share):
        # a dense, even cloud looks the same
        one.can_t_tell("factor-inverted", "no-beam", "sw_in sw_out")
    elif inverted:
        _report(one, _both_or_upper(one, "sw"))
    else:
        _report_decimal(one, "sw_in", places[0])


def sun_is_out(one: OneSet, up: np.ndarray, beam: str, share: float) -> bool:
    """Whether it is the factor, and not a cloud, that gives such a share of the clear sky.

    beam, share: as `OneSet.sky` gives them.
    """
    if share > INDEX[1]:
        return beam == "steady" or share > MOST_ENHANCED
    return _sky_is_cold(one, beam) or _follows_the_sun(one, up)


def _sky_is_cold(one: OneSet, beam: str) -> bool:
    """Whether the upper longwave head saw a sky without cloud: one that hides the sun is nearly as warm as
    the head.

    Its own factor is taken as right. If it is inverted, too, a clear sky looks as warm as a cloud.
    """
    usable = one.usable["lw_in"]
    if usable.sum() < ENOUGH:
        return False
    net = float(np.quantile(one.flux["lw_in"][usable], COLD_SHARE if beam == "broken" else 0.5))
    return _between(net, (CLEAR_NET[0], COLD_NET))


def _follows_the_sun(one: OneSet, up: np.ndarray) -> bool:
    """Whether SW_in keeps its share of the clear sky for COURSE s: no layer of cloud is that even."""
    blocks = one.blocks(up)
    if not len(blocks) or np.ptp(one.seconds[blocks]) < COURSE:
        return False
    logs = np.log(np.maximum(one.flux["sw_in"], 1e-3) / np.maximum(one.clear, 1e-3))[blocks]
    levels = np.quantile(logs.mean(axis=1), [0.05, 0.95])
    return bool(np.quantile(scatter_about_line(logs), 0.9) < SMOOTH and np.ptp(levels) < COURSE_RANGE)


def _find_one_of_two(one: OneSet, up: np.ndarray, beam: str, share: float) -> None:
    """Which of two shortwave factors that multiply to 1000 is inverted, by clear sky and albedo."""
    times, albedo = correction(one, "sw_in"), one.ratio(up)
    readings = {
        "": (share, albedo),
        "sw_in": (share * times, albedo / times),
        "sw_out": (share, albedo * correction(one, "sw_out")),
    }
    expected = INDEX if beam else (LEAST_OVERCAST, INDEX[1])
    possible = [
        channel
        for channel, (reached, reflected) in readings.items()
        if _between(reached, expected) and _between(reflected, ALBEDO)
    ]
    if len(possible) == 1 and possible[0]:
        _report(one, possible)
    else:
        _report(one, ["sw_in", "sw_out"], "one-of-two")


def _tenfold(one: OneSet, channel: str) -> bool:
    """Whether a longwave channel senses ten times what there is in the field."""
    size = abs(one.middle(channel))
    return bool(size > LARGEST_NET and size / 10.0 < -CLEAR_NET[0])


def _find_inverted_longwave(one: OneSet) -> None:
    largest_clear = -CLEAR_NET[0]
    far = [
        c
        for c in ("lw_in", "lw_out")
        if abs(one.middle(c)) > LARGEST_NET and abs(one.middle(c) * correction(one, c)) < largest_clear
    ]
    beam, share = one.sky(one.lit)
    under_beam = one.lit & (one.flux["sw_in"] > INDEX[0] * one.clear) & ~one.result.flags["dome-wet"]
    # between clouds the sun shines while most of the sky is warm
    net = one.middle("lw_in", under_beam) if beam == "steady" and _between(share, INDEX) else np.nan
    small = SMALL_NET[0] < net < SMALL_NET[1] and _between(net * correction(one, "lw_in"), CLEAR_NET)
    if far:
        _report(one, far)
    elif one_of_two_inverted(one, "lw"):
        _report(one, [min(("lw_in", "lw_out"), key=one.factor.__getitem__)])
    elif small:
        _report(one, _both_or_upper(one, "lw"))
    elif decimal := [c for c in ("lw_in", "lw_out") if _tenfold(one, c)]:
        for channel in decimal:
            _report_decimal(one, channel, 0.1)
    elif np.isnan(net):
        one.can_t_tell("factor-inverted", "no-beam", "lw_in lw_out")
