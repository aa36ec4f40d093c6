"""Mistakes of the world put into sound campaigns: which are named, and which names are wrong.

A mistake is named when its code is among the findings without "Can't be decided". A wrong name is an error or
warning whose code the same campaign without the mistake does not show, that is neither the mistake's code nor
a plain consequence of it.
"""

from __future__ import annotations

import copy
import tempfile
from functools import lru_cache
from pathlib import Path

import numpy as np

import chain
import world
from study.trial import CONSEQUENCES, Said, listed
from study.world_decidable import decidable
from world.day import Day

CHOICES = {"sets": 2, "order": "two_at_a_time", "station": True, "fields": 4}
"""What a campaign needs so that most mistakes have room in it; everything else is drawn."""
DRAWS = 256
LOGGER = {"longwave": "semicolon-day", "factor-outdated": "semicolon-day", "battery-low": "comma-clock"}
"""Loggers that a mistake needs: one that stores fluxes, or its supply. Others are drawn."""
ANOTHER_RADIATION = {"sets-disagree", "station-disagrees"}
"""A set that reads other radiation than the others, or than the station, plainly differs from them."""
UNREAD = {"lines-skipped", "row-damaged", "row-too-long", "column-missing", "file-empty", "layout-mismatch"}
"""What a file that cannot be split or decoded looks like."""
PLAIN: dict[str, set[str]] = {
    **dict.fromkeys(
        (
            "cover-left-on",
            "head-inverted",
            "upward-shaded",
            "head-tilted",
            "dome-wet",
            "thermal-shock",
            "longwave-corrected-twice",
            "longwave-not-corrected",
            "longwave-corrected-one-channel",
            "body-temperature-unit",
            "factor-inverted",
            "factors-exchanged",
            "factor-outdated",
            "pair-broken",
            "channels-exchanged",
            "sign-reversed",
            "sets-disagree",
            "station-disagrees",
            "channel-frozen",
        ),
        ANOTHER_RADIATION,
    ),
    "battery-low": ANOTHER_RADIATION,
    "clock-backwards": {"rows-duplicated"},
    **dict.fromkeys(
        ("notes-sets-swapped", "notes-shifted"), {"field-inconsistent"}
    ),  # passes of other fields
    "row-damaged": {"file-truncated"},  # where the last row is damaged
    "clock-against-sun": {"notes-shifted"} | ANOTHER_RADIATION,  # wrong times fit no notes and no other light
    "rows-duplicated": {"clock-backwards"},
    "field-inconsistent": {"surface-mislabelled"},
    "surface-mislabelled": {"heat-against-wind"},
    "file-truncated": {"row-damaged", "lines-skipped"},
    "decimal-comma": UNREAD,
    "wrong-delimiter": UNREAD,
    "wrong-encoding": UNREAD,
}
"""Codes that follow plainly from one mistake, beside those that follow from many (`trial.CONSEQUENCES`)."""
SAME_RECORD = {"channels-exchanged": {"head-inverted"}}
"""Another name of the same record: both bands exchanged look just like a set upside down."""


def logger_for(code: str) -> str | None:
    """Return the kind of logger that a mistake needs, if it needs one."""
    return next((kind for start, kind in LOGGER.items() if code.startswith(start)), None)


def run(day: Day) -> chain.Outcome:
    """Return what the chain makes of a day."""
    with tempfile.TemporaryDirectory() as folder:
        day.write(folder)
        return chain.run(Path(folder), draws=DRAWS)


def another(day: Day) -> Day:
    """Return a day that can be changed while the first stays as it is."""
    other = copy.copy(day)
    other.kits, other.tables = copy.deepcopy(day.kits), copy.deepcopy(day.tables)
    other.records = dict(day.records)
    return other


def alarms(said: list[Said]) -> list[str]:
    """Return the codes of errors and warnings, each once, without those that can't be decided."""
    return sorted({one.code for one in said if one.severity != "note" and one.sure})


def judged(code: str, outcome: chain.Outcome, twin: list[Said]) -> dict[str, object]:
    """Return what was said of a mistake. twin: what is said of the sound campaign."""
    said = listed(outcome)
    named = any(one.code == code and one.sure for one in said)
    open_ = any(one.code == code for one in said) or any(one.code == code for one in outcome.untold)
    return {
        "verdict": "named" if named else ("undecided" if open_ else "silent"),
        "in_twin": any(one.code == code and one.sure for one in twin),
        "said": alarms(said),
        "twin": alarms(twin),
    }


def verdict(record: dict) -> str:
    """Return `named`, `undecided`, `silent`, `no room`, `not decidable`, or `in twin`: said without it."""
    also = SAME_RECORD.get(record["code"], set())
    new = set(record.get("said", [])) - set(record.get("twin", []))
    if record.get("in_twin"):
        return "in twin"
    if not record.get("decidable", True):
        return "not decidable"
    return "named" if also & new else str(record["verdict"])


def wrong_names(record: dict) -> list[str]:
    """Return the wrong names in the record of one mistake."""
    code = record["code"]
    right = {code} | CONSEQUENCES | PLAIN.get(code, set()) | SAME_RECORD.get(code, set())
    return sorted(set(record.get("said", [])) - set(record.get("twin", [])) - right)


@lru_cache(maxsize=4)
def sound(seed: int, logger: str | None) -> tuple[Day, list[Said]]:
    """Return the campaign of a seed and what is said of it without a mistake."""
    day = world.draw(seed, **CHOICES, **({"logger": logger} if logger else {}))
    return day, listed(run(day))


def program_told(day: Day, twin: Day, done: dict) -> None:
    """Write into the register what the logger was programmed with: from that an outdated factor is told.

    day: with the mistake in it; twin: without; done: as `world.inject` returns.
    """
    register, before = day.tables.register, twin.tables.register["programmed_factor"]
    rows = (register["set"] == done["set"]) & (register["channel"] == done["channel"])
    inverse = register["factor_unit"] == "uV per W m-2"
    for row in register.index[rows & before.ne("")]:
        times = (1.0 + done["size"]) ** (-1 if inverse[row] else 1)
        register.loc[row, "programmed_factor"] = f"{float(before[row]) * times:.3f}"


def tried(variant: str, seed: int) -> dict[str, object]:
    """Return what is said of one mistake in the campaign of a seed, and of the same campaign without it.

    A campaign without room for the mistake gives the verdict `no room`.
    """
    day, twin = sound(seed, logger_for(variant))
    changed = another(day)
    about = {
        "variant": variant,
        "heads": day.grade,
        "order": day.survey.order,
        "sky": day.scene.clouds.kind,
        "sets": len(day.survey.sets),
    }
    try:
        done = world.inject(changed, variant, np.random.default_rng([seed, world.CODES.index(variant)]))
    except ValueError as error:
        return about | {"code": variant.split("/")[0], "verdict": "no room", "reason": str(error)}
    if variant == "factor-outdated":
        program_told(changed, day, done)
    size = done["size"] if isinstance(done["size"], int | float) else None
    about |= {
        "code": done["code"],
        "set": done["set"],
        "size": size,
        "unit": done["unit"],
        "what": done["what"],
        "decidable": decidable(variant, changed, done),
    }
    return about | judged(done["code"], run(changed), twin)
