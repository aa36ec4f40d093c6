"""The page of the study of detection, docs/detection.md."""

from __future__ import annotations

import platform
from collections import Counter
from importlib.metadata import version

from study import instruments, sources, trial

ROWS = (*instruments.ROWS, *sources.ROWS)
LIBRARIES = ("numpy", "pandas", "scipy")
ENOUGH, ENOUGH_TOGETHER = 0.95, 0.90
"""Shares of mistakes that are to be named: alone, and among several."""


def share(part: int, whole: int) -> str:
    return "–" if not whole else "100 %" if part == whole else f"{min(100.0 * part / whole, 99.9):.1f} %"


def alone(results: dict[str, dict]) -> list[str]:
    lines = [
        "## One mistake",
        "",
        "Each mistake is put into one sound simulated campaign a seed (*in turn*: the three skies "
        "from seed to seed). *Can be decided*: campaigns whose records can show the mistake, by the "
        "rule in the last column; the rule is computed from the truth of the simulation. *Named*: "
        'those of them whose findings list the code at its severity, without "Can\'t be decided". '
        '*Open*: the result in the others. It is *undecided* where a finding says "Can\'t be decided",'
        " or where the check is listed for this set among those that could not be made; it is "
        "*silent* otherwise. *Wrong names*: campaigns with an error or warning, not called undecided,"
        " for something that did not happen.",
        "",
        "| mistake | code | sky | campaigns | can be decided | named | open | wrong names | can be "
        "decided where |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    below, missed, wrong, able, named = [], [], [], 0, 0
    for row in ROWS:
        row_able, row_named = 0, 0
        for kind in row.skies:
            head = f"alone/{row.title}/{kind}/"
            mine = [(key.removeprefix(head), entry) for key, entry in results.items() if key.startswith(head)]
            can = [(seed, entry) for seed, entry in mine if entry["can"]]
            right = [seed for seed, entry in can if entry["verdict"] == "named"]
            rest = Counter(entry["verdict"] for _, entry in mine if not entry["can"])
            strange = [f"{', '.join(entry['wrong'])} (seed {seed})" for seed, entry in mine if entry["wrong"]]
            lines.append(
                f"| {row.title} | `{row.code}` | {kind} | {len(mine)} | {len(can)} | "
                f"{share(len(right), len(can))} | "
                f"{', '.join(f'{n} {what}' for what, n in sorted(rest.items())) or '–'} | "
                f"{len(strange) or '–'} | {row.when} |"
            )
            missed += [
                f"{row.title}, {kind} {seed}: {entry['verdict']}"
                for seed, entry in can
                if entry["verdict"] != "named"
            ]
            wrong += [f"{row.title}, {kind}: {text}" for text in strange]
            row_able, row_named = row_able + len(can), row_named + len(right)
        if row_named < ENOUGH * row_able:
            below.append(f"{row.title} ({row_named} of {row_able})")
        able, named = able + row_able, named + row_named
    lines += [
        "",
        f"In all {named} of {able} that can be decided are named ({share(named, able)}). "
        + (
            f"Under {100 * ENOUGH:.0f} %: {'; '.join(below)}."
            if below
            else f"Every row reaches {100 * ENOUGH:.0f} %."
        ),
        "",
    ]
    lines += (
        [f"Can be decided, but not named (sky, seed, what was said): {'; '.join(missed)}.", ""]
        if missed
        else []
    )
    return lines + [f"Wrong names: {'; '.join(wrong)}." if wrong else "No wrong name.", ""]


def sound(results: dict[str, dict]) -> list[str]:
    entries = {
        key.removeprefix("sound/"): entry for key, entry in results.items() if key.startswith("sound/")
    }
    raised = [
        f"campaign {number} ({entry['kind']}, {entry['sky']}): {', '.join(entry['alarms'])}"
        for number, entry in entries.items()
        if entry["alarms"]
    ]
    lines = [
        "## No mistake",
        "",
        f"{len(entries)} sound campaigns: "
        + (
            f"{len(raised)} with errors or warnings: {'; '.join(raised)}."
            if raised
            else "not one error or warning."
        ),
        "",
        "| kind | clear | broken | overcast |",
        "|---|---|---|---|",
    ]
    for kind in dict.fromkeys(entry["kind"] for entry in entries.values()):
        count = Counter(entry["sky"] for entry in entries.values() if entry["kind"] == kind)
        lines.append(f"| {kind} | {' | '.join(str(count[sky]) for sky in trial.SKIES)} |")
    again = {key: entry for key, entry in results.items() if key.startswith("early/")}
    if again:
        states = Counter(entry["commit"] for entry in again.values())
        loud = [
            f"{key.removeprefix('early/')}: {', '.join(entry['alarms'])}"
            for key, entry in again.items()
            if entry["alarms"]
        ]
        lines += [
            "",
            f"After the last change, which concerns no later step, {len(again)} of them once more up "
            f"to the step that assigns samples to notes ({', '.join(states)}): "
            + (f"{'; '.join(loud)}." if loud else "not one error or warning."),
        ]
    count = Counter(entry["sets"] for entry in entries.values())
    return [
        *lines,
        "",
        "Sets in a campaign: "
        + ", ".join(f"{sets} in {n}" for sets, n in sorted(count.items()))
        + ". They store mV, uV and W m-2. The random ones include winter with snow, night, and both "
        "hemispheres.",
        "",
    ]


def several(results: dict[str, dict]) -> list[str]:
    lines = [
        "## Several at once",
        "",
        "Two or three mistakes are put into one campaign of two sets. They are drawn at random from "
        "all rows above, each code with the same probability and none twice, among those that can be "
        "decided in that campaign alone and that don't change the same thing of the same set. "
        "*Named*: as above. *Folded*: the code is not listed, but a finding on another mistake of the"
        " campaign says that it follows from it. *Found*: named or folded.",
        "",
    ]
    counts: dict[str, Counter] = {}
    missed, wrong, totals = [], [], []
    for count in (2, 3):
        mine = [
            (key.rsplit("/", 1)[1], entry)
            for key, entry in results.items()
            if key.startswith(f"together/{count}/")
        ]
        verdicts = Counter(verdict for _, entry in mine for verdict in entry["verdicts"])
        found, whole = verdicts["named"] + verdicts["folded"], sum(verdicts.values())
        totals.append(found >= ENOUGH_TOGETHER * whole)
        lines.append(
            f"- {len(mine)} campaigns with {count}: of {whole} mistakes {verdicts['named']} named and "
            f"{verdicts['folded']} folded, {share(found, whole)} found; "
            f"{verdicts['undecided']} called undecided, {verdicts['silent']} not found; wrong names in "
            f"{sum(bool(entry['wrong']) for _, entry in mine)} campaigns."
        )
        for number, entry in mine:
            for title, code, verdict in zip(entry["rows"], entry["codes"], entry["verdicts"], strict=True):
                counts.setdefault(code, Counter())[verdict] += 1
                if verdict not in ("named", "folded"):
                    missed.append(
                        f"- {count}, draw {number}: {title} ({verdict}) beside "
                        f"{', '.join(other for other in entry['rows'] if other != title)}"
                    )
            wrong += (
                [
                    f"- {count}, draw {number}: {', '.join(entry['wrong'])} in a campaign with "
                    f"{', '.join(entry['rows'])}"
                ]
                if entry["wrong"]
                else []
            )
    lines += [
        "",
        "| code | drawn | named | folded | undecided | not found | found |",
        "|---|---|---|---|---|---|---|",
    ]
    for code, count in sorted(counts.items()):
        whole = sum(count.values())
        lines.append(
            f"| `{code}` | {whole} | {count['named']} | {count['folded']} | {count['undecided']} | "
            f"{count['silent']} | {share(count['named'] + count['folded'], whole)} |"
        )
    lines += [
        "",
        f"The aim is {100 * ENOUGH_TOGETHER:.0f} %: "
        f"{'reached by both' if all(totals) else 'not reached by both'}.",
        "",
    ]
    lines += ["Not found (how many at once, draw):", "", *missed, ""] if missed else []
    return lines + (["Wrong names:", "", *wrong, ""] if wrong else ["No wrong name.", ""])


def page(results: dict[str, dict], remark: str = "") -> str:
    """The page, in Markdown. results: entries by key. remark: a sentence about them."""
    states = Counter(entry["commit"] for entry in results.values()).most_common()
    seeds = max((int(key.rsplit("/", 1)[1]) + 1 for key in results if key.startswith("alone/")), default=0)
    days = sorted({entry["day"] for entry in results.values()})
    lines = [
        "# How often mistakes are found",
        "",
        f"Made by `PYTHONPATH=tests:workflow python -m study.detection` from {len(results)} simulated "
        f"campaigns, {' and '.join(dict.fromkeys((days[0], days[-1])))}, "
        f"Python {platform.python_version()}, "
        f"{', '.join(f'{name} {version(name)}' for name in LIBRARIES)}; seeds 0 to {seeds - 1} a row "
        f"and sky, {trial.DRAWS} draws of the "
        "propagation. Pictures of the mistakes: [mistakes.md](mistakes.md). The rows are those of "
        "`tests/study/instruments.py` and `tests/study/sources.py`. Mistakes of one set are run up to"
        " the step that assigns samples to notes, because later steps name none of them. Sound "
        "campaigns and several mistakes at once are run to the end.",
        "",
        f"State of the code: commit {states[0][0]}"
        + (
            " for all."
            if len(states) == 1
            else f" for {states[0][1]} campaigns. "
            + "; ".join(f"{n} on {state}: {', '.join(parts(results, state))}" for state, n in states[1:])
            + "."
        ),
        "",
        *([remark, ""] if remark else []),
    ]
    return "\n".join([*lines, *alone(results), *sound(results), *several(results)]).rstrip("\n") + "\n"


def parts(results: dict[str, dict], state: str) -> list[str]:
    """What was run on a state of the code, in words."""
    count = Counter(
        key.split("/")[1] if key.startswith("alone/") else key.rsplit("/", 1)[0]
        for key, entry in results.items()
        if entry["commit"] == state
    )
    words = {
        "sound": "sound campaigns",
        "early": "sound campaigns up to the samples' notes",
        "together/2": "campaigns with 2 mistakes",
        "together/3": "campaigns with 3 mistakes",
    }
    return [f"{n} {words.get(name, name)}" for name, n in count.items()]
