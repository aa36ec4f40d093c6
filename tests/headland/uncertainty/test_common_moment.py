"""Air and sun of the common moment: what is known of their course."""

import numpy as np
import pandas as pd

from headland.uncertainty import common_moment


def test_the_air_s_course_is_the_weather_s_where_it_has_one():
    frame = pd.DataFrame({"air_temperature": [20.0, 21.0, 22.0], "body_temperature": [25.0, 26.0, 24.0]})
    assert common_moment.air_course(frame).tolist() == [20.0, 21.0, 22.0]


def test_one_value_for_the_campaign_has_no_course_so_the_heads_show_it():
    frame = pd.DataFrame({"air_temperature": [20.0] * 3, "body_temperature": [25.0, 26.0, 24.0]})
    assert common_moment.air_course(frame).tolist() == [25.0, 26.0, 24.0]
    assert common_moment.air_course(frame.iloc[:0]).tolist() == []


def test_the_sun_that_a_surface_had_lately_over_the_one_it_has():
    frame = pd.DataFrame({"sw_in_memory": [400.0, np.nan, 300.0], "sw_in": [800.0, 800.0, 0.0]})
    assert common_moment.memory_ratio(frame).tolist() == [0.5, 1.0, 1.0]
