"""What answers are compared with: numbers that students get by hand, within intervals that reach to both."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.course import checking

NAN = np.nan


def reported(kind, name):
    return pd.DataFrame(
        {
            kind: [name, "other"],
            "albedo": [0.2, NAN],
            "albedo_low": [0.18, NAN],
            "albedo_high": [0.22, NAN],
            "net_radiation": [480.0, 300.0],
            "net_radiation_low": [470.0, 290.0],
            "net_radiation_high": [490.0, 310.0],
            "samples": [100, 200],
        }
    )


def followed(name):
    index = pd.Index(["other", name, "third"])
    return pd.DataFrame({"albedo": [0.3, 0.25, 0.1], "net_radiation": [NAN, 460.0, 1.0]}, index=index)


def test_numbers_by_hand_take_the_place_of_best_estimates_within_wider_intervals():
    """Where a number by hand is unknown the reported one stays; where none is reported there is none."""
    made = checking.by_hand(reported("surface", "paving"), followed("paving")).set_index("surface")
    row = made.loc["paving"]
    assert (row["albedo"], row["albedo_low"], row["albedo_high"]) == (0.25, 0.18, 0.25)
    assert (row["net_radiation"], row["net_radiation_low"], row["net_radiation_high"]) == (
        460.0,
        460.0,
        490.0,
    )
    assert row["samples"] == 100
    other = made.loc["other"]
    assert np.isnan(other["albedo"]) and np.isnan(other["albedo_low"])
    assert (other["net_radiation"], other["net_radiation_low"]) == (300.0, 290.0)


@pytest.fixture
def reference(monkeypatch):
    """Made of one slip and two findings that say the same, with everything else as it would be."""
    right = SimpleNamespace(segments=followed("h-1"), surfaces=followed("paving"))
    wrong = SimpleNamespace()
    found = [Finding("notes-incomplete", set="heron", line=n) for n in (4, 4)]
    monkeypatch.setattr(checking, "slips_of", lambda survey: [("emission-twice", "slip")])
    monkeypatch.setattr(checking, "through", lambda survey, slip, made: wrong if slip == "slip" else right)
    monkeypatch.setattr(checking, "two_slips", lambda survey, slips, outcomes: (slips, outcomes))
    monkeypatch.setattr(checking, "withholding", lambda survey, segments, kind, item, quantity: found)
    monkeypatch.setattr(checking.findings, "describe", lambda finding, step, sentences: {"what": "Why."})
    tables = {"segments": reported("segment", "h-1"), "surfaces": reported("surface", "paving")}
    tables["questions"] = pd.DataFrame({"question": ["q1"], "value": [2.0]})
    return checking.reference_of(None, tables, {"paving": "pavement"}, attempt=3), tables


def test_a_reference_has_each_table_by_hand_and_the_questions_as_they_are(reference):
    made, tables = reference
    got = {name: table for name, table in made.by_name.items()}
    assert got["segments"].loc["h-1", "albedo"] == 0.25 and got["surfaces"].loc["paving", "albedo"] == 0.25
    assert got["questions"].loc["q1", "value"] == 2.0
    assert made.attempt == 3 and made.labels == {"paving": "pavement"}
    assert [code for code, _ in made.wrong] == ["emission-twice"]
    assert made.reasons("surfaces", "paving", "albedo") == ["Why."]
    assert tables["surfaces"]["albedo"].iloc[0] == 0.2  # what users get is not changed


def test_slips_have_names_and_quantities_formulas():
    slips, formulas = checking.known_slips(), checking.formulas()
    assert {"emission-twice", "wrong-sign", "factor-outdated"} <= set(slips)
    assert slips["wrong-sign"]["code"] == "wrong-sign"
    assert "albedo" in formulas and "net_radiation" in formulas and all(formulas.values())
