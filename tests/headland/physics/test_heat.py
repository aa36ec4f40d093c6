"""The balance of groups from that of their visits, by numbers worked out by hand."""

import numpy as np
import pandas as pd
import pytest

from headland.physics import heat


def visits(**changes):
    frame = {
        "fraction": [0.1, 0.3], "offset": [0.0, 0.0], "coefficient": [0.5, 0.5], "day": True,
        "split": "evaporative_fraction", "air_temperature": 20.0, "pressure": 1013.0,
        "method": "class_fraction",
    } | changes  # fmt: skip
    return pd.DataFrame(frame, index=range(2))


def estimated(net=400.0, visit_net=(380.0, 380.0), weights=(300.0, 100.0), reason="", **changes):
    groups = pd.DataFrame({"reason": [reason]})
    found = heat.estimate(
        groups, visits(**changes), np.array([weights]), visit_net=np.array(visit_net), net=np.array([net])
    )
    return {name: float(values[0]) for name, values in found.items()}


def test_a_group_is_the_mean_of_its_visits_by_recorded_time():
    """Ground heat 0.1 and 0.3 of 400 for 3/4 and 1/4 of the time: 60; half of the other 340 is latent."""
    got = estimated(visit_net=(400.0, 400.0))
    assert got["ground_heat"] == pytest.approx(60.0)
    assert got["latent_heat"] == pytest.approx(0.75 * 180.0 + 0.25 * 140.0)
    assert got["sensible_heat"] == pytest.approx(400.0 - 60.0 - 170.0)
    assert got["bowen_ratio"] == pytest.approx(1.0)


def test_what_the_group_s_net_is_above_its_visits_goes_to_each_visit():
    """The visits' mean is 380, the group's 400: each visit has 20 more."""
    assert estimated()["ground_heat"] == pytest.approx(0.75 * 0.1 * 400.0 + 0.25 * 0.3 * 400.0)
    uneven = estimated(visit_net=(340.0, 500.0))
    assert uneven["ground_heat"] == pytest.approx(0.75 * 0.1 * 360.0 + 0.25 * 0.3 * 520.0)


def test_a_visit_without_net_radiation_has_no_part():
    got = estimated(visit_net=(400.0, np.nan))
    assert got["ground_heat"] == pytest.approx(40.0)


def test_the_offset_of_hysteresis_is_part_of_the_ground_heat():
    got = estimated(visit_net=(400.0, 400.0), offset=[-20.0, -60.0])
    assert got["ground_heat"] == pytest.approx(60.0 - 0.75 * 20.0 - 0.25 * 60.0)


@pytest.mark.parametrize("reason, weights", [("melt", (300.0, 100.0)), ("", (0.0, 0.0))])
def test_without_a_reason_to_or_a_visit_nothing_is_estimated(reason, weights):
    assert all(np.isnan(value) for value in estimated(reason=reason, weights=weights).values())


def test_by_night_nothing_is_split():
    assert np.isfinite(estimated(visit_net=(400.0, 400.0))["latent_heat"])
    assert np.isnan(estimated(visit_net=(400.0, 400.0), day=False)["latent_heat"])


@pytest.mark.parametrize("available, known", [(50.1, True), (50.0, False), (20.0, False)])
def test_with_50_available_or_less_green_cover_is_not_split(available, known):
    given = {"day": True, "celsius": 20.0, "pressure": 101.3, "coefficient": 1.26}
    latent = heat.latent_heat(available, split="priestley_taylor", **given)
    assert np.isfinite(latent) == known
    assert np.isfinite(heat.latent_heat(available, split="evaporative_fraction", **given))


@pytest.mark.parametrize(
    "hours, known", [((0.0, 1.5, 3.0), True), ((0.0, 1.5, 2.9), False), ((0.0, 4.0), False)]
)
def test_the_net_s_slope_needs_three_hours_and_three_values(hours, known):
    slope = heat.net_rate(hours, 100.0 + 50.0 * np.array(hours))
    assert slope == pytest.approx(50.0) if known else np.isnan(slope)


def test_what_a_dry_surface_evaporates_all_the_same_is_water_too():
    """Dew on paving: its latent heat has an interval, so has its evaporation (2.45 MJ kg-1 at 20 degC)."""
    assert heat.water_of("none", 20.0) == pytest.approx(3600.0 / 2.454e6, rel=1e-3)
    assert heat.water_of("none", float("nan")) == 0.0
