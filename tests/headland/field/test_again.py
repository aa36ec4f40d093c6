"""The walks to do again, and what a look says on the terminal."""

import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.field import again, said
from headland.field.lamps import Lamp

ZONE = "Europe/Zurich"  # two hours ahead


def visit(set_, start, end, activity="walk", line=2, **more):
    begin, until = (pd.Timestamp(f"2026-05-21T{text}Z") for text in (start, end))
    where = {"field": "Yard", "transect": "1", "pass": ""} | more
    return {"set": set_, "start_utc": begin, "end_utc": until, "activity": activity, "line": line} | where


VISITS = pd.DataFrame(
    [
        visit("heron", "09:00", "09:01", "clock_check", line=2, field=""),
        visit("heron", "09:02", "09:04", "channel_check", line=3, field=""),
        visit("heron", "10:00", "10:02", line=4),
        visit("heron", "10:04", "10:06", line=5, **{"pass": "2"}),
        visit("curlew", "10:04", "10:06", "side_by_side", line=6, field="", transect=""),
        visit("heron", "11:00", "11:02", "dark", line=7),
    ]
)
FIRST, SECOND = "Yard, transect 1, 12:00:00 to 12:02:00", "Yard, transect 1, pass 2, 12:04:00 to 12:06:00"
BESIDE = "side by side, 12:04:00 to 12:06:00"


def walks(*found):
    return again.walks_again([("segment", one) for one in found], VISITS, ZONE)


def frozen(start, end, set_="heron"):
    return Finding(
        "channel-frozen",
        set=set_,
        channel="sw_in",
        start_utc=f"2026-05-21T{start}Z",
        end_utc=f"2026-05-21T{end}Z",
    )


@pytest.mark.parametrize(
    "start, end, wanted",
    [
        ("10:01", "10:05", [FIRST, SECOND]),
        ("10:02", "10:04", None),  # from the end of one to the start of the next
        ("10:01", "10:04", [FIRST]),
        ("10:02", "10:05", [SECOND]),
        ("09:00", "09:03", None),  # nothing of the ground is lost in a check
    ],
)
def test_a_time_spoils_the_walks_of_its_set_that_it_overlaps(start, end, wanted):
    found = walks(frozen(start, end))
    assert found == ({("channel-frozen", "heron", "sw_in"): wanted} if wanted else {})


def test_a_finding_without_a_time_spoils_all_of_its_set_and_one_without_a_set_all_sets():
    assert walks(Finding("dome-wet", set="heron")) == {("dome-wet", "heron", ""): [FIRST, SECOND]}
    assert walks(Finding("dome-wet", set="curlew")) == {("dome-wet", "curlew", ""): [BESIDE]}
    assert walks(Finding("dome-wet"))[("dome-wet", "", "")] == [FIRST, SECOND, BESIDE]
    half = Finding("dome-wet", set="heron", start_utc="2026-05-21T10:05Z")
    assert walks(half)[("dome-wet", "heron", "")] == [FIRST, SECOND]


def test_a_line_of_the_notes_spoils_its_own_walk():
    own = Finding("note-without-data", set="heron", file="notes.csv", line=5)
    assert walks(own) == {("note-without-data", "heron", ""): [SECOND]}
    of_nobody = Finding("note-without-data", file="notes.csv", line=6)
    assert walks(of_nobody) == {("note-without-data", "", ""): [BESIDE]}


def test_walks_are_in_order_of_the_notes_and_each_is_named_once():
    found = walks(frozen("10:05", "10:07"), frozen("10:00", "10:05"), frozen("10:05", "10:06"))
    assert found == {("channel-frozen", "heron", "sw_in"): [FIRST, SECOND]}
    assert walks(Finding("clock-reset", set="heron")) == {}  # a correction brings its samples back


def test_a_run_that_is_named_by_its_start_does_not_say_it_twice():
    run = visit("heron", "10:00", "10:02", field="run 1, 12:00:00", transect="")
    named = again._named(run, ZONE)
    assert named == "run 1, 12:00:00 to 12:02:00"


@pytest.mark.parametrize("count, words", [(0, ""), (2, "w0; w1"), (6, "w0; w1; w2; w3; w4; w5")])
def test_six_walks_are_named(count, words):
    key = ("dome-wet", "heron", "")
    assert again.sentence({key: [f"w{n}" for n in range(count)]}, key) == words
    assert again.sentence({}, key) == ""


def test_more_than_six_are_counted():
    key = ("dome-wet", "heron", "")
    assert again.sentence({key: [f"w{n}" for n in range(8)]}, key) == "w0; w1; w2; w3; w4; w5; and 2 more"


# On the terminal --------------------------------------------------------------------------------------------


WET = Lamp("heron", "upper window", "red", "It is wet.", "Dry it.", code="dome-wet")
NO_CHECK = Lamp("", "clock check", "amber", "None is noted.")


def page(*lamps, state="red"):
    return {"state": state, "urgent": list(lamps)}


def test_the_first_look_says_every_lamp_with_what_to_do():
    whole, *lines = said.first(page(WET, NO_CHECK))
    assert whole.endswith("something must be done before going on.")
    assert [line.split(": ", 1)[1] for line in lines] == [
        "heron, upper window: It is wet.",
        "Dry it.",
        "all sets, clock check: None is noted.",
    ]
    assert lines[1].strip().startswith("do: ") and all(line.startswith("  ") for line in lines)


def test_the_next_look_says_what_is_new_and_what_is_solved():
    other = Lamp("curlew", "supply", "amber", "Low.")
    whole, *lines = said.since(page(NO_CHECK, other, state="amber"), [WET, NO_CHECK])
    assert whole.endswith("something is worth a look before going on. (1 new, 1 as before, 1 solved)")
    assert len(lines) == 2
    assert lines[0].endswith("curlew, supply: Low.") and lines[1] == "  solved: heron, upper window"


def test_a_lamp_is_the_same_whatever_its_numbers():
    def lamp(**changes):
        return Lamp(
            **({"set": "a", "subject": "b", "state": "red", "what": "5 samples", "code": "c"} | changes)
        )

    assert said.new_lamps([lamp(what="9 samples")], [lamp()]) == []
    for changes in ({"set": "x"}, {"subject": "x"}, {"state": "amber"}, {"code": "x"}):
        assert len(said.new_lamps([lamp(**changes)], [lamp()])) == 1, changes
