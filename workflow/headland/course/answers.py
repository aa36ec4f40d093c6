"""Students' numbers against the chain's, and what may have happened where they differ.

Right means that the same data gave the same number: the one that the textbook formulas give by hand, or the
chain's best estimate, from which known effects have been taken out. Whether a number lies within the
measurement's uncertainty is another question, and has a column of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import pandas as pd

from headland.base.words import did_you_mean
from headland.course.rerun import Outcome, value_in
from headland.course.written import (
    COARSEST,
    OF_SEGMENTS,
    OF_SURFACES,
    UNITS,
    Number,
    Written,
    bare_unit,
    converted,
    error_of_answer,
    expected_unit,
    kind_of,
    tolerance,
    tolerance_in_words,
    written_in,
)
from headland.report.wording import WITHOUT

VERDICTS = {
    "right": "right",
    "rounded": "right apart from rounding",
    "mistake": "a known slip",
    "other": "another number",
    "unreadable": "can't be read",
    "withheld": "withheld by the chain",
    "no-reference": "no value to compare with",
}
"""Every verdict, in words for people."""
ORDER = tuple(VERDICTS)
COLUMNS = (
    "line",
    "who",
    "item",
    "quantity",
    "value",
    "unit",
    "uncertainty",
    "verdict",
    "within_uncertainty",
    "e_n",
    "mistake",
    "also_possible",
    "possible_pairs",
    "hint",
    "reference",
    "reference_low",
    "reference_high",
    "difference",
)
VALUES = ["e_n", "reference", "reference_low", "reference_high", "difference"]
"""Columns that give the chain's number away."""
MOST_PAIRS = 3
"""Pairs of slips that the teacher sees for one number; where more give it, the number says nothing of them
(common practice, no source)."""
BY_HAND = "Follow one sample by hand, step by step, and find where your number leaves the path."


def _no_pairs(kind: str, item: str, quantity: str, right: float) -> list[tuple[str, float]]:
    return []


def _no_reasons(kind: str, item: str, quantity: str) -> list[str]:
    return []


@dataclass(frozen=True)
class Reference:
    """What answers are compared with.

    tables: `segments` and `surfaces` with the numbers that students get by hand, and `questions`, the key
    of the sheet of questions, where answers to it are checked. labels: what people call a surface, by its
    name. wrong: outcomes of the slips, each with its code. slips: rows of wrong_answers.csv by code.
    formulas: by quantity. pairs: as `two_slips` gives it; asked only where no single slip gives a number.
    reasons: from (`segments` or `surfaces`, name, quantity) to sentences that say why the chain withholds
    it. attempt: which try this is; hints say more from the second on. reported: `segments` and `surfaces`
    with the best estimates, which are right as well.
    """

    tables: Mapping[str, pd.DataFrame]
    labels: Mapping[str, str]
    wrong: Sequence[tuple[str, Outcome]]
    slips: Mapping[str, Mapping[str, str]]
    formulas: Mapping[str, str] = field(default_factory=dict)
    pairs: Callable[[str, str, str, float], Sequence[tuple[str, float]]] = _no_pairs
    reasons: Callable[[str, str, str], Sequence[str]] = _no_reasons
    attempt: int = 1
    reported: Mapping[str, pd.DataFrame] = field(default_factory=dict)

    @property
    def by_name(self) -> dict[str, pd.DataFrame]:
        return {kind: table.set_index(kind[:-1]) for kind, table in self.tables.items()}

    def best_estimate(self, asked: Asked, by_hand: float) -> float:
        """What the report prints for a quantity; the number by hand where it prints nothing else."""
        table = self.reported.get(asked.kind)
        if table is None or asked.quantity not in table:
            return by_hand
        own = table.loc[table[asked.kind[:-1]] == asked.item, asked.quantity]
        return float(own.iloc[0])


@dataclass(frozen=True)
class Asked:
    """What an answer is about: a table, a name in it and a quantity, and what is wrong with them in words."""

    kind: str
    item: str
    quantity: str
    problem: str = ""


@dataclass(frozen=True)
class Verdict:
    """A verdict, and the codes of the slips that give the number, the nearest first."""

    verdict: str
    codes: Sequence[str] = ()


# One number against another ---------------------------------------------------------------------------------


def candidates(
    kind: str, item: str, quantity: str, right: Sequence[float], wrong: Sequence[tuple[str, Outcome]]
) -> list[tuple[str, float]]:
    """The named wrong values of one quantity of one segment or surface, without those that are right all the
    same. right: every number that is."""
    if kind == "questions":
        return []
    values = [(code, value_in(outcome, kind, item, quantity)) for code, outcome in wrong]
    return [
        (code, value)
        for code, value in values
        if all(abs(value - number) > tolerance(quantity, number) for number in right)
    ]


def fitting(number: Number, quantity: str, wrong: Sequence[tuple[str, float]]) -> dict[str, float]:
    """The codes whose value is the given one within the tolerance or apart from rounding, with the
    difference.

    The nearest comes first.
    """
    near: dict[str, float] = {}
    for code, candidate in wrong:
        away = abs(number.value - candidate)
        if away <= max(tolerance(quantity, candidate), _rounding(number)):
            near[code] = min(away, near.get(code, math.inf))
    return dict(sorted(near.items(), key=lambda entry: entry[1]))


def _rounding(number: Number) -> float:
    """How far a number may be off by its last digit."""
    return number.half_digit if number.half_digit <= COARSEST * abs(number.value) else 0.0


def judged(number: Number, quantity: str, reference: float, wrong: Sequence[tuple[str, float]]) -> Verdict:
    """The verdict on a number in the quantity's own unit. wrong: as `candidates` gives them."""
    away = abs(number.value - reference)
    if away <= tolerance(quantity, reference):
        return Verdict("right")
    near = fitting(number, quantity, wrong)
    if away <= _rounding(number) and away <= min(near.values(), default=math.inf):
        return Verdict("rounded")
    return Verdict("mistake", list(near)) if near else Verdict("other")


def _in_own_unit(number: Number, unit: str, quantity: str) -> Number:
    scale = UNITS[kind_of(quantity)][bare_unit(unit)][0]
    return Number(converted(number.value, unit, quantity), number.half_digit * scale)


def _fits_another_unit(written: float, quantity: str, reference: float) -> bool:
    """Whether the bare number would be right in another unit of the quantity."""
    return any(
        abs(written * factor + offset - reference) <= tolerance(quantity, reference)
        for factor, offset in UNITS[kind_of(quantity)].values()
    )


# The check --------------------------------------------------------------------------------------------------


def check(answers: pd.DataFrame, reference: Reference) -> pd.DataFrame:
    """Every answer with its verdict: the rows of answers_checked.json.

    answers: texts of who, segment, surface, quantity, value, unit, uncertainty, and `line`.
    """
    by_name = reference.by_name
    rows = [_checked(row, reference, by_name) for row in answers.to_dict("records")]
    return pd.DataFrame(rows, columns=COLUMNS)


def _checked(row: Mapping, reference: Reference, by_name: Mapping[str, pd.DataFrame]) -> dict:
    """One answer with its verdict."""
    asked = asked_of(row, by_name, reference.labels)
    written = written_in(row["value"])
    unit = row["unit"].strip() or written.unit
    record = {
        "line": row["line"],
        "who": row["who"] or "everybody",
        "item": asked.item,
        "quantity": asked.quantity,
        "value": row["value"],
        "unit": row["unit"],
        "uncertainty": row["uncertainty"] or written.uncertainty,
        **dict.fromkeys(("mistake", "also_possible", "possible_pairs", "hint"), ""),
        "verdict": "unreadable",
    }
    problem = asked.problem or _unreadable(written, unit, record["uncertainty"], row, asked.quantity)
    if problem:
        return record | {"hint": problem[0].upper() + problem[1:] + "."}
    right, low, high = _reference(asked, by_name)
    record |= {"reference": right, "reference_low": low, "reference_high": high}
    if not math.isfinite(right):
        return record | _without_value(asked, written, reference)
    if written.none:
        return record | {"verdict": "other", "hint": "There is a value here. " + BY_HAND}
    return record | _against(asked, written, unit, record, reference)


def _reference(asked: Asked, by_name: Mapping[str, pd.DataFrame]) -> tuple[float, float, float]:
    """The chain's number and the ends of its interval; a question of the sheet has none."""
    row = by_name[asked.kind].loc[asked.item].to_dict()
    if asked.kind == "questions":
        return float(row["value"]), math.nan, math.nan
    low, high = (float(row[asked.quantity + end]) for end in ("_low", "_high"))
    return float(row[asked.quantity]), low, high


def _unreadable(written: Written, unit: str, uncertainty: str, row: Mapping, quantity: str) -> str:
    """What keeps an answer from being read, in words; nothing where it can be."""
    if written.none:
        return ""
    if not written.readings:
        return f'"{row["value"]}" is no number; write digits with one decimal point'
    if bare_unit(unit) not in UNITS[kind_of(quantity)]:
        return f'"{unit}" is no unit of {quantity.replace("_", " ")}; write {expected_unit(quantity)}'
    if uncertainty.strip() and not _expanded(uncertainty) >= 0:
        return f'the uncertainty "{uncertainty}" is no number; write it in the unit of the value'
    return ""


def _expanded(text: str) -> float:
    """An uncertainty as written; NaN where it is no number."""
    readings = written_in(text.replace("+/-", "").replace("±", "")).readings
    return readings[0].value if readings else math.nan


def _without_value(asked: Asked, written: Written, reference: Reference) -> dict[str, str]:
    """The verdict where the chain gives no number: saying so is right."""
    reasons = reference.reasons(asked.kind, asked.item, asked.quantity)
    verdict, why = without_reference(reasons, asked.quantity)
    if written.none:
        return {"verdict": "right", "hint": why.removeprefix("Not compared: ").capitalize()}
    return {"verdict": verdict, "hint": why}


def without_reference(reasons: Sequence[str], quantity: str) -> tuple[str, str]:
    """The verdict where the chain gives no number, and why it gives none.

    reasons: sentences of the errors for which it withholds the number.
    """
    if reasons:
        why = "Not compared: the chain withholds this number, because it would be wrong. "
        return "withheld", why + " ".join(reasons)
    why = WITHOUT.get(quantity, "nothing measured; see the findings")
    return "no-reference", f"Not compared: the chain has no value here ({why})."


def _against(asked: Asked, written: Written, unit: str, record: Mapping, reference: Reference) -> dict:
    """The verdict on a number, of the reading that fits best where it can be read in two ways."""
    right, low, high = (record[name] for name in ("reference", "reference_low", "reference_high"))
    rights = (right, reference.best_estimate(asked, right))
    named = candidates(asked.kind, asked.item, asked.quantity, rights, reference.wrong)
    numbers = [_in_own_unit(reading, unit, asked.quantity) for reading in written.readings]
    verdicts = [
        (place, number, judged(numbers[place], asked.quantity, number, named))
        for place in range(len(numbers))
        for number in rights
    ]
    place, right, verdict = min(verdicts, key=lambda entry: ORDER.index(entry[2].verdict))
    number = numbers[place]
    if verdict.verdict == "other" and _fits_another_unit(
        written.readings[place].value, asked.quantity, right
    ):
        verdict = Verdict("mistake", ["unit-mistaken"])
    pairs = {}
    if verdict.verdict == "other" and asked.kind != "questions":
        both = reference.pairs(asked.kind, asked.item, asked.quantity, right)
        pairs = fitting(number, asked.quantity, both)
    own = _expanded(record["uncertainty"]) if record["uncertainty"].strip() else math.nan
    own *= UNITS[kind_of(asked.quantity)][bare_unit(unit)][0]
    result = {
        "verdict": verdict.verdict,
        "reference": right,
        "difference": number.value - right,
        "mistake": next(iter(verdict.codes), ""),
        "also_possible": " ".join(verdict.codes[1:]),
        "possible_pairs": " ".join(pairs) if len(pairs) <= MOST_PAIRS else "",
        "hint": hint(verdict, asked.quantity, right, reference),
    }
    if math.isfinite(low) and math.isfinite(high):
        result["within_uncertainty"] = low <= number.value <= high
        result["e_n"] = error_of_answer(number.value, own, right, low, high)
    return result


# Hints ------------------------------------------------------------------------------------------------------


def hint(verdict: Verdict, quantity: str, right: float, reference: Reference) -> str:
    """What a student reads beside a number.

    The first attempt gets a question for each slip that gives the number. From the second on the formula and
    the tolerance follow. Two slips together are never named here: a number alone does not show them.
    """
    if verdict.verdict == "right":
        return ""
    if verdict.verdict == "rounded":
        return "One more digit would show that it is the same number."
    sentences = [reference.slips[code]["hint"] for code in verdict.codes[:MOST_PAIRS]] or [BY_HAND]
    if len(verdict.codes) > 1:
        sentences.insert(0, "More than one slip gives this number.")
    if reference.attempt > 1:
        formulas = [reference.slips[code].get("formula", "") for code in verdict.codes[:MOST_PAIRS]]
        formulas.append(reference.formulas.get(quantity, ""))
        sentences += [f"Formula: {text}." for text in dict.fromkeys(formulas) if text]
        sentences.append(f"Right is a number within {tolerance_in_words(quantity, right)}.")
    return " ".join(sentences)


# What an answer is about ------------------------------------------------------------------------------------


def asked_of(row: Mapping, by_name: Mapping[str, pd.DataFrame], labels: Mapping[str, str]) -> Asked:
    """What an answer is about. Segment and surface are told apart by the name, whichever column holds it."""
    if row.get("question", "").strip():
        return _of_question(row["question"].strip().lower(), by_name)
    given = [text for text in (row["segment"].strip(), row["surface"].strip()) if text]
    if len(set(given)) != 1:
        return Asked("", " ".join(given), row["quantity"], "each row names either a segment or a surface")
    names = {
        "surfaces": {
            label.lower(): name for name, label in labels.items() if name in by_name["surfaces"].index
        },
        "segments": {},
    }
    for kind, table in by_name.items():
        if kind == "questions":
            continue
        names[kind] |= {name.lower(): name for name in table.index}
    words = given[0].lower()
    kind = next((kind for kind in ("segments", "surfaces") if words in names[kind]), "")
    if not kind:
        kind = "segments" if row["segment"].strip() else "surfaces"
        meant = did_you_mean(given[0], names[kind]).rstrip("?")
        return Asked(kind, given[0], row["quantity"], f'there is no {kind[:-1]} "{given[0]}" here{meant}')
    return _with_quantity(kind, names[kind][words], row["quantity"])


def _of_question(label: str, by_name: Mapping[str, pd.DataFrame]) -> Asked:
    known = by_name.get("questions", pd.DataFrame())
    if label in known.index:
        return Asked("questions", label, str(known.loc[label, "quantity"]))
    return Asked(
        "questions",
        label,
        "",
        f'there is no question "{label}" on the sheet{did_you_mean(label, list(known.index))}',
    )


def _with_quantity(kind: str, item: str, text: str) -> Asked:
    allowed = OF_SEGMENTS if kind == "segments" else OF_SURFACES
    quantity = text.strip().lower().replace(" ", "_").replace("-", "_")
    if quantity in allowed:
        return Asked(kind, item, quantity)
    meant = did_you_mean(quantity, allowed).rstrip("?")
    problem = f'"{text}" is no quantity of a {kind[:-1]}{meant}; known are {", ".join(allowed)}'
    return Asked(kind, item, text, problem)
