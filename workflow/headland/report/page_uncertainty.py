"""Page 5: where the uncertainty comes from, and why a difference is better known than a value."""

from __future__ import annotations

import math

import pandas as pd

from headland.report import figures_uncertainty, next_time
from headland.report.given import Given
from headland.report.wording import SHOWN, listed, number, opening

ONE_SIDED = {
    "leave": "stay in the values, so intervals reach further to one side",
    "correct": "are corrected by the middle of their ranges",
}
"""Settings of `methods.one_sided`, in words."""
AGREE = 0.1
"""Linear propagation and draws agree where their half widths differ by less than this share."""


def context(given: Given) -> dict:
    """What the fifth page prints."""
    draws = f"{given.settings['draws']:,}".replace(",", "\u202f")
    return {
        "sources_words": sources_words(given),
        "shared_words": shared_words(given),
        "draws": draws,
        "one_sided_words": ONE_SIDED[given.settings["one_sided"]],
        "linear_words": linear_words(given.linear),
        "ends_words": ends_words(given.linear),
        **next_time.context(given),
    }


def sources_words(given: Given) -> str:
    """The largest sources, in words."""
    ranked = figures_uncertainty.ranked_sources(given.tables["uncertainty_budget"], given.surfaces)
    if not len(ranked):
        return "No surface has an interval, so there is no budget."
    largest = [f"{source} (± {number(width, 1)} W m⁻²)" for source, width in ranked["median"].head(3).items()]
    return f"Largest: {listed(largest)}."


def shared_words(given: Given) -> str:
    """Two values and their difference, in numbers."""
    pair = figures_uncertainty.sharing_pair(given.tables["surfaces"], given.tables["differences"])
    if pair is None:
        return "No two surfaces have intervals, so nothing can be compared."
    widths = figures_uncertainty.half_widths(given.tables["surfaces"], given.tables["differences"], pair)
    a, b = (given.name(name) for name in pair)
    apart = math.hypot(widths.first, widths.second)
    return (
        f"{opening(a)} is known to ± {number(widths.first, 0)} W m⁻² and {b} to ± "
        f"{number(widths.second, 0)} W m⁻². "
        f"If their errors had nothing in common, the difference would be known to ± {number(apart, 0)} W "
        "m⁻²; "
        f"it is known to ± {number(widths.difference, 0)} W m⁻²."
    )


def linear_words(frame: pd.DataFrame) -> str:
    """Where linear propagation and the draws disagree."""
    both = frame.dropna(subset=["half_width_linear", "half_width_draws"])
    both = both[both["half_width_linear"] > 0]
    if not len(both):
        return "Linear propagation has nothing to compare with here."
    apart = both[(both["half_width_draws"] / both["half_width_linear"] - 1.0).abs() > AGREE]
    names = [SHOWN[name].title for name in dict.fromkeys(apart["quantity"])]
    if not names:
        return "Linear propagation of the same errors agrees within a tenth everywhere."
    return (
        f"Linear propagation of the same errors agrees within a tenth except for {listed(names)}, where "
        "errors of one sign, "
        "ranges without tails or ratios dominate."
    )


def ends_words(frame: pd.DataFrame) -> str:
    """How well the number of draws settles the ends of the intervals."""
    known = frame["end_error"].dropna()
    if not len(known):
        return ""
    middle, most = (number(100.0 * float(known.quantile(q)), 1) for q in (0.5, 0.95))
    return (
        f"The number of draws leaves an end uncertain by {middle} % of the interval (95 of 100 ends: "
        f"below {most} %)."
    )
