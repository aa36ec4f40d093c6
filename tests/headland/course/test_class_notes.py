"""Several people's notes of one walk."""

import math

import pandas as pd
import pytest

from headland.course import class_notes
from headland.course.rerun import Outcome


def noted(*rows) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "segment": f"{s}-{a}",
                "set": s,
                "start_utc": pd.Timestamp(f"2026-05-21 {a}", tz="UTC"),
                "end_utc": pd.Timestamp(f"2026-05-21 {b}", tz="UTC"),
                "surface": surface,
                "field": "Yard",
                "activity": "walk",
            }
            for s, a, b, surface in rows
        ]
    )


REFERENCE = noted(("heron", "10:00:00", "10:02:00", "paving"), ("heron", "10:10:00", "10:12:00", "gravel"))


def test_spread_labels_and_gaps():
    anna = noted(
        ("heron", "09:59:50", "10:02:10", "paving"),
        ("heron", "10:10:00", "10:12:00", "stubble"),
        ("plover", "10:00:00", "10:02:00", "snow"),
    )
    bela = noted(("heron", "10:00:20", "10:02:00", "paving"))
    found = class_notes.intervals(REFERENCE, {"anna": anna, "bela": bela}).set_index("surface")
    yard = found.loc["paving"]
    assert (
        yard["noted_by"],
        yard["start_earliest"],
        yard["start_latest"],
        yard["end_latest"],
        yard["other_labels"],
    ) == (2, -10.0, 20.0, 10.0, "")
    assert yard["start_sd"] == pytest.approx(30 / math.sqrt(2))
    assert (
        found.loc["gravel", "noted_by"],
        found.loc["gravel", "missed_by"],
        found.loc["gravel", "other_labels"],
    ) == (1, "bela", "anna: stubble")


def test_the_partner_is_the_one_that_overlaps_most():
    row = REFERENCE.iloc[0].to_dict()
    assert (
        class_notes.partner(
            row, noted(("heron", "09:50:00", "10:00:30", "snow"), ("heron", "10:00:10", "10:02:00", "paving"))
        )["surface"]
        == "paving"
    )
    assert class_notes.partner(row, noted(("heron", "11:00:00", "11:02:00", "paving"))) is None
    assert class_notes.partner(row, REFERENCE.iloc[:0]) is None


def test_effects_and_their_spread():
    def of(**net):
        return Outcome(pd.DataFrame(), pd.DataFrame({"net_radiation": net}))

    effects = class_notes.effects(
        of(paving=500.0, gravel=450.0),
        {"anna": of(paving=510.0, stubble=480.0), "bela": of(paving=495.0, gravel=450.0)},
    )
    assert effects[(effects["who"] == "anna") & (effects["surface"] == "paving")]["difference"].tolist() == [
        10.0
    ]
    assert math.isnan(
        effects[(effects["who"] == "anna") & (effects["surface"] == "gravel")]["net_radiation"].iloc[0]
    )
    spread = class_notes.spread(effects).set_index("surface")
    assert (
        spread.loc["paving", "people"],
        spread.loc["paving", "lowest"],
        spread.loc["paving", "highest"],
    ) == (2, 495.0, 510.0)
