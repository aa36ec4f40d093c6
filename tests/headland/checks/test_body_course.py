"""How the body temperature goes with the air and the sun: least squares against a library's."""

import numpy as np
import pytest
from scipy import stats

from headland.checks import body_course


@pytest.mark.parametrize("count", [3, 12])
def test_without_sun_it_is_a_line_with_its_standard_error(count):
    generator = np.random.default_rng(count)
    air = 10.0 + generator.uniform(0.0, 8.0, count)
    body = 2.0 + 0.7 * air + generator.normal(0.0, 0.4, count)
    slope, error, of_sun = body_course._fit(body, air, np.full(count, 300.0))
    line = stats.linregress(air, body)
    assert (slope, error, of_sun) == (pytest.approx(line.slope), pytest.approx(line.stderr), 0.0)


@pytest.mark.parametrize("spread, seen", [(0.9, False), (1.1, True)])
def test_a_sun_that_changes_by_a_watt_counts(spread, seen):
    air = np.linspace(10.0, 14.0, 9)
    sun = 300.0 + spread * np.array([0, 1, 0, 1, 1, 0, 1, 0, 1.0])
    slope, error, of_sun = body_course._fit(1.5 * air + 2.0 * sun, air, sun)
    assert of_sun == (pytest.approx(2.0) if seen else 0.0)
    assert not seen or (slope == pytest.approx(1.5) and error == pytest.approx(0.0, abs=1e-6))
