"""The weather at a sample's time: from the table near in time, else from the settings."""

import numpy as np
import pandas as pd
import pytest

from headland.chain import weather


def times(*texts):
    return pd.Series(pd.to_datetime([f"2026-05-21T{text}Z" for text in texts], utc=True))


def table(**columns):
    return pd.DataFrame({"time_utc": times("10:00:00", "10:30:00", "14:00:00"), **columns})


def test_interpolated_linearly_in_time():
    found = weather.at(
        times("10:00:00", "10:15:00", "10:30:00"), table(air_temperature=[20.0, 23.0, 30.0]), {}
    )
    assert found["air_temperature"].tolist() == pytest.approx([20.0, 21.5, 23.0])


def test_the_settings_serve_further_than_an_hour_from_the_table():
    found = weather.at(
        times("08:59:59", "09:00:00", "12:15:00", "15:00:00", "15:00:01"),
        table(air_temperature=[20.0, 23.0, 30.0]),
        {"air_temperature": 5.0},
    )
    assert found["air_temperature"].tolist() == pytest.approx([5.0, 20.0, 5.0, 30.0, 5.0])


def test_nothing_known_is_nan():
    found = weather.at(times("10:00:00"), table().iloc[:0], {})
    assert set(found) == set(weather.QUANTITIES) and all(np.isnan(values).all() for values in found.values())


def test_gaps_in_one_column_do_not_touch_another():
    found = weather.at(
        times("10:15:00"),
        table(air_temperature=[20.0, np.nan, np.nan], wind_speed=[1.0, 2.0, 3.0]),
        {"pressure": 970.0},
    )
    assert (
        found["air_temperature"].tolist() == [20.0]
        and found["wind_speed"].tolist() == [1.5]
        and found["pressure"].tolist() == [970.0]
    )


def test_the_order_of_the_table_and_times_that_could_not_be_read_do_not_matter():
    frame = table(air_temperature=[20.0, 23.0, 30.0]).iloc[::-1]
    frame = pd.concat([frame, pd.DataFrame({"time_utc": [pd.NaT], "air_temperature": [99.0]})]).assign(
        time_utc=lambda f: pd.to_datetime(f["time_utc"], utc=True)
    )
    assert weather.at(times("10:15:00"), frame, {})["air_temperature"].tolist() == pytest.approx([21.5])
