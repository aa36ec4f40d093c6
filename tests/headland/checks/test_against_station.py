"""What is said of a set that is off a fixed station, and of a station that all sets are off."""

import pandas as pd
import pytest

from headland.checks.against_station import Station, station_disagrees

START, END = pd.Timestamp("2026-05-21T10:00:00Z"), pd.Timestamp("2026-05-21T11:30:00Z")
STATION = Station(pd.DataFrame({"time_utc": [START, END], "sw_in": 700.0, "lw_in": 330.0}), "end")


def found(*rows, told=None):
    """What is said of sets with a term, a ratio and an E_n each."""
    columns = ["set", "channel", "ratio", "e_n"]
    compared = pd.DataFrame(rows, columns=columns).assign(records=9, start_utc=START, end_utc=END)
    return station_disagrees(
        compared, STATION, {row[0] for row in rows}, (told if told is not None else []).append
    )


def test_it_says_from_when_to_when_by_how_much_and_which_way():
    (one,) = found(("heron", "sw_in", 0.82, 2.5), ("plover", "sw_in", 1.01, 0.2))
    assert (one.code, one.variant, one.set, one.channel) == ("station-disagrees", "", "heron", "sw_in")
    assert (one.start_utc, one.end_utc) == ("2026-05-21T10:00:00Z", "2026-05-21T11:30:00Z")
    facts = {"percent": "18.0", "direction": "less", "normalised": "2.5", "records": 9, "stamp": "end"}
    assert {name: one.facts[name] for name in facts} == facts
    (one,) = found(("heron", "lw_in", 1.04, 1.9))
    assert (one.facts["direction"], one.facts["percent"]) == ("more", "4.0")


@pytest.mark.parametrize("e_n, named", [(1.79, False), (1.81, True)])
def test_from_3_6_standard_uncertainties_on(e_n, named):
    assert bool(found(("heron", "sw_in", 1.1, e_n))) == named


@pytest.mark.parametrize(
    "two, said",
    [
        (("plover", "sw_in", 1.2, 2.0), [("all-sets", "")]),
        (("plover", "sw_in", 0.8, 2.0), [("", "heron"), ("", "plover")]),  # to the other side
        (("plover", "sw_in", 1.2, 1.0), [("", "heron")]),  # one of two
        (("plover", "lw_in", 1.2, 2.0), [("", "heron"), ("", "plover")]),  # in the other band
    ],
)
def test_where_all_of_several_sets_are_off_alike_it_is_the_station(two, said):
    assert [(one.variant, one.set) for one in found(("heron", "sw_in", 1.3, 3.0), two)] == said
    if said[0][0] == "all-sets":
        (one,) = found(("heron", "sw_in", 1.3, 3.0), two)
        assert one.facts["sets"] == "heron, plover" and one.end_utc == "2026-05-21T11:30:00Z"
