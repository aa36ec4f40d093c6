"""The coverage study in small.

Bounds are from the binomial distribution: chance alone fails them once in a thousand runs.
"""

import numpy as np
import pytest
from scipy.stats import binom

from simulate import summarised
from study import coverage

CAMPAIGNS = 20
COUNTS = coverage.on_segments(range(CAMPAIGNS), draws=1000)


@pytest.mark.parametrize("kind, quantity", sorted(key for key in COUNTS if key[0] != "segment"))
def test_intervals_hold_the_truth(kind, quantity):
    """What is shared makes one campaign's numbers hit or miss together: at worst each is one trial."""
    hits, trials = COUNTS[kind, quantity]
    assert trials > 0 and hits / trials >= binom.ppf(0.001, CAMPAIGNS, 0.95) / CAMPAIGNS


def test_all_together_hold_it_neither_too_seldom_nor_always():
    hits, trials = (sum(counts[i] for key, counts in COUNTS.items()) for i in (0, 1))
    assert 0.92 < hits / trials < 0.985


def widths(result, quantity):
    """Median width of a quantity's intervals: of surfaces and of their differences."""
    low, high = coverage.ends_of(result.surfaces, quantity)
    rows = result.differences[result.differences["quantity"] == quantity]
    return np.nanmedian(high - low), np.nanmedian(rows["difference_high"] - rows["difference_low"])


def test_errors_taken_as_new_in_each_segment_fail():
    """The negative test: intervals of values too narrow, those of differences too wide.

    Errors cancel in the difference of two surfaces where one set measured both, so it is those campaigns
    whose differences are compared. Two sets' errors do not cancel: taken as new in each segment they even
    average out.
    """
    seeds = range(10)
    with coverage.errors_redrawn():
        hits, trials = coverage.on_segments(seeds, draws=1000)["surface", "net_radiation_common_sky"]
    assert hits / trials < 0.85
    narrower, wider = [], []
    for seed in seeds:
        made = summarised.simulate(seed, coverage.CLASSES, coverage.STEADY)
        value, difference = widths(coverage.of_summarised(made, 500, seed), "net_radiation_common_sky")
        with coverage.errors_redrawn():
            wrong = widths(coverage.of_summarised(made, 500, seed), "net_radiation_common_sky")
        narrower.append(wrong[0] / value)
        if made.segments["set"].nunique() == 1:
            wider.append(wrong[1] / difference)
    print(np.round(narrower, 2), np.round(wider, 2))
    assert max(narrower) < 0.8 and len(wider) >= 3 and min(wider) > 1.2


def test_rates_outside_the_bounds_are_named():
    counts = {("surface", "albedo"): [90, 100], ("surface", "sw_in"): [95, 100], ("segment", "lw_in"): [0, 0]}
    assert coverage.outside(counts, 0.937, 0.962) == ["surface albedo 0.900"]


def test_end_to_end_in_small():
    counts = coverage.end_to_end([3], draws=1000)
    hits, trials = (sum(c[i] for c in counts.values()) for i in (0, 1))
    assert trials > 300 and hits / trials > 0.85
