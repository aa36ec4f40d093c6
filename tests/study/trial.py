"""What a study of detection is made of: a mistake as a row, how it is tried in a simulated campaign, and
campaigns without any."""

from __future__ import annotations

import dataclasses
import re
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np

import chain
from headland.base import findings
from headland.base.untold import Untold
from simulate.campaign import Campaign, simulate
from simulate.spec import Spec, layout_of

SKIES = ("clear", "broken", "overcast")
IN_TURN = ("in turn",)
"""The three skies in turn, from seed to seed."""
DRAWS = 256
"""Draws of the propagation: an interval is needed to its first digit only."""
UNDECIDED = "Can't be decided"

CONSEQUENCES = frozenset(
    {
        "segment-unused",
        "note-without-data",
        "data-without-note",
        "no-segment",
        "beyond-possible",
        "certificate-later",
        "clock-check-far-off",
        "interval-unknown",
        "set-unused",
        "channel-empty",
    }
)
"""Codes that follow from many a mistake: a segment without its samples, a number that a limit of nature
forbids. They name nothing wrongly."""
WHOLE = "sw_in sw_out lw_in lw_out body battery clock file rows register unread"
"""All that one set tells, for a mistake that leaves nothing to read, or not when it was; what `reads` the
runs of all sets can't be told beside it."""
SHARED = frozenset({"times", "lines", "carrying", "station", "fields"})
"""What the sets of a campaign have in common."""


@dataclasses.dataclass(frozen=True)
class Row:
    """A mistake in the study.

    damage: puts it into a campaign, of a set, by a seed. touches: words for what it changes: two mistakes
    of one set with a word in common, or with one of SHARED in common, are not put into one campaign;
    `pair`: those of the other set count, too. base: the sound campaign in which it is tried alone, by seed
    and sky. when, can: where it can be decided, in words and by the truth of the sound campaign. severity:
    the least with which it counts as named. to: the step up to which the chain is run when it is alone.
    beside: further codes that say the same from another side. unit: what its set must store, where that
    matters. needs: what of it lies in the spec."""

    title: str
    code: str
    damage: Callable[[Campaign, str, int], Campaign]
    touches: str
    base: Callable[[int, str], Spec]
    when: str = "always"
    can: Callable[[Campaign, str, int], bool] = lambda campaign, name, seed: True
    skies: tuple[str, ...] = IN_TURN
    severity: str = "warning"
    to: str = "segment"
    beside: frozenset[str] = frozenset()
    unit: str = ""
    needs: Callable[[Spec, str], Spec] = lambda spec, name: spec

    @property
    def words(self) -> set[str]:
        return set(self.touches.split())


@dataclasses.dataclass(frozen=True)
class Said:
    """One finding as the reader sees it. follows: the codes that it says are not listed."""

    severity: str
    code: str
    what: str
    follows: frozenset[str]

    @property
    def sure(self) -> bool:
        return not self.what.startswith(UNDECIDED)


def run(campaign: Campaign, to: str = "diagnose") -> chain.Outcome:
    """What the steps up to `to` make of a campaign."""
    with tempfile.TemporaryDirectory() as folder:
        campaign.write(folder)
        return chain.run(Path(folder), draws=DRAWS, to=to)


def told(campaign: Campaign, to: str = "diagnose") -> list[Said]:
    """All that the report would list of a campaign, by the steps up to `to`."""
    return listed(run(campaign, to))


def listed(outcome: chain.Outcome) -> list[Said]:
    """All that the report would list as found."""
    result = []
    for step, finding in findings.folded(outcome.found):
        row = findings.describe(finding, step, chain.SENTENCES)
        result.append(
            Said(
                row["severity"],
                row["code"],
                row["what"],
                frozenset(re.findall(r"[a-z-]+", str(finding.facts.get("follows", "")))),
            )
        )
    return result


def alarms(said: Iterable[Said]) -> list[str]:
    """Codes of errors and warnings, of which a sound campaign must have none."""
    return sorted(one.code for one in said if one.severity != "note")


# One mistake alone -----------------------------------------------------------------------------------


_kept: dict[str, Campaign] = {}


def simulated(spec: Spec) -> Campaign:
    """The campaign of a spec; the latest are kept, as the rows of one seed share them."""
    key = repr(spec)
    if key not in _kept:
        while len(_kept) >= 40:
            _kept.pop(next(iter(_kept)))
        _kept[key] = simulate(spec)
    return _kept[key]


def sky_of(seed: int, kind: str) -> str:
    return SKIES[seed % 3] if kind == "in turn" else kind


def sound_of(row: Row, seed: int, kind: str) -> tuple[Campaign, str]:
    """The campaign into which a row's mistake is put, and the set that it befalls."""
    spec = row.base(seed, sky_of(seed, kind))
    name = spec.sets[seed % len(spec.sets)].name
    return simulated(row.needs(spec, name)), name


def verdict(row, said: list[Said], untold: Iterable[Untold] = (), name: str = "") -> str:
    """`named`, `undecided` or `silent`. untold: checks that could not be made: undecided is also what one
    of the row's code was to tell of the set `name`. row: or a curve of `power`."""
    enough = {"note": ("note", "warning", "error"), "warning": ("warning", "error"), "error": ("error",)}[
        row.severity
    ]
    if any(one.code == row.code and one.sure and one.severity in enough for one in said):
        return "named"
    open_ = any(not one.sure for one in said) or any(
        one.code == row.code and one.set in ("", name) for one in untold
    )
    return "undecided" if open_ else "silent"


def wrong_names(rows: Iterable[Row], said: list[Said]) -> list[str]:
    """Codes of errors and warnings that name what did not happen: without "can't be decided", none of the
    rows' codes, and no consequence."""
    right = CONSEQUENCES.union(*({row.code} | row.beside for row in rows))
    return sorted({one.code for one in said if one.severity != "note" and one.sure and one.code not in right})


def tried(row: Row, seed: int, kind: str) -> dict[str, object]:
    """What is said of one mistake alone: the verdict, whether it can be decided, wrong names."""
    campaign, name = sound_of(row, seed, kind)
    outcome = run(row.damage(campaign, name, seed), row.to)
    said = listed(outcome)
    return {
        "verdict": verdict(row, said, outcome.untold, name),
        "can": bool(row.can(campaign, name, seed)),
        "wrong": wrong_names((row,), said),
    }


# Several at once -------------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True)
class Drawn:
    """Mistakes that are put into one campaign, each with the set that it befalls."""

    campaign: Campaign
    mistakes: tuple[tuple[Row, str], ...]
    seed: int

    def damaged(self) -> Campaign:
        """All of them in it; those that take rows away come last, as the others count on the rows."""
        campaign = self.campaign
        for row, name in sorted(self.mistakes, key=lambda mistake: "rows" in mistake[0].words):
            campaign = row.damage(campaign, name, self.seed)
        return campaign


def compatible(a: tuple[Row, str], b: tuple[Row, str]) -> bool:
    """Whether two mistakes can be in one campaign and leave each other what they change."""
    common, either = a[0].words & b[0].words - {"pair", "reads"}, a[0].words | b[0].words
    near = a[1] == b[1] or "pair" in either
    return (
        a[0].code != b[0].code
        and not (common & SHARED)
        and not (near and common)
        and not {"unread", "reads"} <= either
    )


def drawn(rows: Iterable[Row], base: Callable[[int, str], Spec], seed: int, count: int) -> Drawn:
    """So many compatible mistakes at random that can each be decided in one campaign: every code is as
    likely as another."""
    rng = np.random.default_rng([seed, count, 12])
    by_code: dict[str, list[Row]] = {}
    for row in rows:
        by_code.setdefault(row.code, []).append(row)
    spec, chosen = base(seed, SKIES[seed % 3]), []
    while len(chosen) < count:
        code = list(by_code)[rng.integers(len(by_code))]
        row = by_code[code][rng.integers(len(by_code[code]))]
        sets = [s.name for s in spec.sets if not row.unit or stored_unit(s) == row.unit]
        mistake = (row, sets[rng.integers(len(sets))])
        if all(compatible(mistake, other) for other in chosen):
            needed = row.needs(spec, mistake[1])
            if row.can(simulated(needed), mistake[1], seed):
                spec, chosen = needed, [*chosen, mistake]
    return Drawn(simulated(spec), tuple(chosen), seed)


def stored_unit(s) -> str:
    return layout_of(s)[0]["channels"]["sw_in"]["unit"]


def tried_together(several: Drawn) -> dict[str, object]:
    """Of each mistake among several: `named`, `folded` under another one of them, `undecided` or `silent`;
    and wrong names.

    Folded: a finding that names another one of them says that what bears this code follows from it.
    """
    said = told(several.damaged())
    rows = [row for row, _ in several.mistakes]
    hidden = set().union(
        *(one.follows for one in said if one.sure and one.code in {row.code for row in rows})
    )
    verdicts = []
    for row in rows:
        own = verdict(row, said)
        if own != "named" and row.code in hidden:
            own = "folded"
        elif own == "undecided" and not any(one.code == row.code for one in said):
            own = "silent"
        verdicts.append(own)
    return {
        "rows": [f"{row.title} [{name}]" for row, name in several.mistakes],
        "codes": [row.code for row in rows],
        "verdicts": verdicts,
        "wrong": wrong_names(rows, said),
        "said": alarms(said),
    }
