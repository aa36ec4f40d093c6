"""What the notes alone show of the ground, a made case on both sides of each limit."""

import pandas as pd
import pytest

from headland.checks.ground_noted import ground_noted


def noted(*rows):
    """Noted intervals: walks on one meadow from 1.5 m, unless given otherwise."""
    usual = {
        "set": "heron",
        "field": "Meadow",
        "surface": "short_grass",
        "activity": "walk",
        "height": 1.5,
        "width": float("nan"),
        "canopy_height": float("nan"),
    }
    return pd.DataFrame(
        [{**usual, "segment": f"heron-{n}", "notes_row": n, **row} for n, row in enumerate(rows, 2)]
    )


def codes(*rows, walks=True):
    return [(f.code, f.variant) for f in ground_noted(noted(*rows), walks)]


def test_a_field_with_two_surfaces_is_named_once():
    (found,) = ground_noted(noted({}, {}, {"surface": "tall_crop"}), True)
    assert (found.code, found.variant, found.line) == ("field-inconsistent", "surfaces", 4)
    assert found.facts["rare"] == "tall_crop" and found.facts["lines"] == "4"


def test_two_fields_with_a_surface_each_are_sound():
    assert codes({}, {"field": "Crop", "surface": "tall_crop"}) == []
    assert codes({}, {"activity": "side_by_side", "surface": "paving"}) == []


def test_a_strip_narrower_than_the_view_is_named_once():
    (found,) = ground_noted(noted({"width": 3.0}, {"width": 3.0}), True)
    assert found.code == "strip-narrow" and found.facts["count"] == 2
    assert found.facts["share"] == "29"  # 1 - 1.5 / sqrt(1.5^2 + 1.5^2)


@pytest.mark.parametrize(
    "width, height, expected", [(3.9, 1.5, 1), (4.1, 1.5, 0), (3.0, 1.0, 0), (0.0, 1.5, 0)]
)
def test_a_strip_as_wide_as_the_view_is_sound(width, height, expected):
    assert len(codes({"width": width, "height": height})) == expected


@pytest.mark.parametrize("height, expected", [(0.05, [""]), (0.15, ["near"]), (0.95, ["near"]), (1.05, [])])
def test_a_low_head_is_named_by_its_height(height, expected):
    assert codes({"height": height}) == [("head-too-low", variant) for variant in expected]
    assert codes({"height": height}, walks=False) == []


def test_a_low_head_is_named_once_for_each_set_and_field_at_its_lowest():
    low = {"height": 0.05, "field": "Crop"}
    rows = noted({"height": 0.08}, {"height": 0.06}, low, low | {"set": "plover"}, {})
    found = ground_noted(rows, True)
    assert [(f.set, f.facts["field"], f.facts["count"], f.facts["height"], f.line) for f in found] == [
        ("heron", "Meadow", 2, "0.06", 2), ("heron", "Crop", 1, "0.05", 4), ("plover", "Crop", 1, "0.05", 5),
    ]  # fmt: skip
