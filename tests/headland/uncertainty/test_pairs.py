"""Pairs of surfaces: which segments are one visit, and which of them compare two surfaces."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty import pairs
from headland.uncertainty.course import CourseSizes

STILL = CourseSizes(0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0)
"""A course of which nothing is unknown but 1 unit of each segment."""
LATE = CourseSizes(0.0, 0.0, 0.0, 0.0, 3.0, 0.0, 0.0)
"""3 units of each visit."""
SIZES = {"albedo": STILL, "surface_temperature": LATE, "net_radiation": STILL}
CLASSES = {name: {} for name in ("gravel", "paving", "stubble")} | {"paving": {"course": {"value": "0.5"}}}


def at(minutes):
    return pd.Timestamp("2026-05-21T09:00:00Z") + pd.to_timedelta(minutes, unit="min")


def walked(*rows):
    """Segments: surface, field, start and end in min, recorded s."""
    columns = ["surface", "field", "start_utc", "end_utc", "weight"]
    frame = pd.DataFrame(rows, columns=columns)
    frame["start_utc"], frame["end_utc"] = at(frame["start_utc"]), at(frame["end_utc"])
    return frame.assign(day=frame["start_utc"].dt.strftime("%Y-%m-%d"), activity="walk")


def visits_of(frame):
    _, surface = np.unique(frame["surface"], return_inverse=True)
    return pairs.visits_of(frame, surface, np.ones(len(frame)))


@pytest.mark.parametrize("pause, same", [(9.9, True), (10.0, True), (10.1, False)])
def test_a_surface_seen_again_within_ten_minutes_is_one_visit(pause, same):
    frame = walked(
        ("gravel", "a", 0, 2, 1.0), ("paving", "b", 3, 8, 1.0), ("gravel", "a", 2 + pause, 20, 1.0)
    )
    found = visits_of(frame).visit
    assert (found[0] == found[2]) == same and found[1] not in (found[0], found[2])


def test_a_visit_lasts_until_its_longest_segment_ends():
    """A stand of an hour, a walk of 2 min in it, and a walk 5 min after the stand: one visit, whatever the
    order of the rows."""
    rows = [("gravel", "a", 0, 60, 1.0), ("gravel", "a", 10, 12, 1.0), ("gravel", "a", 65, 67, 1.0)]
    assert len(set(visits_of(walked(*rows)).visit)) == 1
    assert len(set(visits_of(walked(*rows[::-1])).visit)) == 1
    assert len(set(visits_of(walked(*rows[1:])).visit)) == 2


def test_each_visit_has_a_number_of_its_own():
    frame = walked(*(("gravel", "a", k * 60, k * 60 + 2, 1.0) for k in range(3)), ("paving", "b", 0, 2, 1.0))
    assert len(set(visits_of(frame).visit)) == 4


def test_a_segment_counts_at_its_middle_on_its_day_by_its_recorded_time():
    frame = walked(
        ("gravel", "a", 0, 30, 7.0), ("gravel", "b", 1440, 1446, 5.0), ("paving", "a", 60, 90, 3.0)
    )
    found = visits_of(frame)
    assert np.diff(found.hours) == pytest.approx([24.05 - 0.25, 1.25 - 24.05])
    assert found.day[0] == found.day[2] != found.day[1] and found.recorded.tolist() == [7.0, 5.0, 3.0]
    assert len(set(found.field)) == 3  # a field that the notes give to two surfaces is one in each


def grouping():
    """Three surfaces by five counted segments, with a stand of no sample and a visit side by side between."""
    frame = walked(
        ("gravel", "a", 0, 2, 100.0),
        ("gravel", "a", 5, 7, 0.0),
        ("paving", "b", 60, 62, 300.0),
        ("stubble", "c", 120, 122, 100.0),
        ("paving", "b", 180, 182, 100.0),
        ("gravel", "a", 185, 190, 500.0),
        ("gravel", "a", 240, 242, 300.0),
    )
    frame.loc[5, "activity"] = "side_by_side"
    sky = np.array([0.1, 0.0, 0.3, 0.1, 0.2, 0.0, 0.3])
    return SimpleNamespace(
        segments=frame, groups=pd.DataFrame({"surface": ["gravel", "paving", "stubble"]}), sky=sky
    )


def paired(**missing):
    """missing: places of the segments without a value, by quantity."""
    names = ("albedo", "surface_temperature", "net_radiation")
    values = {name: np.ones((1, 7)) for name in names}
    for name, places in missing.items():
        values[name][0, places] = np.nan
    return pairs.pairs_of(grouping(), values, CLASSES, SIZES)


def test_a_pair_s_own_sky_is_that_of_its_counted_segments_by_recorded_time():
    found = paired()
    assert found.rows.tolist() == [0, 2, 3, 4, 6] and found.surface.tolist() == [0, 1, 2, 1, 0]
    assert found.pairs.tolist() == [[0, 1], [0, 2], [1, 2]] and found.names == ["gravel", "paving", "stubble"]
    wanted = [[100, 300, 0, 100, 300], [100, 0, 100, 0, 300], [0, 300, 100, 100, 0]]
    np.testing.assert_allclose(found.span, [np.array(row) / sum(row) for row in wanted])
    assert found.campaign.tolist() == [[0.1, 0.3, 0.1, 0.2, 0.3]]


def test_with_an_error_of_each_segment_alone_a_difference_is_one_of_means():
    """1 unit of each of n and m segments: sqrt(1/n + 1/m)."""
    found = paired()
    wanted = [[0.5, -0.5, 0, -0.5, 0.5], [0.5, 0, -1, 0, 0.5], [0, 0.5, -1, 0.5, 0]]
    np.testing.assert_allclose(found.weights["albedo"], wanted, atol=1e-9)
    assert found.uncertainty["albedo"] == pytest.approx([1.0, np.sqrt(1.5), np.sqrt(1.5)])
    np.testing.assert_allclose(found.uncertainty["surface_temperature"], 3.0 * found.uncertainty["albedo"])


def test_under_one_sky_net_radiation_has_the_course_of_net_radiation():
    found = paired(net_radiation=[4])
    both = found.weights["net_radiation"], found.weights["net_radiation_common_sky"]
    np.testing.assert_array_equal(*both)
    assert both[0][0].tolist() == pytest.approx([0.5, -1.0, 0.0, 0.0, 0.5])
    assert set(found.weights) == set(found.uncertainty) == set(pairs.COMPARED)


def test_a_segment_without_a_value_has_no_part_and_a_surface_without_one_no_difference():
    found = paired(albedo=[0, 3])
    assert found.weights["albedo"][0].tolist() == pytest.approx([0.0, -0.5, 0.0, -0.5, 1.0])
    assert np.isnan(found.weights["albedo"][1:]).all() and np.isnan(found.uncertainty["albedo"][1:]).all()
    assert np.isfinite(found.weights["surface_temperature"]).all()


def test_a_class_of_one_s_own_may_leave_out_how_lively_it_is():
    assert pairs.class_value(CLASSES, "paving", "course") == 0.5
    assert pairs.class_value(CLASSES, "gravel", "course") == 1.0


def test_how_lively_a_class_is_scales_its_own_course():
    """Slopes of 2 per h, gravel at 0 h and paving, half as lively, at 4 h: each is 2 h from the middle, so
    that 4 units of one and 2 of the other are unknown."""
    frame = walked(("gravel", "a", -1, 1, 1.0), ("paving", "b", 239, 241, 1.0))
    values = {name: np.ones((1, 2)) for name in SIZES}
    groups = pd.DataFrame({"surface": ["gravel", "paving"]})
    group = SimpleNamespace(segments=frame, groups=groups, sky=np.full(2, 0.5))
    sizes = SIZES | {"albedo": CourseSizes(0.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0)}
    found = pairs.pairs_of(group, values, CLASSES, sizes)
    assert found.uncertainty["albedo"] == pytest.approx([np.sqrt(4.0**2 + 2.0**2)])
