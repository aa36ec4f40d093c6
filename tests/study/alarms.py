"""False alarms on sound campaigns of the independent world: days on which nobody made a mistake.

    PYTHONPATH=tests:workflow python -m study.alarms run FILE --first SEED --campaigns N
    PYTHONPATH=tests:workflow python -m study.alarms page BEFORE AFTER

`run` leaves one JSON line a campaign and goes on where it was. `page` writes a section of docs/detection.md.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path

import chain
import world
from headland.base import findings
from study.world import commit, lines

PAGE = Path(__file__).parents[2] / "docs" / "detection.md"
MARK = "## Sound days of the independent world"
DRAWS = 256


def record(seed: int) -> dict[str, object]:
    """What is said of one sound campaign."""
    day = world.draw(seed)
    with tempfile.TemporaryDirectory() as folder:
        day.write(folder)
        outcome = chain.run(Path(folder), draws=DRAWS)
    found = [
        (row["severity"], row["code"], one.variant, row["what"])
        for step, one in findings.gathered(findings.folded(outcome.found))
        for row in [findings.describe(one, step, chain.SENTENCES)]
        if row["severity"] != "note"
    ]
    states = Counter() if outcome.result is None else Counter(outcome.result.segments["state"])
    about = {"seed": seed, "sky": day.scene.clouds.kind, "heads": day.grade}
    return about | {"found": found, "states": dict(states), "commit": commit()}


def run(path: Path, first: int, campaigns: int) -> None:
    """Run the campaigns that have no line yet."""
    there = {row["seed"] for row in lines(path)}
    for seed in range(first, first + campaigns):
        if seed not in there:
            with path.open("a", encoding="utf-8") as file:
                file.write(json.dumps(record(seed)) + "\n")


def counted(rows: list[dict]) -> tuple[Counter, int, int]:
    """Campaigns by code, those with any alarm, and those in which a number is withheld."""
    codes: Counter = Counter()
    for row in rows:
        codes.update({(one[1], one[2]) for one in row["found"]})
    withheld = sum("withheld" in row.get("states", {}) for row in rows)
    return codes, sum(bool(row["found"]) for row in rows), withheld


def section(before: list[dict], after: list[dict]) -> str:
    """The section: how many sound campaigns raise an error or warning, by code."""
    (old, old_any, old_gone), (new, new_any, new_gone) = counted(before), counted(after)
    commits = [", ".join(sorted({row.get("commit", "3cecab6") for row in rows})) for rows in (before, after)]
    text = [
        MARK,
        "",
        f"Made by `python -m study.alarms` on {datetime.now(UTC):%Y-%m-%d}: campaigns of the world drawn at "
        f"random from seed {after[0]['seed']} on, without a mistake. Before is commit {commits[0]}, after is "
        f"{commits[1]}.",
        "",
        "| | before | after |",
        "|---|---|---|",
        f"| campaigns | {len(before)} | {len(after)} |",
        f"| without error or warning | {_share(len(before) - old_any, len(before))} | "
        f"{_share(len(after) - new_any, len(after))} |",
        f"| with a number withheld | {old_gone} | {new_gone} |",
    ]
    for code in sorted({*old, *new}, key=lambda one: -old[one]):
        name = f"`{code[0]}`" + (f" ({code[1]})" if code[1] else "")
        text.append(f"| {name} | {old[code]} | {new[code]} |")
    return "\n".join(text) + "\n"


def _share(part: int, whole: int) -> str:
    return f"{part} ({100 * part / whole:.0f} %)" if whole else "–"


def main() -> None:
    """Run campaigns, or write the section."""
    parser = argparse.ArgumentParser(description="False alarms on sound campaigns of the world.")
    parser.add_argument("what", choices=("run", "page"))
    parser.add_argument("files", type=Path, nargs="+")
    parser.add_argument("--first", type=int, default=5_000_000)
    parser.add_argument("--campaigns", type=int, default=500)
    parser.add_argument("--remarks", type=Path, help="text that follows the table")
    args = parser.parse_args()
    if args.what == "run":
        run(args.files[0], args.first, args.campaigns)
        return
    made = section(*(list(lines(path)) for path in args.files[:2]))
    text = PAGE.read_text(encoding="utf-8").split(MARK)[0].rstrip() + "\n\n" + made
    if args.remarks:
        text += "\n" + args.remarks.read_text(encoding="utf-8")
    PAGE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
