"""What shares an error cancels in a difference, and what does not share it does not."""

import math

import numpy as np
import pytest

from headland.uncertainty.directional import directional_components
from headland.uncertainty.inputs import shade_of
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources

from .made import CARRYING, certificates, drawn, only, segments


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
