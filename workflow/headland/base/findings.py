"""Findings: what a step noticed in the data, kept as a code and facts until the report puts it into words.

A step says *what* it found (`Finding`); the sentence, the remedy and the severity stand once, in
`findings.csv`, and are filled in by `describe` when `checks.csv` is made. So a sentence can be improved
without rerunning a step.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import pandas as pd

from headland.base.words import plain
from headland.physics.constants import RADIATION

SEVERITIES = ("error", "warning", "note")


FOLLOWS = {
    "clock-against-sun": (
        "notes-shifted",
        "clock-check-far-off",
        "note-without-data",
        "data-without-note",
        "segment-unused",
        "surface-mislabelled",
        "sets-disagree",
        "head-tilted",
        "own-shade",
        "station-disagrees",
        "beyond-possible",
    ),
    "notes-shifted": (
        "clock-check-far-off",
        "note-without-data",
        "data-without-note",
        "segment-unused",
        "surface-mislabelled",
        "own-shade",
        "head-tilted",
        "interval-unknown",
    ),
    "notes-sets-swapped": (
        "clock-check-far-off",
        "note-without-data",
        "data-without-note",
        "segment-unused",
        "surface-mislabelled",
        "own-shade",
        "head-tilted",
        "interval-unknown",
    ),
    **dict.fromkeys(
        ("clock-reset", "clock-backwards"),
        ("note-without-data", "beyond-possible", "certificate-later", "segment-unused"),
    ),
    **dict.fromkeys(
        ("pair-broken", "decimal-comma", "wrong-delimiter", "wrong-encoding", "file-empty"),
        ("note-without-data",),
    ),
    **dict.fromkeys(
        (
            "sign-reversed",
            "head-inverted",
            "channels-exchanged",
            "channel-frozen",
            "factor-inverted",
            "factors-exchanged",
            "longwave-corrected-twice",
            "longwave-not-corrected",
            "longwave-corrected-one-channel",
            "body-temperature-unit",
            "cover-left-on",
        ),
        ("sets-disagree", "station-disagrees", "head-tilted", "upward-shaded"),
    ),
}
"""What may follow from a finding: where the cause is named and explains them, these say nothing of their own
about the same set.
"""
LABELLING = frozenset({"clock-against-sun", "notes-shifted", "notes-sets-swapped"})
"""Causes that put samples under wrong notes. Their fact `left` lists what would be found all the same once
they are mended: (code, set, start_utc) each.
"""
OF_LABELS = frozenset(
    {"notes-shifted", "note-without-data", "data-without-note", "segment-unused", "surface-mislabelled"}
)
"""What no wrong clock explains where notes and runs fit each other, as where watch and logger are wrong by
the same time (fact `labels_hold`).
"""


WITHHELD = frozenset(
    {
        "longwave-corrected-twice",
        "longwave-not-corrected",
        "longwave-corrected-one-channel",
        "body-temperature-unit",
        "sign-reversed",
        "channel-frozen",
        "factor-inverted",
        "factors-exchanged",
        "head-inverted",
        "channels-exchanged",
        "clock-against-sun",
        "notes-shifted",
        "notes-sets-swapped",
        "place-disagrees",
    }
)
"""Codes that, as errors, make a number wrong by more than its interval can say: the numbers concerned are
withheld rather than printed.
"""
DOUBTS = frozenset({"undecided", "one-of-two", "fits-nowhere"})
"""Variants of these codes that are no errors, since they can't be decided."""
STAND = frozenset({("clock-against-sun", ""), ("clock-against-sun", "noted")})
"""Clocks wrong by too little to say so, or together with the notes: the means are of the surfaces noted, and
stand.
"""


@dataclass(frozen=True)
class Finding:
    """One thing found wrong or doubtful.

    code, variant: the row of `findings.csv`; `variant` tells apart the readings of one code. set, file, line,
    start_utc, end_utc, channel: where; what does not apply stays empty. Times are ISO 8601 text in UTC.
    facts: the values that the sentence and the remedy of that row name in braces.
    """

    code: str
    variant: str = ""
    set: str = ""
    file: str = ""
    line: int | None = None
    start_utc: str = ""
    end_utc: str = ""
    channel: str = ""
    facts: Mapping[str, object] = field(default_factory=dict)


def folded(found: Sequence[tuple[str, Finding]]) -> list[tuple[str, Finding]]:
    """Findings with their steps, without those that follow from another one; the cause says how many it
    stands for.

    A follower belongs to a cause that explains it, of the same set or of all sets. What follows from a
    follower belongs to the first cause.
    """
    cause_of: dict[int, int] = {}
    for cause_code, followers in FOLLOWS.items():
        for number, (_, cause) in enumerate(found):
            if cause.code != cause_code or number in cause_of:
                continue
            for other, (_, finding) in enumerate(found):
                if finding.code in followers and other not in cause_of and explains(cause, finding):
                    cause_of[other] = number
    result = []
    for number, (step, finding) in enumerate(found):
        if number in cause_of:
            continue
        counted = Counter(found[other][1].code for other, cause in cause_of.items() if cause == number)
        listed = ", ".join(f"{code} ({count})" for code, count in sorted(counted.items()))
        result.append(
            (step, replace(finding, facts={**finding.facts, "follows": listed}) if listed else finding)
        )
    return result


def explains(cause: Finding, finding: Finding) -> bool:
    """Whether a cause accounts for a finding of a code that may follow from it: the same set, time and
    channels, and nothing that is left once it is mended.
    """
    if cause.set and finding.set and cause.set not in sets_of(finding):
        return False
    if cause.code in LABELLING:
        left = {tuple(entry) for entry in cause.facts.get("left", ())}
        return (finding.code, finding.set, finding.start_utc) not in left and not (
            cause.facts.get("labels_hold") and finding.code in OF_LABELS
        )
    apart = (
        cause.start_utc
        and finding.start_utc
        and (finding.end_utc < cause.start_utc or cause.end_utc < finding.start_utc)
    )
    ours, theirs = radiation_of(cause), radiation_of(finding)
    return not apart and (not ours or not theirs or bool(ours & theirs))


def sets_of(finding: Finding) -> set[str]:
    """The sets that a finding may be about: where two differ from each other, either may be the one that is
    off.
    """
    return (
        {finding.set, str(finding.facts.get("others", ""))}
        if finding.code == "sets-disagree" and not finding.variant
        else {finding.set}
    )


def radiation_of(finding: Finding) -> set[str]:
    """The terms that a finding's channels concern: a body temperature makes both longwave terms."""
    named = set(finding.channel.split())
    return named & set(RADIATION) | (
        {"lw_in", "lw_out"} if any(name.startswith("body_temperature") for name in named) else set()
    )


def sentences(rows: pd.DataFrame) -> dict[tuple[str, str], dict[str, str]]:
    """The rows of `findings.csv` by (code, variant)."""
    return {(row["code"], row["variant"]): row for row in rows.to_dict("records")}


def describe(
    finding: Finding, step: str, table: Mapping[tuple[str, str], Mapping[str, str]]
) -> dict[str, object]:
    """The row of `checks.csv` for a finding of a step.

    table: rows of `findings.csv` by (code, variant). Raises KeyError for a code without a row, which a test
    excludes. The templates are ours; facts are only ever inserted, so text from a user's file can't act as a
    template.
    """
    row = table[finding.code, finding.variant]
    follows = (
        f" What follows from this is not listed: {finding.facts['follows']}."
        if "follows" in finding.facts
        else ""
    )
    facts = {"channel": finding.channel, "set": finding.set, **finding.facts}
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
        "what": _sentence(row["what"].format(**facts)) + follows,
        "remedy": _sentence(row["remedy"].format(**facts)),
    }


@dataclass(frozen=True)
class Withheld:
    """Channels of some sets (of all where there is none) that an error makes untrustworthy between two
    moments, ISO 8601 text (always, where empty).
    """

    sets: tuple[str, ...]
    channels: tuple[str, ...]
    start_utc: str = ""
    end_utc: str = ""


def withheld(found: Iterable[Finding]) -> list[Withheld]:
    """What the errors among some findings make untrustworthy."""
    result = []
    for finding in found:
        if (
            finding.code not in WITHHELD
            or finding.variant in DOUBTS
            or (finding.code, finding.variant) in STAND
        ):
            continue
        sets = (
            (finding.set,)
            if finding.set
            else tuple(str(finding.facts[key]) for key in ("a", "b") if finding.code == "notes-sets-swapped")
        )
        if (
            finding.code in LABELLING
        ):  # told from one channel by day, but every sample of the set stands under a wrong note
            result.append(Withheld(sets, RADIATION))
            continue
        named = radiation_of(finding)
        result.append(
            Withheld(
                sets,
                tuple(c for c in RADIATION if c in named) or RADIATION,
                finding.start_utc,
                finding.end_utc,
            )
        )
    return result


def _sentence(text: str) -> str:
    text = plain(text)
    return text if text.endswith((".", "?")) else text + "."


def in_order(checks: Iterable[Mapping[str, object]]) -> list[Mapping[str, object]]:
    """Rows of `checks.csv` with errors first, then warnings, then notes, each in the order of the steps."""
    return sorted(checks, key=lambda row: SEVERITIES.index(row["severity"]))
