"""The size of each error, what shares it, and what it reaches."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty.draws import one_at_a_time, scores
from headland.uncertainty.inputs import shade_of
from headland.uncertainty.linear import contributions
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources
from headland.uncertainty.sources_visit import visits_of_sets

from .made import (
    CARRYING,
    certificates,
    half_widths,
    only,
    segments,
    whole,
)

SHARE = segments()["diffuse_fraction"].iloc[0]
UPRIGHT = (SHARE + 190.0 / 800.0) / 2.0 / (190.0 / 800.0)
"""Light on an upright side without sun, over what the ground reflects."""
ROOT3 = math.sqrt(3.0)


# Sizes ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("head, width", [("A", 10.0), ("B", 20.0), ("C", 30.0), ("", 30.0)])
def test_the_directional_error_has_the_size_of_the_head_s_class(head, width):
    terms = only("directional_A", "directional_B", "directional_C")
    strong = segments(sw_in=1000.0).assign(diffuse_fraction=0.0)
    found = half_widths(terms, "sw_in", strong, certificates(instrument_class=head))
    assert found == pytest.approx([width / ROOT3] * 2)


@pytest.mark.parametrize(
    "term, name, expected",
    [
        ("drift_lw", "lw_in", 0.015 / ROOT3 * 100.0),
        ("spectral_lw", "lw_in", 0.02 / ROOT3 * 100.0),
        ("spectral_lw", "sw_in", 0.0),
        ("temperature_lw", "lw_in", 0.03 / ROOT3 * 100.0 * 2.0 / 25.0),
        ("zero", "sw_out", 1.0),
        ("zero_lw", "lw_in", 1.0),
        ("zero_lw", "sw_in", 0.0),
        ("logger_zero", "lw_out", 0.003 * 70.0 / ROOT3),
        ("logger_gain", "sw_in", 0.001 / ROOT3 * 800.0),
        ("logger_gain", "lw_in", 0.001 / ROOT3 * 100.0),
        ("logger_gain", "albedo", 0.0),
        ("cooling", "sw_in", 0.0375 / ROOT3 * 100.0),
        ("cooling_visit", "sw_in", 0.3 * 0.075 / ROOT3 * 100.0),
        ("linearity", "sw_in", 0.01 * 0.6 / ROOT3 * 800.0),
        ("spectral", "sw_in", 0.01 / ROOT3 * 800.0),
        ("window", "lw_in", 0.006 / (1.0 + 2.0 * 4.0 / 11.1) / ROOT3 * 800.0),
        ("window_visit", "lw_in", 0.003 / (1.0 + 2.0 * 4.0 / 11.1) / ROOT3 * 800.0),
        ("body_temperature", "lw_out", 4.0 * 5.670374e-8 * 295.15**3 * 0.4 / ROOT3),
    ],
)
def test_sizes_by_hand(term, name, expected):
    assert half_widths(only(term), name) == pytest.approx([expected] * 2, rel=1e-4)


@pytest.mark.parametrize("term, size", [("cooling", 0.0375), ("cooling_visit", 0.3 * 0.075)])
def test_the_lower_shortwave_head_cools_by_its_own_net_longwave(term, size):
    assert half_widths(only(term), "sw_out") == pytest.approx(
        [size / ROOT3 * n for n in (20.0, 50.0)], rel=1e-4
    )


def test_the_carrier_s_terms_by_hand():
    frame = segments(heading=170.0).assign(carrier_view=0.04, diffuse_fraction=0.25)
    shadow = shade_of(frame, CARRYING)(np.zeros((1, 2)))[0, 0] * 0.75
    sw_out, u = np.array([190.0, 90.0]), 0.5 / ROOT3
    shade = (1.0 / (1.0 - shadow * (0.5 + u)) - 1.0 / (1.0 - shadow * (0.5 - u))) / 2.0 * sw_out
    assert half_widths(only("own_shade"), "sw_out", frame) == pytest.approx(shade)
    share, albedo = frame["diffuse_fraction"].to_numpy(), sw_out / 800.0
    light = ((share + albedo) / 2.0) / albedo  # on an upright side without sun, over the ground's light
    middle, u = 1.0 - 0.3 * light, 0.2 / ROOT3 * light
    body = sw_out / 2.0 * (1.0 / (1.0 - 0.04 * (middle + u)) - 1.0 / (1.0 - 0.04 * (middle - u)))
    assert half_widths(only("carrier_reflection"), "sw_out", frame) == pytest.approx(body)
    warmth = 0.04 * 4.0 * 5.670374e-8 * 301.15**3 * 5.0 / ROOT3 / 0.96
    assert half_widths(only("carrier_warmth"), "lw_out", frame) == pytest.approx([warmth] * 2, rel=1e-3)


def test_a_temperature_response_is_that_of_the_head_s_own_body():
    frame = segments(body_temperature=20.0, incoming_body_temperature=np.array([45.0, -5.0]))
    expected = [0.02 / ROOT3 * 800.0] * 2
    assert half_widths(only("temperature_sw"), "sw_in", frame) == pytest.approx(expected)
    assert half_widths(only("temperature_sw"), "sw_out", frame) == pytest.approx([0.0, 0.0])
    unknown = segments(incoming_body_temperature=np.nan)
    assert half_widths(only("temperature_sw"), "sw_in", unknown) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize("stated, seconds", [(12.0, 12.0), (np.nan, 20.0)])
def test_a_head_s_time_constant_is_its_response_time_over_ln_20(stated, seconds):
    rising = segments(rate_sw_in=2.0)
    found = half_widths(only("response"), "sw_in", rising, certificates(response_time_95=stated))
    assert found == pytest.approx([2.0 * seconds / 2.995732 * 0.5 / ROOT3] * 2)


def test_a_body_that_runs_away_has_four_times_the_gradient_in_its_segment_alone():
    """0.3 K becomes 1.2 K."""
    shocked = segments(thermal_shock=np.array([1.0, 0.0]))
    usual, wide = (half_widths(only("body_gradient"), "lw_in", f).ravel() for f in (segments(), shocked))
    assert wide / usual == pytest.approx([4.0, 1.0], rel=0.01)
    assert half_widths(only("body_gradient"), "lw_out", shocked) == pytest.approx([0.0, 0.0])


@pytest.mark.parametrize(
    "term, error, low, high",
    [
        ("cooling", "cooling_sw_in", 0.0, 0.075),
        ("cooling", "cooling_sw_out", 0.0, 0.075),
        ("window", "window_lw_in", 0.0, 0.012 / (1.0 + 2.0 * 4.0 / 11.1)),
        ("window", "window_lw_out", 0.0, 0.012 / (1.0 + 2.0 * 4.0 / 11.1)),
        ("own_shade", "own_shade", 0.0, 1.0),
        ("carrier_reflection", "carrier_dark", 1.0 - 0.5 * UPRIGHT, 1.0 - 0.1 * UPRIGHT),
        ("carrier_warmth", "carrier_warmth", 3.0, 13.0),
        ("response", "response_sw_in", 0.5 * 4.00569, 1.5 * 4.00569),
    ],
)
def test_an_effect_of_one_sign_is_drawn_within_its_range(term, error, low, high):
    sources = instrument_sources(segments(), certificates(), only(term))
    (source,) = [s for s in sources if s.term == term and error in s.shift]
    numbers = scores([source], 1, 4000)[0]
    drawn = source.middle.get(error, np.zeros(2))[0] + source.shift[error][0] * numbers
    assert (drawn.min(), drawn.max()) == pytest.approx((low, high), abs=2e-3 * (high - low))


def test_a_carrier_is_in_the_view_only_where_its_warmth_is_drawn():
    (source,) = [
        s for s in instrument_sources(segments(), certificates(), only("carrier_warmth")) if s.middle
    ]
    assert source.middle["carrier_there"].tolist() == [1.0, 1.0]


@pytest.mark.parametrize(
    "term, name, limits, effect",
    [
        ("drift_sw", "sw_in", (0.8, 1.5, 3.0), 0.01 * 800.0),  # a year old
        ("drift_lw", "lw_in", (0.8, 1.5, 3.0), 0.01 * 100.0),
        ("spectral_lw", "lw_in", (1.0, 2.0, 4.0), 0.01 * 100.0),
        ("temperature_sw", "sw_in", (1.0, 2.0, 4.0), 0.01 * 800.0 * 2.0 / 25.0),
        ("linearity", "sw_in", (0.5, 1.0, 3.0), 0.01 * 800.0 * 300.0 / 500.0),
        ("spectral", "sw_in", (0.5, 1.0, 5.0), 0.01 * 800.0),
        ("spectral_ground", "sw_out", (0.25, 0.5, 2.5), 0.01 * 190.0),
        ("spectral_reflected", "sw_out", (0.5, 1.0, 5.0), 0.01 * 190.0),
        ("tilt", "sw_out", (0.5, 2.0, 5.0), 0.01 * 190.0),
        ("cooling", "sw_in", (3.5, 7.5, 15.0), 100.0 / 200.0),  # from 0 up: half of the limit
        ("cooling_visit", "sw_in", (2.1, 4.5, 9.0), 100.0 / 200.0),
        ("temperature_change", "sw_in", (2.0, 4.0, 8.0), 2.5 / 5.0),
    ],
)
def test_a_limit_is_that_of_the_head_s_class(term, name, limits, effect):
    """Limits of classes A, B and C; C where the class is unknown."""
    frame = segments().assign(body_rate=2.5)
    for grade, limit in zip(("A", "B", "C", ""), (*limits, limits[2]), strict=True):
        found = half_widths(only(term), name, frame, certificates(instrument_class=grade))
        assert found[..., 0] == pytest.approx(limit / ROOT3 * effect), grade


def test_only_the_lower_head_hangs_upside_down_and_each_ground_has_its_own_spectrum():
    for term in ("tilt", "spectral_reflected"):
        assert half_widths(only(term), "sw_in") == pytest.approx([0.0, 0.0]), term
    sources = instrument_sources(segments(), certificates(), only("spectral_ground"))
    here = {s.unit: s.shift["factor_sw_out"] > 0 for s in sources if s.term == "spectral_ground"}
    assert {unit: where.tolist() for unit, where in here.items()} == {
        "heron/sw_out/stubble": [True, False],
        "heron/sw_out/paving": [False, True],
    }


def test_the_samples_left_out_are_an_error_of_the_fluxes_and_none_of_the_albedo():
    frame = segments().assign(left_out=np.array([-6.0, 0.0]))
    assert half_widths(only("left_out"), "sw_in", frame) == pytest.approx([6.0, 0.0])
    assert half_widths(only("left_out"), "sw_out", frame) == pytest.approx([6.0 * 190.0 / 800.0, 0.0])
    assert half_widths(only("left_out"), "albedo", frame) == pytest.approx([0.0, 0.0], abs=1e-9)


def test_the_ground_left_out_is_in_the_segment_alone():
    """A rectangle of 4 W m-2 to either side; a field is not its edges."""
    frame = segments().assign(left_out_sw_out=np.array([-4.0, 0.0]), left_out_lw_out=np.array([0.0, 4.0]))
    result = whole(frame, only("left_out_ground"), draws=4000)
    half = {
        name: ((result.segments[f"{name}_high"] - result.segments[f"{name}_low"]) / 2.0).to_numpy()
        for name in ("sw_in", "sw_out", "albedo", "lw_out", "net_radiation")
    }
    assert half["sw_out"] == pytest.approx([0.95 * 4.0, 0.0], rel=0.01)
    assert half["albedo"] == pytest.approx([0.95 * 4.0 / 800.0, 0.0], rel=0.01)
    assert half["lw_out"] == pytest.approx([0.0, 0.95 * 4.0], rel=0.01)
    assert half["net_radiation"] == pytest.approx([0.95 * 4.0] * 2, rel=0.01)
    assert half["sw_in"] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert (result.fields["sw_out_high"] - result.fields["sw_out_low"]).to_numpy() == pytest.approx([0, 0])


@pytest.mark.parametrize(
    "elevation, times", [(45.0, 1.0), (20.0, 2.747477), (10.0, 5.671282), (4.0, 5.671282)]
)
def test_a_low_sun_lights_the_carrier_s_side(elevation, times):
    """A side that faces the sun gets tan Z times the beam on the level; the sun counts as at 10 degrees at
    least."""
    frame = segments(sw_out=160.0, solar_elevation=elevation).assign(diffuse_fraction=0.25, carrier_view=0.04)
    terms = only("carrier_reflection", "carrier_lit", "carrier_lit_visit")
    sources = [s for s in instrument_sources(frame, certificates(), terms) if "carrier_dark" in s.shift]
    light = 0.3 * 0.75 * times / 0.2
    lit = {s.term: s for s in sources}
    assert lit["carrier_lit"].middle["carrier_dark"] == pytest.approx([-light / 2.0] * 2, rel=1e-6)
    assert lit["carrier_lit"].shift["carrier_dark"] == pytest.approx([-light * 0.5 / ROOT3] * 2, rel=1e-6)
    of_last_visit = [0.0, -light * 0.25 / ROOT3]
    assert lit["carrier_lit_visit"].shift["carrier_dark"] == pytest.approx(of_last_visit, rel=1e-6)
    # clothes of another light change what both kinds of light make
    both = (0.25 + 0.2) / 2.0 / 0.2 + 0.5 * 0.75 * times / 0.2
    assert lit["carrier_reflection"].shift["carrier_dark"] == pytest.approx(
        [-both * 0.2 / ROOT3] * 2, rel=1e-6
    )


def test_over_dark_ground_the_carrier_is_brighter_than_the_ground():
    """Clothes of 0.3 under a grey sky get half of SW_in: over water of 0.05 three times its light."""
    water = segments(sw_out=40.0).assign(diffuse_fraction=0.95)
    (source,) = [s for s in instrument_sources(water, certificates(), only("carrier_reflection")) if s.middle]
    assert source.middle["carrier_dark"] == pytest.approx([1.0 - 0.3 * 0.5 / 0.05] * 2)
    dark = instrument_sources(segments(sw_in=0.0, sw_out=0.0), certificates(), only("carrier_reflection"))
    assert all(not s.shift["carrier_dark"].any() for s in dark if "carrier_dark" in s.shift)


def test_a_visit_is_what_a_set_walks_in_one_field_before_it_goes_to_the_next():
    clock = ["09:00", "09:20", "09:10", "09:30", "09:40"]
    start = [pd.Timestamp(f"2026-05-21T{time}:00Z") for time in clock]
    frame = pd.DataFrame(
        {
            "set": ["heron", "heron", "heron", "curlew", "heron"],
            "field": ["a", "b", "a", "b", "a"],
            "segment": ["1", "3", "2", "4", "5"],
            "start_utc": start,
        }
    )
    assert visits_of_sets(frame).tolist() == ["heron/1", "heron/3", "heron/1", "curlew/4", "heron/5"]


# Headings ---------------------------------------------------------------------------------------------------


def headings(frame):
    sources = instrument_sources(frame, certificates(("heron", "curlew")), only("heading"))
    return {source.unit: set(source.shift) for source in sources if source.term == "heading"}


def test_one_person_has_one_unknown_heading_and_a_monitor_has_its_own():
    frame = segments(heading=np.nan, incoming_heading=np.nan)
    assert headings(frame) == {name: {"heading", "incoming_heading"} for name in ("s0", "s1")}
    monitored = frame.assign(incoming_set="curlew")
    assert headings(monitored) == {
        "s0": {"heading"},
        "s0/incoming_heading": {"incoming_heading"},
        "s1": {"heading"},
        "s1/incoming_heading": {"incoming_heading"},
    }
    assert headings(segments(heading=np.array([np.nan, 80.0]))) == {"s0": {"heading"}}
    assert headings(segments()) == {}


# A fixed station --------------------------------------------------------------------------------------------


def test_a_station_s_errors_are_its_own_for_all_and_the_sky_s_for_each_segment():
    """2.5 % and 2 % of 800 W m-2, 1.5 % and 0.5 % of 330 W m-2; no error of the upper heads."""
    frame = segments().assign(incoming_set="station.csv")
    own = half_widths(only("station_sw", "station_lw"), "sw_in", frame)
    assert own == pytest.approx([20.0, 20.0])
    assert half_widths(only("station_sky_sw"), "sw_in", frame) == pytest.approx([16.0, 16.0])
    assert half_widths(only("station_lw"), "lw_in", frame) == pytest.approx([4.95, 4.95])
    assert half_widths(only("station_sky_lw"), "lw_in", frame) == pytest.approx([1.65, 1.65])
    upper = ("certificate_sensor", "zero", "directional_B", "levelling", "cooling", "drift_sw")
    assert half_widths(only(*upper), "sw_in", frame) == pytest.approx([0.0, 0.0])
    assert half_widths(only(*upper), "sw_out", frame).min() > 1.0
    for term, shared in (("station_sw", 1.0), ("station_sky_sw", 0.0)):
        sources = instrument_sources(frame, certificates(), only(term))
        part = contributions(measured(frame, np.zeros_like, one_at_a_time(sources)))["sw_in"]
        assert part[:, 0] @ part[:, 1] == pytest.approx(shared * part[:, 0] @ part[:, 0])


def test_a_station_is_no_error_where_no_segment_uses_it():
    terms = only("station_sw", "station_lw", "station_sky_sw", "station_sky_lw")
    assert half_widths(terms, "net_radiation") == pytest.approx([0.0, 0.0])
