"""What follows from a finding is listed under it, and nothing else."""

import pytest

from headland.base import findings
from headland.base.findings import Finding


def test_what_follows_is_folded_under_its_cause_and_counted():
    found = [
        ("segment", Finding("note-without-data", set="heron")),
        ("segment", Finding("notes-shifted", facts={"x": 1})),
        ("diagnose", Finding("surface-mislabelled")),
        ("segment", Finding("notes-overlap", set="heron")),
    ]
    folded = findings.folded(found)
    assert [f.code for _, f in folded] == ["notes-shifted", "notes-overlap"]
    assert folded[0][1].facts == {"x": 1, "follows": "note-without-data (1), surface-mislabelled (1)"}


def test_a_cause_of_one_set_leaves_the_other_s_findings():
    found = [
        ("segment", Finding("notes-shifted", "one-set", "heron")),
        ("segment", Finding("note-without-data", set="plover")),
    ]
    assert findings.folded(found) == found


def test_a_cause_that_follows_itself_takes_its_own_with_it():
    found = [
        ("segment", Finding("note-without-data", set="heron")),
        ("segment", Finding("notes-shifted", set="heron")),
        ("diagnose", Finding("clock-against-sun", "far", "heron")),
    ]
    folded = findings.folded(found)
    assert [f.code for _, f in folded] == ["clock-against-sun"] and folded[0][1].facts[
        "follows"
    ] == "note-without-data (1), notes-shifted (1)"


def test_what_a_cause_does_not_explain_stands():
    left = [["note-without-data", "heron", "2025-06-16T10:00:00Z"]]
    shifted = ("segment", Finding("notes-shifted", facts={"left": left}))
    stands = ("segment", Finding("note-without-data", set="heron", start_utc="2025-06-16T10:00:00Z"))
    follows = ("segment", Finding("note-without-data", set="heron", start_utc="2025-06-16T11:00:00Z"))
    folded = findings.folded([shifted, stands, follows])
    assert [f for _, f in folded][1:] == [stands[1]] and folded[0][1].facts[
        "follows"
    ] == "note-without-data (1)"


@pytest.mark.parametrize(
    "cause, channel, folds",
    [
        ("sw_in", "sw_in", True),
        ("sw_in", "lw_in", False),
        ("sw_out", "sw_in", False),
        ("body_temperature", "lw_in", True),
        ("", "lw_in", True),
    ],
)
def test_a_head_explains_what_its_own_channels_show(cause, channel, folds):
    found = [
        ("screen", Finding("sign-reversed", set="heron", channel=cause)),
        ("diagnose", Finding("sets-disagree", set="heron", channel=channel)),
    ]
    assert len(findings.folded(found)) == (1 if folds else 2)


@pytest.mark.parametrize(
    "variant, others, folds", [("", "heron", True), ("", "rail", False), ("several", "heron, rail", False)]
)
def test_either_of_two_sets_may_be_the_one_that_is_off(variant, others, folds):
    found = [
        ("screen", Finding("sign-reversed", set="heron", channel="sw_in")),
        ("diagnose", Finding("sets-disagree", variant, "teal", channel="sw_in", facts={"others": others})),
    ]
    assert len(findings.folded(found)) == (1 if folds else 2)


def test_a_cause_explains_its_own_time_only():
    cover = (
        "segment",
        Finding(
            "cover-left-on", set="heron", start_utc="2025-06-16T10:00:00Z", end_utc="2025-06-16T10:05:00Z"
        ),
    )

    def shade(start, end):
        place = {"set": "heron", "channel": "sw_in"}
        return "segment", Finding("upward-shaded", start_utc=start, end_utc=end, **place)

    within, after = (
        shade("2025-06-16T10:01:00Z", "2025-06-16T10:02:00Z"),
        shade("2025-06-16T11:01:00Z", "2025-06-16T11:02:00Z"),
    )
    assert [f.start_utc for _, f in findings.folded([cover, within, after])] == [
        "2025-06-16T10:00:00Z",
        "2025-06-16T11:01:00Z",
    ]


def test_where_the_notes_fit_a_wrong_clock_it_explains_no_label():
    found = [
        ("segment", Finding("clock-against-sun", "noted", "heron", facts={"labels_hold": True})),
        ("diagnose", Finding("surface-mislabelled", "albedo")),
        ("diagnose", Finding("head-tilted", set="heron")),
    ]
    assert [f.code for _, f in findings.folded(found)] == ["clock-against-sun", "surface-mislabelled"]


def test_thousands_of_findings_are_folded_in_one_pass(monkeypatch):
    """A table of ten thousand wrong rows: to ask each cause about each finding would take hours."""
    asked = []
    explains = findings.explains
    monkeypatch.setattr(findings, "explains", lambda *both: asked.append(1) or explains(*both))
    many = 3000
    causes = [
        ("segment", Finding("notes-unknown-name", "field", file="notes.csv", line=n)) for n in range(many)
    ]
    other = [("segment", Finding("data-without-note", set=f"s{n}")) for n in range(many)]
    kept = [("segment", Finding("notes-unknown-name", "part", set="heron", line=n)) for n in range(many)]
    folded = findings.folded([*kept, *causes, *other])
    assert len(folded) == 2 * many and len(asked) <= 2 * many
    assert folded[many][1].facts == {"follows": f"data-without-note ({many})"}


def test_the_places_of_very_many_findings_fit_a_spreadsheets_cell():
    found = [
        ("diagnose", Finding("value-invalid", file="station.csv", line=n, facts={"column": "sw_in"}))
        for n in range(20_000)
    ]
    ((_, one),) = findings.gathered(found)
    table = {("value-invalid", ""): {"severity": "error", "step": "", "what": "{column}", "remedy": "x"}}
    row = findings.describe(one, "diagnose", table)
    assert row["count"] == 20_000 and len(row["places"]) < 30_100
    shown, _, more = row["places"].rpartition(", and ")
    assert len(shown.split(", ")) + int(more.split()[0]) == 20_000
