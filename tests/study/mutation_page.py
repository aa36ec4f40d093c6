"""The page of the study of single changes: docs/mutation.md."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Mapping
from pathlib import Path

PAGE = Path(__file__).parents[2] / "docs" / "mutation.md"
EXPLAINED = Path(__file__).parent / "equivalent.csv"
"""Changes that no test can notice, or that only looks follow from: module, function, before, after, why."""
EARLIER = Path(__file__).parent / "mutation_earlier.csv"
"""Counts of draws on older code, whose changes are kept nowhere."""
UNNOTICED = "not noticed"
OPEN = "open"
"""How a reason begins that a change could be noticed, and is not."""
Draw = Mapping[str, Mapping]


def explained() -> dict[tuple[str, str, str, str], str]:
    """Why a change is left, by module, function, text before and after."""
    with EXPLAINED.open(encoding="utf-8", newline="") as stream:
        return {
            (row["module"], row["function"], row["before"], row["after"]): row["why"]
            for row in csv.DictReader(stream)
        }


def key(one: Mapping) -> tuple[str, str, str, str]:
    return one["module"], one["where"], " ".join(one["before"].split()), " ".join(one["after"].split())


def share(some: int, of: int) -> str:
    return f"{some} of {of} ({100.0 * some / of:.0f} %)" if of else "–"


def page(draws: Mapping[str, Draw]) -> str:
    """draws: results by change, by the seed that drew them."""
    why = explained()
    tried = {seed: [one for one in draw.values() if one["first"]] for seed, draw in draws.items()}
    every = [one for draw in tried.values() for one in draw]
    lines = [
        "# Single changes to the code, and whether the tests notice",
        "",
        "Made by `PYTHONPATH=tests:workflow python -m study.mutation` "
        f"on commit {', '.join(sorted({one['commit'] for one in every}))}, "
        f"{' to '.join(sorted({min(one['day'] for one in every), max(one['day'] for one in every)}))}. "
        "Each change replaces one piece of one module: a sign, a factor, a term, a constant, a threshold, a "
        "comparison, a condition, a refusal, a key, a column, a statistic, a step. Room, kind and place are "
        "drawn at random from the syntax trees by a seed. Looks of figures, messages and docstrings are left "
        "out. Tests that enter the changed block run first in the room of the module, then in the others. "
        "Tests of the scripts and of whole runs are not among them.",
        "",
        "*At first*: within some 40 s of those tests, as they were when the change was drawn. *Now*: "
        "after tests were written for what was not noticed. *Without effect*: no user "
        "can see the change; the list below says why. Such changes do not count. A later seed was drawn "
        "after the tests for the one before were written. The tables by room and kind, and the list, are of "
        "the new seeds alone.",
        "",
        "| seed | changes | without effect | noticed at first | noticed now |",
        "|---|---|---|---|---|",
    ]
    with EARLIER.open(encoding="utf-8", newline="") as stream:
        lines += [_earlier(row) for row in csv.DictReader(stream)]
    for seed, draw in tried.items():
        lines.append(_row(f"seed {seed}", draw, why))
    lines += [_row("the new ones", every, why), "", "## By room", "", *_table("room", every, why)]
    lines += ["", "## By kind", "", *_table("kind", every, why), "", "## Not noticed", ""]
    left = [one for one in every if one["verdict"] == UNNOTICED]
    lines += ["| change | before | after | why |", "|---|---|---|---|"]
    for one in sorted(left, key=key):
        place, before, after = f"`{one['module']}` {one['where']}", key(one)[2], key(one)[3]
        lines.append(f"| {place} | {_code(before)} | {_code(after)} | {why.get(key(one), 'not yet')} |")
    return "\n".join([*lines, ""])


def _code(text: str) -> str:
    text = text if len(text) < 70 else text[:66] + " …"
    return "`" + text.replace("|", "\\|").replace("`", "") + "`"


def _earlier(row: Mapping[str, str]) -> str:
    changes, idle, first, now = (int(row[key]) for key in ("changes", "without_effect", "first", "now"))
    count = changes - idle
    return (
        f"| seed {row['seed']}, on older code | {changes} | {idle} | {share(first, count)} "
        f"| {share(now, count)} |"
    )


def _row(name: str, some: list[Mapping], why: Mapping) -> str:
    idle = [
        one for one in some if one["verdict"] == UNNOTICED and not why.get(key(one), OPEN).startswith(OPEN)
    ]
    count = len(some) - len(idle)
    first = sum(one["first"] != UNNOTICED for one in some)
    now = sum(one["verdict"] != UNNOTICED for one in some)
    return f"| {name} | {len(some)} | {len(idle)} | {share(first, count)} | {share(now, count)} |"


def _table(of: str, every: list[Mapping], why: Mapping) -> list[str]:
    def group(one: Mapping) -> str:
        return one["kind"] if of == "kind" else one["module"].split("/")[0]

    names = Counter(map(group, every))
    return [
        f"| {of} | changes | without effect | noticed at first | noticed now |",
        "|---|---|---|---|---|",
        *(_row(name, [one for one in every if group(one) == name], why) for name in sorted(names)),
    ]
