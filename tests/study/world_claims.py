"""The claims on the world as campaigns: what each draws, runs and records.

Several claims read the same records: `RUNS` has the kinds of campaigns, `CLAIMS` names the kind that each
claim needs.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Callable
from pathlib import Path
from time import process_time

import numpy as np
import pandas as pd

import chain
import world
from headland.files.surfaces import surface_classes
from study import world_mistakes
from study.trial import listed
from study.world_truth import Verdict, as_records, compared
from world.choices import ORDERS
from world.day import Day

TARGETS = ("net_radiation", "albedo", "surface_temperature")
"""Quantities in which two fields are made to differ, in turn."""
ALIAS = "other_ground"
"""The class under which the second field of a pair is noted: a copy of the first one's class."""


def described(day: Day) -> dict[str, object]:
    """Return what kind of campaign a day is."""
    return {
        "heads": day.grade,
        "order": day.survey.order,
        "sky": day.scene.clouds.kind,
        "season": day.scene.season,
        "rounding": day.survey.habits.rounding,
        "sets": len(day.survey.sets),
        "fields": len(day.scene.fields),
        "side_by_side": day.survey.side_by_side,
    }


def run(day: Day, draws: int) -> chain.Outcome:
    """Return what the chain makes of a day."""
    with tempfile.TemporaryDirectory() as folder:
        day.write(folder)
        return chain.run(Path(folder), draws=draws)


def record(day: Day, draws: int) -> dict[str, object]:
    """Return everything that the claims need of one campaign."""
    start = process_time()
    outcome = run(day, draws)
    ran = process_time()
    said = listed(outcome)
    codes = {
        severity: sorted(one.code for one in said if one.severity == severity)
        for severity in ("error", "warning")
    }
    out: dict[str, object] = described(day) | {"codes": codes}
    if outcome.result is None:
        return out | {"values": [], "differences": [], "withheld": {}}
    values, differences, missing = compared(day, outcome)
    times = {"chain_cpu_s": round(ran - start, 2), "truth_cpu_s": round(process_time() - ran, 2)}
    return (
        out
        | times
        | {
            "values": as_records(one for one in values if not math.isnan(one.low)),
            "differences": as_records(differences),
            "withheld": missing,
        }
    )


def campaign(number: int, seed: int, draws: int) -> dict[str, object]:
    """Return the record of a sound campaign in which everything is drawn."""
    start = process_time()
    day = world.draw(seed + number)
    _ = day.truth
    return {"world_cpu_s": round(process_time() - start, 2)} | record(day, draws)


def two_names(day: Day) -> Day:
    """Note the second field as a class of its own; the settings give it the first one's properties."""
    first, second = day.scene.fields[:2]
    properties = surface_classes(chain.ROOT / "config" / "surfaces.csv", {})[first.surface]
    entries = {}
    for name, entry in properties.items():
        given = {key: entry[key] for key in ("value", "low", "high") if entry.get(key, "") != ""}
        entries[name] = given if name not in ("label", "colour", "marker") else entry["value"]
    notes = day.tables.notes
    notes.loc[notes["field"] == second.name, "surface"] = ALIAS
    day.notes.loc[day.notes["field"] == second.name, "surface"] = ALIAS
    day.tables.campaign["overrides"] = {"surfaces": {ALIAS: entries | {"label": "other ground"}}}
    return day


def pair(seed: int, order: str, **choices: object) -> Day:
    """Return a day with two fields of one ground, or of two that differ as chosen, under two names."""
    return two_names(world.draw(seed, order=order, fields=2, **choices))


def identical(number: int, seed: int, draws: int) -> dict[str, object]:
    """Return the record of two fields of identical ground; the orders of visits come in turn."""
    return record(pair(seed + number, ORDERS[number % len(ORDERS)], identical=True), draws)


def half_width(outcome: chain.Outcome, quantity: str) -> float:
    """Return half of the interval of the difference of one quantity, where the results have one."""
    table = outcome.result.differences if outcome.result is not None else pd.DataFrame({"quantity": []})
    for row in table[table["quantity"] == quantity].to_dict("records"):
        return 0.5 * float(row["difference_high"] - row["difference_low"])
    return math.nan


def true_difference(day: Day, quantity: str) -> float:
    """Return the difference of the first field from the second at a common moment, over the survey."""
    first, second = (ground.name for ground in day.scene.fields[:2])
    return day.at_common_moment(first, second, quantity)


def made_to_differ(seed: int, quantity: str, wanted: float) -> Day:
    """Return a day in rounds whose fields differ by an amount of a quantity, by the second one's albedo.

    Two secant steps; the amount may be out of reach, as under a low sun.
    """
    if quantity == "net_radiation":
        return pair(seed, "rounds", difference=-wanted)
    slope = {"albedo": -1.0, "surface_temperature": 20.0}[quantity]
    change = wanted / slope
    for _ in range(2):
        change = float(np.clip(change, -0.5, 0.5))
        reached = true_difference(pair(seed, "rounds", difference={"albedo": change}), quantity)
        if abs(reached) < 1e-6 or abs(reached - wanted) < 0.05 * abs(wanted):
            break
        change *= wanted / reached
    return pair(seed, "rounds", difference={"albedo": float(np.clip(change, -0.5, 0.5))})


def differing(number: int, seed: int, draws: int) -> dict[str, object]:
    """Return the record of two fields that differ by twice the half-width that identical ground gives."""
    target = TARGETS[number % len(TARGETS)]
    half = half_width(run(pair(seed + number, "rounds", identical=True), draws), target)
    about = {"target": target, "half": None if math.isnan(half) else half}
    if math.isnan(half):
        return described(pair(seed + number, "rounds", identical=True)) | about | {"differences": []}
    sign = 1.0 if np.random.default_rng([seed, number]).random() < 0.5 else -1.0
    day = made_to_differ(seed + number, target, sign * 2.0 * half)
    return record(day, draws) | about | {"wanted": sign * 2.0 * half}


def mistaken(number: int, seed: int, draws: int) -> dict[str, object]:
    """Return the record of one mistake; all mistakes come in turn, then again with the next seed."""
    turn, place = divmod(number, len(world.CODES))
    return world_mistakes.tried(world.CODES[place], seed + turn)


Run = Callable[[int, int, int], dict[str, object]]
RUNS: dict[str, tuple[Run, int]] = {
    "campaigns": (campaign, 1_000_000),
    "identical": (identical, 2_000_000),
    "differing": (differing, 3_000_000),
    "mistakes": (mistaken, 4_000_000),
}
"""What is run for each kind of campaign, and the first seed where none is given."""
CLAIMS = {
    "coverage": "campaigns",
    "heat": "campaigns",
    "sound": "campaigns",
    "width": "campaigns",
    "undecided": "identical",
    "identical": "identical",
    "differing": "differing",
    "mistakes": "mistakes",
}
"""Claims of the page on the world, and the campaigns that show them."""

__all__ = ["CLAIMS", "RUNS", "Verdict"]
