"""Printed remedies followed to the end: each mistake is put into the demo, its remedy is carried out, and the
campaign is run again.

    PYTHONPATH=tests:workflow python -m study.remedies [--page docs/remedies.md]

What a remedy leaves to the reader (a certificate, a data sheet, who walked where) is taken from the demo as
it was before. The truth of the demo is in demo_inputs/truth.
"""

from __future__ import annotations

import argparse
import re
import shutil
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd

import chain
from headland.base import findings
from study.remedies_edits import MISTAKES, Mistake
from study.world import commit

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_inputs"
QUANTITIES = ("albedo", "surface_temperature", "net_radiation")
DRAWS = 256


@dataclass(frozen=True)
class Run:
    """What a run said and gave.

    said: code, severity, sentence and remedy of errors and warnings. values, held: numbers of surfaces with
    an interval, and how many of these hold the truth. states: of the segments.
    """

    said: list[tuple[str, str, str, str]]
    values: int
    held: int
    states: frozenset[str]

    @property
    def codes(self) -> list[str]:
        """Codes of errors and warnings, each once."""
        return sorted({code for code, *_ in self.said})


def run(folder: Path) -> Run:
    """Run a campaign folder."""
    outcome = chain.run(folder, draws=DRAWS)
    gathered = findings.gathered(findings.folded(outcome.found))
    rows = [findings.describe(one, step, chain.SENTENCES) for step, one in gathered]
    said = [
        (str(row["code"]), str(row["severity"]), str(row["what"]), str(row["remedy"]))
        for row in rows
        if row["severity"] != "note"
    ]
    if outcome.result is None:
        return Run(said, 0, 0, frozenset())
    values, held = against_truth(outcome.result.surfaces)
    return Run(said, values, held, frozenset(outcome.segments["state"]))


def against_truth(surfaces: pd.DataFrame) -> tuple[int, int]:
    """How many numbers of surfaces have an interval, and how many intervals hold the truth of the whole."""
    truth = pd.read_csv(DEMO / "truth" / "surfaces.csv").set_index("surface")
    values = held = 0
    for row in surfaces.to_dict("records"):
        for quantity in QUANTITIES:
            low, high = row[f"{quantity}_low"], row[f"{quantity}_high"]
            if row["surface"] in truth.index and low == low and high == high:
                values += 1
                held += bool(low <= truth.loc[row["surface"], f"{quantity}_whole"] <= high)
    return values, held


def tried(mistake: Mistake, sound: Run) -> dict[str, str]:
    """The row of one mistake: what was said, the remedy as printed, and what following it gave."""
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary) / "campaign"
        shutil.copytree(DEMO, folder)
        mistake.damage(folder)
        before = run(folder)
        named = [one for one in before.said if one[0] == mistake.code]
        remedy = named[0][3] if named else ""
        row = {
            "mistake": mistake.title,
            "code": mistake.code,
            "lines": str(len(before.said)),
            "remedy": remedy,
        }
        if not named:
            return row | {"gave": f"**not named**; said instead: {', '.join(before.codes) or 'nothing'}"}
        if mistake.follow is None:
            return row | {"gave": "can't be mended: " + left_over(before)}
        mistake.follow(folder, remedy)
        after = run(folder)
    return row | {"gave": verdict(after, sound)}


def left_over(said: Run) -> str:
    """What stands where nothing can be done: the numbers that are left, and whether they hold the truth."""
    marked = " or ".join(sorted(said.states - {""})) or "left out"
    return f"its numbers are {marked}; the others hold the truth in {said.held} of {said.values} intervals"


def verdict(after: Run, sound: Run) -> str:
    """What following a remedy gave, in words."""
    if after.codes:
        return f"**still said**: {', '.join(after.codes)}; truth in {after.held} of {after.values} intervals"
    same = after.values == sound.values and after.held >= sound.held
    return f"truth in {after.held} of {after.values} intervals" + (
        "" if same else " (**sound: other counts**)"
    )


def page(rows: list[dict[str, str]], sound: Run) -> str:
    """The page of the study."""
    right = sum("**" not in row["gave"] for row in rows)
    one_line = sum(row["lines"] == "1" for row in rows)
    made = f"`python -m study.remedies` on {datetime.now(UTC):%Y-%m-%d}, commit {commit()}"
    held = f"{sound.held} of {sound.values}"
    head = [
        "# Remedies followed to the end",
        "",
        f"Made by {made}. Each mistake is put into the demo. A script then does what the remedy says, "
        "with the certificate, data sheet or memory that it asks for, and the campaign is run again.",
        "",
        f"Of {len(rows)} mistakes {right} end with the truth in the intervals as in the sound demo ({held}), "
        f"or with a plain “can't be mended”. {one_line} of them are one line of errors and warnings.",
        "",
        "| mistake | code | lines | remedy as printed | following it gave |",
        "|---|---|---|---|---|",
    ]
    cells = ["mistake", "code", "lines", "remedy", "gave"]
    body = ["| " + " | ".join(_cell(row, name) for name in cells) + " |" for row in rows]
    return "\n".join([*head, *body]) + "\n"


def _cell(row: dict[str, str], name: str) -> str:
    text = row[name].replace("|", "\\|")
    return f"`{text}`" if name == "code" else re.sub(r"\s+", " ", text)


def main() -> None:
    """Try all mistakes and write the page."""
    parser = argparse.ArgumentParser(description="Remedies followed to the end, on the demo.")
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "remedies.md")
    args = parser.parse_args()
    sound = run(DEMO)
    rows = []
    for mistake in MISTAKES:
        rows.append(tried(mistake, sound))
        print(mistake.title, "|", rows[-1]["lines"], "|", rows[-1]["gave"], file=sys.stderr, flush=True)
        args.page.write_text(page(rows, sound), encoding="utf-8")


if __name__ == "__main__":
    main()
