"""Findings: what a step noticed in the data, kept as a code and facts until the report puts it into words.

A step gives what it found (`Finding`). `findings.csv` has the severity, sentence and remedy of each code;
`describe` fills them in when `checks.csv` is made. So a sentence can be improved without rerunning a step.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate
from pathlib import Path
from typing import Any

from headland.base.finding_kinds import (
    DOUBTFUL,
    DOUBTS,
    FOLLOWS,
    LABELLING,
    OF_CLOCKS,
    OF_LABELS,
    OF_TIMES,
    OF_VISITS,
    STAND,
    WITHHELD,
)
from headland.base.words import plain
from headland.physics.constants import RADIATION

SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True)
class Finding:
    """One thing found wrong or doubtful.

    code, variant: the row of `findings.csv`; a code has a variant for each of its readings. set, file,
    line, start_utc, end_utc, channel: where; what does not apply is empty. Times are ISO 8601 text in UTC.
    facts: the values of the names in braces in that row's sentence and remedy."""

    code: str
    variant: str = ""
    set: str = ""
    file: str = ""
    line: int | None = None
    start_utc: str = ""
    end_utc: str = ""
    channel: str = ""
    facts: Mapping[str, Any] = field(default_factory=dict)


def folded(found: Sequence[tuple[str, Finding]]) -> list[tuple[str, Finding]]:
    """Findings with their steps, without those that follow from another one; the cause lists and counts them.

    A follower belongs to a cause that explains it, of the same set or of all sets. What follows from a
    follower belongs to the first cause."""
    found = _once(found)
    by_code: dict[str | tuple[str, str], list[int]] = {}
    for number, (_, finding) in enumerate(found):
        for key in (finding.code, (finding.code, finding.variant)):
            by_code.setdefault(key, []).append(number)
    cause_of: dict[int, int] = {}
    for cause_kind, follower_codes in FOLLOWS.items():
        followers = [number for code in follower_codes for number in by_code.get(code, ())]
        for number, cause in _causes([(number, found[number][1]) for number in by_code.get(cause_kind, ())]):
            first = cause_of.get(number, number)
            for other in followers:
                if other not in cause_of and other != first and explains(cause, found[other][1]):
                    cause_of[other] = first
    counts: dict[int, Counter] = {}
    for other, number in cause_of.items():
        counts.setdefault(number, Counter())[found[other][1].code] += 1
    result = []
    for number, (step, finding) in enumerate(found):
        if number in cause_of:
            continue
        listed = ", ".join(f"{code} ({count})" for code, count in sorted(counts.get(number, {}).items()))
        result.append(
            (step, replace(finding, facts={**finding.facts, "follows": listed}) if listed else finding)
        )
    return result


def _causes(causes: Sequence[tuple[int, Finding]]) -> Iterator[tuple[int, Finding]]:
    """Causes of one code with their numbers, those that explain the same findings once: a table may have
    thousands of them.
    """
    known = set()
    for number, cause in causes:
        by_itself = cause.code in LABELLING or cause.code == "value-invalid"  # by its facts, or its line
        own = (number,) if by_itself else ()
        key = (cause.variant, cause.set, cause.start_utc, cause.end_utc, cause.channel, *own)
        if key not in known:
            known.add(key)
            yield number, cause


def _once(found: Sequence[tuple[str, Finding]]) -> list[tuple[str, Finding]]:
    """Findings with their steps, those of one line of a table once: each set reads the register again."""
    known: dict[tuple[str, str], tuple[str, Finding]] = {}
    for number, (step, finding) in enumerate(found):
        of_table = finding.file and finding.line is not None and not finding.set
        known.setdefault((step, repr(finding) if of_table else str(number)), (step, finding))
    return list(known.values())


OF_PLACE = frozenset({"segment", "field", "samples", "count"})
"""Facts that say where something was found, or how much of it there, and not what."""
SPOKEN, LISTED = 5, 30_000
"""Places that a sentence lists, and characters of the column `places`: a spreadsheet's cell holds 32,767."""


def gathered(found: Sequence[tuple[str, Finding]]) -> list[tuple[str, Finding]]:
    """Findings with their steps, those of one cause as one: the first, with a count and all places.

    One cause is the same code, variant, set and channel with the same facts, whatever the place (OF_PLACE).
    The fact `places` then lists them; the times are those of the first beginning and the last end.
    """
    groups: dict[tuple, list[tuple[str, Finding]]] = {}
    for step, finding in found:
        facts = sorted((name, repr(fact)) for name, fact in finding.facts.items() if name not in OF_PLACE)
        key = (finding.code, finding.variant, finding.set, finding.channel, *facts)
        groups.setdefault(key, []).append((step, finding))
    return [_as_one(alike) for alike in groups.values()]


def _as_one(alike: Sequence[tuple[str, Finding]]) -> tuple[str, Finding]:
    """The first of some findings of one cause, with the places of all where there are several."""
    step, first = alike[0]
    places = list(dict.fromkeys(_place_of(finding) for _, finding in alike))
    if len(places) < 2:
        return alike[0]
    starts, ends = ([getattr(one, name) for _, one in alike] for name in ("start_utc", "end_utc"))
    whole = all(starts) and all(ends)
    facts = {**first.facts, "places": places}
    times = {"start_utc": min(starts), "end_utc": max(ends)} if whole else {}
    return step, replace(first, facts=facts, **times)


def _place_of(finding: Finding) -> str:
    """A finding's place in words: its segment, else file and line, else its time."""
    if finding.facts.get("segment"):
        return str(finding.facts["segment"])
    line = f"line {finding.line}" if finding.line else ""
    return " ".join(part for part in (finding.file, line) if part) or finding.start_utc


def explains(cause: Finding, finding: Finding) -> bool:
    """Whether a cause explains a finding of a code that may follow from it.

    It does for the same set, time and channels, except what remains once the cause is corrected. A clock that
    jumped makes all times of its set wrong.
    """
    if cause.set and finding.set and cause.set not in sets_of(finding):
        return False
    if cause.variant in OF_VISITS:
        return False
    if cause.code == "value-invalid":
        lines = {cause.line, *cause.facts.get("lines", ())}
        return cause.file == finding.file and bool(lines & set(finding.facts.get("lines", ())))
    if finding.code == "set-unused" and cause.variant in (*DOUBTS, "small"):
        return False
    if (cause.code, cause.variant) == ("notes-shifted", "small") and finding.code not in OF_TIMES:
        return False
    if cause.code in LABELLING:
        left = {tuple(entry) for entry in cause.facts.get("left", ())}
        return (finding.code, finding.set, finding.start_utc) not in left and not (
            cause.facts.get("labels_hold") and finding.code in OF_LABELS
        )
    apart = (
        cause.code not in OF_CLOCKS
        and cause.start_utc
        and finding.start_utc
        and (finding.end_utc < cause.start_utc or cause.end_utc < finding.start_utc)
    )
    ours, theirs = radiation_of(cause), radiation_of(finding)
    return not apart and (not ours or not theirs or bool(ours & theirs))


def sets_of(finding: Finding) -> set[str]:
    """The sets that a finding may be about: where two disagree, either may be wrong."""
    return (
        {finding.set, str(finding.facts.get("others", ""))}
        if finding.code == "sets-disagree" and not finding.variant
        else {finding.set}
    )


def radiation_of(finding: Finding) -> set[str]:
    """The terms that a finding's channels concern: a body temperature concerns both longwave terms."""
    named = set(finding.channel.split())
    return named & set(RADIATION) | (
        {"lw_in", "lw_out"} if any(name.startswith("body_temperature") for name in named) else set()
    )


SENTENCES = Path(__file__).parents[1] / "checks" / "findings.csv"
"""The table of sentences: for each code and variant its severity, sentence and remedy."""


def sentences(path: Path = SENTENCES) -> dict[tuple[str, str], dict[str, str]]:
    """The rows of `findings.csv` by (code, variant)."""
    with path.open(encoding="utf-8", newline="") as stream:
        return {(row["code"], row["variant"]): row for row in csv.DictReader(stream)}


def describe(
    finding: Finding, step: str, table: Mapping[tuple[str, str], Mapping[str, str]]
) -> dict[str, object]:
    """The row of `checks.csv` for a finding of a step.

    table: rows of `findings.csv` by (code, variant). A code without a row raises KeyError, which a test
    excludes. The templates are ours, and facts are only inserted: text from a user's file can't act as a
    template."""
    row = table[finding.code, finding.variant]
    follows = (
        f" Consequences are not listed: {finding.facts['follows']}." if "follows" in finding.facts else ""
    )
    facts = {"channel": finding.channel, "set": finding.set, **finding.facts}
    places = [plain(str(place)) for place in finding.facts.get("places", ())]
    others = _and_elsewhere(places[1:])
    return {
        "severity": row["severity"],
        "code": finding.code,
        "step": row["step"] or step,
        "set": plain(finding.set),
        "file": plain(finding.file),
        "line": finding.line,
        "start_utc": finding.start_utc,
        "end_utc": finding.end_utc,
        "channel": finding.channel,
        "what": _sentence(row["what"].format(**facts)) + others + follows,
        "remedy": _sentence(row["remedy"].format(**facts)),
        "count": max(len(places), 1),
        "places": _listed(places),
    }


def _listed(places: Sequence[str]) -> str:
    """Places as one text, with a count of those for which there is no room."""
    ends = accumulate(len(place) + 2 for place in places)
    kept = sum(1 for end in ends if end <= LISTED)
    more = [f"and {len(places) - kept} more"] if kept < len(places) else []
    return ", ".join([*places[:kept], *more])


def _and_elsewhere(places: Sequence[str]) -> str:
    """A sentence on the other places of one cause."""
    if not places:
        return ""
    listed = ", ".join(places[:SPOKEN])
    left = f" and {len(places) - SPOKEN} more" if len(places) > SPOKEN else ""
    return f" The same in {len(places)} other place{'s' if len(places) > 1 else ''}: {listed}{left}."


@dataclass(frozen=True)
class Withheld:
    """Channels of some sets that an error makes untrustworthy, or doubtful, between two moments.

    sets: empty for all. start_utc, end_utc: ISO 8601 text, empty for always.
    """

    sets: tuple[str, ...]
    channels: tuple[str, ...]
    start_utc: str = ""
    end_utc: str = ""


def withheld(found: Iterable[Finding]) -> list[Withheld]:
    """What the errors among some findings make untrustworthy."""
    return [_withheld_by(finding) for finding in found if _misleads(finding)]


def doubted(found: Iterable[Finding]) -> list[Withheld]:
    """What some findings make doubtful: its numbers are shown as provisional."""
    return [_withheld_by(finding) for finding in found if _raises_doubt(finding)]


def _misleads(finding: Finding) -> bool:
    """Whether a finding is an error that withholds numbers."""
    kept = finding.variant in DOUBTS or (finding.code, finding.variant) in STAND
    return finding.code in WITHHELD and not kept


def _raises_doubt(finding: Finding) -> bool:
    """Whether a finding makes numbers doubtful that are not withheld."""
    undecided = finding.code in WITHHELD and finding.variant in DOUBTS
    return undecided or (finding.code, finding.variant) in DOUBTFUL


def _withheld_by(finding: Finding) -> Withheld:
    sets: tuple[str, ...] = (finding.set,) if finding.set else ()
    if not finding.set and finding.code == "notes-sets-swapped":
        sets = (str(finding.facts["a"]), str(finding.facts["b"]))
    if finding.variant in OF_VISITS:
        return Withheld(sets, RADIATION, finding.start_utc, finding.end_utc)
    if finding.code in LABELLING:
        # found in one channel by day, but every sample of the set is under a wrong note
        return Withheld(sets, RADIATION)
    if finding.code in OF_CLOCKS:
        # the time of the jump; where it is wrong, before or after, is not known
        return Withheld(sets, RADIATION)
    named = radiation_of(finding)
    channels = tuple(c for c in RADIATION if c in named) or RADIATION
    return Withheld(sets, channels, finding.start_utc, finding.end_utc)


def _sentence(text: str) -> str:
    text = plain(text)
    return text if text.endswith((".", "?")) else text + "."


def in_order(checks: Iterable[Mapping[str, object]]) -> list[Mapping[str, object]]:
    """Rows of `checks.csv` with errors first, then warnings, then notes, each in the order of the steps."""
    return sorted(checks, key=lambda row: SEVERITIES.index(row["severity"]))
