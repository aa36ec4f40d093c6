"""Each term of the measurement model alone, against a value worked out by hand or a limiting case."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.physics import geometry
from headland.physics.constants import RADIATION
from headland.uncertainty.inputs import body_rate, day_of, no_shade, prepare, shade_of
from headland.uncertainty.model import measured

from .made import CARRYING, CLASSES, segments

STEFAN_BOLTZMANN = 5.670374419e-8


def walk(**changes):
    """Two walks with the sun at 30 degrees: a beam of 300 W m-2 on the level, 600 normal to it."""
    first = {"diffuse_fraction": 0.25, "carrier_view": 0.04, "air_temperature": 20.0}
    frame = segments(sw_in=400.0, sw_out=100.0, solar_elevation=30.0)
    return frame.assign(**(first | changes))


def effect(name, frame, shade=no_shade, **errors):
    """What some errors do to a quantity of each segment."""
    rows = {key: np.broadcast_to(np.asarray(size, float), (1, len(frame))) for key, size in errors.items()}
    return (measured(frame, shade, rows)[name] - measured(frame, shade, {})[name])[0]


# Of every head ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("channel", RADIATION)
def test_a_zero_is_added_to_its_channel_alone(channel):
    for other in RADIATION:
        expected = 3.0 if other == channel else 0.0
        assert effect(other, walk(), **{f"zero_{channel}": 3.0}) == pytest.approx([expected] * 2)


@pytest.mark.parametrize("channel", RADIATION)
def test_a_slow_head_lags_by_its_time_constant_times_the_rate(channel):
    frame = walk(**{f"rate_{channel}": [2.0, -0.5]})
    assert effect(channel, frame, **{f"response_{channel}": 4.0}) == pytest.approx([8.0, -2.0])


@pytest.mark.parametrize(
    "channel, expected", [("sw_in", [8.0, 8.0]), ("sw_out", [2.0, 2.0]), ("lw_in", [-2.0, -2.0])]
)
def test_a_factor_acts_on_what_the_head_itself_measures(channel, expected):
    """2 % of 400 and of 100 W m-2, and of the net longwave of -100 W m-2."""
    assert effect(channel, walk(), **{f"factor_{channel}": 0.02}) == pytest.approx(expected)


# The upper shortwave head -----------------------------------------------------------------------------------


def test_the_directional_error_goes_with_the_beam_normal_to_the_sun_up_to_1000():
    assert effect("sw_in", walk(), directional=20.0) == pytest.approx([12.0, 12.0])  # 600 of 1000
    strong = walk(sw_in=900.0, diffuse_fraction=0.0)  # a beam of 1800 W m-2
    assert effect("sw_in", strong, directional=20.0) == pytest.approx([20.0, 20.0])


def test_without_a_beam_no_direction_counts():
    low = walk(solar_elevation=[2.9, 3.1])
    for errors in ({"directional": 20.0}, {"level_along": 1.0, "level_across": 1.0}):
        assert effect("sw_in", low, **errors)[0] == 0.0
        assert effect("sw_in", low, **errors)[1] != 0.0
    shaded = effect("sw_out", low, lambda phi: np.full_like(phi, 0.2), own_shade=1.0)
    assert shaded[0] == 0.0 and shaded[1] > 10.0


def test_a_diffuse_fraction_stays_between_nothing_and_all():
    assert effect("sw_in", walk(), directional=20.0, diffuse_fraction=0.9) == pytest.approx([0.0, 0.0])
    whole_beam = effect("sw_in", walk(), directional=20.0, diffuse_fraction=-0.9)
    assert whole_beam == pytest.approx([16.0, 16.0])  # 400 / sin 30 = 800 of 1000


@pytest.mark.parametrize(
    "phi, along, across",
    [(0.0, 1.0, 0.0), (180.0, -1.0, 0.0), (90.0, 0.0, 1.0), (-90.0, 0.0, -1.0), (60.0, 0.5, math.sqrt(0.75))],
)
def test_levelling_counts_towards_the_sun_and_turns_with_the_heading(phi, along, across):
    """A degree is 300 tan 60 pi / 180 = 9.069 W m-2 towards the sun."""
    frame = walk(incoming_heading=170.0 - phi, heading=33.0)
    assert effect("sw_in", frame, level_along=1.0) == pytest.approx([9.069 * along] * 2, abs=1e-3)
    assert effect("sw_in", frame, level_across=1.0) == pytest.approx([9.069 * across] * 2, abs=1e-3)


def test_levelling_is_the_tilt_of_the_beam_for_small_angles():
    frame = walk(incoming_heading=170.0)
    tilted = 300.0 * geometry.tilt_effect(0.01, 60.0, 0.0)
    assert effect("sw_in", frame, level_along=0.01) == pytest.approx([tilted] * 2, rel=1e-3)


def test_a_heading_that_is_noted_is_no_error_and_one_that_is_not_is_drawn():
    frame = walk(incoming_heading=[170.0, np.nan])
    changed = effect("sw_in", frame, level_along=1.0, incoming_heading=-10.0)
    assert changed == pytest.approx([9.069, -9.069], abs=1e-3)  # the second walks away from the sun


def test_what_a_head_loses_to_a_cold_sky_is_added_and_what_warm_ground_gives_is_taken_away():
    frame = walk(lw_in_net=[-100.0, 20.0], lw_out_net=[40.0, -10.0])
    assert effect("sw_in", frame, cooling_sw_in=0.05) == pytest.approx([5.0, -1.0])
    assert effect("sw_out", frame, cooling_sw_out=0.05) == pytest.approx([-2.0, 0.5])
    assert effect("sw_out", frame, cooling_sw_in=0.05) == pytest.approx([0.0, 0.0])


# The lower shortwave head -----------------------------------------------------------------------------------


def shade_ahead(phi):
    """A shadow of a tenth of the view with the sun ahead, none elsewhere."""
    return np.where(np.abs(phi) < 45.0, 0.1, 0.0)


def test_the_carrier_s_shadow_takes_its_part_of_the_beam_s_reflection():
    """1 - 0.75 * 0.1 * 1.2 = 0.91 of the light arrives."""
    frame = walk(heading=[170.0, 350.0], incoming_heading=0.0)
    assert effect("sw_out", frame, shade_ahead, own_shade=1.2) == pytest.approx([100.0 / 0.91 - 100.0, 0.0])


def test_a_stick_held_to_the_right_has_its_carrier_on_the_left():
    """The sun is at 170 degrees: of two opposite passes with the stick to the right, that towards 80 has the
    carrier between the sun and the head.
    """
    frame = walk(heading=[80.0, 260.0], incoming_heading=0.0)
    assert effect("sw_out", frame, shade_ahead, own_shade=1.2) == pytest.approx([0.0, 0.0])
    right = effect("sw_out", frame, shade_ahead, own_shade=1.2, stick_side=90.0)
    assert right == pytest.approx([100.0 / 0.91 - 100.0, 0.0])
    left = effect("sw_out", frame, shade_ahead, own_shade=1.2, stick_side=-90.0)
    assert left == pytest.approx([0.0, 100.0 / 0.91 - 100.0])


def test_an_unknown_heading_is_drawn_for_the_shadow_too():
    frame = walk(heading=np.nan)
    away = effect("sw_out", frame, shade_ahead, own_shade=1.2, heading=0.0)
    towards = effect("sw_out", frame, shade_ahead, own_shade=1.2, heading=170.0)
    assert away == pytest.approx([0.0, 0.0]) and towards == pytest.approx([100.0 / 0.91 - 100.0] * 2)


def test_the_carrier_s_body_takes_what_it_reflects_less_than_the_ground():
    frame = walk(carrier_view=[0.04, 0.0])
    assert effect("sw_out", frame, carrier_dark=0.5) == pytest.approx([100.0 / 0.98 - 100.0, 0.0])
    assert effect("sw_out", frame, carrier_dark=-0.5)[0] == pytest.approx(100.0 / 1.02 - 100.0)


def test_shadow_and_body_together_take_the_sum():
    frame = walk(heading=170.0)
    both = effect("sw_out", frame, shade_ahead, own_shade=1.0, carrier_dark=0.5)
    assert both == pytest.approx([100.0 / (1.0 - 0.075 - 0.02) - 100.0] * 2)


# Longwave ---------------------------------------------------------------------------------------------------


def test_each_longwave_head_has_its_thermometer():
    frame = walk(body_temperature=30.0, incoming_body_temperature=-10.0)
    for channel, kelvin in (("lw_in", 263.15), ("lw_out", 303.15)):
        added = STEFAN_BOLTZMANN * ((kelvin + 0.5) ** 4 - kelvin**4)
        assert effect(channel, frame, **{f"body_{channel}": 0.5}) == pytest.approx([added] * 2)


def test_the_sun_warms_each_window_by_the_shortwave_that_falls_on_it():
    assert effect("lw_in", walk(), window_lw_in=0.01) == pytest.approx([-4.0, -4.0])
    assert effect("lw_out", walk(), window_lw_out=0.01) == pytest.approx([-1.0, -1.0])
    # what falls on it is the true shortwave, not the reading
    assert effect("lw_in", walk(), window_lw_in=0.01, factor_sw_in=0.1) == pytest.approx([-4.4, -4.4])
    brighter = effect("lw_out", walk(), window_lw_out=0.01, carrier_dark=0.5)
    assert brighter == pytest.approx([-1.0 / 0.98] * 2)


def test_the_carrier_s_warmth_fills_its_part_of_the_view():
    """(L_out - 0.04 sigma (20 degC + 8 K)^4) / 0.96."""
    frame = walk()
    carrier = STEFAN_BOLTZMANN * 301.15**4
    expected = (frame["lw_out"].to_numpy() - 0.04 * carrier) / 0.96 - frame["lw_out"].to_numpy()
    assert effect("lw_out", frame, carrier_there=1.0, carrier_warmth=8.0) == pytest.approx(expected)
    assert effect("lw_out", frame, carrier_warmth=8.0) == pytest.approx([0.0, 0.0])


def test_a_carrier_that_emits_as_the_ground_does_changes_nothing():
    frame = walk(air_temperature=[20.0, 15.0])
    kelvin = (frame["lw_out"].to_numpy() / STEFAN_BOLTZMANN) ** 0.25
    warmth = kelvin - 273.15 - frame["air_temperature"].to_numpy()
    unchanged = effect("lw_out", frame, carrier_there=1.0, carrier_warmth=warmth)
    assert unchanged == pytest.approx([0.0, 0.0], abs=1e-9)


# What follows -----------------------------------------------------------------------------------------------


def test_an_emissivity_of_one_makes_the_surface_a_black_body():
    frame = walk()
    black = (frame["lw_out"].to_numpy() / STEFAN_BOLTZMANN) ** 0.25 - 273.15
    to_one = 1.0 - frame["emissivity"].to_numpy()
    changed = frame["surface_temperature"].to_numpy() + effect(
        "surface_temperature", frame, emissivity=to_one
    )
    without = (
        measured(frame, no_shade, {})["surface_temperature"][0] - frame["surface_temperature"].to_numpy()
    )
    assert changed + without == pytest.approx(black)


def test_net_radiation_and_albedo_follow_from_the_erring_terms():
    frame = walk()
    errors = {f"zero_{channel}": 1.0 + index for index, channel in enumerate(RADIATION)}
    assert effect("net_radiation", frame, **errors) == pytest.approx([1.0 - 2.0 + 3.0 - 4.0] * 2)
    albedo = measured(frame, no_shade, {key: np.full((1, 2), size) for key, size in errors.items()})["albedo"]
    assert albedo[0] == pytest.approx([102.0 / 401.0] * 2)


# What the model works on ------------------------------------------------------------------------------------


def test_the_shadow_is_interpolated_between_nodes_of_5_degrees_all_round():
    frame = segments(solar_elevation=np.array([20.0, 55.0]))
    view = shade_of(frame, CARRYING)

    def at(phi):
        return view(np.array([[phi, phi]]))[0]

    for phi in (-180.0, -40.0, 0.0, 35.0, 175.0):
        by_geometry = geometry.shadow_view(
            np.full(2, phi), np.array([20.0, 55.0]), 1.5, geometry.carrier_of(CARRYING)
        )
        assert at(phi) == pytest.approx(by_geometry)
    for left, part in ((-45.0, 0.2), (-40.0, 0.5), (150.0, 0.9)):
        between = (1.0 - part) * at(left) + part * at(left + 5.0)
        assert at(left + 5.0 * part) == pytest.approx(between)
        assert (np.abs(at(left + 5.0) - at(left)) > 1e-4).any()
    assert at(200.0) == pytest.approx(at(-160.0)) and at(-200.0) == pytest.approx(at(160.0))


def test_a_canopy_hides_the_legs_of_the_carrier():
    """Over 0.4 m of crop the head is 1.1 m above what it looks at, and 1.4 m of a carrier of 1.8 m are
    seen.
    """
    frame = segments(solar_elevation=np.array([40.0, 40.0])).assign(height=[1.5, 1.1])
    frame = prepare(frame, CARRYING, np.full(2, 20.0), CLASSES)
    seen = [0.75 * 2.0 * geometry.perpendicular_rectangle_view(h, 0.25, 1.2) for h in (1.5, 1.1)]
    assert frame["carrier_view"].to_numpy() == pytest.approx(seen)
    lower = geometry.Carrier(reach=1.2, height=1.4, width=0.5)
    over_ground = float(geometry.shadow_view(180.0, 40.0, 1.5, geometry.carrier_of(CARRYING)))
    over_crop = float(geometry.shadow_view(180.0, 40.0, 1.1, lower))
    assert shade_of(frame, CARRYING)(np.array([[180.0, 180.0]]))[0] == pytest.approx([over_ground, over_crop])
    assert abs(over_crop - over_ground) > 1e-3


def test_where_nobody_walks_there_is_no_carrier():
    standing = CARRYING | {"walking_speed": 0.0}
    frame = prepare(segments(heading=np.nan), standing, np.full(2, 20.0), CLASSES)
    assert (frame["carrier_view"] == 0.0).all() and (frame["heading"] == 0.0).all()
    assert (frame["incoming_heading"] == 0.0).all()
    assert shade_of(frame, standing)(np.array([[0.0, 90.0]])).tolist() == [[0.0, 0.0]]


def test_what_is_prepared_for_the_model():
    frame = segments(sw_in=np.array([800.0, 80.0]), surfaces=("stubble", "paving"))
    again = prepare(frame, CARRYING, np.array([np.nan, 7.0]), CLASSES)
    assert again["air_temperature"].tolist() == [22.0, 7.0]  # the head's own where the air is unknown
    assert again["emissivity"].tolist() == [0.96, 0.95]
    assert (again["day"] == "2026-05-21").all()
    # 1361 W m-2 at 1.0123 AU in late May: 1328 W m-2, times sin 50; Erbs et al. 1982 for k_t 0.786 and 0.079
    assert again["diffuse_fraction"].tolist() == pytest.approx([0.165, 1.0 - 0.09 * 0.0786], abs=2e-3)
    twice = geometry.perpendicular_rectangle_view(1.5, 0.25, 1.2) * 2.0
    assert again["carrier_view"].to_numpy() == pytest.approx([0.75 * twice] * 2)


def test_a_day_of_work_goes_on_over_midnight_in_utc():
    """Work over midnight, a second day after a night, and a station that never stops."""
    clock = ["21T22:00", "21T23:50", "22T00:20", "22T22:00", "22T22:30"]
    start = pd.Series([pd.Timestamp(f"2026-05-{time}:00Z") for time in clock])
    frame = pd.DataFrame({"start_utc": start, "end_utc": start + pd.Timedelta(minutes=15)})
    assert day_of(frame).tolist() == ["2026-05-21"] * 3 + ["2026-05-22"] * 2
    start = pd.Series(pd.date_range("2026-05-21T12:00Z", "2026-05-22T12:00Z", freq="1h"))
    station = pd.DataFrame({"start_utc": start, "end_utc": start + pd.Timedelta(minutes=59)})
    assert day_of(station).tolist() == ["2026-05-21"] * 12 + ["2026-05-22"] * 13
    assert day_of(frame.iloc[:0]).tolist() == []


def test_the_rate_of_the_body_is_that_from_one_segment_of_a_set_to_the_next():
    """A set that warms by 1 K in half an hour, another that stays, a day with one segment, one too fast."""
    at = [pd.Timestamp(f"2026-05-{day}T{clock}:00Z") for day, clock in AT]
    frame = pd.DataFrame(
        {
            "set": ["heron", "curlew", "heron", "curlew", "heron", "heron", "heron"],
            "start_utc": at,
            "end_utc": [time + pd.Timedelta(minutes=10) for time in at],
            "body_temperature": [20.0, 25.0, 21.0, 25.0, 30.0, 20.0, 40.0],
        }
    )
    middle = frame["start_utc"] + (frame["end_utc"] - frame["start_utc"]) / 2
    rate = body_rate(frame, middle)
    assert rate.tolist() == pytest.approx([2.0, 0.0, 2.0, 0.0, 0.0, 10.0, 10.0])


AT = [
    ("21", "09:00"),
    ("21", "09:10"),
    ("21", "09:30"),
    ("21", "10:00"),
    ("22", "09:00"),
    ("23", "09:00"),
    ("23", "10:00"),
]


@pytest.mark.parametrize("hours, days", [(15, 1), (17, 1), (19, 2)])
def test_a_day_of_work_lasts_eighteen_hours_at_most(hours, days):
    """A walk every hour from two in the afternoon on, over midnight; longer ones end at midnight."""
    start = pd.Series(pd.date_range("2026-05-21T14:00Z", periods=hours, freq="1h"))
    frame = pd.DataFrame({"start_utc": start, "end_utc": start + pd.Timedelta(minutes=50)})
    assert len(set(day_of(frame))) == days


@pytest.mark.parametrize("pause, days", [(3.9, 1), (4.1, 2)])
def test_a_break_of_four_hours_ends_a_day_of_work(pause, days):
    start = pd.Series(pd.to_datetime(["2026-05-21T22:00Z", "2026-05-21T23:00Z"]))
    start.loc[2] = start[1] + pd.Timedelta(hours=0.5 + pause)
    frame = pd.DataFrame({"start_utc": start, "end_utc": start + pd.Timedelta(hours=0.5)})
    assert len(set(day_of(frame))) == days
