"""The coverage study in small: bounds from the binomial, so that chance alone fails it once in a thousand runs of the draws that the seeds fix."""

import pytest
from scipy.stats import binom

from study import coverage

CAMPAIGNS = 20
COUNTS = coverage.on_segments(range(CAMPAIGNS), draws=1000)


@pytest.mark.parametrize("kind, quantity", sorted(key for key in COUNTS if key[0] != "segment"))
def test_intervals_hold_the_truth(kind, quantity):
    """What is shared makes the numbers of one campaign hit or miss together: at worst each campaign is one trial."""
    hits, trials = COUNTS[kind, quantity]
    assert trials > 0 and hits / trials >= binom.ppf(0.001, CAMPAIGNS, 0.95) / CAMPAIGNS


def test_all_together_hold_it_neither_too_seldom_nor_always():
    hits, trials = (sum(counts[i] for key, counts in COUNTS.items()) for i in (0, 1))
    assert 0.92 < hits / trials < 0.985


def test_errors_taken_as_new_in_each_segment_fail():
    """The negative test: intervals of values too narrow, those of differences too wide."""
    counts = coverage.on_segments(range(10), draws=1000, redrawn=True)
    rate = lambda *key: counts[key][0] / counts[key][1]
    assert rate("surface", "net_radiation_common_sky") < 0.85
    assert rate("difference", "net_radiation_common_sky") >= 0.99


def test_end_to_end_in_small():
    counts = coverage.end_to_end([3], draws=1000)
    hits, trials = (sum(c[i] for c in counts.values()) for i in (0, 1))
    assert trials > 300 and hits / trials > 0.85
