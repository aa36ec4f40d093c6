"""Results of the chain beside the truth of a day of the world: segments, fields, surfaces and differences.

A segment is matched by its set and its noted start. A mean over a field or surface is compared with the truth
over those segments that have a value of the quantity; each counts by its stored seconds, as in the world's
own tables. A difference is compared with the difference at a common moment, over the time from the pair's
first visit to its last.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from itertools import combinations

import numpy as np
import pandas as pd

import chain
from study.world_used import HEAT, TERMS, over_used
from world.air import GRID
from world.day import Day
from world.truth import SEVEN, field_emissivity, seven

COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")
"""Quantities of the table of differences."""
ON_THE_GROUND = ("walk", "stand")
"""Activities in the chain's means over fields; the world's own tables count side-by-side visits too."""


@dataclass
class Compared:
    """One number of the results with its interval and its truth."""

    kind: str
    name: str
    quantity: str
    value: float
    low: float
    high: float
    truth: float  # over all stored seconds
    net: float = math.nan  # net radiation of the same row, W m-2
    truth_used: float = math.nan  # over the seconds of the used samples alone


@dataclass
class Verdict:
    """One row of the table of differences, a − b, with its truth.

    verdict: `different`, `same`, `undecided`, or `none` where the table gives no verdict.
    """

    a: str
    b: str
    quantity: str
    value: float
    low: float
    high: float
    truth: float
    verdict: str
    why: str = ""


def matched(day: Day, outcome: chain.Outcome) -> pd.DataFrame:
    """Return the world's segments with stored seconds, each beside the chain's row of its set and start.

    Columns of the chain end in `_result`; they are empty where the chain has no such segment.
    """
    truth = day.truth.segments
    truth = truth[truth["seconds"] > 0]
    found = outcome.result.segments if outcome.result is not None else outcome.segments
    keys = ["set", "start_utc"]
    own = found.copy()
    for frame in (own, truth):
        assert not frame.duplicated(keys).any(), "two segments of a set have one noted start"
    truth = truth.assign(start_utc=truth["start_utc"].astype("datetime64[us, UTC]"))
    own = own.assign(start_utc=own["start_utc"].astype("datetime64[us, UTC]"))
    return truth.merge(own, on=keys, how="left", suffixes=("", "_result"), indicator=True)


def result_of(row: Mapping, quantity: str) -> tuple[float, float, float]:
    """Return value, low and high of a row of results."""
    cells = [row.get(name) for name in (quantity, f"{quantity}_low", f"{quantity}_high")]
    value, low, high = (math.nan if cell is None else float(cell) for cell in cells)
    return value, low, high


def of_segments(rows: pd.DataFrame) -> list[Compared]:
    """Return the seven quantities of all matched segments, against the ground that was walked."""
    out = []
    for row in rows[rows["_merge"] == "both"].to_dict("records"):
        own = {key.removesuffix("_result"): cell for key, cell in row.items() if key.endswith("_result")}
        own |= {key: cell for key, cell in row.items() if key.endswith(("_low", "_high"))}
        for quantity in SEVEN:
            out.append(
                Compared("segment", row["segment"], quantity, *result_of(own, quantity), row[quantity])
            )
    return out


def used(rows: pd.DataFrame, quantity: str) -> pd.DataFrame:
    """Return the matched segments of one group that have a value of a quantity."""
    counted = rows[rows["activity"].isin(ON_THE_GROUND) & (rows["_merge"] == "both")]
    quantity = "net_radiation" if quantity in HEAT else quantity
    with_value = counted[counted[f"{quantity}_result"].notna()]
    return with_value if len(with_value) else counted[counted["samples_used"] > 0]


def group_truth(day: Day, rows: pd.DataFrame, quantity: str) -> float:
    """Return the whole-field truth of a quantity over the stored seconds of some segments."""
    rows = rows[rows["seconds"] > 0]
    if rows.empty:
        return math.nan
    weights = rows["seconds"].to_numpy(float)
    mean = {name: float(np.average(rows[f"field_{name}"], weights=weights)) for name in (*TERMS, *HEAT)}
    if quantity in HEAT:
        return mean[quantity]
    emissivities = [field_emissivity(day.scene, day.field_index(name)) for name in rows["field"]]
    return float(seven(mean, float(np.average(emissivities, weights=weights)))[quantity])


def of_groups(day: Day, outcome: chain.Outcome, rows: pd.DataFrame, by: str) -> list[Compared]:
    """Return the quantities of fields or surfaces. by: `field` or `surface`."""
    table = outcome.result.fields if by == "field" else outcome.result.surfaces
    out = []
    for own in table.to_dict("records"):
        name = own[by]
        inside = rows[rows[by] == name]
        net = result_of(own, "net_radiation")[0]
        for quantity in (*SEVEN, *HEAT):
            truth = group_truth(day, used(inside, quantity), quantity)
            out.append(Compared(by, name, quantity, *result_of(own, quantity), truth, net))
    return out


def of_all(day: Day, outcome: chain.Outcome, rows: pd.DataFrame) -> list[Compared]:
    """Return all quantities of segments, fields and surfaces."""
    groups = of_groups(day, outcome, rows, "field") + of_groups(day, outcome, rows, "surface")
    return of_segments(rows) + groups


def common_sky(outcome: chain.Outcome) -> tuple[float, float]:
    """Return the campaign's mean incoming terms over all that was used on the fields, W m-2."""
    rows = outcome.result.segments
    rows = rows[rows["activity"].isin(ON_THE_GROUND)]
    sets = outcome.settings["sets"]
    interval = {name: float(entry["layout"]["interval"]) for name, entry in sets.items()}
    seconds = rows["samples_used"] * rows["set"].map(interval)
    means = []
    for name in ("sw_in", "lw_in"):
        known = rows[name].notna() & (seconds > 0)
        weights = seconds[known]
        means.append(float(np.average(rows.loc[known, name], weights=weights)) if known.any() else math.nan)
    return means[0], means[1]


def fields_of(rows: pd.DataFrame, label: str) -> dict[str, float]:
    """Return the fields of a surface that have values, each with its stored seconds."""
    inside = used(rows[rows["surface"] == label], "net_radiation")
    return {str(name): float(seconds) for name, seconds in inside.groupby("field")["seconds"].sum().items()}


class CommonMoment:
    """The truth of differences in one campaign; the courses of fields are worked out once."""

    def __init__(self, day: Day, rows: pd.DataFrame, sky: tuple[float, float]):
        self.day, self.rows, self.sky = day, rows, sky
        self.courses: dict[str, dict[str, np.ndarray]] = {}
        self.under: dict[str, float] = {}

    def course(self, field: str) -> dict[str, np.ndarray]:
        """Return the course of a field under the common sky, on the world's grid of times."""
        if field not in self.courses:
            self.courses[field] = self.day.scene.course(self.day.field_index(field), common=True)
        return self.courses[field]

    def under_sky(self, weights: Mapping[str, float]) -> float:
        """Return the mean net radiation of some fields under the campaign's mean sky."""
        for field in weights:
            if field not in self.under:
                self.under[field] = self.day.under_sky(field, *self.sky)
        return weighted(self.under, weights)

    def value(self, weights: Mapping[str, float], quantity: str, start: float, end: float) -> float:
        """Return a quantity of some fields under the common sky, over a span of seconds of the day."""
        inside = (start <= GRID) & (end >= GRID)
        mean = {
            name: weighted(
                {field: float(self.course(field)[name][inside].mean()) for field in weights}, weights
            )
            for name in TERMS
        }
        scene = self.day.scene
        emissivities = {field: field_emissivity(scene, self.day.field_index(field)) for field in weights}
        return float(seven(mean, weighted(emissivities, weights))[quantity])

    def difference(self, pair: tuple[str, str], quantity: str) -> float:
        """Return the true difference of two surfaces, the first minus the second."""
        first, second = (fields_of(self.rows, label) for label in pair)
        if not first or not second:
            return math.nan
        if quantity == "net_radiation_common_sky":
            dark = math.isnan(sum(self.sky))
            return math.nan if dark else self.under_sky(first) - self.under_sky(second)
        both = used(self.rows[self.rows["surface"].isin(pair)], "net_radiation")
        start = self.day.seconds(both["start_utc"].min(), 0.0)
        end = self.day.seconds(both["end_utc"].max(), 0.0)
        return self.value(first, quantity, start, end) - self.value(second, quantity, start, end)


def weighted(values: Mapping[str, float], weights: Mapping[str, float]) -> float:
    """Return the mean of the values of some fields, each with its weight."""
    return sum(values[field] * weight for field, weight in weights.items()) / sum(weights.values())


def verdict_of(cell: object) -> str:
    """Return a cell of `distinguishable` as a verdict; it may be true or false, or a text."""
    text = "" if cell is None or (isinstance(cell, float) and math.isnan(cell)) else str(cell).strip().lower()
    text = "" if text in ("<na>", "nan", "none") else text
    return {"true": "different", "false": "same", "": "none"}.get(text, text)


def of_differences(day: Day, outcome: chain.Outcome, rows: pd.DataFrame) -> list[Verdict]:
    """Return every pair of surfaces of the results and every quantity, with the verdict of the table."""
    table = outcome.result.differences
    moment = CommonMoment(day, rows, common_sky(outcome))
    given = {(row["surface_a"], row["surface_b"], row["quantity"]): row for row in table.to_dict("records")}
    out = []
    for pair in combinations(sorted(outcome.result.surfaces["surface"]), 2):
        for quantity in COMPARED:
            row, order = given.get((*pair, quantity)), pair
            if row is None and (*pair[::-1], quantity) in given:
                row, order = given[*pair[::-1], quantity], pair[::-1]
            truth = moment.difference(order, quantity)
            numbers = result_of(row or {}, "difference")
            verdict = verdict_of((row or {}).get("distinguishable"))
            why = (row or {}).get("why")
            why = why if isinstance(why, str) else ""
            out.append(Verdict(*order, quantity, *numbers, truth, verdict, why))
    return out


def withheld(rows: pd.DataFrame, outcome: chain.Outcome) -> dict[str, int]:
    """Return how many segments of the world the results have, and how many of those lack a number.

    `numbers` are the seven quantities that have a truth; albedo has none in the dark.
    """
    absent = rows["_merge"] != "both"
    numbers = missing = empty = 0
    for row in rows[~absent].to_dict("records"):
        wanted = [quantity for quantity in SEVEN if not math.isnan(row[quantity])]
        lacking = [quantity for quantity in wanted if math.isnan(float(row[f"{quantity}_result"]))]
        numbers, missing = numbers + len(wanted), missing + len(lacking)
        empty += len(lacking) == len(wanted)
    states = 0
    for table in (outcome.result.segments, outcome.result.fields, outcome.result.surfaces):
        if "state" in table:
            states += int((table["state"] == "withheld").sum())
    return {
        "segments": len(rows),
        "absent": int(absent.sum()),
        "empty": empty,
        "numbers": numbers,
        "missing": missing,
        "states": states,
    }


def as_records(some: Iterable[Compared | Verdict]) -> list[dict]:
    """Return plain records with numbers of six digits; what has no number is None."""
    out = []
    for one in some:
        record = asdict(one)
        for key, cell in record.items():
            if isinstance(cell, float):
                record[key] = float(f"{cell:.6g}") if math.isfinite(cell) else None
        out.append(record)
    return out


def compared(day: Day, outcome: chain.Outcome) -> tuple[list[Compared], list[Verdict], dict[str, int]]:
    """Return everything that a campaign's results say beside the truth."""
    rows = matched(day, outcome)
    values = of_all(day, outcome, rows)
    for one, other in zip(values, of_all(day, outcome, over_used(day, outcome, rows)), strict=True):
        one.truth_used = other.truth
    return values, of_differences(day, outcome, rows), withheld(rows, outcome)
