"""What differs between two archives: what went in, what computed, and the numbers. Standard library only."""

from __future__ import annotations

from collections.abc import Mapping

from headland.record import compare, intact
from headland.record.bag import Bag
from headland.record.names import shown
from headland.record.pack import Refused

DEEPEST, LONGEST_KEY, MOST_SETTINGS = 60, 1000, 100_000
"""Levels, characters of a key with those above it, and values of settings: campaign.yaml may have 50 levels
and 50,000 parts.
"""
INPUTS, PROGRAM = "data/inputs/", "data/project/"


def differences(first: Bag, second: Bag) -> dict[str, list[str]]:
    """Lines by what they are about; empty where two archives hold the same.

    Both have to be intact. Raises Refused where a description can't be read.
    """
    settings, versions = (
        [intact.described(bag, f"data/{name}.json") for bag in (first, second)]
        for name in ("settings", "versions")
    )
    numbers = compare.compared(first, second, ("only the first holds it", "only the second holds it"))
    campaigns = [_flat(one.get("campaign", {})) for one in settings]
    found = {
        "Files that went in": _files(first, second, INPUTS),
        "Settings": _settings(*campaigns),
        "Versions": compare.versions_apart(versions[0], versions[1], "in the second"),
        "Programs and their settings": _files(first, second, PROGRAM),
        "Numbers": numbers.apart,
        "Numbers, by the last printed digit": numbers.rounding,
        "Other results": numbers.others,
    }
    return {about: lines for about, lines in found.items() if lines}


def _files(first: Bag, second: Bag, folder: str) -> list[str]:
    """Files of a folder that differ. The campaign's own folder may have another name in each archive."""
    ours, theirs = (
        {_below(name, folder): name for name in bag.entries if name.startswith(folder)}
        for bag in (first, second)
    )
    lines = []
    for name in sorted({*ours, *theirs}):
        if name not in theirs or name not in ours:
            lines.append(f"{shown(name)}: only the {'first' if name in ours else 'second'} holds it")
        elif first.digests[ours[name]] != second.digests[theirs[name]]:
            lines.append(f"{shown(name)}: other content")
    return lines


def _below(name: str, folder: str) -> str:
    short = name.removeprefix(folder)
    return short.partition("/")[2] if folder == INPUTS else short


def _flat(value: object) -> dict[str, str]:
    """Values by their keys with dots between. Raises Refused where they are beyond the limits of settings."""
    found: dict[str, str] = {}
    waiting: list[tuple[str, int, object]] = [("", 0, value)]
    while waiting:
        place, depth, value = waiting.pop()
        if depth > DEEPEST or len(place) > LONGEST_KEY or len(waiting) + len(found) > MOST_SETTINGS:
            raise Refused(["data/settings.json: its settings are nested too deep, too long or too many"])
        if isinstance(value, Mapping):
            start = f"{place}." if place else ""
            waiting += [
                (f"{start}{str(key)[: LONGEST_KEY + 1]}", depth + 1, entry) for key, entry in value.items()
            ]
        else:
            found[place] = str(value)
    return found


def _settings(first: Mapping[str, str], second: Mapping[str, str]) -> list[str]:
    """Settings in force that differ, defaults included."""

    def of(values: Mapping[str, str], key: str) -> str:
        return shown(values.get(key, "not set"))

    return [
        f"{shown(key)}: {of(first, key)}, in the second {of(second, key)}"
        for key in sorted({*first, *second})
        if first.get(key) != second.get(key)
    ]
