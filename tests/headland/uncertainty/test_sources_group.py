"""Errors of classes and of single groups: table values, the ground not walked, the sky before."""

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student_t

from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.intervals import interval
from headland.uncertainty.sources_group import ground_sources

from .made import TERMS, drawn


def test_the_ground_not_walked_by_hand():
    groups = pd.DataFrame(
        [
            {
                "surface": "stubble",
                "independent": 9.0,
                "ground_sw_out": 6.0,
                "ground_lw_out": 5.0,
                "ground_correlation": -0.4,
            }
        ]
    )
    sources = ground_sources(groups, TERMS)
    errors = drawn(sources, 1, 20_000)
    t = student_t.ppf(0.975, 8.0)
    for name, s in (("ground_sw_out", 6.0), ("ground_lw_out", 5.0)):
        total = math.sqrt(sum(float(source.shift.get(name, np.zeros(1))[0]) ** 2 for source in sources))
        assert total * NORMAL_95 == pytest.approx(t * s / 3.0, rel=1e-6)
    low, high = interval(errors["ground_sw_out"], np.zeros(1))
    assert (high - low).item() / 2.0 == pytest.approx(t * 2.0, rel=0.02)
    assert np.corrcoef(errors["ground_sw_out"][:, 0], errors["ground_lw_out"][:, 0])[0, 1] == pytest.approx(
        -0.4, abs=0.03
    )


@pytest.mark.parametrize("looks, count", [(4.99, 0), (5.0, 2), (np.nan, 0)])
def test_fewer_than_5_looks_give_no_ground_term(looks, count):
    groups = pd.DataFrame(
        [
            {
                "surface": "stubble",
                "independent": looks,
                "ground_sw_out": 6.0,
                "ground_lw_out": 5.0,
                "ground_correlation": 0.0,
            }
        ]
    )
    assert len(ground_sources(groups, TERMS)) == count
