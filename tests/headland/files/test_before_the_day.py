"""What a campaign folder needs before the day, and what a campaign's own surface class gets by default."""

import pytest

from headland.base.errors import UserErrors
from headland.files import settings
from headland.files.surfaces import surface_classes
from headland.uncertainty.pairs import class_value

from .made_settings import CONFIG, GOOD

OWN = {
    "albedo": 0.3, "emissivity": 0.94, "sky_response": 0.1, "latent_method": "evaporative_fraction",
    "ground_heat_fraction_day": 0.3, "ground_heat_fraction_night": 0.6, "evaporative_fraction": 0.1,
    "surface_minus_air": 5.0,
}  # fmt: skip


def test_before_the_day_no_file_but_the_settings_is_needed(tmp_path):
    (tmp_path / "campaign.yaml").write_text(GOOD)
    got = settings.load(tmp_path, CONFIG, needs=())
    assert got["sets"]["heron"]["raw"] == [] and got["notes_file"] == ""


@pytest.mark.parametrize(
    "needs, said", [("notes", "notes"), ("register", "instruments"), ("raw", "no logger files")]
)
def test_what_is_needed_and_missing_is_named(tmp_path, needs, said):
    (tmp_path / "campaign.yaml").write_text(GOOD)
    with pytest.raises(UserErrors) as caught:
        settings.load(tmp_path, CONFIG, needs=(needs,))
    assert len(caught.value.errors) == 1 and said in str(caught.value)


@pytest.mark.parametrize("key, value", [("air_response", 0.6), ("sun_height_strength", 0.2), ("course", 1.0)])
def test_a_class_of_one_s_own_has_the_common_value_of_what_it_does_not_state(key, value):
    classes = surface_classes(CONFIG / "surfaces.csv", {"sports_turf": OWN})
    assert classes["sports_turf"]["albedo"]["value"] == 0.3
    assert class_value(classes, "sports_turf", key) == value
    stated = surface_classes(CONFIG / "surfaces.csv", {"sports_turf": OWN | {key: 0.5}})
    assert class_value(stated, "sports_turf", key) == 0.5
