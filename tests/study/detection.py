"""How often mistakes are named, alone and several at once, and how often sound campaigns are silent:
docs/detection.md.

PYTHONPATH=tests:workflow python -m study.detection [--seeds 20] [--sound 300] [--together 100] [--results
FILE] [--again TEXT …] [--early] [--page]

Each campaign leaves a line in the results file, and one that is there is not run again, so the study can be
stopped at any time and goes on where it was; `--again` runs those anew whose key holds a text, as after a
change of what concerns them. `--page` runs nothing and writes the page from what is there."""

from __future__ import annotations

import argparse
import gc
import json
import platform
import subprocess
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date
from importlib.metadata import version
from pathlib import Path

from study import instruments, sources, trial

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "detection.md"
RESULTS = Path(tempfile.gettempdir()) / "headland-detection.jsonl"
ROWS = (*instruments.ROWS, *sources.ROWS)
LIBRARIES = ("numpy", "pandas", "scipy")
ENOUGH, ENOUGH_TOGETHER = 0.95, 0.90


def commit() -> str:
    """The state of the code: its commit, with a mark where files differ from it."""
    ask = lambda *words: subprocess.run(
        ["git", *words], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()
    changed = ask("status", "--porcelain", "--", "workflow", "config", "tests")
    return ask("rev-parse", "--short", "HEAD") + "+" * bool(changed)


# What is run -----------------------------------------------------------------------------------------


def silent(number: int, to: str = "propagate") -> dict[str, object]:
    kind, spec = trial.without_mistake(number)
    return {
        "kind": kind,
        "sky": spec.sky.kind,
        "sets": len(spec.sets),
        "alarms": trial.alarms(trial.told(trial.simulate(spec), to)),
    }


def jobs(seeds: int, sound: int, together: int) -> Iterator[tuple[str, Callable[[], dict]]]:
    """Key and work of every campaign, from seed to seed, so that a study stopped early is a smaller one of
    the same make."""
    for seed in range(seeds):
        share = lambda count: range(seed * count // seeds, (seed + 1) * count // seeds)
        for row in ROWS:
            for kind in row.skies:
                yield (
                    f"alone/{row.title}/{kind}/{seed}",
                    lambda row=row, seed=seed, kind=kind: trial.tried(row, seed, kind),
                )
        for number in share(sound):
            yield f"sound/{number}", lambda number=number: silent(number)
        for count in (2, 3):
            for number in share(together):
                yield (
                    f"together/{count}/{number}",
                    lambda count=count, number=number: trial.tried_together(
                        trial.drawn(ROWS, sources.together, number, count)
                    ),
                )


def early(sound: int) -> Iterator[tuple[str, Callable[[], dict]]]:
    """The sound campaigns once more, up to the step that assigns samples to notes."""
    for number in range(sound):
        yield f"early/{number}", lambda number=number: silent(number, "segment")


def read(file: Path) -> dict[str, dict]:
    """The latest line of each campaign."""
    lines = file.read_text(encoding="utf-8").splitlines() if file.is_file() else []
    return {entry["key"]: entry for entry in map(json.loads, lines)}


def run(work: dict[str, Callable[[], dict]], file: Path) -> None:
    """Run what is to be run, by key, a line each in the results file."""
    state, begun = commit(), time.time()
    gc.freeze()
    for number, (key, tried) in enumerate(work.items(), 1):
        result = tried()
        with file.open("a", encoding="utf-8") as stream:
            stream.write(
                json.dumps(
                    {"key": key, "commit": state, "day": date.today().isoformat(), **result},
                    ensure_ascii=False,
                )
                + "\n"
            )
        left = (time.time() - begun) / number * (len(work) - number) / 60.0
        remarks = [str(result[name]) for name in ("wrong", "alarms") if result.get(name)]
        print(
            f"{number}/{len(work)}, {left:.0f} min left: {key}: "
            f"{result.get('verdict', result.get('verdicts', ''))} {' '.join(remarks)}",
            flush=True,
        )


# The page --------------------------------------------------------------------------------------------


def share(part: int, whole: int) -> str:
    return "–" if not whole else "100 %" if part == whole else f"{min(100.0 * part / whole, 99.9):.1f} %"


def alone(results: dict[str, dict]) -> list[str]:
    lines = [
        "## One mistake",
        "",
        "Each mistake is put into one sound simulated campaign a seed (*in turn*: the three skies from "
        "seed to seed). *Can be decided*: campaigns in which what was "
        "recorded can show it by the rule in the last column, which is worked out from the truth of "
        "the simulation; *named* are those of them in which the "
        'code stands without "Can\'t be decided", at its severity. *Open*: what was said in the '
        "others: *undecided* where a finding says \"Can't be "
        'decided" or the check is listed, for this set, among those that could not be made; *silent* '
        "where neither is so. *Wrong names*: campaigns with an error or warning, not called undecided, "
        "that names something else which did not happen.",
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
        + ". They store mV, uV and W m-2; those drawn at random take in winter with snow, night, both "
        "halves of the globe.",
        "",
    ]


def several(results: dict[str, dict]) -> list[str]:
    lines = [
        "## Several at once",
        "",
        "Two or three mistakes in one campaign of two sets, drawn at random from all rows above (each "
        "code as likely as another, no code twice) among those that can be decided in that "
        "campaign alone, and that don't change the same thing of the same set. *Named*: as above. "
        "*Folded*: the code is not listed, but a finding that names another "
        "mistake of the same campaign says that it follows from it. *Told* is both.",
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
        told, whole = verdicts["named"] + verdicts["folded"], sum(verdicts.values())
        totals.append(told >= ENOUGH_TOGETHER * whole)
        lines.append(
            f"- {len(mine)} campaigns with {count}: of {whole} mistakes {verdicts['named']} named and "
            f"{verdicts['folded']} folded, {share(told, whole)} told; "
            f"{verdicts['undecided']} called undecided, {verdicts['silent']} not told; wrong names in "
            f"{sum(bool(entry['wrong']) for _, entry in mine)} campaigns."
        )
        for number, entry in mine:
            for title, code, verdict in zip(entry["rows"], entry["codes"], entry["verdicts"], strict=False):
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
        "| code | drawn | named | folded | undecided | not told | told |",
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
    lines += ["Not told (how many at once, draw):", "", *missed, ""] if missed else []
    return lines + (["Wrong names:", "", *wrong, ""] if wrong else ["No wrong name.", ""])


def page(results: dict[str, dict], remark: str = "") -> str:
    """The page, in Markdown. results: entries by key. remark: a sentence about them."""
    states = Counter(entry["commit"] for entry in results.values()).most_common()
    seeds = max((int(key.rsplit("/", 1)[1]) + 1 for key in results if key.startswith("alone/")), default=0)
    days = sorted({entry["day"] for entry in results.values()})
    lines = [
        "# How well mistakes are told",
        "",
        f"Made by `PYTHONPATH=tests:workflow python -m study.detection` from {len(results)} simulated "
        f"campaigns, {' and '.join(dict.fromkeys((days[0], days[-1])))}, "
        f"Python {platform.python_version()}, "
        f"{', '.join(f'{name} {version(name)}' for name in LIBRARIES)}; seeds 0 to {seeds - 1} a row "
        f"and sky, {trial.DRAWS} draws of the "
        "propagation. Pictures of the mistakes: [mistakes.md](mistakes.md). The rows are those of "
        "`tests/study/instruments.py` and `tests/study/sources.py`; the first are run up to the step "
        "that assigns samples to notes, for the numbers after it name no mistake of one set alone; "
        "sound campaigns and several at once are run to the end.",
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


def main() -> None:
    parser = argparse.ArgumentParser(
        prog="study.detection",
        description="How often mistakes are named: makes docs/detection.md from simulated campaigns.",
    )
    parser.add_argument("--seeds", type=int, default=20, help="campaigns a row and sky")
    parser.add_argument("--sound", type=int, default=300, help="campaigns without a mistake")
    parser.add_argument(
        "--together", type=int, default=100, help="campaigns with two, and as many with three mistakes"
    )
    parser.add_argument("--results", type=Path, default=RESULTS, help="file to which results are added")
    parser.add_argument(
        "--again", nargs="+", default=[], metavar="TEXT", help="run those anew whose key holds a text"
    )
    parser.add_argument(
        "--early",
        action="store_true",
        help="run the sound campaigns once more up to the step that assigns samples to notes, where a "
        "change concerns no later one",
    )
    parser.add_argument(
        "--remark",
        default="",
        help="a sentence for the top of the page, as on what was changed between states of the code",
    )
    parser.add_argument(
        "--page", action="store_true", help="write the page from what is there, and run nothing"
    )
    asked = parser.parse_args()
    every = list(jobs(asked.seeds, asked.sound, asked.together))
    more = list(early(asked.sound))
    if not asked.page:
        done = read(asked.results)
        anew = [(key, work) for text in asked.again for key, work in every if text in key]
        run(
            dict(
                [
                    *anew,
                    *(more if asked.early else ()),
                    *((key, work) for key, work in every if key not in done),
                ]
            ),
            asked.results,
        )
    results = read(asked.results)
    PAGE.write_text(
        page({key: results[key] for key, _ in [*every, *more] if key in results}, asked.remark),
        encoding="utf-8",
    )


if __name__ == "__main__":
    main()
