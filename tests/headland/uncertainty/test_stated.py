"""What the register may state beside a factor: two thermometers, a laboratory, coefficients."""

import math

import numpy as np
import pytest

from headland.physics.constants import SIGMA, ZERO_CELSIUS
from headland.uncertainty.draws import middles
from headland.uncertainty.model import measured
from headland.uncertainty.sources import KNOWN_EFFECTS, instrument_sources

from .made import SEGMENTS, SHADE, certificates, four_walks, half_widths, only, parts, segments, whole

ROOT3 = math.sqrt(3.0)
SLOPE = 4.0 * SIGMA * (22.0 + ZERO_CELSIUS) ** 3
"""W m-2 of emission per K at the segments' body temperature."""


def with_cells(where, sets=("heron",), **cells):
    """Certificates with some cells filled in for the heads whose set and channel `where` accepts."""
    table = certificates(sets).astype({"reference": object})
    chosen = [where(row.set, row.channel) for row in table.itertuples()]
    for name, value in cells.items():
        table.loc[chosen, name] = value
    return table


def own_thermometers(sets=("heron",), owners=("heron",)):
    """Each longwave head of some sets has a thermometer of its own."""
    table = certificates(sets)
    own = table["set"].isin(owners) & table["channel"].str.startswith("lw")
    return table.assign(body_channel=table["body_channel"].mask(own, "body_temperature_" + table["channel"]))


# Two thermometers -------------------------------------------------------------------------------------------


def test_net_radiation_keeps_the_errors_of_two_thermometers():
    """One thermometer cancels in net; of two, both errors stay: the root of 2 times 4 sigma T^3 u."""
    one = SLOPE * 0.4 / ROOT3  # class B: within 0.4 K
    terms = only("body_temperature")
    assert half_widths(terms, "net_radiation") == pytest.approx([0.0, 0.0], abs=1e-9)
    assert half_widths(terms, "net_radiation", certificate=own_thermometers()) == pytest.approx(
        [math.sqrt(2.0) * one] * 2, rel=1e-4
    )
    for channel in ("lw_in", "lw_out"):
        shared = half_widths(terms, channel)
        assert half_widths(terms, channel, certificate=own_thermometers()) == pytest.approx(shared)


def test_each_head_differs_from_its_own_thermometer_and_more_so_in_a_shock():
    frame = segments(thermal_shock=np.array([0.0, 1.0]))
    terms, times = only("body_gradient"), np.array([1.0, 4.0])
    one = SLOPE * 0.3 / ROOT3 * times
    shared = {name: half_widths(terms, name, frame) for name in ("lw_in", "lw_out", "net_radiation")}
    assert shared["lw_in"] == pytest.approx(one, rel=1e-3)
    assert shared["lw_out"] == pytest.approx([0.0, 0.0], abs=1e-9)
    for channel in ("lw_in", "lw_out"):
        assert half_widths(terms, channel, frame, own_thermometers()) == pytest.approx(one, rel=1e-3)
    both = half_widths(terms, "net_radiation", frame, own_thermometers())
    assert both == pytest.approx(math.sqrt(2.0) * one, rel=1e-3)


def test_a_visit_s_wind_parts_each_head_from_its_own_thermometer():
    terms, one = only("body_gradient_visit"), SLOPE * 0.15 / ROOT3
    assert half_widths(terms, "net_radiation") == pytest.approx([one] * 2, rel=1e-3)
    both = half_widths(terms, "net_radiation", certificate=own_thermometers())
    assert both == pytest.approx([math.sqrt(2.0) * one] * 2, rel=1e-3)


def test_the_thermometers_of_one_set_change_nothing_of_another_set():
    """Walk 4 is curlew's; a monitor's sky comes with the monitor's thermometers."""
    frame = four_walks()
    frame["incoming_set"] = ["heron", "heron", "heron", "heron"]
    register = own_thermometers(("heron", "curlew"), ("heron",))
    every = instrument_sources(frame, register, only("body_temperature"))
    found = {source.name: source for source in every if source.term == "body_temperature"}
    assert set(found) == {
        "body_temperature|heron/lw_in",
        "body_temperature|heron/lw_out",
        "body_temperature|curlew",
    }
    assert (found["body_temperature|heron/lw_in"].shift["body_lw_in"] > 0).all()
    lower = found["body_temperature|heron/lw_out"].shift["body_lw_out"] > 0
    assert lower.tolist() == [True, True, True, False]
    assert found["body_temperature|curlew"].shift["body_lw_in"].tolist() == [0.0] * 4
    every = instrument_sources(frame, register, only("body_gradient_visit"))
    own = [source for source in every if source.term == "body_gradient_visit"]
    # a new one for each of four visits: heron's upper head saw all of them, its lower head three
    reached = [set(source.shift) for source in own]
    assert reached.count({"body_lw_in"}) == 4 and reached.count({"body_lw_out"}) == 3 and len(own) == 7


# Temperature ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("coefficient", [-3.0, 2.0])
@pytest.mark.parametrize("calibrated", [np.nan, 30.0])
def test_a_stated_temperature_coefficient_gives_back_the_flux(coefficient, calibrated):
    """A head whose signal is made with another sensitivity: the corrected value is the flux that made it."""
    body, flux = 45.0, 800.0
    at = 20.0 if math.isnan(calibrated) else calibrated
    sensitivity = 1.0 + coefficient / 100.0 * (body - at) / 25.0
    frame = segments(sw_in=flux * sensitivity, body_temperature=body, incoming_body_temperature=body)
    cells = {"temperature_coefficient": coefficient, "calibration_temperature": calibrated}
    register = with_cells(lambda _, channel: channel == "sw_in", **cells)
    known = [
        s
        for s in instrument_sources(frame, register, only("temperature_stated_sw"))
        if s.term in KNOWN_EFFECTS
    ]
    assert measured(frame, SHADE, middles(known))["sw_in"] == pytest.approx(flux, rel=1e-12)
    # a quarter of class B's 2 % is left, in place of the whole of it
    left = half_widths(only("temperature_sw", "temperature_stated_sw"), "sw_in", frame, register)
    steps = abs(body - at) / 25.0
    assert left == pytest.approx([0.25 * 0.02 / ROOT3 * steps * flux * sensitivity] * 2, rel=1e-6)
    usual = half_widths(only("temperature_sw"), "sw_in", frame)
    assert (left < usual).all()


def test_a_longwave_coefficient_acts_on_the_net_signal_alone():
    frame = segments(body_temperature=45.0, incoming_body_temperature=45.0)
    register = with_cells(lambda _, channel: channel == "lw_in", temperature_coefficient=4.0)
    known = instrument_sources(frame, register, only("temperature_stated_lw"))
    expected = 330.0 + -100.0 * (1.0 / 1.04 - 1.0)
    assert measured(frame, SHADE, middles(known))["lw_in"] == pytest.approx(expected, rel=1e-12)


def test_a_head_at_the_temperature_of_its_calibration_has_no_such_error():
    register = certificates(calibration_temperature=22.0)
    assert half_widths(
        only("temperature_sw", "temperature_lw"), "sw_in", certificate=register
    ) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert half_widths(only("temperature_sw"), "sw_in")[0] > 0.5


# The window -------------------------------------------------------------------------------------------------


def test_a_stated_window_coefficient_is_taken_out_of_its_own_head_alone():
    register = with_cells(lambda _, channel: channel == "lw_in", window_coefficient=0.006)
    terms = only("window", "window_stated")
    sources = instrument_sources(SEGMENTS, register, terms)
    value = measured(SEGMENTS, SHADE, middles(sources))
    assert value["lw_in"] == pytest.approx(330.0 - 0.006 * 800.0)
    usual = measured(SEGMENTS, SHADE, middles(instrument_sources(SEGMENTS, certificates(), terms)))
    assert value["lw_out"] == pytest.approx(usual["lw_out"])
    left = half_widths(terms, "lw_in", certificate=register)
    assert left == pytest.approx([0.3 * 0.006 / ROOT3 * 800.0] * 2)
    assert (left < half_widths(terms, "lw_in")).all()


def test_a_window_that_the_sun_does_not_warm_has_no_error():
    register = with_cells(lambda _, channel: channel.startswith("lw"), window_coefficient=0.0)
    found = half_widths(only("window", "window_stated"), "net_radiation", certificate=register)
    assert found == pytest.approx([0.0, 0.0], abs=1e-12)


# The reference of a laboratory ------------------------------------------------------------------------------

BAND = math.sqrt(0.2) * 0.015
"""Standard uncertainty of the reference's part of 3 %."""


def of_two_laboratories(where, sets=("heron",)):
    return with_cells(where, sets, reference="Lower Lab, tower")


def test_a_common_reference_cancels_in_albedo_and_two_references_do_not():
    terms = only("certificate_band")
    named = certificates(reference="Lower Lab, tower")
    assert half_widths(terms, "albedo", certificate=named) == pytest.approx([0.0, 0.0], abs=1e-12)
    assert half_widths(terms, "albedo") == pytest.approx([0.0, 0.0], abs=1e-12)
    two = of_two_laboratories(lambda _, channel: channel == "sw_out")
    albedo = SEGMENTS["albedo"].to_numpy()
    assert half_widths(terms, "albedo", certificate=two) == pytest.approx(
        albedo * math.sqrt(2.0) * BAND, rel=1e-3
    )


def test_a_common_reference_stays_in_net_radiation():
    """Closed form: the reference moves both shortwave terms, and both net signals, by the same part."""
    net_sw, net_lw = np.array([610.0, 710.0]), np.array([-100.0 - 20.0, -100.0 - 50.0])
    together = BAND * np.hypot(net_sw, net_lw)
    assert half_widths(only("certificate_band"), "net_radiation") == pytest.approx(together)
    two = of_two_laboratories(lambda _, channel: channel == "sw_out")
    apart = BAND * np.sqrt(800.0**2 + np.array([190.0, 90.0]) ** 2 + net_lw**2)
    assert half_widths(only("certificate_band"), "net_radiation", certificate=two) == pytest.approx(apart)


@pytest.mark.parametrize(
    "words, cancels",
    [("Lower Lab, tower", True), ("  lower lab,  Tower ", True), ("Upper Lab", False), ("", False)],
)
def test_sets_of_one_laboratory_share_its_reference_in_their_difference(words, cancels):
    """The first and the fourth walk are alike, of two sets."""
    register = with_cells(lambda name, _: name == "heron", ("heron", "curlew"), reference="Lower Lab, tower")
    register.loc[register["set"] == "curlew", "reference"] = words
    frame = four_walks()
    part = parts(instrument_sources(frame, register, only("certificate_band")), "net_radiation", frame)
    difference = np.sqrt(np.sum((part[:, 0] - part[:, 3]) ** 2))
    one = np.sqrt(np.sum(part[:, 0] ** 2))
    assert one > 1.0
    assert difference == pytest.approx(0.0 if cancels else math.sqrt(2.0) * one, abs=1e-9)


# All together -----------------------------------------------------------------------------------------------


def test_the_report_s_value_is_the_corrected_one_and_the_student_s_is_kept():
    frame = segments(body_temperature=45.0, incoming_body_temperature=45.0)
    register = certificates(temperature_coefficient=2.0, window_coefficient=0.004)
    terms = only("temperature_stated_sw", "temperature_stated_lw", "window_stated")
    made = whole(frame, terms, certificate=register, one_sided="correct").segments
    assert made["sw_in"].tolist() == pytest.approx([800.0 / 1.02] * 2)
    assert made["lw_in"].tolist() == pytest.approx(
        [330.0 - 100.0 * (1 / 1.02 - 1) - 0.004 * 800.0 / 1.02] * 2
    )
    assert made["sw_in_by_hand"].tolist() == [800.0] * 2 and made["lw_in_by_hand"].tolist() == [330.0] * 2
    assert (made["sw_in_low"] < made["sw_in"]).all() and (made["sw_in"] < made["sw_in_high"]).all()
    left = whole(frame, terms, certificate=register, one_sided="leave").segments
    assert left["sw_in"].tolist() == pytest.approx([800.0] * 2)
    assert left["sw_in_low"].tolist() == pytest.approx(made["sw_in_low"].tolist(), rel=1e-6)
