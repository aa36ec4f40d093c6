"""Windows of longwave heads in the sun and the wind."""

import numpy as np
import pytest

from headland.physics.instruments import USUAL_WIND, heating_in_wind


def test_wind_takes_the_sun_s_heat_from_a_window():
    """Calm air leaves all of it. Juerges's plate loses 5.6 + 4.0 u and radiates 5.5 W m-2 K-1: at 2.775 m s-1
    twice as much as in calm air.
    """
    assert heating_in_wind(np.array([0.0, 2.775])) == pytest.approx([1.0, 0.5])
    wind = heating_in_wind(np.array([0.0, 1.0, 5.0, 50.0]))
    assert (np.diff(wind) < 0.0).all() and wind[-1] > 0.0


def test_where_no_wind_is_known_the_usual_one_serves():
    assert heating_in_wind(np.nan) == heating_in_wind(USUAL_WIND)
