"""Simulated campaigns whose truth is known, through the whole chain in one process. The simulation shares
no formula with it.
"""

import numpy as np
import pandas as pd
import pytest

import chain
from simulate import specs
from simulate.campaign import simulate

MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
NINE = specs.exact(specs.many_sets(9))
FOUR = {NINE.sets[place].name for place in (1, 4, 7, 8)}
"""Another language, ohm in two files, stamps in seconds since a day, and a record in five seconds."""
EXACT = {
    "one set, two passes": specs.minimal(),
    "four of nine sets, each unlike the others": NINE.with_(
        sets=tuple(one for one in NINE.sets if one.name in FOUR),
        visits=tuple(visit for visit in NINE.visits if visit.set in FOUR),
    ),
    "south of the equator": specs.exact(specs.southern()),
    "a sun that does not set": specs.exact(specs.polar_day()),
    "no sun at all": specs.exact(specs.polar_night()),
    "over midnight": specs.exact(specs.over_midnight()),
    "clocks put forward meanwhile": specs.exact(specs.clock_change("spring")),
    "clocks put back meanwhile": specs.exact(specs.clock_change("autumn")),
    "ten samples a second": specs.exact(specs.fast(True)),
    "ten samples a second, stamps cut to seconds": specs.exact(specs.fast(False)),
    "a layout in campaign.yaml, two thermometers, a workbook of notes": specs.exact(specs.inline_layout()),
    "two days, a file a day": specs.exact(specs.two_days()),
    "a station, a record in half an hour": specs.exact(specs.station()),
    "a station, a record an hour": specs.exact(specs.station(interval=3600.0)),
}


def assert_truth(campaign, segments: pd.DataFrame, ending: str) -> None:
    """Half of the last printed digit, and as much again for the logger's own rounding. ending: of the columns
    with the values.
    """
    truth = pd.read_csv(campaign / "truth" / "segments.csv")
    both = segments.rename(columns={f"{q}{ending}": f"{q}_found" for q in MEASURED}).merge(
        truth.rename(columns={q: f"{q}_true" for q in MEASURED}),
        on=["notes_row", "set"],
        suffixes=("", "_of_truth"),
        validate="one_to_one",
    )
    assert len(both) == len(truth) > 0
    for quantity in MEASURED:
        known, true = both[f"{quantity}_found"].to_numpy(float), both[f"{quantity}_true"].to_numpy(float)
        assert np.array_equal(np.isnan(known), np.isnan(true)), quantity
        np.testing.assert_allclose(
            known, true, rtol=0, atol=2e-4 if quantity == "albedo" else 0.02, err_msg=quantity
        )


@pytest.mark.parametrize("name", EXACT)
def test_without_errors_the_chain_gives_the_truth(tmp_path, name):
    campaign = simulate(EXACT[name]).write(tmp_path / "campaign")
    outcome = chain.run(campaign, draws=128)  # intervals are not looked at
    assert outcome.codes("error", "warning") == []
    assert_truth(campaign, outcome.result.segments, "_by_hand")


def test_without_errors_nine_sets_unlike_each_other_give_the_truth(tmp_path):
    """To the means: each set is compared with each of the eight others only after them, which takes long."""
    campaign = simulate(NINE).write(tmp_path / "campaign")
    outcome = chain.run(campaign, to="summarise")
    assert outcome.codes("error", "warning") == []
    assert_truth(campaign, outcome.segments, "")


def test_an_ambiguous_time_is_an_error_and_not_a_guess(tmp_path):
    campaign = simulate(specs.exact(specs.clock_change("autumn", ambiguous=True))).write(
        tmp_path / "campaign"
    )
    outcome = chain.run(campaign, to="segment")
    assert "notes-time-ambiguous" in outcome.codes("error")


@pytest.mark.parametrize("seed", range(2))
def test_a_sound_campaign_raises_no_alarm_and_its_intervals_hold_the_truth(tmp_path, seed):
    """A small version of the study: with 95 % intervals, over 0.75 of all values inside in each campaign
    leaves room for shared errors.
    """
    campaign = simulate(specs.sound(seed)).write(tmp_path / "campaign")
    outcome = chain.run(campaign)
    assert outcome.codes("error", "warning") == []
    truth = pd.read_csv(campaign / "truth" / "segments.csv")
    both = outcome.result.segments.merge(truth, on=["notes_row", "set"], suffixes=("", "_true"))
    inside = [
        both[f"{q}_true"].between(both[f"{q}_low"], both[f"{q}_high"])[both[q].notna()] for q in MEASURED
    ]
    assert np.mean(np.concatenate(inside)) > 0.75
