"""What differs at a common moment, by simulation, by limiting cases and by identities."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from headland.uncertainty.course import CourseSizes, Visits, common_moments, contrast, covariance, of_pair

SIZES = CourseSizes(1.5, 0.7, 0.5, 0.3, 0.3, 0.2, 1.0)
ORDERS = {
    "A B": [0, 1],
    "A B A": [0, 1, 0],
    "A then others then B": [0, 2, 3, 4, 1],
    "two rounds": [0, 1, 2, 3, 0, 1, 2, 3],
}


def visited(order, step=0.25, passes=2) -> Visits:
    """Visits of a quarter of an hour each, in the given order of surfaces, with some passes each."""
    surface = np.repeat(order, passes)
    hours = np.concatenate([i * step + np.arange(passes) * 0.04 for i in range(len(order))])
    visit = np.repeat(np.arange(len(order)), passes)
    day, alike = np.zeros(len(hours), int), np.ones(len(hours))
    return Visits(hours, surface, visit, day, liveliness=alike, field=surface, recorded=alike)


def drawn_courses(visits: Visits, moments: np.ndarray, rng) -> tuple[np.ndarray, np.ndarray]:
    """Values of the segments, and the true difference of surfaces 0 and 1 over the moments, from one drawn
    course.

    Written out step by step: slopes times time, and walks as sums of independent steps.
    """
    times = np.concatenate([visits.hours, moments]) - visits.hours.min()
    order = np.argsort(times)
    steps = np.sqrt(np.diff(times[order], prepend=0.0))

    def course(slope, walk):
        walked = np.empty(len(times))
        walked[order] = np.cumsum(steps * rng.normal(size=len(times)))
        return rng.normal() * slope * times + walk * walked

    count = len(visits.hours)
    common = course(SIZES.common_slope, SIZES.common_walk)
    common += SIZES.day * rng.normal()
    own = [
        course(SIZES.own_slope, SIZES.own_walk) + SIZES.day * rng.normal()
        for _ in range(visits.surface.max() + 1)
    ]
    values = np.array([common[i] + own[s][i] for i, s in enumerate(visits.surface)])
    values += SIZES.visit * rng.normal(size=visits.visit.max() + 1)[visits.visit]
    values += SIZES.segment * rng.normal(size=count)
    return values, (own[0][count:] - own[1][count:]).mean()


@pytest.mark.parametrize("name", ORDERS)
def test_the_stated_uncertainty_is_that_of_simulated_courses(name):
    """1500 draws: the standard deviation is known to 1.8 %, so 6 % is over three times that."""
    visits = visited(ORDERS[name])
    visits, _ = of_pair(visits, 0, 1)
    found = contrast(visits, SIZES)
    moments, _ = common_moments(visits)
    rng = np.random.default_rng(11)
    errors = []
    for _ in range(1500):
        values, true = drawn_courses(visits, moments, rng)
        errors.append(found.weights @ values - true)
    assert np.std(errors) == pytest.approx(found.uncertainty, rel=0.06)
    assert abs(np.mean(errors)) < 4.0 * found.uncertainty / np.sqrt(1500)


def test_orders_rank_as_practice_says():
    def unsure(name):
        return contrast(of_pair(visited(ORDERS[name]), 0, 1)[0], SIZES).uncertainty

    assert unsure("A B A") < 0.8 * unsure("A B") < 0.5 * unsure("A then others then B")
    assert unsure("two rounds") < unsure("A B")


def test_two_rounds_let_a_straight_common_course_cancel():
    """A course that all share and that is a straight line leaves nothing behind in rounds or A-B-A."""
    sizes = CourseSizes(100.0, 0.0, 0.0, 0.0, 0.1, 0.1, 0.0)
    for name in ("A B A", "two rounds"):
        visits, _ = of_pair(visited(ORDERS[name]), 0, 1)
        weights = contrast(visits, sizes).weights
        assert weights @ (3.0 * visits.hours) == pytest.approx(0.0, abs=1e-3)


@given(st.lists(st.integers(0, 3), min_size=2, max_size=8), st.floats(-5, 5))
def test_a_constant_is_never_a_difference(order, level):
    present = sorted(set(order))
    if len(present) < 2:
        return
    visits, _ = of_pair(visited([present.index(surface) for surface in order]), 0, 1)
    weights = contrast(visits, SIZES).weights
    assert weights @ np.full(len(weights), level) == pytest.approx(0.0, abs=1e-6)
    assert weights[visits.surface == 0].sum() == pytest.approx(1.0, abs=1e-6)
    assert weights[visits.surface == 1].sum() == pytest.approx(-1.0, abs=1e-6)


def test_swapping_a_pair_turns_the_sign():
    visits = visited(ORDERS["two rounds"])
    there, back = (contrast(of_pair(visits, *pair)[0], SIZES) for pair in ((0, 2), (2, 0)))
    np.testing.assert_allclose(there.weights, -back.weights, atol=1e-9)
    assert there.uncertainty == pytest.approx(back.uncertainty)


def test_a_surface_without_a_course_of_its_own_is_known_better():
    visits = visited(ORDERS["A then others then B"])
    calm = replace(visits, liveliness=np.full(len(visits.hours), 0.2))
    lively, damped = (contrast(of_pair(v, 0, 1)[0], SIZES).uncertainty for v in (visits, calm))
    assert damped < lively


def test_two_surfaces_of_different_days_are_compared_with_what_a_day_may_change():
    """Both the surfaces' own and the common part differ from day to day: 4 times the variance, and more."""
    visits = of_pair(visited([0, 1]), 0, 1)[0]
    apart = replace(visits, day=visits.surface.copy())
    together, on_two_days = contrast(visits, SIZES), contrast(apart, SIZES)
    for found in (together, on_two_days):
        assert found.weights[visits.surface == 0].sum() == pytest.approx(1.0)
        assert found.weights[visits.surface == 1].sum() == pytest.approx(-1.0)
    assert on_two_days.uncertainty**2 > together.uncertainty**2 + 2.0 * SIZES.day**2


def test_a_further_day_of_one_surface_alone_changes_nothing():
    """Its offset is unknown, so it says nothing of the difference."""
    days = np.array([0, 0, 0, 0, 1, 1])
    visits = of_pair(visited([0, 1, 0]), 0, 1)[0]
    more = replace(visits, hours=visits.hours + 24.0 * days, day=days)
    first = Visits(*(values[:4] for values in vars(more).values()))
    weights = contrast(more, SIZES).weights
    assert weights[:4] == pytest.approx(contrast(first, SIZES).weights, abs=1e-9)
    assert weights[4:].sum() == pytest.approx(0.0, abs=1e-9)


def test_days_share_no_course():
    visits = visited([0, 1])
    apart = replace(visits, day=visits.surface.copy())
    between = covariance(apart, SIZES)
    assert np.all(between[apart.day == 0][:, apart.day == 1] == 0.0)
    assert between[0, 1] > 0.0


def test_a_surface_is_the_mean_of_its_fields_however_often_each_was_visited():
    """Two fields of one surface 10 apart, one of them visited twice: by recorded time, not by the course."""
    visits, _ = of_pair(visited([0, 0, 1, 0]), 0, 1)
    field = np.where(visits.visit == 1, 5, visits.surface)
    recorded = np.where(visits.visit == 1, 3.0, 1.0)
    found = contrast(replace(visits, field=field, recorded=recorded), SIZES)
    assert found.weights[field == 5].sum() == pytest.approx(0.6)
    assert found.weights[field == 0].sum() == pytest.approx(0.4)
    assert found.weights @ np.where(field == 5, 10.0, 0.0) == pytest.approx(6.0)
