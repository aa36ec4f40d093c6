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


@pytest.mark.parametrize("cause", ["clock-backwards", "clock-reset"])
def test_notes_that_a_clock_left_behind_are_not_called_shifted(cause):
    shifted = ("segment", Finding("notes-shifted", "one-set", "heron"))
    jumped = ("ingest", Finding(cause, set="heron"))
    (folded,) = findings.folded([jumped, shifted])
    assert folded[1].code == cause and folded[1].facts["follows"] == "notes-shifted (1)"
    other = ("ingest", Finding(cause, set="plover"))
    assert findings.folded([other, shifted]) == [other, shifted]


@pytest.mark.parametrize(
    "variant, code, channel, folds",
    [
        ("programmed", "factor-inverted", "lw_in lw_out", True),
        ("programmed", "factor-inverted", "sw_in", False),
        ("programmed", "surface-mislabelled", "", True),
        ("two-sets", "channels-exchanged", "lw_in lw_out", True),
        ("two-sets", "channels-exchanged", "sw_in sw_out", False),
        ("programmed", "note-without-data", "", False),
        ("file", "factor-inverted", "lw_in", False),
        ("file", "note-without-data", "", True),
    ],
)
def test_a_factor_of_another_sensor_makes_its_channel_wrong_and_takes_no_data(variant, code, channel, folds):
    cause = ("calibrate", Finding("pair-broken", variant, "heron", channel="lw_in" * (variant != "file")))
    other = ("screen", Finding(code, set="" if code == "surface-mislabelled" else "heron", channel=channel))
    assert (len(findings.folded([cause, other])) == 1) == folds


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


@pytest.mark.parametrize("owner, folds", [("heron", True), ("teal", False)])
def test_a_reversed_head_explains_that_its_set_is_unused(owner, folds):
    found = [
        ("screen", Finding("sign-reversed", set="heron", channel="sw_in")),
        ("segment", Finding("set-unused", set=owner, facts={"count": 9})),
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


# Each cause, and what it does not explain -------------------------------------------------------------------


def codes(*found):
    return [finding.code for _, finding in findings.folded([("segment", one) for one in found])]


@pytest.mark.parametrize(
    "cause, follower, folds",
    [
        # sets exchanged for some visits explain nothing else
        (Finding("notes-sets-swapped"), Finding("segment-unused", set="heron"), True),
        (Finding("notes-sets-swapped", "part"), Finding("segment-unused", set="heron"), False),
        (Finding("notes-sets-swapped", "part-either"), Finding("segment-unused", set="heron"), False),
        # notes that are off by a minute explain what has times, and no unused set
        (Finding("notes-shifted", "small"), Finding("note-without-data"), True),
        (Finding("notes-shifted", "small"), Finding("surface-mislabelled"), False),
        (Finding("notes-shifted"), Finding("surface-mislabelled"), True),
        (Finding("notes-shifted", "small"), Finding("set-unused", set="heron"), False),
        (Finding("notes-shifted", "fits-nowhere"), Finding("set-unused", set="heron"), False),
        (Finding("notes-shifted"), Finding("set-unused", set="heron"), True),
        # a wrong clock with a wrong watch explains no wrong labels
        (Finding("clock-against-sun", "far", "heron"), Finding("surface-mislabelled"), True),
        (
            Finding("clock-against-sun", "far", "heron", facts={"labels_hold": True}),
            Finding("surface-mislabelled"),
            False,
        ),
        (
            Finding("clock-against-sun", "far", "heron", facts={"labels_hold": True}),
            Finding("own-shade", set="heron"),
            True,
        ),
        # where two sets disagree, the cause may be in either
        (
            Finding("sign-reversed", set="plover", channel="sw_in"),
            Finding("sets-disagree", set="heron", channel="sw_in", facts={"others": "plover"}),
            True,
        ),
        (
            Finding("sign-reversed", set="plover", channel="sw_in"),
            Finding("sets-disagree", "several", "heron", channel="sw_in", facts={"others": "plover, teal"}),
            False,
        ),
    ],
)
def test_what_a_cause_explains(cause, follower, folds):
    assert codes(cause, follower) == ([cause.code] if folds else [cause.code, follower.code])
    assert codes(follower, cause) == ([cause.code] if folds else [follower.code, cause.code])


@pytest.mark.parametrize(
    "file, lines, folds",
    [
        ("instruments.csv", [4], True),
        ("instruments.csv", [9, 7], True),
        ("instruments.csv", [8, 5], False),
        ("instruments.csv", [], False),
        ("notes.csv", [4], False),
    ],
)
def test_a_cell_that_can_t_be_read_explains_the_certificates_that_its_lines_may_give(file, lines, folds):
    """The cell is on line 4; the fact `lines` names 6 and 7 as well."""
    cell = Finding("value-invalid", file=file, line=4, facts={"lines": [6, 7]})
    missing = Finding("certificate-missing", file="instruments.csv", facts={"lines": lines})
    assert codes(cell, missing) == (["value-invalid"] if folds else ["value-invalid", "certificate-missing"])


@pytest.mark.parametrize(
    "start, end, folds",
    [
        ("10:00", "10:30", True),
        ("10:59", "11:30", True),
        ("11:01", "11:30", False),
        ("09:00", "09:59", False),
        ("", "", True),
    ],
)
def test_a_cause_explains_what_is_found_at_its_time(start, end, folds):
    """The channel was frozen from 10:00 to 11:00."""

    def at(clock):
        return clock and f"2025-06-16T{clock}:00Z"

    frozen = Finding(
        "channel-frozen", set="heron", start_utc=at("10:00"), end_utc=at("11:00"), channel="sw_in"
    )
    other = Finding("sets-disagree", set="heron", start_utc=at(start), end_utc=at(end), channel="sw_in")
    assert codes(frozen, other) == (["channel-frozen"] if folds else ["channel-frozen", "sets-disagree"])


@pytest.mark.parametrize(
    "finding, sets, channels, times",
    [
        (Finding("sign-reversed", set="heron", channel="lw_in"), ("heron",), ("lw_in",), ("", "")),
        (
            Finding("body-temperature-unit", set="heron", channel="body_temperature_lw_out"),
            ("heron",),
            ("lw_in", "lw_out"),
            ("", ""),
        ),
        (
            Finding("channel-frozen", set="heron", start_utc="a", end_utc="b", channel="sw_out"),
            ("heron",),
            ("sw_out",),
            ("a", "b"),
        ),
        # a whole set under wrong notes, though found in one channel at a time
        (
            Finding("clock-against-sun", "far", "heron", start_utc="a", end_utc="b", channel="sw_in"),
            ("heron",),
            ("sw_in", "sw_out", "lw_in", "lw_out"),
            ("", ""),
        ),
        (
            Finding("notes-sets-swapped", facts={"a": "heron", "b": "plover"}),
            ("heron", "plover"),
            ("sw_in", "sw_out", "lw_in", "lw_out"),
            ("", ""),
        ),
    ],
)
def test_what_an_error_withholds(finding, sets, channels, times):
    (one,) = findings.withheld([finding])
    assert (tuple(one.sets), tuple(one.channels), (one.start_utc, one.end_utc)) == (sets, channels, times)
    assert findings.doubted([finding]) == [] or finding.code == "clock-against-sun"


def test_visits_that_may_be_exchanged_are_doubtful_for_their_own_time():
    part = Finding(
        "notes-sets-swapped", "part", start_utc="a", end_utc="b", facts={"a": "heron", "b": "plover"}
    )
    assert findings.withheld([part]) == []
    (one,) = findings.doubted([part])
    assert (tuple(one.sets), one.start_utc, one.end_utc) == (("heron", "plover"), "a", "b")
    (frozen,) = findings.doubted([Finding("channel-frozen", "undecided", "heron", channel="sw_in")])
    assert tuple(frozen.sets) == ("heron",) and tuple(frozen.channels) == ("sw_in",)
    (reset,) = findings.doubted([Finding("clock-reset", set="heron", start_utc="a", channel="sw_in")])
    assert len(reset.channels) == 4 and reset.start_utc == ""


def test_errors_come_first_and_steps_keep_their_order():
    rows = [{"severity": one, "n": n} for n, one in enumerate(("note", "error", "warning", "error"))]
    assert [row["n"] for row in findings.in_order(rows)] == [1, 3, 2, 0]


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


def test_notes_of_all_sets_that_are_shifted_withhold_every_set():
    assert findings.withheld([Finding("notes-shifted")]) == [
        findings.Withheld((), ("sw_in", "sw_out", "lw_in", "lw_out"))
    ]


@pytest.mark.parametrize("variant, channel, folds", [("serial", "sw_in sw_out", True),
                                                     ("programmed", "lw_in lw_out", True),
                                                     ("serial", "sw_out lw_out", False),
                                                     ("side-by-side", "sw_in sw_out", False)])  # fmt: skip
def test_an_exchange_by_size_follows_from_one_that_certificates_tell(variant, channel, folds):
    known = ("calibrate", Finding("factors-exchanged", variant, "heron", channel=channel))
    by_size = ("screen", Finding("factors-exchanged", "bands", "heron", channel="sw_in lw_in"))
    assert (len(findings.folded([known, by_size])) == 1) == folds


def test_a_clock_that_jumped_explains_what_differs_at_any_time_of_its_set():
    """Its own times are those of the jump."""
    jump = Finding("clock-backwards", set="heron", start_utc="2026-05-21T09:07Z", end_utc="2026-05-21T08:53Z")
    later = {"start_utc": "2026-05-21T11:00Z", "end_utc": "2026-05-21T11:03Z"}
    wet = [Finding("dome-wet", "beside", name, channel="lw_in", **later) for name in ("heron", "plover")]
    left = [one for _, one in findings.folded([("ingest", jump), *(("diagnose", one) for one in wet)])]
    assert [(one.code, one.set) for one in left] == [("clock-backwards", "heron"), ("dome-wet", "plover")]
    # a cover's times are when it was on
    cover = Finding("cover-left-on", "", "heron", start_utc="2026-05-21T10:00Z", end_utc="2026-05-21T10:05Z")
    shade = Finding("upward-shaded", "", "heron", channel="sw_in", **later)
    assert len(findings.folded([("segment", cover), ("segment", shade)])) == 2


@pytest.mark.parametrize(
    "cause, variant, code, of_code, follows",
    [
        ("clock-against-sun", "far", "swing-strong", "", True),
        ("clock-against-sun", "noted", "factors-exchanged", "bands", True),
        ("clock-against-sun", "noted", "factors-exchanged", "side-by-side", False),
        ("pair-broken", "two-sets", "sign-reversed", "", True),
        ("pair-broken", "two-sets", "cover-left-on", "segment", True),
        ("pair-broken", "programmed", "field-inconsistent", "pass", True),
        ("pair-broken", "file", "cover-left-on", "segment", False),
        ("notes-shifted", "one-set", "sets-disagree", "", True),
        ("notes-shifted", "one-set", "station-disagrees", "", True),
        ("battery-low", "", "swing-strong", "", True),
        ("notes-shifted", "", "station-disagrees", "", False),  # the watch was wrong, the records stand
    ],
)
def test_what_a_wrong_clock_a_low_battery_or_another_set_s_sensors_make(
    cause, variant, code, of_code, follows
):
    found = [("segment", Finding(cause, variant, "heron")), ("diagnose", Finding(code, of_code, "heron"))]
    assert (len(findings.folded(found)) == 1) == follows
