"""One cause is one line, with a count and the places."""

from headland.base import findings
from headland.base.findings import Finding

TABLE = findings.sentences()


def unused(segment, start, **where):
    facts = {"segment": segment, "field": "Meadow", "samples": 15}
    return "segment", Finding(
        "segment-unused", **{"set": "heron", **where}, start_utc=start, end_utc=start, facts=facts
    )


def test_forty_segments_of_one_cause_are_one_finding():
    found = [unused(f"heron-{n:02}", f"2026-05-21T09:{n:02}:00Z", line=n) for n in range(40)]
    ((step, one),) = findings.gathered(found)
    row = findings.describe(one, step, TABLE)
    assert (row["count"], row["line"]) == (40, 0) and row["places"].count(",") == 39
    assert (row["start_utc"], row["end_utc"]) == ("2026-05-21T09:00:00Z", "2026-05-21T09:39:00Z")
    assert "The same in 39 other places: heron-01, heron-02" in row["what"] and "and 34 more" in row["what"]


def test_other_sets_codes_and_values_stay_apart():
    value = {"column": "set", "allowed": "heron", "hint": ""}
    found = [
        unused("heron-1", "2026-05-21T09:00:00Z"),
        unused("teal-1", "2026-05-21T09:00:00Z", set="teal"),
        ("segment", Finding("notes-unknown-name", line=2, facts={**value, "value": "hron"})),
        ("segment", Finding("notes-unknown-name", line=3, facts={**value, "value": "heorn"})),
    ]
    assert findings.gathered(found) == found


def test_one_slip_in_many_lines_is_one_finding():
    facts = {"column": "set", "allowed": "heron", "hint": "", "value": "hron"}
    found = [
        ("segment", Finding("notes-unknown-name", file="notes.csv", line=n, facts=facts)) for n in (2, 5)
    ]
    ((step, one),) = findings.gathered(found)
    assert one.facts["places"] == ["notes.csv line 2", "notes.csv line 5"]
    assert "The same in 1 other place: notes.csv line 5." in findings.describe(one, step, TABLE)["what"]


def test_a_single_finding_has_no_places():
    row = findings.describe(unused("heron-1", "")[1], "segment", TABLE)
    assert (row["count"], row["places"]) == (1, "")


def test_where_one_of_several_has_no_time_the_first_keeps_its_own():
    found = [unused("heron-1", "2026-05-21T09:00:00Z", line=1), unused("heron-2", "", line=2)]
    found += [unused("heron-3", "2026-05-21T08:00:00Z", line=3)]
    ((_, one),) = findings.gathered(found)
    assert (one.start_utc, one.end_utc) == ("2026-05-21T09:00:00Z",) * 2 and len(one.facts["places"]) == 3
