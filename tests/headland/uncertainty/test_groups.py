"""Fields and surfaces: without errors they are those of steps 6 and 7."""

import numpy as np
import pytest

from headland.uncertainty.groups import QUANTITIES, grouped
from headland.uncertainty.inputs import shade_of
from headland.uncertainty.model import measured

from .made import CARRYING, SEGMENTS, SHADE, grouping, segments


def test_without_errors_the_groups_are_those_of_steps_6_and_7():
    made = grouping()
    groups, result = made.groups, grouped(measured(SEGMENTS, SHADE, {}), made, {})
    for name in QUANTITIES:
        assert result[name][0] == pytest.approx(groups[name].to_numpy(float), rel=1e-10, nan_ok=True), name
    assert np.isfinite(result["latent_heat"]).all() and np.isfinite(result["net_radiation_common_sky"]).all()


def test_several_segments_of_unequal_length_are_averaged_like_step_6():
    frame = segments(
        4,
        ("heron",) * 4,
        ("stubble", "stubble", "paving", "stubble"),
        sw_out=np.array([190.0, 150.0, 90.0, 170.0]),
        sw_in=np.array([800.0, 760.0, 780.0, 840.0]),
        lw_out=np.array([450.0, 440.0, 480.0, 455.0]),
        lw_out_net=0.0,
        weight=np.array([280.0, 100.0, 280.0, 400.0]),
    )
    made = grouping(frame)
    assert made.members.sum(axis=1).tolist() == pytest.approx([1.0, 1.0])
    assert made.sky.sum() == pytest.approx(1.0)
    result = grouped(measured(frame, shade_of(frame, CARRYING), {}), made, {})
    for name in (
        "sw_in",
        "albedo",
        "surface_temperature",
        "net_radiation",
        "net_radiation_common_sky",
        "ground_heat",
        "sensible_heat",
    ):
        assert result[name][0] == pytest.approx(made.groups[name].to_numpy(float), rel=1e-10, nan_ok=True), (
            name
        )
