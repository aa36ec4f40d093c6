"""Surface classes that campaign.yaml changes or adds."""

import pytest

from headland.base.errors import UserErrors
from headland.files.surfaces import surface_classes

from .made_settings import CONFIG, fault


def classes(overrides):
    return surface_classes(CONFIG / "surfaces.csv", overrides)


def test_an_override_keeps_the_range_or_widens_it():
    entry = classes({"stubble": {"albedo": 0.20}})["stubble"]["albedo"]
    assert (entry["value"], entry["low"], entry["high"], entry["how"], entry["source"]) == (
        0.20,
        0.15,
        0.35,
        "override",
        "campaign.yaml",
    )
    entry = classes({"stubble": {"albedo": 0.40}})["stubble"]["albedo"]
    assert (entry["value"], entry["low"], entry["high"]) == (0.40, 0.15, 0.40)
    entry = classes({"stubble": {"albedo": {"value": 0.3, "low": 0.29, "high": 0.31, "source": "own"}}})[
        "stubble"
    ]["albedo"]
    assert (entry["low"], entry["high"], entry["source"]) == (0.29, 0.31, "own")
    assert classes({})["stubble"]["albedo"]["value"] == 0.24


GRAVEL = {
    "albedo": 0.2,
    "emissivity": 0.95,
    "latent_method": "none",
    "sky_response": 0.15,
    "surface_minus_air": 10,
}


def test_a_class_of_one_s_own():
    entry = classes(
        {"clay_court": {**GRAVEL, "ground_heat_fraction_day": 0.3, "ground_heat_fraction_night": 0.6}}
    )["clay_court"]
    assert (
        entry["label"]["value"] == "clay court" and entry["albedo"]["low"] == entry["albedo"]["high"] == 0.2
    )


def test_a_class_of_one_s_own_without_all_its_values(campaign):
    error = fault(campaign, "carrying:\n", "overrides:\n  surfaces:\n    stubbel: {albedo: 0.2}\ncarrying:\n")
    assert error.line == 17 and "emissivity" in error.found and 'did you mean "stubble"' in error.expected


def test_a_class_whose_split_needs_a_coefficient_must_bring_it():
    """Without it the balance and the report would have nothing to take."""
    with pytest.raises(UserErrors, match="evaporative_fraction"):
        classes(
            {
                "clay_court": {
                    **GRAVEL,
                    "latent_method": "evaporative_fraction",
                    "ground_heat_fraction_day": 0.3,
                    "ground_heat_fraction_night": 0.6,
                }
            }
        )


@pytest.mark.parametrize(
    "override",
    [
        {"latent_method": "magic"},
        {"emissivity": 1.2},
        {"emissivity": 0.0},
        {"emissivity": -0.5},
        {"albedo": 3.0},
    ],
)
def test_a_value_that_means_nothing_is_refused(override):
    with pytest.raises(UserErrors):
        classes({"stubble": override})


def test_a_class_brings_both_ground_heat_fractions_or_none():
    with pytest.raises(UserErrors, match="ground_heat_fraction_night"):
        classes({"snow": {"ground_heat_fraction_day": 0.1}})
