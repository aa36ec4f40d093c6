"""Where samples were taken, by a track and outlines: gaps of a track, guards, and the notes' own fields."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm

from headland.chain import place

YARD = {"Yard": [np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0], [0.0, 0.0]])]}
ORIGIN = (7.0, 47.0)


def track(*seconds):
    """Points on one meridian, 0.00001 degrees of latitude (1.11 m) a second."""
    at = np.array(seconds, float)
    return pd.DataFrame({"seconds": at, "longitude": 7.0005, "latitude": 47.0 + 1e-5 * at})


@pytest.mark.parametrize("gap, known", [(14.9, True), (15.1, False)])
def test_no_place_is_known_in_a_gap_of_more_than_a_quarter_minute(gap, known):
    walked = track(0.0, 5.0, 10.0, 10.0 + gap, 15.0 + gap)
    moments = np.array([-0.1, 0.0, 2.5, 10.0 + gap / 2.0, 12.5 + gap, 15.1 + gap])
    found = place.places(moments, walked, YARD, ORIGIN)
    assert found["east"].notna().tolist() == [False, True, True, known, True, False]
    assert found["north"].iloc[2] == pytest.approx(2.5 * 1.112, rel=0.01)
    assert found["edge_distance"].iloc[2] == pytest.approx(2.5 * 1.112, rel=0.01)
    assert found["field"].tolist() == ["", "Yard", "Yard", "Yard" if known else "", "Yard", ""]


def test_a_guard_leaves_one_sample_in_forty_on_the_other_side_by_the_position_s_error():
    """Without an error nine tenths of the view of a head lie within three heights: r2 / (r2 + h2)."""
    radius = place.guard(1.5, 0.0)
    assert radius**2 / (radius**2 + 1.5**2) == pytest.approx(0.9)
    for uncertainty in (1.0, 3.0):
        beyond = (place.guard(1.5, uncertainty) - radius) / uncertainty
        assert norm.sf(beyond) == pytest.approx(1.0 / 40.0, abs=0.0025)


@pytest.mark.parametrize("field, interval", [("Yard", 1.0), ("Yard", 4.0), ("", 1.0)])
def test_samples_within_the_guard_and_those_before_the_head_has_settled_are_kept_apart(field, interval):
    moments = np.arange(60.0)
    assigned = pd.DataFrame({"segment": "a", "flags": [""] * 60, "position": np.nan})
    located = pd.DataFrame(
        {"east": 50.0, "north": moments, "field": np.where(moments < 50, "Yard", ""), "edge_distance": 20.0}
    )
    located.loc[20:29, "edge_distance"] = 5.0
    noted = pd.DataFrame([{"segment": "a", "set": "heron", "field": field, "surface": "paving", "height": 1.5,
                           "speed": 1.0, "notes_row": 2}])  # fmt: skip
    made, found = place.placed(
        assigned, moments, located, noted, ["Yard"], uncertainty=1.0, interval=interval, response_time=10.0
    )
    flags = (made["flags"] == "edge").to_numpy()
    if not field:  # nothing is said of a segment without a field
        assert not flags.any() and made["position"].isna().all() and found == []
        return
    # a sample is the mean over its interval: by half of it the head has settled longer
    wanted = (moments < 10.0 - interval / 2.0) | ((moments >= 20) & (moments < 30)) | (moments >= 50)
    assert (flags == wanted).all() and found == []
    assert np.diff(made["position"]) == pytest.approx(np.ones(59))
