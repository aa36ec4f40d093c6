"""The balance of a campaign of several days is that of its visits, each with its own weather and hour."""

import numpy as np
import pandas as pd
import pytest

import chain
from headland.base.groups import GROUPINGS
from headland.chain import balance, measured, summarise, weather
from headland.files import step_settings
from headland.physics import heat, sun
from simulate import specs
from simulate.campaign import simulate
from simulate.spec import Sky

SPECS = {
    "two days": specs.two_days(sky=Sky()),
    "south of the equator": specs.southern(),
    "over midnight": specs.over_midnight(),
}
TERMS = ("ground_heat", "sensible_heat", "latent_heat", "evaporation")


@pytest.fixture(scope="module", params=SPECS)
def campaign(request, tmp_path_factory):
    """Segments, class properties, weather and settings of a campaign, with what step 7 makes of them."""
    folder = simulate(SPECS[request.param]).write(tmp_path_factory.mktemp("campaign") / "campaign")
    outcome = chain.run(folder, to="summarise")
    return outcome, balanced(outcome, outcome.segments)


def balanced(outcome, segments):
    """Step 7 on some of the segments, as if they were a campaign of their own."""
    surfaces = outcome.surfaces
    sky = summarise.reference_sky(segments)
    means = {kind: summarise.groups(segments, by, surfaces, sky) for kind, by in GROUPINGS.items()}
    settings, outside = step_settings.balance(outcome.settings), measured.only_weather(outcome.air)
    return balance.run(segments, means, surfaces, outside, settings).tables


def parts(segments):
    """The segments in three campaigns, one after the other in time."""
    order = segments.sort_values("start_utc", kind="stable")
    cuts = [len(order) // 3, 2 * len(order) // 3]
    return [order.iloc[a:b].sort_index() for a, b in zip([0, *cuts], [*cuts, len(order)], strict=True)]


def test_each_visit_is_what_a_campaign_of_its_own_gives(campaign):
    outcome, made = campaign
    apart = pd.concat([balanced(outcome, part)["visits_balance"] for part in parts(outcome.segments)])
    whole = made["visits_balance"].sort_values("segment").reset_index(drop=True)
    apart = apart.sort_values("segment").reset_index(drop=True)
    pd.testing.assert_frame_equal(whole, apart, check_dtype=False)
    assert len(whole) > 6


def test_a_surface_has_the_mean_of_its_visits_by_recorded_time(campaign):
    _, made = campaign
    visits, surfaces = made["visits_balance"], made["surfaces_balance"]
    compared = 0
    for row in surfaces.to_dict("records"):
        own = visits[visits["surface"] == row["surface"]]
        if row["reason"] or (own["reason"] != "").any():
            continue
        for term in TERMS:
            if np.isfinite(own[term]).all():
                expected = np.average(own[term], weights=own["weight"])
                assert row[term] == pytest.approx(expected, abs=1e-9), (row["surface"], term)
                compared += 1
    assert compared


def test_weather_hour_and_day_are_those_of_the_visit(campaign):
    outcome, made = campaign
    visits = made["visits_balance"]
    middle = visits["start_utc"] + (visits["end_utc"] - visits["start_utc"]) / 2
    air = weather.at(middle, outcome.air, {})
    assert visits["air_temperature"].to_numpy() == pytest.approx(air["air_temperature"])
    assert set(visits["air_source"]) == {"weather.csv"}
    site = outcome.settings["site"]
    noon = sun.seconds_after_noon(middle, site["longitude"]) / 3600.0
    assert visits["after_noon"].to_numpy() == pytest.approx(noon)
    up, _ = sun.position(middle, site["latitude"], site["longitude"], site["elevation"])
    assert visits["day"].tolist() == (up > 0).tolist()


def test_a_day_and_a_night_on_one_surface_have_a_ground_heat_flux_and_no_split():
    """Short grass: 0.1 of 400 W m-2 for an hour, half of -60 W m-2 for three: -12.5 W m-2."""
    table = pd.DataFrame(
        {
            "fraction": [0.1, 0.5],
            "offset": 0.0,
            "coefficient": 1.08,
            "split": "priestley_taylor",
            "day": [True, False],
            "air_temperature": 20.0,
            "pressure": 1013.0,
        }
    )
    net = np.array([400.0, -60.0])
    found = heat.estimate(
        pd.DataFrame({"reason": [""]}), table, np.array([[1.0, 3.0]]), visit_net=net, net=np.array([55.0])
    )
    assert found["ground_heat"][0] == pytest.approx((40.0 - 3 * 30.0) / 4.0)
    assert np.isnan(found["latent_heat"][0]) and np.isnan(found["sensible_heat"][0])


def test_what_a_group_has_beyond_its_visits_goes_to_each_of_them():
    """Step 8 adds the ground not walked to the group: 10 W m-2 more on both visits."""
    table = pd.DataFrame(
        {
            "fraction": [0.1, 0.3],
            "offset": [0.0, -20.0],
            "coefficient": [0.5, 0.2],
            "split": "evaporative_fraction",
            "day": True,
            "air_temperature": 20.0,
            "pressure": 1013.0,
        }
    )
    net = np.array([400.0, 200.0])
    found = heat.estimate(
        pd.DataFrame({"reason": [""]}), table, np.array([[1.0, 1.0]]), visit_net=net, net=np.array([310.0])
    )
    ground = np.array([0.1 * 410.0, 0.3 * 210.0 - 20.0])
    latent = np.array([0.5, 0.2]) * (np.array([410.0, 210.0]) - ground)
    assert found["ground_heat"][0] == pytest.approx(ground.mean())
    assert found["latent_heat"][0] == pytest.approx(latent.mean())
    assert found["sensible_heat"][0] == pytest.approx(310.0 - ground.mean() - latent.mean())
