"""Fields and surfaces: without errors they are those of steps 6 and 7."""

import numpy as np
import pytest

from headland.uncertainty.groups import QUANTITIES, group_name, grouped, grouping_of, weighted_mean
from headland.uncertainty.inputs import shade_of
from headland.uncertainty.model import measured

from .made import CARRYING, SEGMENTS, SHADE, grouping, segments, visits


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


# Errors of a group ------------------------------------------------------------------------------------------


def change(**errors):
    """What errors of groups do to each quantity of stubble and paving, 800 W m-2 of sun on both."""
    made, flux = grouping(), measured(SEGMENTS, SHADE, {})
    order = made.groups["surface"].tolist()
    assert order == sorted(order)  # paving, stubble
    rows = {name: np.full((1, 2), size) for name, size in errors.items()}
    before, after = grouped(flux, made, {}), grouped(flux, made, rows)
    return {name: (after[name] - before[name])[0] for name in QUANTITIES}


def test_the_ground_s_shortwave_error_is_in_albedo_and_net_as_well():
    found = change(ground_sw_out=8.0)
    assert found["sw_out"] == pytest.approx([8.0, 8.0])
    assert found["albedo"] == pytest.approx([0.01, 0.01])
    assert found["net_radiation"] == pytest.approx([-8.0, -8.0])
    assert found["lw_out"] == pytest.approx([0.0, 0.0]) and found["surface_temperature"] == pytest.approx(0.0)


def test_the_ground_s_longwave_error_is_in_temperature_and_net():
    found = change(ground_lw_out=5.0)
    assert found["lw_out"] == pytest.approx([5.0, 5.0]) and found["net_radiation"] == pytest.approx(
        [-5.0] * 2
    )
    kelvin = 273.15 + grouping().groups["surface_temperature"].to_numpy()
    slope = 1.0 / (np.array([0.95, 0.96]) * 4.0 * 5.670374e-8 * kelvin**3)
    assert found["surface_temperature"] == pytest.approx(5.0 * slope, rel=0.02)
    assert found["albedo"] == pytest.approx([0.0, 0.0])


def test_table_errors_of_the_energy_balance_by_hand():
    """Paving: G = 0.5 net, no latent heat. Stubble: G = 0.12 net, LE = 0.35 of what is left."""
    net = grouping().groups["net_radiation"].to_numpy()
    ground = change(ground_heat_fraction=0.1)
    assert ground["ground_heat"] == pytest.approx(0.1 * net)
    assert ground["latent_heat"] == pytest.approx([0.0, -0.35 * 0.1 * net[1]], abs=1e-9)
    assert ground["sensible_heat"] == pytest.approx([-0.1 * net[0], -0.65 * 0.1 * net[1]])
    latent = change(latent_heat_fraction=0.1)
    assert latent["latent_heat"] == pytest.approx([0.0, 0.1 * 0.88 * net[1]], abs=1e-9)
    assert latent["sensible_heat"] == pytest.approx([0.0, -0.1 * 0.88 * net[1]], abs=1e-9)
    assert latent["net_radiation"] == pytest.approx([0.0, 0.0])


def under_two_skies(**errors):
    """Walks under 700 and 900 W m-2 of sun, 320 and 340 of longwave: the common sky is 800 and 330."""
    frame = segments(
        sw_in=np.array([700.0, 900.0]), sw_out=np.array([140.0, 90.0]), lw_in=np.array([320.0, 340.0])
    )
    made = grouping(frame)  # paving has the second walk, and comes first
    rows = {name: np.full((1, 2), size) for name, size in errors.items()}
    return grouped(measured(frame, shade_of(frame, CARRYING), {}), made, rows)


def test_the_common_sky_by_hand():
    """net + (1 - albedo) (1 - lambda) (SW_ref - SW_in) + eps (L_ref - L_in)."""
    found = under_two_skies()
    paving = (900.0 - 90.0 + 340.0 - 480.0) + 0.9 * 0.85 * -100.0 + 0.95 * -10.0
    stubble = (700.0 - 140.0 + 320.0 - 450.0) + 0.8 * 0.88 * 100.0 + 0.96 * 10.0
    assert found["net_radiation_common_sky"][0] == pytest.approx([paving, stubble])


@pytest.mark.parametrize(
    "error, size, expected",
    [
        ("sky_response", 0.05, [0.9 * 0.05 * 100.0, -0.8 * 0.05 * 100.0]),
        ("emissivity_group", 0.02, [0.02 * -10.0, 0.02 * 10.0]),
        ("sky_memory", 30.0, [0.9 * 30.0, 0.8 * 30.0]),
        ("ground_lw_out", 5.0, [-5.0, -5.0]),
    ],
)
def test_errors_under_the_common_sky_by_hand(error, size, expected):
    changed = under_two_skies(**{error: size})["net_radiation_common_sky"]
    assert (changed - under_two_skies()["net_radiation_common_sky"])[0] == pytest.approx(expected)


def test_without_errors_the_common_sky_of_one_visit_is_its_own():
    frame = segments(1, ("heron",), ("stubble",))
    found = grouped(measured(frame, shade_of(frame, CARRYING), {}), grouping(frame), {})
    assert found["net_radiation_common_sky"] == pytest.approx(found["net_radiation"])


def test_one_draw_beyond_the_limit_keeps_the_common_sky_and_a_value_beyond_it_has_none():
    frame = segments(sw_in=np.array([700.0, 900.0]), sw_out=np.array([140.0, 90.0]))
    made = grouping(frame)
    assert np.isfinite(made.groups["net_radiation_common_sky"]).all()
    far = segments(sw_in=np.array([300.0, 900.0]), sw_out=np.array([60.0, 90.0]))
    unknown = grouped(measured(far, shade_of(far, CARRYING), {}), grouping(far), {})
    assert np.isnan(unknown["net_radiation_common_sky"]).all()
    assert np.isfinite(unknown["net_radiation"]).all()


def test_a_segment_without_a_value_does_not_count_in_a_mean():
    values, weights = np.array([[1.0, np.nan, 4.0]]), np.array([[0.5, 0.3, 0.2], [0.0, 1.0, 0.0]])
    found = weighted_mean(values, weights)
    assert found[0, 0] == pytest.approx((0.5 * 1.0 + 0.2 * 4.0) / 0.7) and np.isnan(found[0, 1])


def test_what_serves_the_instruments_is_in_no_group_and_no_sky():
    frame = segments(
        3, ("heron",) * 3, ("stubble", "stubble", "paving"), sw_out=1.0, lw_out=450.0, lw_out_net=0.0
    )
    made = grouping(frame)
    frame = frame.assign(activity=["walk", "side_by_side", "walk"])
    standing = grouping_of(frame, made.groups, ["surface"], visits(frame))
    assert standing.members.tolist() == [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]
    assert standing.sky.tolist() == pytest.approx([0.5, 0.0, 0.5])
    assert group_name({"surface": "stubble", "field": "f1"}) == "stubble/f1"
