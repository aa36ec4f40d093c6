"""What shares an error cancels in a difference, and what does not share it does not."""

import math

import numpy as np
import pytest

from headland.physics.constants import RADIATION
from headland.uncertainty.directional import directional_components
from headland.uncertainty.draws import one_at_a_time, scores
from headland.uncertainty.inputs import shade_of
from headland.uncertainty.linear import contributions
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources

from .made import CARRYING, TERMS, VISITS, certificates, drawn, four_walks, only, segments


def spread_of_difference(terms, name, sets):
    frame = segments(sets=sets, surfaces=("stubble", "stubble"), sw_out=190.0, lw_out=450.0, lw_out_net=20.0)
    draws = measured(
        frame,
        shade_of(frame, CARRYING),
        drawn(instrument_sources(frame, certificates(dict.fromkeys(sets)), terms), 1, 2000),
    )[name]
    return np.std(draws[:, 0] - draws[:, 1]), np.std(draws[:, 0])


@pytest.mark.parametrize(
    "terms",
    [
        ("certificate_band", "certificate_sensor"),
        ("drift_sw", "drift_lw"),
        ("temperature_sw", "temperature_lw"),
        ("zero",),
        ("cooling",),
        ("body_gradient",),
        ("window",),
        ("levelling",),
        ("directional_B",),
        ("own_shade",),
        ("carrier_reflection",),
        ("carrier_warmth",),
    ],
)
def test_what_one_set_shares_cancels_in_a_difference(terms):
    difference, one = spread_of_difference(only(*terms), "net_radiation", ("heron", "heron"))
    assert one > 0.01 and difference < 1e-6 * one


@pytest.mark.parametrize(
    "terms, ratio",
    [
        (("certificate_sensor",), math.sqrt(2.0)),
        (("zero",), math.sqrt(2.0)),
        (("body_gradient",), math.sqrt(2.0)),
    ],
)
def test_what_two_sets_do_not_share_does_not(terms, ratio):
    difference, one = spread_of_difference(only(*terms), "net_radiation", ("heron", "curlew"))
    assert difference / one == pytest.approx(ratio, rel=0.08)


def test_the_band_s_reference_is_shared_by_two_sets():
    difference, one = spread_of_difference(only("certificate_band"), "net_radiation", ("heron", "curlew"))
    assert one > 1.0 and difference < 1e-6 * one


def test_the_directional_error_forgets_itself_over_20_degrees_whatever_else_was_visited():
    up, azimuth = np.array([50.0, 50.0, 52.0, 30.0]), np.array([100.0, 130.0, 101.0, 250.0])
    components = directional_components(up, azimuth)
    vectors = np.stack(
        [
            np.cos(np.radians(up)) * np.sin(np.radians(azimuth)),
            np.cos(np.radians(up)) * np.cos(np.radians(azimuth)),
            np.sin(np.radians(up)),
        ],
        axis=1,
    )
    angle = np.degrees(np.arccos(np.clip(vectors @ vectors.T, -1, 1)))
    assert components @ components.T == pytest.approx(np.exp(-0.5 * (angle / 20.0) ** 2), abs=0.04)
    assert components[1:] == pytest.approx(directional_components(up[1:], azimuth[1:]))


# What shares an error ---------------------------------------------------------------------------------------


def correlations(term, name, frame, beside=()):
    """Correlation of the first walk with each of the others, by the sources of one term."""
    register = certificates(("heron", "curlew"))
    if term.startswith("default"):
        register = certificates(("heron", "curlew"), expanded_uncertainty_percent=np.nan)
    sources = instrument_sources(frame, register, only(term, *beside))
    shifted = measured(frame, shade_of(frame, CARRYING), one_at_a_time(sources))
    mine = [number for number, source in enumerate(sources) if source.term == term]
    part = contributions(shifted)[name][mine]
    covariance = part.T @ part
    assert covariance[0, 0] > 0.0, "the term does nothing"
    return covariance[0, 1:] / np.sqrt(covariance[0, 0] * np.diag(covariance)[1:])


BY_ALL, BY_SET, BY_DAY, BY_NONE = (1.0, 1.0, 1.0), (1.0, 1.0, 0.0), (1.0, 0.0, 0.0), (0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    "term, name, shared",
    [
        ("certificate_band", "sw_in", BY_ALL),
        ("certificate_band", "lw_out", BY_ALL),
        ("certificate_sensor", "sw_in", BY_SET),
        ("certificate_sensor", "lw_in", BY_SET),
        ("default_sensor_sw", "sw_out", BY_SET),
        ("default_sensor_lw", "lw_out", BY_SET),
        ("drift_sw", "sw_out", BY_SET),
        ("drift_lw", "lw_in", BY_SET),
        ("spectral_lw", "lw_out", BY_SET),
        ("spectral_reflected", "sw_out", BY_SET),
        ("temperature_sw", "sw_in", BY_SET),
        ("temperature_lw", "lw_out", BY_SET),
        ("zero", "sw_in", BY_SET),
        ("zero_lw", "lw_out", BY_SET),
        ("logger_zero", "lw_in", BY_SET),
        ("logger_gain", "sw_out", BY_SET),
        ("response", "lw_in", BY_SET),
        ("directional_B", "sw_in", BY_SET),
        ("levelling", "sw_in", BY_DAY),
        ("cooling", "sw_in", BY_SET),
        ("body_temperature", "lw_in", BY_SET),
        ("body_gradient", "lw_in", BY_SET),
        ("window", "lw_in", BY_SET),
        ("window", "lw_out", BY_SET),
        ("own_shade", "sw_out", BY_SET),
        ("carrier_reflection", "sw_out", BY_SET),
        ("carrier_lit", "sw_out", BY_SET),
        ("levelling_pass", "sw_in", BY_NONE),
        ("carrier_warmth", "lw_out", BY_SET),
        ("noise", "sw_in", BY_NONE),
        ("noise", "lw_out", BY_NONE),
    ],
)
def test_what_shares_each_error(term, name, shared):
    frame = four_walks(heading=170.0, **{f"{kind}_{c}": 0.5 for kind in ("rate", "noise") for c in RADIATION})
    assert correlations(term, name, frame) == pytest.approx(shared, abs=1e-9)


@pytest.mark.parametrize("term", ["diffuse_fraction", "heading"])
def test_the_sky_and_an_unknown_heading_are_new_in_each_segment(term):
    frame = four_walks(heading=np.nan if term == "heading" else 170.0)
    assert correlations(term, "sw_out", frame, ("own_shade",)) == pytest.approx(BY_NONE, abs=1e-9)


def test_a_set_s_stick_is_on_one_side_all_day():
    frame = four_walks(heading=110.0)
    found = correlations("stick_side", "sw_out", frame, ("own_shade",))
    assert np.abs(found) == pytest.approx(BY_SET, abs=1e-9)


def test_each_source_has_a_name_and_so_numbers_of_its_own():
    """Levelling along and across the walk, the days and all sensors among them."""
    frame = four_walks(heading=np.nan, **{f"{k}_{c}": 0.5 for k in ("rate", "noise") for c in RADIATION})
    names = [source.name for source in instrument_sources(frame, certificates(("heron", "curlew")), TERMS)]
    assert len(set(names)) == len(names)
    assert {f"levelling|heron/2026-05-{day}/{way}" for day in (21, 22) for way in ("along", "across")} <= set(
        names
    )


def test_without_a_certificate_s_figure_the_band_s_part_is_shared_as_well():
    register = certificates(("heron", "curlew"), expanded_uncertainty_percent=np.nan)
    sources = instrument_sources(four_walks(), register, only("default_band_sw"))
    assert [source.name for source in sources if source.shift["factor_" + source.unit + "_in"].any()] == [
        "certificate_band|sw"
    ]
    for error in ("factor_sw_in", "factor_sw_out"):
        assert sources[0].shift[error].tolist() == pytest.approx([0.007] * 4)


def test_a_band_s_reference_is_not_that_of_the_other_band():
    frame = four_walks()
    sources = instrument_sources(frame, certificates(("heron", "curlew")), only("certificate_band"))
    reached = {source.unit: {name for name, size in source.shift.items() if size.any()} for source in sources}
    assert reached == {"sw": {"factor_sw_in", "factor_sw_out"}, "lw": {"factor_lw_in", "factor_lw_out"}}


def test_a_thermometer_is_shared_by_both_longwave_heads_of_a_set():
    sources = instrument_sources(four_walks(), certificates(("heron", "curlew")), only("body_temperature"))
    thermometers = [source for source in sources if source.term == "body_temperature"]
    assert [source.unit for source in thermometers] == ["heron", "curlew"]
    for source in thermometers:
        mine = [0.4 / math.sqrt(3.0) * (name == source.unit) for name, _ in VISITS]
        assert source.shift["body_lw_in"].tolist() == source.shift["body_lw_out"].tolist()
        assert source.shift["body_lw_in"].tolist() == pytest.approx(mine)


def test_the_directional_error_cancels_only_under_a_similar_sun():
    """20 degrees apart the correlation is exp(-1/2), 60 degrees apart 1 %."""
    frame = four_walks(
        solar_elevation=np.array([50.0, 50.0, 30.0, 50.0]),
        solar_azimuth=np.array([170.0, 170.0, 170.0, 80.0]),
    ).assign(set="heron", incoming_set="heron", diffuse_fraction=0.0)
    sources = instrument_sources(frame, certificates(), only("directional_B"))
    part = contributions(measured(frame, np.zeros_like, one_at_a_time(sources)))["sw_in"]
    scaled = part / np.linalg.norm(part, axis=0)
    assert scaled[:, 0] @ scaled[:, 1:] == pytest.approx([1.0, math.exp(-0.5), 0.024], abs=0.04)


def test_a_head_that_turned_has_another_directional_error():
    """Carried back, the head has the sun on its other side: nothing cancels. Without a heading, neither."""
    heading = np.array([80.0, 80.0, 260.0, np.nan])
    frame = four_walks(heading=heading, incoming_heading=heading).assign(
        set="heron", incoming_set="heron", diffuse_fraction=0.0
    )
    sources = instrument_sources(frame, certificates(), only("directional_B"))
    part = contributions(measured(frame, np.zeros_like, one_at_a_time(sources)))["sw_in"]
    size = np.linalg.norm(part, axis=0)
    assert size == pytest.approx([size[0]] * 4)
    assert (part / size)[:, 0] @ (part / size)[:, 1:] == pytest.approx([1.0, 0.0, 0.0], abs=0.04)


def test_a_sky_monitor_is_not_levelled_anew_in_each_walk_of_another_set():
    frame = segments(2).assign(incoming_set=["heron", "curlew"])
    sources = instrument_sources(frame, certificates(("heron", "curlew")), only("levelling_pass"))
    units = {source.unit for source in sources if source.term == "levelling_pass"}
    assert units == {"s0/along", "s0/across"}


def test_the_components_of_a_directional_error_share_a_rectangular_size():
    sources = instrument_sources(four_walks(), certificates(("heron", "curlew")), only("directional_B"))
    directional = [source for source in sources if source.term == "directional_B"]
    assert {source.amplitude for source in directional} == {"directional|heron", "directional|curlew"}
    of_heron = [source for source in directional if source.unit.startswith("heron/")]
    xi = scores(of_heron, 1, 20_000)
    # a size up to sqrt 3 times a normal number: mean square 1, mean fourth power 3 * 9/5
    assert np.mean(xi**2) == pytest.approx(1.0, abs=0.01) and np.mean(xi**4) == pytest.approx(5.4, abs=0.2)
    # what shares a size is small or large together
    assert np.corrcoef(xi[0] ** 2, xi[1] ** 2)[0, 1] == pytest.approx(0.8 / (5.4 - 1.0), abs=0.03)
