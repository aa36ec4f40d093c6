"""Page 6: one number, all the way from a raw signal to the first page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from headland.report.cells import with_keys
from headland.report.differences import COMMON
from headland.report.given import Given
from headland.report.wording import number, opening, units, with_interval

PARTS = {
    "sample": "One sample",
    "segment": "Its segment",
    "surface": "Its surface",
}
"""Titles of the parts of the ladder."""


def context(given: Given) -> dict:
    """What the sixth page prints."""
    rows = given.worked
    followed = _followed(given)
    steps = rows[rows["set"] == followed] if followed else rows.iloc[:0]
    parts = [
        {
            "title": title,
            "item": _item(steps, part),
            "rows": _rows(given, steps[steps["part"] == part].to_dict("records")),
        }
        for part, title in PARTS.items()
        if (steps["part"] == part).any()
    ]
    surface = _surface(given, followed)
    if parts and surface in set(given.ranked["surface"]):
        parts.append(
            {"title": "On the first page", "item": "", "rows": _first_page(given, followed, surface)}
        )
    return {"ladder": parts, "ladder_words": _words(given, followed, surface)}


def _item(steps, part: str) -> str:
    item = steps.loc[steps["part"] == part, "item"].iloc[0]
    return item.replace("T", " ").replace("Z", " UTC") if part == "sample" else item


def _followed(given: Given) -> str:
    """The set whose segment is followed."""
    sets = given.worked.loc[given.worked["part"] == "segment", "set"].drop_duplicates()
    return followed_set({name: _surface(given, name) for name in sets}, list(given.ranked["surface"]))


def followed_set(surfaces: Mapping[str, str], ranked: Sequence[str]) -> str:
    """The set that the page follows: the first whose surface ranks highest; empty where there is no set.

    surfaces: the surface of each set's worked segment. ranked: the surfaces in the order of the first page.
    """
    ranks = {name: place for place, name in enumerate(ranked)}
    return min(surfaces, key=lambda name: ranks.get(surfaces[name], len(ranks)), default="")


def _surface(given: Given, set_name: str) -> str:
    """The surface of the segment of a set that is followed."""
    own = given.worked[(given.worked["set"] == set_name) & (given.worked["part"] == "segment")]
    if not len(own):
        return ""
    segments = given.means.loc[given.means["segment"] == own["item"].iloc[0], "surface"]
    return segments.iloc[0] if len(segments) else ""


def _rows(given: Given, rows: list[dict]) -> list[dict]:
    return [
        {
            "meaning": row["meaning"],
            "working": units(row["working"]),
            "value": shown(row["value"], row["unit"]),
            "unit": units(row["unit"]),
            **with_keys(given.keys, row["key"]),
        }
        for row in rows
    ]


def _on_one_scale(given: Given) -> bool:
    return given.settings["set_scale"] != "none"


def _first_page(given: Given, set_name: str, surface: str) -> list[dict]:
    """From the surface's mean by hand to the figure on the first page."""
    row = given.ranked[given.ranked["surface"] == surface].iloc[0]
    rows = []
    followed = given.worked[(given.worked["set"] == set_name) & (given.worked["part"] == "surface")]
    by_hand = followed["value"].iloc[-1] if len(followed) else math.nan
    if math.isfinite(by_hand) and math.isfinite(row[COMMON]):
        effects = "known effects and scale of the sets" if _on_one_scale(given) else "known effects"
        change = row[COMMON] - by_hand
        working = f"{number(by_hand, 2)} {'−' if change < 0 else '+'} {number(abs(change), 2)} ({effects})"
        rows.append(_row("best estimate", working, number(row[COMMON], 2)))
    low, high = row[f"{COMMON}_low"], row[f"{COMMON}_high"]
    if math.isfinite(low):
        ends = f"{number(low, 2)} to {number(high, 2)}"
        working = f"the middle 95 % of {given.settings['draws']} draws of all errors"
        rows.append(_row("interval", working, ends, "propagate.interval", given))
    printed = with_interval(row[COMMON], low, high, 0)
    rows.append(
        _row(f"{given.name(surface)}, net radiation under the common sky", "rounded to whole W m⁻²", printed)
    )
    return rows


def _row(meaning: str, working: str, value: str, key: str = "", given: Given | None = None) -> dict:
    keys = given.keys if given else {}
    return {"meaning": meaning, "working": working, "value": value, "unit": "W m⁻²", **with_keys(keys, key)}


def shown(value: float, unit: str) -> str:
    """A value with the digits that a check by hand needs: whole counts bare, others with two decimals, small
    ones with four.
    """
    whole = unit == "1" and math.isfinite(value) and value == int(value)
    decimals = 0 if whole else 4 if abs(value) < 10 else 2
    return number(value, decimals)


def _words(given: Given, followed: str, surface: str) -> str:
    if not followed:
        return "No segment counts, so there is nothing to follow."
    return (
        f"{opening(given.name(surface))} as set {followed} measured it. Each value is computed by the "
        "function whose equation "
        "is named (page 8), from the numbers shown; lines without an equation are read from a file or "
        "counted. All times are UTC by the corrected clock."
    )
