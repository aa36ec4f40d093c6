"""What differs between two runs, and what it comes from."""

import pandas as pd
import pytest

from headland.record import changes

NOTES = [
    {"line": "2", "set": "heron", "start": "09:31", "end": "09:33", "surface": "paving", "activity": ""},
    {"line": "3", "set": "heron", "start": "09:40", "end": "09:42", "surface": "gravel", "activity": ""},
    {"line": "4", "set": "heron", "start": "09:00", "end": "", "surface": "", "activity": "clock_check"},
]


def table(**albedo) -> dict[str, pd.DataFrame]:
    """Segments, fields and surfaces with the given albedos; others as they are."""
    segments = {
        "heron-0931": ("paving", "Yard", "2", "0.2000"),
        "heron-0940": ("gravel", "Track", "3", "0.3000"),
    }
    segments |= {
        name: (*segments.get(name, ("paving", "Yard", "2"))[:3], value) for name, value in albedo.items()
    }
    rows = pd.DataFrame(
        [
            {
                "segment": name,
                "set": "heron",
                "surface": s,
                "field": f,
                "notes_row": n,
                "samples_used": "50",
                "albedo": a,
                "albedo_low": f"{float(a) - 0.01:.4f}",
                "albedo_high": f"{float(a) + 0.02:.4f}",
            }
            for name, (s, f, n, a) in segments.items()
            if a
        ]
    )
    surfaces = rows.drop(columns=["segment", "set", "notes_row", "field"]).assign(
        net_radiation_common_sky="500.00",
        net_radiation_common_sky_low="480.00",
        net_radiation_common_sky_high="520.00",
    )
    return {"segments": rows, "surfaces": surfaces, "fields": surfaces.assign(field=rows["field"])}


def run(tables=None, notes=NOTES, **inputs) -> changes.Run:
    return changes.Run(
        {
            "settings": {},
            "weather": {},
            "files": {},
            "tables": {},
            "program": {},
            "instruments": [],
            "notes": notes,
            **inputs,
        },
        tables or table(),
    )


def edited(line: int, **cells) -> list[dict]:
    return [{**row, **cells} if row["line"] == str(line) else row for row in NOTES]


def test_equal_runs_do_not_differ():
    assert not len(changes.compared(run(), run()))
    assert changes.summary(changes.compared(run(), run())) == "Nothing differs from the run before."


def test_a_note_edited_names_its_segment_and_surface_alone():
    found = changes.compared(run(), run(table(**{"heron-0931": "0.2100"}), edited(2, end="09:34")))
    assert found[["kind", "item", "quantity", "before", "after"]].values.tolist() == [
        ["note", "line 2", "end", "09:33", "09:34"],
        ["segment", "heron-0931", "albedo", "0.2000", "0.2100"],
        ["field", "Yard / paving", "albedo", "0.2000", "0.2100"],
        ["surface", "paving", "albedo", "0.2000", "0.2100"],
    ]
    assert (
        found["cause"].tolist() == ["", *["notes, line 2"] * 3]
        and found["interval_after"].iloc[1] == "[0.2000, 0.2300]"
    )
    assert "1 segment changed; 1 surface concerned" in changes.summary(found)


def test_a_remark_edited_names_its_note_and_nothing_else():
    noted = [{**row, "remark": ""} for row in NOTES]
    found = changes.compared(
        run(notes=noted),
        run(notes=[{**row, "remark": "a cloud" if row["line"] == "2" else ""} for row in noted]),
    )
    assert found[["kind", "item", "quantity", "before", "after"]].values.tolist() == [
        ["note", "line 2", "remark", "", "a cloud"]
    ]


def test_a_label_edited_names_both_surfaces_and_no_third():
    third = {"heron-0950": "0.2500"}
    before, after = table(**third), table(**third)
    before["segments"].loc[2, "surface"] = after["segments"].loc[2, "surface"] = before["surfaces"].loc[
        2, "surface"
    ] = after["surfaces"].loc[2, "surface"] = "snow"
    after["segments"].loc[0, "surface"] = "gravel"
    after["surfaces"].loc[[0, 1], "albedo"] = ["0.2200", "0.2800"]
    found = changes.compared(run(before), run(after, edited(2, surface="gravel")))
    assert set(found.loc[found["kind"] == "surface", "item"]) == {"paving", "gravel"} and set(
        found.loc[found["kind"] == "segment", "item"]
    ) == {"heron-0931"}


def test_segments_gained_and_lost():
    found = changes.compared(
        run(), run(table(**{"heron-0931": "", "heron-0932": "0.2000"}), edited(2, start="09:32"))
    )
    assert found.loc[found["kind"] == "segment", ["item", "change"]].values.tolist() == [
        ["heron-0931", "lost"],
        ["heron-0932", "gained"],
    ]
    assert set(found.loc[found["kind"] == "segment", "cause"]) == {"notes, line 2"}


def test_rows_that_only_moved_are_equal():
    assert (
        changes.matched(
            NOTES, [{**row, "line": str(int(row["line"]) + 1)} for row in NOTES], ("set", "start")
        )
        == []
    )


def test_rows_added_and_removed():
    new = {"line": "5", "set": "heron", "start": "10:00", "end": "10:05", "surface": "paving", "activity": ""}
    assert [
        (row["item"], row["change"])
        for row in changes.of_rows("note", changes.matched(NOTES, [*NOTES[1:], new], ("set", "start")))
    ] == [("line 2", "removed"), ("line 5", "added")]


def test_a_clock_check_concerns_every_segment_of_its_set():
    found = changes.compared(run(), run(table(**{"heron-0940": "0.3100"}), edited(4, start="09:01")))
    assert found.loc[found["kind"] == "segment", "cause"].tolist() == ["notes, line 4"]


def test_one_setting_is_the_cause_and_of_two_neither():
    after = table(**{"heron-0931": "0.2100"})
    one = changes.compared(run(settings={"notes.shift": "0"}), run(after, settings={"notes.shift": "1"}))
    assert set(one.loc[one["kind"] != "setting", "cause"]) == {"campaign.yaml, notes.shift"}
    two = changes.compared(run(), run(after, settings={"seed": "1"}, weather={"weather.csv": "ab"}))
    assert set(two.loc[two["kind"] == "surface", "cause"]) == {"one of: campaign.yaml, seed; weather.csv"}


def test_the_common_sky_moves_what_was_not_edited():
    after = table(**{"heron-0931": "0.2100"})
    after["surfaces"].loc[1, "net_radiation_common_sky"] = "499.00"
    found = changes.compared(run(), run(after, edited(2, end="09:34")))
    assert found.loc[found["item"] == "gravel", "cause"].tolist() == [
        "the common sky, which is a mean over all segments"
    ]
    assert "1 surface concerned" in changes.summary(found)


@pytest.mark.parametrize("low, differs", [("0.1901", False), ("0.1880", True), ("", True)])
def test_intervals_drawn_anew_are_no_change(low, differs):
    after = table()
    after["surfaces"].loc[0, "albedo_low"] = low
    assert bool(len(changes.compared(run(), run(after)))) == differs


def test_settings_are_flattened():
    assert changes.flat({"a": {"b": 1, "c": None}, "d": [1, 2]}) == {"a.b": "1", "a.c": "", "d": "[1, 2]"}


def test_the_page_names_quantities_as_the_report_does_and_gives_their_units():
    names = ("kind", "item", "quantity", "before", "after")
    found = pd.DataFrame(
        [
            ("field", "Low_yard / bare_dry_soil", "lw_in", "1", "2"),
            ("surface", "bare_dry_soil", "albedo", "1", "2"),
            ("segment", "a_b-0931", "surface", "short_grass", "tall_crop"),
            ("note", "line 2", "canopy_height", "1", "2"),
        ],
        columns=names,
    )
    assert [(r["item"], r["quantity"], r["unit"], r["before"], r["after"]) for r in changes.shown(found)] == [
        ("Low_yard / bare dry soil", "longwave in", "W m⁻²", "1", "2"),
        ("bare dry soil", "albedo", "", "1", "2"),
        ("a_b-0931", "surface", "", "short grass", "tall crop"),
        ("line 2", "canopy height", "", "1", "2"),
    ]


def test_the_first_run_has_nothing_to_compare_and_says_so():
    found, words = changes.run(None, run())
    assert not len(found) and words == changes.summary(None)
    assert list(found) == list(changes.compared(run(), run()))
    found, words = changes.run(run(), run(table(**{"heron-0931": "0.2100"}), edited(2, end="09:34")))
    assert "heron-0931" in set(found["item"]) and words == changes.summary(found) != changes.summary(None)
