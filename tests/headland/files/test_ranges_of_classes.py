"""Properties of surface classes in campaign.yaml: each end within its bounds; nearest branch of a schema."""

import pytest

from headland.base.errors import UserErrors
from headland.field.sample_text import sheet_of, start_of
from headland.files.schema_errors import _branch_of_most_keys
from headland.files.surfaces import surface_classes

from .made_settings import CONFIG


def classes(**albedo):
    return surface_classes(CONFIG / "surfaces.csv", {"stubble": {"albedo": albedo}})["stubble"]["albedo"]


@pytest.mark.parametrize(
    "albedo",
    [{"value": 0.2, "low": -0.1, "high": 0.3}, {"value": 0.2, "low": 0.1, "high": 1.1}, {"value": 1.2},
     {"value": 0.4, "low": 0.1, "high": 0.3}],
)  # fmt: skip
def test_one_number_out_of_bounds_is_enough_to_refuse(albedo):
    with pytest.raises(UserErrors, match="overrides.surfaces.stubble.albedo"):
        classes(**albedo)


def test_numbers_within_bounds_are_taken():
    own = classes(value=0.22, low=0.2, high=0.25)
    assert (own["value"], own["low"], own["high"]) == (0.22, 0.2, 0.25)


def test_the_branch_with_the_most_of_the_given_keys_is_meant():
    """Where two have as many, the one that lacks fewer of its required keys."""
    one = {"properties": {"column": {}, "unit": {}}, "required": ["column"]}
    two = {"properties": {"column": {}, "factor": {}}, "required": ["column", "factor", "offset"]}
    assert _branch_of_most_keys({"column"}, [two, one]) == 1
    assert _branch_of_most_keys({"column", "factor"}, [one, two]) == 1
    assert _branch_of_most_keys({"unit"}, [two, one]) == 1


def test_a_sample_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(UserErrors, match="no such file"):
        start_of(tmp_path / "nothing.csv")
    (tmp_path / "some.csv").write_text("a,b\n1,2\n")
    assert start_of(tmp_path / "some.csv") == ("a,b\n1,2\n", "utf-8")


def test_a_row_with_half_of_the_usual_numbers_is_data():
    """The first row lacks two of four values; a line of names has none."""
    sheet = sheet_of("a,b,c,d\n1,2,,\n" + "1,2,3,4\n" * 6)
    assert sheet.first == 1 and len(sheet.rows) == 7
    sheet = sheet_of("a,b,c,d\n1,,,\n" + "1,2,3,4\n" * 6)
    assert sheet.first == 2 and len(sheet.rows) == 6
