"""The lamps of the quick look: one thing looked at each, its colour with a word, and what to do in the field.

The chain's own checks find what is wrong, in their codes and sentences. This module adds only what they do
not ask: which lamp a finding belongs to, and what can still be done about it in the field.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from headland.base import findings
from headland.base.findings import Finding
from headland.field import again
from headland.report.wording import ALIKE

WORDS = {"green": "good", "amber": "look", "red": "act", "grey": "not tested"}
"""The words for each colour, so that no colour is used without words."""
WORST = ("grey", "green", "amber", "red")
STATES = {"error": "red", "warning": "amber", "note": "green"}
"""Colour of a finding of the chain, by its severity."""
NAMES = {"sw_in": "shortwave in", "sw_out": "shortwave out", "lw_in": "longwave in", "lw_out": "longwave out"}
SUBJECTS = {
    "ranges": ("beyond-possible",),
    "covers": ("cover-left-on",),
    "signs and places": ("sign-reversed", "channels-exchanged", "head-inverted"),
    "channels alive": ("channel-frozen",),
    "factors": ("factor-inverted", "factors-exchanged"),
    "longwave correction": (
        "longwave-corrected-twice",
        "longwave-not-corrected",
        "longwave-corrected-one-channel",
    ),
    "body temperature": ("body-temperature-unit", "thermal-shock"),
    "upper window": ("dome-wet",),
    "supply": ("battery-low",),
    "clock and sun": ("clock-against-sun",),
}
"""The lamps of a set, and the codes that light each of them."""
OF_HEADS = ("covers", "signs and places", "channels alive", "factors")
"""Where one of these lamps is lit, the two sets are not compared."""
OTHERS = {
    "ingest": "files",
    "calibrate": "certificates",
    "screen": "carrying",
    "segment": "notes",
    "diagnose": "sets together",
}
"""Lamps of findings with another code, by the step that finds them."""
_BY_HAND = "Cover each head by hand, see which channel moves, and correct the leads now."
IN_FIELD = {
    "beyond-possible": "Compare with the other set; check plugs, cable and factors.",
    "cover-left-on": "Take the covers off and walk those parts again, unless they were covered on purpose.",
    "sign-reversed": _BY_HAND,
    "channels-exchanged": _BY_HAND,
    "head-inverted": "Check which side of the carrier is up, turn it, and walk again.",
    "channel-frozen": "Check its plug and cable; walk again what matters.",
    "dome-wet": (
        "Dry the window with a soft cloth, check that the signal comes back, and walk those parts again."
    ),
    "thermal-shock": "Let the set stand outside for half an hour and walk the first part again.",
    "swing-strong": "Hold the head steadier or walk slower, and walk again what matters.",
    "battery-low": "Change or charge the battery before going on.",
    "clock-against-sun": "Read the logger's clock now and note it (clock_check); check utc_offset.",
    "clock-check-far-off": "Read watch and logger once more, note both, and check utc_offset.",
    "notes-shifted": "Read watch and loggers against one time now, and note them (clock_check).",
    "notes-sets-swapped": "Ask who carried which set while everybody is here, and correct the notes.",
    "note-without-data": (
        "Walk it again. Check whether a file is still on the logger, and which clock the notes use."
    ),
    "data-without-note": "Write down what was walked then, while everybody remembers.",
    "segment-unused": "Walk it again, longer, or further from the edges.",
    "head-too-low": "Carry the head higher and walk it again, or measure the canopy again.",
    "sets-disagree": (
        "Clean the domes, level both heads, check factors and plugs. Then stand side by side for 5 min."
    ),
}
"""What can still be done in the field; for other codes the report's remedy holds there too."""


@dataclass(frozen=True)
class Lamp:
    """One thing looked at.

    set: whose; several names, or empty for all. state: a key of WORDS. what, remedy: sentences; no remedy
    where there is nothing to do. code: of the chain's finding, empty where it is none. again: the walks to do
    again because of it.
    """

    set: str
    subject: str
    state: str
    what: str
    remedy: str = ""
    code: str = ""
    again: str = ""


def worst(lamps: Sequence[Lamp]) -> str:
    """The colour of the whole: the worst of its lamps."""
    return max((lamp.state for lamp in lamps), key=WORST.index, default="grey")


def of_findings(
    found: Sequence[tuple[str, Finding]], sentences: Mapping, visits: pd.DataFrame, zone: str
) -> list[Lamp]:
    """The lamps of what the chain finds, in the report's words; notes light none.

    Of findings that follow from one cause only the cause has a lamp. found: findings with their steps.
    sentences: as `findings.describe` wants it. visits: noted intervals, or runs where nothing is noted. zone:
    of the place, for the times of walks to do again.
    """
    groups: dict[tuple, list[Lamp]] = {}
    causes = findings.folded(found)
    walks = again.walks_again(causes, visits, zone)
    for step, finding in findings.gathered(causes):
        row = findings.describe(finding, step, sentences)
        if row["severity"] != "note":
            spoilt = again.sentence(walks, (finding.code, finding.set, finding.channel))
            lamp = replace(_of_row(row, step), again=spoilt)
            groups.setdefault((lamp.set, lamp.code, lamp.state), []).append(lamp)
    return [lamp for alike in groups.values() for lamp in _first(alike)]


def _of_row(row: Mapping, step: str) -> Lamp:
    """The lamp of a row of checks.csv, found in a step."""
    subject = {code: name for name, codes in SUBJECTS.items() for code in codes}
    place = row["file"] + (f", line {row['line']}" if row["file"] and row["line"] else "")
    return Lamp(
        row["set"],
        subject.get(row["code"], OTHERS[step]),
        STATES[row["severity"]],
        f"{place}: {row['what']}" if place else row["what"],
        IN_FIELD.get(row["code"], row["remedy"]),
        row["code"],
    )


def _first(alike: Sequence[Lamp]) -> list[Lamp]:
    """The first few of many lamps of one kind, and one that counts the others."""
    if len(alike) <= ALIKE:
        return list(alike)
    others = replace(alike[0], what=f"{len(alike) - ALIKE + 1} more like these.")
    return [*alike[: ALIKE - 1], others]
