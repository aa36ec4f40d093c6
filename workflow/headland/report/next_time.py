"""What limits the numbers most, and what would narrow the intervals or decide a pair next time.

The sources of the budget are grouped by what a reader can do about them. An action is named only where the
budget says that it narrows the intervals by a tenth, or that it decides a pair of surfaces.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import pandas as pd

from headland.report.cells import cell, column, table
from headland.report.differences import COMMON, TRUE, UNDECIDED, of_quantity
from headland.report.given import Given
from headland.report.wording import listed, number, opening
from headland.uncertainty.differences import WHY
from headland.uncertainty.narrowing import narrowed, told_apart

CAUSES: Mapping[str, tuple[str, ...]] = {
    "changing sun and clouds": (
        *("sky_memory", "sky_response", "left_out", "response", "diffuse_fraction"),
        *("station_sky_sw", "station_sky_lw"),
    ),
    "the time between visits": ("course", "air_response", "sun_height_strength"),
    "the calibration of the heads": (
        *("certificate_band", "certificate_sensor"),
        *("default_band_sw", "default_sensor_sw", "default_band_lw", "default_sensor_lw"),
    ),
    "the age of the certificates": ("drift_sw", "drift_lw"),
    "the limits of the heads' class": (
        *("directional_A", "directional_B", "directional_C", "linearity"),
        *("spectral", "spectral_ground", "spectral_reflected", "spectral_lw"),
        *("tilt", "temperature_sw", "temperature_lw", "temperature_stated_sw", "temperature_stated_lw"),
        *("temperature_change", "zero", "cooling", "cooling_visit"),
    ),
    "the longwave heads": (
        *("zero_lw", "body_temperature", "body_gradient", "body_gradient_visit"),
        *("window", "window_visit", "window_stated"),
    ),
    "heads off level": ("levelling", "levelling_pass"),
    "headings not noted": ("heading",),
    "ground not walked": ("ground", "left_out_ground", "side_by_side"),
    "the carrier's body and shadow": (
        *("carrier_reflection", "carrier_lit", "carrier_lit_visit"),
        *("own_shade", "stick_side", "carrier_warmth", "carrier_warmth_visit"),
    ),
    "slopes not noted": ("slope",),
    "slopes as noted": ("slope_noted",),
    "rows of the crops": ("rows",),
    "ground beside the strips": ("neighbour_albedo", "neighbour_warmth", "neighbour_longwave"),
    "the loggers": ("logger_zero", "logger_gain", "noise"),
    "the emissivity of the surfaces": ("emissivity",),
    "the fixed station": ("station_sw", "station_lw"),
}
"""Terms of uncertainty.csv by what lets them in. A term that a user adds is a cause by its own label."""
SKY, TIME, CALIBRATION, AGE, CLASS, _LONGWAVE, LEVEL, HEADING, GROUND, BODY, SLOPE = list(CAUSES)[:11]
LEAST_GAIN = 0.1
"""Part of a half width by which an action must narrow the intervals to be named (common practice, no
source)."""
MOST_ACTIONS, MOST_CAUSES, MOST_PAIRS = 2, 2, 1
"""Actions, causes of one number and pairs of surfaces that the first page names at most."""
MOST_ROWS, MOST_LISTED = 3, 2
"""Actions, and pairs of each, that the page on uncertainty lists at most."""
DIFFERENCES, VALUES = "differences", "net radiation"
BETWEEN = " - "
"""Between the two surfaces of a pair in the budget."""


class Action(NamedTuple):
    """What somebody can do.

    words: as an order. left: what is left of the half width from each cause, as a factor. decides: key of the
    reason in `differences.WHY` for which it is the remedy, also where no interval says so. values: it acts on
    the values too, not only on differences. possible: whether it makes sense for this campaign.
    """

    words: str
    left: Mapping[str, float]
    decides: str = ""
    values: bool = True
    possible: Callable[[Given], bool] = lambda given: True


def _several_scales(given: Given) -> bool:
    """Several sets, each on its own scale."""
    return len(given.settings["sets"]) > 1 and given.settings["set_scale"] == "none"


def _side_by_side(given: Given) -> bool:
    return bool(len(given.intercomparison))


def _class_unknown(given: Given) -> bool:
    """Whether a shortwave head has no class."""
    heads = given.certificates[given.certificates["channel"].isin(("sw_in", "sw_out"))]
    return bool((heads["instrument_class"].fillna("") == "").any())


SCALE = {CALIBRATION: 0.3, AGE: 0.3, CLASS: 0.7}
"""What a common scale leaves of a difference between sets: some noise, ground and directions (common
practice, no source)."""
ACTIONS = (
    # a memory of ten minutes keeps exp(-1) of what was ten minutes ago (method.md, equation 6.8b)
    Action("Wait for ten minutes of even sky before each walk", {SKY: 0.37}, "sky"),
    # a mean of twice as many visits has 1 / sqrt(2) of their scatter
    Action("Go round all fields twice as often", {SKY: 0.71, TIME: 0.71}, "course"),
    Action("Walk twice as many transects on each field", {GROUND: 0.71}, "ground"),
    Action(
        "Put the sets on one scale (methods.set_scale; they were side by side)",
        SCALE,
        values=False,
        possible=lambda given: _several_scales(given) and _side_by_side(given),
    ),
    Action(
        "Hold the sets side by side at start and end, and put them on one scale (methods.set_scale)",
        SCALE,
        values=False,
        possible=lambda given: _several_scales(given) and not _side_by_side(given),
    ),
    # limits of class B in ISO 9060 are two thirds of those of class C, or less
    Action("Enter the class of each head in instruments.csv", {CLASS: 0.67}, possible=_class_unknown),
    Action("Use certificates with half the uncertainty", {CALIBRATION: 0.5}),
    # drift grows with the years: a quarter of the age is left
    Action("Have the heads calibrated again before the day", {AGE: 0.25}),
    Action("Level the heads to half a degree", {LEVEL: 0.5}),
    Action("Note the heading of each walk", {HEADING: 0.0}),
    # in whole degrees, noted slopes are off by half a degree, others by one
    Action("Note the slope of each field", {SLOPE: 0.5}),
    # what fills the view falls with the square of the distance, and there is a shadow that does not
    Action("Hold the heads twice as far from the body", {BODY: 0.5}),
)


@dataclass(frozen=True)
class Numbers:
    """Some numbers with their intervals.

    half: half width of each 95 % interval, W m-2. shares: parts of the variance, causes by numbers.
    """

    half: pd.Series
    shares: pd.DataFrame

    def after(self, left: Mapping[str, float]) -> pd.Series:
        """The half widths where some causes shrink."""
        return self.half * narrowed(self.shares, left).reindex(self.half.index).fillna(1.0)

    def middle(self, left: Mapping[str, float]) -> float:
        """The median half width."""
        return float(self.after(left).median())


@dataclass(frozen=True)
class Found:
    """What the tables say of net radiation under the common sky.

    numbers: the differences and the values, by what they are called. pairs: rows of the pairs with their
    verdicts, by name.
    """

    numbers: Mapping[str, Numbers]
    pairs: pd.DataFrame

    def newly(self, left: Mapping[str, float]) -> set[str]:
        """Pairs that would differ if their differences stay as found, and do not differ now."""
        return (self._apart(left) - self._apart({})) & set(self.pairs.index[self.pairs["verdict"] != TRUE])

    def _apart(self, left: Mapping[str, float]) -> set[str]:
        half = self.numbers[DIFFERENCES].after(left).reindex(self.pairs.index)
        apart = told_apart(self.pairs["difference"].to_numpy(float), half.to_numpy(float))
        return set(self.pairs.index[apart])

    def remedied(self, key: str) -> set[str]:
        """Pairs without an interval, for which `WHY[key]` is the reason."""
        own = self.pairs["difference_low"].isna() & (self.pairs["verdict"] == UNDECIDED)
        return set(self.pairs.index[own & (self.pairs["why"] == WHY.get(key))])


@dataclass(frozen=True)
class Step:
    """An action with what it would bring: half widths before and after by what is narrowed, and pairs."""

    action: Action
    narrower: Mapping[str, tuple[float, float]]
    told: set[str]
    compared: set[str]

    @property
    def worth(self) -> bool:
        """Whether it narrows intervals by a tenth or decides a pair."""
        return bool(self.narrower or self.told or self.compared)

    @property
    def rank(self) -> tuple[int, float]:
        """Pairs first, then by how much the intervals become narrower."""
        gains = [1.0 - after / before for before, after in self.narrower.values()]
        return len(self.told | self.compared), max(gains, default=0.0)


def found(given: Given) -> Found:
    """What the tables of the report say of net radiation under the common sky."""
    rows = of_quantity(given.tables["differences"])
    rows = rows.set_axis(rows["surface_a"] + BETWEEN + rows["surface_b"], axis=0)
    budget = given.tables["uncertainty_budget"]
    shares = by_cause(budget[budget["quantity"] == COMMON], given.terms)
    groups = given.ranked.set_index("surface")
    numbers = {
        DIFFERENCES: Numbers((rows["difference_high"] - rows["difference_low"]).dropna() / 2.0, shares),
        VALUES: Numbers((groups[f"{COMMON}_high"] - groups[f"{COMMON}_low"]).dropna() / 2.0, shares),
    }
    return Found(numbers, rows)


def by_cause(budget: pd.DataFrame, terms: pd.DataFrame) -> pd.DataFrame:
    """Parts of the variance of one quantity, added up by cause: causes by surfaces and pairs."""
    label = dict(zip(terms["term"], terms["label"], strict=True))
    cause = {label[term]: name for name, own in CAUSES.items() for term in own if term in label}
    rows = budget.assign(cause=budget["source"].map(cause).fillna(budget["source"]))
    return rows.pivot_table(index="cause", columns="surface", values="share", aggfunc="sum").fillna(0.0)


def largest(numbers: Numbers) -> list[tuple[str, float]]:
    """The causes that make up more than half of the variance, two at most, each with the half width that it
    alone would give: medians over the numbers, the largest first.
    """
    shares = numbers.shares.reindex(columns=numbers.half.index).dropna(axis=1)
    if not shares.size:
        return []
    middle = shares.median(axis=1).sort_values(ascending=False, kind="stable")
    few = 1 + int((middle.cumsum() <= 0.5).sum())
    widths = (shares**0.5).mul(numbers.half[shares.columns], axis=1).median(axis=1)
    return [(cause, float(widths[cause])) for cause in middle.index[: min(few, MOST_CAUSES)]]


def alone(given: Given, known: Found) -> list[Step]:
    """What each action that is worth it would bring alone, the best first."""
    tried = [_step(known, action, {}, set()) for action in ACTIONS if action.possible(given)]
    return sorted([step for step in tried if step.worth], key=lambda step: step.rank, reverse=True)


def steps(given: Given, known: Found) -> list[Step]:
    """What would bring most, one action after the other, each on top of those before it."""
    actions = [action for action in ACTIONS if action.possible(given)]
    left: dict[str, float] = {}
    done: set[str] = set()
    result: list[Step] = []
    while len(result) < MOST_ACTIONS:
        tried = [step for action in actions if (step := _step(known, action, left, done)).worth]
        if not tried:
            break
        result.append(max(tried, key=lambda step: step.rank))
        actions.remove(result[-1].action)
        done |= result[-1].told | result[-1].compared
        left = _with(left, result[-1].action)
    return result


def _with(left: Mapping[str, float], action: Action) -> dict[str, float]:
    """What is left by cause after one action more."""
    return {**left, **{cause: left.get(cause, 1.0) * factor for cause, factor in action.left.items()}}


def _step(known: Found, action: Action, left: Mapping[str, float], done: set[str]) -> Step:
    """What an action would bring after those that left so much."""
    after, narrower = _with(left, action), {}
    for name, own in known.numbers.items():
        if (name == VALUES and not action.values) or not len(own.half):
            continue
        before, then = own.middle(left), own.middle(after)
        if then <= (1.0 - LEAST_GAIN) * before:
            narrower[name] = (before, then)
    return Step(action, narrower, known.newly(after) - done, known.remedied(action.decides) - done)


def limit_words(known: Found) -> str:
    """How well values and differences are known, and what most of that comes from."""
    parts: list[str] = []
    for name, own in reversed(list(known.numbers.items())):
        causes = [f"{cause} (± {number(width, 0)})" for cause, width in largest(own)]
        if causes:
            unit = "" if parts else " W m⁻²"
            parts.append(f"{opening(name)} ± {number(own.middle({}), 0)}{unit}: mostly {listed(causes)}")
    return ". ".join(parts)


def next_words(given: Given, known: Found) -> str:
    """What to do next time, and what it would bring."""
    return " ".join(_words(given, step, place > 0) for place, step in enumerate(steps(given, known)))


def _words(given: Given, step: Step, on_top: bool) -> str:
    """One action as a sentence. on_top: of another one."""
    brings = [
        f"{name} ± {number(after, 0)}{'' if on_top or place else ' W m⁻²'}"
        for place, (name, (_, after)) in enumerate(step.narrower.items())
    ]
    if step.told:
        brings.append(f"could tell {pairs(given, step.told, 'from')}, if they differ as found")
    if step.compared:
        brings.append(f"could compare {pairs(given, step.compared, 'with')}")
    return f"{step.action.words}{' as well' if on_top else ''}: {', '.join(brings)}."


def pairs(given: Given, names: set[str], between: str, most: int = MOST_PAIRS) -> str:
    """`gravel from paving`, or how many pairs where there are more than so many."""
    if len(names) > most:
        return f"{len(names)} more pairs{' apart' if between == 'from' else ''}"
    both = [name.split(BETWEEN) for name in sorted(names)]
    return listed([f"{given.name(a)} {between} {given.name(b)}" for a, b in both])


def context(given: Given) -> dict:
    """The table of the page on uncertainty: the actions worth it, each alone."""
    known = found(given)
    rows = [
        [
            cell(step.action.words),
            *(cell(_half(step, name, own)) for name, own in known.numbers.items()),
            cell(pairs(given, step.told | step.compared, "and", MOST_LISTED) or "–"),
        ]
        for step in alone(given, known)[:MOST_ROWS]
    ]
    titles = [column(name, f"now ± {_now(own)} W m⁻²") for name, own in known.numbers.items()]
    heads = [column("what to do", text=True), *titles, column("could tell apart", text=True)]
    return {"next_table": table(heads, rows)}


def _half(step: Step, name: str, own: Numbers) -> str:
    """The half width after an action, or a dash where it narrows nothing by a tenth."""
    return f"± {number(step.narrower[name][1], 0)}" if name in step.narrower else "–"


def _now(own: Numbers) -> str:
    return number(own.middle({}), 0)
