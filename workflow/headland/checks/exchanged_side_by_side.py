"""Factors of the two heads of one band exchanged in the register, by visits side by side with another set.

Exchanged factors make one term too large by their ratio and the other one too small by the same. Heads of one
band differ by little, so only another set over the same ground and sky shows it.
"""

from __future__ import annotations

import math
from itertools import permutations

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.untold import Tell, Untold, unheard
from headland.checks.sky_records import FAR_OUT
from headland.physics.instruments import COVERAGE_FACTOR

APART = 0.06
"""ln of the ratio of the two factors from which an exchange can be seen between two sets (common practice, no
source)."""
CLOSER = 0.35
"""Share of both ratios' distance from 1 that is left once the factors are exchanged (common practice, no
source)."""
TOGETHER = 0.8
"""Share of the time that two visits side by side must have in common (common practice, no source)."""
TERMS = {"sw": ("sw_in", "sw_out"), "lw": ("lw_in_net", "lw_out_net")}
"""What the heads of a band sense."""
USUAL = {"sw": 3.0, "lw": 6.0}
"""%, expanded: a factor's uncertainty where no certificate states one (from memory)."""
SPOTS = {"sw": 0.07, "lw": 0.0}
"""Scatter of ln of the ratios of two sets side by side, beside that of their heads: ground differs by 6 %
from spot to spot, and two upper heads a degree off level by 3 to 4 % (common practice, no source)."""
LEAST = {"sw_in": 100.0, "sw_out": 20.0, "lw_in_net": 30.0, "lw_out_net": 15.0}
"""W m-2 from which a ratio of two sets is compared (common practice, no source)."""


def factors_exchanged(
    segments: pd.DataFrame, certificates: pd.DataFrame, tell: Tell = unheard
) -> list[Finding]:
    """A finding for each set and band whose factors fit another set once they are exchanged.

    segments: step 6's, with `activity`, `start_utc`, `end_utc`, the terms, and `lw_in` and `lw_out` as they
    arrive. certificates: in force, of all sets, with `set`, `channel`, `factor` and
    `expanded_uncertainty_percent`. tell: called where two factors that are APART are
    still too close for it.
    """
    sides = segments[segments["activity"] == "side_by_side"]
    register = certificates.set_index(["set", "channel"])
    factor, percent = (register[name].to_dict() for name in ("factor", "expanded_uncertainty_percent"))
    findings = []
    for name, other in permutations(dict.fromkeys(sides["set"]), 2):
        pairs = _together(sides[sides["set"] == name], sides[sides["set"] == other])
        for band, terms in TERMS.items():
            own = [float(factor.get((name, f"{band}_{way}"), np.nan)) for way in ("in", "out")]
            stated = [
                percent.get((s, f"{band}_{way}"), math.nan) for s in (name, other) for way in ("in", "out")
            ]
            least = max(APART, _by_chance(stated, USUAL[band], SPOTS[band]))
            channel = f"{band}_in {band}_out"
            if pairs and APART <= abs(math.log(own[0] / own[1])) < least:
                tell(Untold("factors-exchanged", "factors-close", name, channel))
            found = _exchanged(own, [_ratio(pairs, term) for term in terms], least)
            if found:
                facts = {
                    "a": f"{band}_in",
                    "b": f"{band}_out",
                    "other": other,
                    "percent": f"{100.0 * abs(found[0] - 1.0):.0f}",
                    "direction": "more" if found[0] > 1.0 else "less",
                    "opposite": "less" if found[0] > 1.0 else "more",
                    "percent_out": f"{100.0 * abs(found[1] - 1.0):.0f}",
                    "values": " and ".join(f"{value:.4g}" for value in own),
                }
                findings.append(
                    Finding("factors-exchanged", "side-by-side", name, channel=channel, facts=facts)
                )
    return findings


def _together(mine: pd.DataFrame, theirs: pd.DataFrame) -> list[tuple[dict, dict]]:
    """Visits of two sets at the same time."""
    pairs = []
    for a in mine.to_dict("records"):
        for b in theirs.to_dict("records"):
            common = min(a["end_utc"], b["end_utc"]) - max(a["start_utc"], b["start_utc"])
            longest = max(a["end_utc"] - a["start_utc"], b["end_utc"] - b["start_utc"])
            if common >= TOGETHER * longest:
                pairs.append((a, b))
    return pairs


def _as_sensed(a: dict, b: dict, term: str) -> float:
    """What the head of set a would have sensed of what arrived at set b, W m-2.

    A longwave head senses what arrives less its own emission, so bodies of unlike temperature make unlike
    signals of one sky.
    """
    if not term.endswith("_net"):
        return b[term]
    arriving = term.removesuffix("_net")
    return b[arriving] - (a[arriving] - a[term])


def _ratio(pairs: list[tuple[dict, dict]], term: str) -> float:
    """Mean ratio of a term of two sets over their visits; NaN where it is too small to tell."""
    values = [(a[term], _as_sensed(a, b, term)) for a, b in pairs]
    values = [(one, two) for one, two in values if one * two > 0]
    ratios = [one / two for one, two in values if min(abs(one), abs(two)) >= LEAST[term]]
    return float(np.exp(np.mean(np.log(ratios)))) if ratios else math.nan


def _by_chance(stated: list[float], usual: float, spots: float) -> float:
    """ln by which the ratios of two sets' heads may lie to either side of 1 though no factor is wrong.

    stated: expanded uncertainties of both heads of both sets, %. spots: of SPOTS. Half the difference of two
    independent ratios has 1 / sqrt 2 of their standard uncertainty (JCGM 100:2008, equation 10).
    """
    standard = np.where(np.isnan(stated), usual, stated) / (100.0 * COVERAGE_FACTOR)
    return float(FAR_OUT * np.sqrt(((standard**2).sum() + spots**2) / 4.0))


def _exchanged(own: list[float], ratios: list[float], least: float) -> tuple[float, float] | None:
    """The two ratios, where a set's own two factors explain both.

    own: factors of in and out. least: ln from which the factors, and the ratios, must be apart.
    """
    wanted = math.log(own[0] / own[1])  # in is too large by this where its factor is that of out
    found = [math.log(ratio) for ratio in ratios]
    left = abs(found[0] - wanted) + abs(found[1] + wanted)
    sides = found[0] * wanted > 0 and found[1] * wanted < 0
    apart = min(abs(wanted), abs(found[0] - found[1]) / 2.0)
    if apart < least or not sides or left > CLOSER * (abs(found[0]) + abs(found[1])):
        return None
    return ratios[0], ratios[1]
