"""What lies beside a strip is in its interval, by the strip's share of the view, and nowhere else."""

import numpy as np
import pytest

from headland.physics.constants import SIGMA

from .made import OFF, TERMS, only, segments, whole

WIDE = {"width": np.array([3.0, np.nan]), "height": 1.5}


def half(result, quantity, row):
    table = result.fields.set_index("field")
    return float(table[f"{quantity}_high"][row] - table[f"{quantity}_low"][row]) / 2.0


def test_a_strip_has_the_neighbours_in_its_albedo_and_a_field_has_not():
    result = whole(segments(**WIDE), only("neighbour_albedo"), draws=4000)
    beside = 1.0 - np.sin(np.arctan2(1.5, 1.5))
    expected = 0.95 * 0.1 * beside / (1.0 - beside)  # a rectangle from 0.1 to 0.3
    assert half(result, "albedo", "f0") == pytest.approx(expected, rel=0.01)
    assert half(result, "albedo", "f1") == 0.0 and half(result, "lw_out", "f0") == 0.0


def test_the_neighbours_albedo_is_taken_out_of_the_view():
    """A strip of albedo 0.30 between neighbours of 0.20, as the head mixes them by its view."""
    strip = np.sin(np.arctan2(1.5, 1.5))
    seen = 800.0 * (0.30 * strip + 0.20 * (1.0 - strip))
    frame = segments(sw_out=np.array([seen, 90.0]), **WIDE)
    fields = whole(frame, only("neighbour_albedo"), one_sided="correct").fields.set_index("field")
    assert fields["albedo"]["f0"] == pytest.approx(0.30) and fields["albedo"]["f1"] == 90.0 / 800.0
    left = whole(frame, only("neighbour_albedo")).fields.set_index("field")
    assert left["albedo"]["f0"] == pytest.approx(seen / 800.0) == left["albedo_by_hand"]["f0"]


def test_and_their_warmth():
    """A strip that emits 500 W m-2, between neighbours that emit 0.07 of the sun more than the air."""
    strip, beside = np.sin(np.arctan2(1.5, 1.5)), SIGMA * 293.15**4 + 0.07 * 800.0
    seen = 500.0 * strip + beside * (1.0 - strip)
    frame = segments(lw_out=np.array([seen, 480.0]), **WIDE)
    result = whole(frame, only("neighbour_warmth"), draws=4000, one_sided="correct")
    assert result.fields.set_index("field")["lw_out"]["f0"] == pytest.approx(500.0)
    width = 0.95 * 0.07 * 800.0 * (1.0 - strip) / strip
    assert half(result, "lw_out", "f0") == pytest.approx(width, rel=0.01)


def test_nothing_is_taken_out_in_the_dark_or_over_snow():
    both = OFF | {name: TERMS[name] for name in ("neighbour_albedo", "neighbour_warmth")}
    for dark in ({"sw_in": 0.0, "sw_out": 0.0}, {"sw_out": 0.8 * 800.0}):
        segments_of_strip = whole(segments(**WIDE, **dark), both, one_sided="correct").segments
        for name in ("sw_out", "lw_out"):
            assert segments_of_strip[name].tolist() == segments_of_strip[f"{name}_by_hand"].tolist()


def test_and_in_its_longwave():
    result = whole(segments(**WIDE), only("neighbour_longwave"), draws=4000)
    share = 1.0 / np.sin(np.arctan2(1.5, 1.5)) - 1.0
    assert half(result, "lw_out", "f0") == pytest.approx(1.96 * 15.0 * share, rel=0.01)


def test_a_wide_strip_and_a_low_head_see_little_beside():
    frame = segments(width=np.array([30.0, 3.0]), height=np.array([1.5, 0.3]))
    assert (frame["neighbours"] < 0.02).all() and (frame["neighbours"] > 0).all()


def test_without_a_noted_width_nothing_is_drawn():
    both = OFF | {
        name: TERMS[name] for name in ("neighbour_albedo", "neighbour_warmth", "neighbour_longwave")
    }
    assert half(whole(segments(), both, draws=100), "albedo", "f0") == 0.0
