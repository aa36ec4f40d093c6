"""What lies beside a strip is in its interval, by the strip's share of the view, and nowhere else."""

import numpy as np
import pytest

from .made import OFF, TERMS, only, segments, whole

WIDE = {"width": np.array([3.0, np.nan]), "height": 1.5}


def half(result, quantity, row):
    table = result.fields.set_index("field")
    return float(table[f"{quantity}_high"][row] - table[f"{quantity}_low"][row]) / 2.0


def test_a_strip_has_the_neighbours_in_its_albedo_and_a_field_has_not():
    result = whole(segments(**WIDE), only("neighbour_albedo"), draws=4000)
    beside = 1.0 - np.sin(np.arctan2(1.5, 1.5))
    expected = 1.96 * 0.05 * beside / (1.0 - beside)
    assert half(result, "albedo", "f0") == pytest.approx(expected, rel=0.01)
    assert half(result, "albedo", "f1") == 0.0 and half(result, "lw_out", "f0") == 0.0


def test_and_in_its_longwave():
    result = whole(segments(**WIDE), only("neighbour_longwave"), draws=4000)
    share = 1.0 / np.sin(np.arctan2(1.5, 1.5)) - 1.0
    assert half(result, "lw_out", "f0") == pytest.approx(1.96 * 15.0 * share, rel=0.01)


def test_a_wide_strip_and_a_low_head_see_little_beside():
    frame = segments(width=np.array([30.0, 3.0]), height=np.array([1.5, 0.3]))
    assert (frame["neighbours"] < 0.02).all() and (frame["neighbours"] > 0).all()


def test_without_a_noted_width_nothing_is_drawn():
    both = OFF | {name: TERMS[name] for name in ("neighbour_albedo", "neighbour_longwave")}
    assert half(whole(segments(), both, draws=100), "albedo", "f0") == 0.0
