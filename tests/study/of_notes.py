"""Mistakes of notes as rows of the study of detection."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from simulate import mistakes_across as mistakes
from simulate import specs
from simulate.campaign import Campaign
from simulate.spec import Sky, Spec, field, make_set, walks
from study.bases import as_drawn, by_day, two
from study.trial import Row


def late(seconds: float, checks: bool) -> Callable[[Campaign, str, int], Campaign]:
    def damage(campaign: Campaign, name: str, seed: int) -> Campaign:
        damaged = mistakes.notes_late(campaign, seconds)
        return damaged if checks else mistakes.without_checks(damaged)

    return damage


def eight_runs(campaign: Campaign, name: str, seed: int) -> bool:
    return sum(frame["run"].nunique() for frame in campaign.records.values()) >= 8


def regular(seed: int, kind: str) -> Spec:
    """Twenty equal walks at equal times: one walk more or less is no worse a fit."""
    ground = field("Lower meadow", "short_grass", length=60.0 + seed)
    visits, _ = walks("curlew", ground, 60.0, passes=20, turn=60.0)
    return specs.minimal(
        fields=(ground,), sets=(make_set("curlew", "C-11"),), visits=tuple(visits), sky=Sky(kind), seed=seed
    )


def swapped(checks: bool) -> Callable[[Campaign, str, int], Campaign]:
    def damage(campaign: Campaign, name: str, seed: int) -> Campaign:
        damaged = mistakes.sets_swapped(campaign, *two(campaign))
        return damaged if checks else mistakes.without_checks(damaged)

    return damage


def out_of_step(checks: bool) -> Callable[[Campaign, str, int], bool]:
    def can(campaign: Campaign, name: str, seed: int) -> bool:
        zones = campaign.spec.sets[0].utc_offset != campaign.spec.sets[1].utc_offset
        return len(campaign.spec.sets) == 2 and _apart(campaign, two(campaign)) > (
            0.06 if checks and zones else 0.35
        )

    return can


def _apart(campaign: Campaign, names: list[str]) -> float:
    """1 minus the share of their recorded time that two sets have in common."""
    times = [set(np.round(campaign.samples[name]["time_utc"] / 5).astype(int)) for name in names]
    return 1.0 - len(times[0] & times[1]) / len(times[0] | times[1])


def twice_round(seed: int, kind: str) -> Spec:
    spec = specs.sound(seed, kind)
    return spec.with_(visits=specs.rounds(spec.sets, spec.fields * 2))


def line(campaign: Campaign, seed: int) -> int:
    """The line of a walk in the notes."""
    rows = np.flatnonzero((campaign.notes["activity"] != "clock_check").to_numpy())
    return int(rows[seed % len(rows)])


def not_noted(campaign: Campaign, name: str, seed: int) -> Campaign:
    return mistakes.note_forgotten(campaign, line(campaign, seed))


def not_stored(campaign: Campaign, name: str, seed: int) -> Campaign:
    return mistakes.storage_forgotten(
        campaign,
        name,
        sorted(campaign.records[name]["run"].unique())[seed % campaign.records[name]["run"].nunique()],
    )


def overlapping(campaign: Campaign, name: str, seed: int) -> Campaign:
    return mistakes.overlapping(campaign, line(campaign, seed))


def slip(of: str) -> Callable[[Campaign, str, int], Campaign]:
    def damage(campaign: Campaign, name: str, seed: int) -> Campaign:
        index = line(campaign, seed)
        row = campaign.notes.iloc[index]
        changes = {
            "reversed": {"start": row["end"], "end": row["start"]},
            "incomplete": {"end": ""},
            "unknown": {"surface": row["surface"][:-2] + row["surface"][-1]},
        }
        return mistakes.note_changed(campaign, index, **changes[of])

    return damage


def one_day(campaign: Campaign, name: str, seed: int) -> bool:
    """The noted line ends on the day on which it begins."""
    return len(campaign.notes.iloc[line(campaign, seed)]["end"]) <= 8


ROWS = (
    Row("notes an hour late, clocks read", "notes-shifted", late(3600.0, True), "times reads", as_drawn),
    Row(
        "notes an hour early, clocks not read",
        "notes-shifted",
        late(-3600.0, False),
        "times reads",
        as_drawn,
        "8 runs or more",
        eight_runs,
    ),
    Row(
        "a watch 4 min slow, clocks not read",
        "notes-shifted",
        late(-240.0, False),
        "times reads",
        as_drawn,
        "8 runs or more",
        eight_runs,
    ),
    Row(
        "the wrong day, clocks not read",
        "notes-shifted",
        late(86400.0, False),
        "times reads",
        as_drawn,
        "8 runs or more",
        eight_runs,
    ),
    Row(
        "an hour late, twenty equal walks at equal times",
        "notes-shifted",
        late(3600.0, True),
        "times reads",
        regular,
        "never",
        lambda campaign, name, seed: False,
    ),
    Row(
        "sets exchanged, clocks read",
        "notes-sets-swapped",
        swapped(True),
        "times reads",
        lambda seed, kind: by_day(seed, kind, 2, 2 + seed % 2),
        "6 % of the time not in step, where the loggers' zones differ; else 35 %",
        out_of_step(True),
    ),
    Row(
        "sets exchanged, clocks not read",
        "notes-sets-swapped",
        swapped(False),
        "times reads",
        lambda seed, kind: by_day(seed, kind, 2, 2 + seed % 2),
        "35 % of the time not in step",
        out_of_step(False),
    ),
    Row("a walk not noted", "data-without-note", not_noted, "lines reads", twice_round),
    Row("a walk not stored", "note-without-data", not_stored, "rows reads", twice_round),
    Row("a walk begins before the last one ended", "notes-overlap", overlapping, "lines", by_day),
    Row("start and end exchanged", "notes-reversed", slip("reversed"), "lines", by_day, can=one_day),
    Row("an end missing", "notes-incomplete", slip("incomplete"), "lines", by_day),
    Row("a surface misspelt", "notes-unknown-name", slip("unknown"), "lines", by_day),
)
