"""The coverage study in small.

Bounds are from the binomial distribution: chance alone fails them once in a thousand runs.
"""

import numpy as np
import pytest
from scipy.stats import binom

from headland.uncertainty.draws import one_at_a_time
from headland.uncertainty.inputs import no_shade
from headland.uncertainty.linear import contributions
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources
from simulate import summarised
from study import coverage

CAMPAIGNS = 8


@pytest.fixture(scope="module")
def counts():
    """Hits and trials by kind and quantity."""
    return coverage.on_segments(range(CAMPAIGNS), draws=500)


def test_intervals_hold_the_truth(counts):
    """What is shared makes one campaign's numbers hit or miss together: at worst each is one trial."""
    least = binom.ppf(0.001, CAMPAIGNS, 0.95) / CAMPAIGNS
    kinds = {(kind, quantity) for kind, quantity in counts if kind != "segment"}
    assert len(kinds) == 12 and {kind for kind, _ in kinds} == {"surface", "difference"}
    seldom = {key: counts[key] for key in kinds if not counts[key][0] >= least * counts[key][1] > 0.0}
    assert seldom == {}


def test_all_together_hold_it_neither_too_seldom_nor_always(counts):
    hits, trials = (sum(one[i] for one in counts.values()) for i in (0, 1))
    assert 0.92 < hits / trials < 0.985


def covariance(sources, segments):
    """Of the segments' net radiation, to first order, W2 m-4."""
    flux = measured(segments, no_shade, one_at_a_time(sources))["net_radiation"]
    (parts,) = contributions({"net_radiation": flux}).values()
    return parts.T @ parts


@pytest.mark.parametrize("seed", range(3))
def test_an_error_taken_as_new_is_as_large_in_each_segment_and_shared_by_none(seed):
    """So intervals of means come out too narrow, and those of differences within one set too wide."""
    made = summarised.simulate(seed, coverage.CLASSES, coverage.STEADY)
    segments = coverage.inputs_of(made).segments
    right = instrument_sources(segments, made.certificates, coverage.TERMS)
    one, new = (covariance(sources, segments) for sources in (right, coverage.as_if_redrawn(right)))
    assert np.diag(new) == pytest.approx(np.diag(one), rel=1e-6)
    sizes = np.sqrt(np.outer(np.diag(one), np.diag(one)))
    other = ~np.eye(len(one), dtype=bool)
    same = segments["set"].to_numpy()[:, None] == segments["set"].to_numpy()
    assert np.abs(new[other] / sizes[other]).max() < 1e-9
    # each pass is levelled anew, and turns its heads: that part is no other segment's
    shared = (one / sizes)[same & other]
    assert shared.min() > 0.2 and np.median(shared) > 0.45


def test_errors_taken_as_new_in_each_segment_fail():
    """The negative test."""
    with coverage.errors_redrawn():
        hits, trials = coverage.on_segments([0, 2], draws=500)["surface", "net_radiation_common_sky"]
    assert hits / trials < 0.85


def test_rates_outside_the_bounds_are_named():
    counts = {("surface", "albedo"): [90, 100], ("surface", "sw_in"): [95, 100], ("segment", "lw_in"): [0, 0]}
    assert coverage.outside(counts, 0.937, 0.962) == ["surface albedo 0.900"]


def two_fields(seed):
    """The first two fields of a round like the demo's, with the set that walks them first."""
    spec = coverage.like_the_demo(seed)
    names = [one.name for one in spec.fields[:2]]
    visits = [one for one in spec.visits if one.set == "curlew" and one.field in ("", None, *names)]
    return spec.with_(fields=spec.fields[:2], sets=spec.sets[:1], visits=tuple(visits))


def test_end_to_end_in_small():
    counts = coverage.end_to_end([3], two_fields, draws=500)
    hits, trials = (sum(c[i] for c in counts.values()) for i in (0, 1))
    assert trials > 40 and hits / trials > 0.85
