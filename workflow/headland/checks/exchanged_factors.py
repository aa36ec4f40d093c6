"""Factors of a shortwave and a longwave channel exchanged in the register.

By size alone this can't be seen: four heads of any make may have factors that pair across the bands. So
the sky must show it, too.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from headland.checks.factors import CORRECTED_INDEX, DIM, INDEX, sun_is_out
from headland.checks.one_set import SUN_UP, OneSet

APART = 0.12
"""ln of the ratio of a band's two factors from which they are unlike (common practice, no source)."""
CLOSER = 0.3
"""Share of that distance that is left across the bands where two factors are exchanged (common practice,
no source)."""


STEADY_INDEX = (0.75, 1.18)
"""SW_in over the clear-sky model, under a steady beam, of a channel with the right factor: a head that is not
quite level included (common practice, no source)."""


def find_exchanged_factors(one: OneSet) -> None:
    """An upper shortwave channel that fits the clear sky with the factor of a longwave channel only.

    Both bands' factors must then be as alike as those of like heads.
    """
    partner = _partner(one.factor)
    if not partner:
        return
    up = (one.elevation > SUN_UP) & (one.flux["sw_in"] > DIM) & one.usable["sw_in"] & one.usable["sw_out"]
    beam, share = one.sky(up)
    own, other = one.factor["sw_in"], one.factor[partner]
    times = other / own
    usual = STEADY_INDEX if beam == "steady" else INDEX
    if not beam or _within(share, usual) or not _within(share * times, CORRECTED_INDEX):
        return
    measured = one.flux[partner]
    one.flux[partner] = measured / times  # a clear sky is cold only by the right factor
    if not (beam == "steady" and share > usual[1]) and not sun_is_out(one, up, beam, share):
        one.flux[partner] = measured
        one.can_t_tell("factors-exchanged", "no-beam", f"sw_in {partner}")
        return
    values = ", ".join(f"{channel} {value:.4g}" for channel, value in one.factor.items())
    one.report("factors-exchanged", "bands", channel=f"sw_in {partner}", a="sw_in", b=partner, values=values)
    one.flux["sw_in"] = one.flux["sw_in"] * times
    one.factor["sw_in"], one.factor[partner] = other, own


def _partner(factor: Mapping) -> str:
    """The longwave channel whose factor the upper shortwave one has, by size; empty where none fits."""
    names = ("sw_in", "sw_out", "lw_in", "lw_out")
    value = {name: factor.get(name, np.nan) for name in names}
    if not min(value.values()) > 0:
        return ""

    def apart(a: str, b: str) -> float:
        return abs(float(np.log(value[a] / value[b])))

    within = apart("sw_in", "sw_out"), apart("lw_in", "lw_out")
    for partner, alike in (("lw_in", "lw_out"), ("lw_out", "lw_in")):
        across = apart("sw_in", alike) + apart("sw_out", partner)
        if min(within) > APART and across < CLOSER * sum(within):
            return partner
    return ""


def _within(value: float, ends: tuple[float, float]) -> bool:
    return bool(ends[0] <= value <= ends[1])
