"""What a day can't tell: each check that lacks what it needs says so, none that has it, and every word
is in the table of reasons."""

import dataclasses
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.base import untold
from headland.base.findings import Finding
from headland.base.untold import Untold
from headland.checks import notes_and_runs
from headland.files import config_tables
from simulate import mistakes_instruments as mistakes
from simulate import specs
from simulate.campaign import simulate
from simulate.spec import field, walks
from study import of_notes, of_sets, trial
from study import sources as study

PROJECT = Path(__file__).parents[3]
REASONS = config_tables.read_config_table(PROJECT / "workflow/headland/checks/untold.csv").to_dict("records")
CODES = set(config_tables.read_config_table(PROJECT / "workflow/headland/checks/findings.csv")["code"])
MEADOW = field("Lower meadow", "short_grass")


def of(campaign, to="diagnose") -> pd.DataFrame:
    outcome = trial.run(campaign, to)
    return untold.described(untold.frame(outcome.untold), [finding for _, finding in outcome.found], REASONS)


def pairs(table: pd.DataFrame) -> set[tuple[str, str]]:
    return set(zip(table["code"], table["reason"], strict=True))


@pytest.fixture(scope="module")
def overcast() -> pd.DataFrame:
    spec = specs.minimal()
    return of(simulate(spec.with_(sky=dataclasses.replace(spec.sky, kind="overcast"))))


@pytest.fixture(scope="module")
def clear() -> pd.DataFrame:
    """Two sets over five hours of a clear day, clocks read, in runs of a few minutes each."""
    return of(simulate(of_sets.five_hours(5, "clear")))


@pytest.fixture(scope="module")
def night() -> pd.DataFrame:
    return of(simulate(specs.polar_night()))


def test_one_set_under_cloud_lists_what_needs_a_beam_or_another_set(overcast):
    assert pairs(overcast) >= {
        ("factor-inverted", "no-beam"),
        ("swing-strong", "no-beam"),
        ("clock-against-sun", "short-sun"),
        ("head-tilted", "no-clear-walks"),
        ("upward-shaded", "one-set"),
        ("sets-disagree", "one-set"),
        ("station-disagrees", "no-station"),
        ("sign-reversed", "weak-sun"),
        ("thermal-shock", "short-record"),
    }
    assert set(overcast.loc[overcast["code"] == "factor-inverted", "channel"]) == {
        "sw_in sw_out",
        "lw_in lw_out",
    }
    assert not {
        "cover-left-on",
        "channel-frozen",
        "channels-exchanged",
        "notes-shifted",
        "notes-sets-swapped",
        "own-shade",
    } & set(overcast["code"])


def test_a_clear_day_of_two_sets_lists_hardly_anything(clear):
    assert pairs(clear) == {("station-disagrees", "no-station"), ("thermal-shock", "short-record")}


def test_at_night_all_that_needs_the_sun_is_listed(night):
    assert {code for code, reason in pairs(night) if reason == "low-sun"} == {
        "channel-frozen",
        "cover-left-on",
        "sign-reversed",
        "channels-exchanged",
        "head-inverted",
        "factor-inverted",
    }
    assert set(night.loc[night["code"] == "channel-frozen", "channel"]) == {"sw_in", "sw_out"}
    assert ("surface-mislabelled", "sun-under-20") in pairs(night)


@pytest.mark.parametrize(
    "spec, code, reason",
    [
        (of_notes.regular(1, "clear"), "notes-shifted", "alike-times"),
        (
            specs.minimal(
                sets=specs.two_sets(),
                visits=tuple(
                    visit for s in specs.two_sets() for visit in walks(s.name, MEADOW, 60.0, passes=4)[0]
                ),
            ),
            "notes-sets-swapped",
            "in-step",
        ),
        (specs.station(interval=60.0), "swing-strong", "records-apart"),
        (of_notes.regular(1, "clear"), "clock-against-sun", "flat-sun"),
        (specs.station(interval=60.0, kind="broken"), "clock-against-sun", "no-clear-sky"),
        (
            specs.minimal(
                fields=(field("Firn", "snow"),), visits=tuple(walks("curlew", field("Firn", "snow"), 60.0)[0])
            ),
            "sign-reversed",
            "no-land",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_a_campaign_lacks_is_the_reason(spec, code, reason):
    assert (code, reason) in pairs(of(simulate(spec), "segment"))


def test_a_clock_check_settles_equal_walks():
    walk = np.array([[150.0 * k, 150.0 * k + 100.0] for k in range(20)])
    moments = {"heron": np.concatenate([np.arange(start + 0.5, end) for start, end in walk])}

    def times(values):
        return pd.to_datetime(values * 1e9, unit="ns", utc=True)

    noted = pd.DataFrame({"set": "heron", "start_utc": times(walk[:, 0]), "end_utc": times(walk[:, 1])})
    check = pd.DataFrame(
        {"set": ["heron"], "start_utc": times(np.array([0.0])), "logger_utc": times(np.array([1.0]))}
    )
    for checks, expected in ((check[:0], [Untold("notes-shifted", "alike-times")]), (check, [])):
        told = []
        assert (
            notes_and_runs.notes_against_runs(
                noted, checks, moments, {"heron": 1.0}, 0.0, walks=True, tell=told.append
            )
            == []
            and told == expected
        )


def test_every_row_has_a_known_code_and_its_words(overcast, clear, night):
    rows = pd.concat([overcast, clear, night])
    assert set(rows["code"]) <= CODES and set(rows["reason"]) <= {row["reason"] for row in REASONS}
    assert (rows["why"].str.len() > 10).all() and (rows["settles"].str.len() > 10).all()


def test_every_reason_is_given_somewhere_and_says_itself_in_sentences():
    text = "\n".join(
        path.read_text(encoding="utf-8")
        for path in sorted((PROJECT / "workflow/headland/checks").glob("*.py"))
    )
    for row in REASONS:
        assert f'"{row["reason"]}"' in text, row["reason"]
        assert all(re.fullmatch(r"[A-Z].*\.", row[name]) for name in ("why", "settles")), row
    assert len({row["reason"] for row in REASONS}) == len({row["why"] for row in REASONS}) == len(REASONS)
    for code, reason in re.findall(
        r'(?:Untold|can_t_tell|tell_uncompared|needs)\("([a-z-]+)"(?:, "([a-z-]+)")?', text
    ):
        assert code in CODES and reason in {"", *(row["reason"] for row in REASONS)}, (code, reason)


def test_what_a_finding_speaks_of_is_not_listed_beside_it():
    told = untold.frame(
        [
            Untold("sign-reversed", "small-signal", "heron", "lw_in"),
            Untold("sign-reversed", "weak-sun", "heron", "lw_out"),
            Untold("sign-reversed", "weak-sun", "curlew", "lw_out"),
            Untold("notes-shifted", "alike-times"),
            Untold("notes-shifted", "alike-times"),
        ]
    )
    assert len(told) == 4

    def left(*found):
        rows = untold.described(told, found, REASONS)[["code", "set", "channel"]]
        return [tuple(row) for row in rows.to_numpy()]

    assert left(Finding("sign-reversed", set="heron", channel="lw_in")) == [
        ("notes-shifted", "", ""),
        ("sign-reversed", "heron", "lw_out"),
        ("sign-reversed", "curlew", "lw_out"),
    ]
    assert ("notes-shifted", "", "") not in left(Finding("notes-shifted", "undecided")) and len(
        left(Finding("head-tilted", set="heron"))
    ) == 4


def test_a_mistake_that_can_t_be_told_is_undecided_in_the_study():
    row = next(row for row in study.ROWS if row.code == "clock-against-sun")
    assert trial.verdict(row, [], [Untold("clock-against-sun", "flat-sun", "heron")], "heron") == "undecided"
    assert trial.verdict(row, [], [Untold("clock-against-sun", "flat-sun", "heron")], "curlew") == "silent"
    assert trial.verdict(row, [], [Untold("notes-shifted", "alike-times")], "heron") == "silent"


def test_a_reversed_lead_under_cloud_leaves_its_check_listed():
    spec = specs.minimal()
    campaign = mistakes.sign_reversed(
        simulate(spec.with_(sky=dataclasses.replace(spec.sky, kind="overcast"))), "curlew", "lw_out"
    )
    assert "sign-reversed" in set(of(campaign, "segment")["code"])


def test_a_finding_about_one_set_leaves_open_what_no_check_could_tell_of_all():
    told = untold.frame(
        [Untold("notes-shifted", "alike-times"), Untold("head-tilted", "one-heading", "heron")]
    )
    for found, left in (
        (Finding("notes-shifted", set="heron"), 2),
        (Finding("notes-shifted"), 1),
        (Finding("head-tilted"), 1),
        (Finding("head-tilted", set="plover"), 2),
    ):
        assert len(untold.described(told, [found], REASONS)) == left
