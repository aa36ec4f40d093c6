"""What a run found, on the console: errors first, the same kind folded, the rest in the file."""

import collections
import csv
from pathlib import Path

from front import installers, places
from front.problems import Fault, please_report
from front.screen import Screen, plain

MOST_LINES = 20
KINDS = ("error", "warning", "note")
PAINTED = {"error": ("ERROR", "1;31"), "warning": ("WARNING", "33")}


def finding_line(row: "dict[str, str]", screen: Screen, more: int = 0) -> str:
    """One finding as a plain line.

    What kind, its code, where, what, and what to do. more: others of its kind.
    """
    severity, colour = PAINTED[row["severity"]]
    where = row["file"] + (f":{row['line']}" if row["file"] and row["line"] else "")
    fields = [plain(field) for field in (row["code"], where or row["set"], row["what"]) if field]
    arrow = f"  -> {plain(row['remedy'])}" if row["remedy"] else ""
    others = f"  (and {more} more of this kind)" if more else ""
    return screen.painted(severity, colour) + "  " + "  ".join(fields) + arrow + others


def say(results: Path, screen: Screen) -> int:
    """Say what was found, errors first; return how many errors."""
    checks = results / "checks.csv"
    try:
        with checks.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.DictReader(stream))
    except OSError:
        raise Fault(f"The run left no {places.short(checks)}. {please_report()}") from None
    count = collections.Counter(row["severity"] for row in rows)
    by_kind: dict[tuple[str, str], list[dict[str, str]]] = {}
    for severity in PAINTED:
        for row in rows:
            if row["severity"] == severity:
                by_kind.setdefault((severity, row["code"]), []).append(row)
    folded = list(by_kind.values())
    if sum(map(len, folded)) <= MOST_LINES:
        folded = [[row] for alike in folded for row in alike]
    for alike in folded[:MOST_LINES]:
        screen.line(finding_line(alike[0], screen, len(alike) - 1))
    if len(folded) > MOST_LINES:
        screen.line(f"... and {len(folded) - MOST_LINES} kinds more.")
    if any(len(alike) > 1 for alike in folded) or len(folded) > MOST_LINES:
        screen.line(f"All of them: {places.short(checks)}")
    counts = [f"{count[kind]} {kind}{'' if count[kind] == 1 else 's'}" for kind in KINDS]
    screen.line(f"Found: {', '.join(counts)}.")
    return count["error"]


def conclude(results: Path, screen: Screen) -> int:
    """Say what was found, and last of all where the report is; return the exit status."""
    errors = say(results, screen)
    report = results / ("report.pdf" if installers.has_pango() else "report.html")
    if not report.exists():
        raise Fault(f"The run left no {places.short(report)}. {please_report()}")
    if report.suffix == ".html":
        need = installers.pango()
        screen.line(f"There is no PDF, because {need.what}, is missing. {installers.remedy(need)}")
    screen.line(places.short(report))
    return 1 if errors else 0
