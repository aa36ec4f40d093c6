"""The pages of docs/ that are made from the project's own tables: docs/results.md and docs/findings.md.

Nothing is said here that the tables do not say, so that a page can't fall behind the code: a test makes both
anew and compares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from headland.base.findings import SEVERITIES

MADE = "This page is made by `python scripts/verbs/document.py` from {sources}. Change those, not the page."

TABLES = {
    "segments": "segments.csv",
    "surfaces": "surfaces.csv",
    "fields": "fields.csv",
    "differences": "differences.csv",
    "measured": "measured.csv",
    "uncertainty_budget": "uncertainty_budget.csv",
    "checks": "checks.csv",
}
"""The tables that users get, by the name of their schema, in the order of the page."""

STEP_TABLES = {
    "samples_raw": "steps/1_ingest/SET.csv",
    "samples_calibrated": "steps/2_calibrate/SET.csv",
    "certificates": "steps/2_calibrate/SET_certificates.csv",
    "samples_corrected": "steps/3_correct_longwave/SET.csv",
    "samples_screened": "steps/4_screen/SET.csv",
    "samples_segmented": "steps/5_segment/SET.csv",
    "visit_balance": "steps/7_balance/visits.csv",
    "measured_fluxes": "steps/7_balance/measured_fluxes.csv",
    "weather_station": "steps/7_balance/weather_station.csv",
    "visits": "steps/8_propagate/visits.csv",
    "measured_visits": "steps/8_propagate/measured_visits.csv",
    "intercomparison": "steps/8_propagate/intercomparison.csv",
    "against_station": "steps/8_diagnose/against_station.csv",
    "untold": "steps/9_report/untold.csv",
}
"""What steps leave behind for those who want the samples, the certificates that were used, single visits, the
sets against each other and a station, or what the checks can't decide.
"""

ENDS = ("_low", "_high")
STEPS = (
    "ingest",
    "calibrate",
    "correct_longwave",
    "screen",
    "segment",
    "summarise",
    "balance",
    "propagate",
    "diagnose",
    "",
)
"""Steps in the order of the chain; without a name: tables that users write, which several steps read."""


def cell(text: str) -> str:
    """Text as a cell of a Markdown table shows it: on one line, with what Markdown or HTML would take as a
    mark made plain.
    """
    text = " ".join(text.split())
    for mark, plain in (("\\", "\\\\"), ("|", "\\|"), ("<", "&lt;"), ("*", "\\*"), ("`", "\\`")):
        text = text.replace(mark, plain)
    return text


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Lines of a Markdown table. rows: cells as `cell` gives them."""
    return [
        "| " + " | ".join(head) + " |",
        "|" + "---|" * len(head),
        *("| " + " | ".join(row) + " |" for row in rows),
    ]


def columns(fields: Sequence[Mapping], keys: Mapping[str, str]) -> list[list[str]]:
    """Rows of a table's columns: names, unit, meaning, key in quantities.csv. A quantity and the ends of its
    interval are one row.

    fields: of a table's schema. keys: keys of quantities.csv by quantity.
    """
    names = {field["name"] for field in fields}
    rows = []
    for field in fields:
        name = field["name"]
        if any(name.endswith(end) and name.removesuffix(end) in names for end in ENDS):
            continue
        ends = [name + end for end in ENDS if name + end in names]
        key = keys.get(field.get("quantity", ""), "")
        rows.append(
            [
                ", ".join(f"`{n}`" for n in (name, *ends)),
                cell(field.get("unit", "")),
                cell(field["description"]),
                f"`{key}`" if key else "",
            ]
        )
    return rows


def results_page(schemas: Mapping[str, Mapping], quantities: Sequence[Mapping[str, str]]) -> str:
    """docs/results.md: every column of every table that users get, with unit and meaning.

    schemas: Table Schemas by name, those of TABLES and STEP_TABLES. quantities: rows of quantities.csv. A
    quantity that two steps give has
    the key of the later one: it is what the tables print.
    """
    keys = {row["quantity"]: row["key"] for row in quantities}
    lines = [
        "# Results: every table, every column",
        "",
        MADE.format(sources="`workflow/schemas/*.json` and `workflow/headland/quantities.csv`"),
        "",
        "Times are in UTC, ISO 8601, ending in Z. A missing value is an empty cell. `Q_low` and `Q_high` "
        "are the ends of the 95 % coverage interval "
        "of the quantity Q. A key such as `balance.ground_heat` leads to its row in "
        "`workflow/headland/quantities.csv`, and that to its equation "
        "([method.md](method.md)) and its function. SET stands for the name of a set. What a run finds "
        "wrong: [findings.md](findings.md).",
        "",
    ]
    for title, group in (("Tables that users get", TABLES), ("What steps leave behind", STEP_TABLES)):
        lines += [f"## {title}", ""]
        for name, path in group.items():
            schema = schemas[name]
            lines += [
                f"### {path}",
                "",
                cell(schema["description"]),
                "",
                *table(("column", "unit", "meaning", "key"), columns(schema["fields"], keys)),
                "",
            ]
    return "\n".join(lines)


def findings_page(rows: Sequence[Mapping[str, str]]) -> str:
    """docs/findings.md: every code with what it says and what to do. rows: those of findings.csv; a step
    that STEPS lacks raises ValueError.
    """
    ordered = sorted(rows, key=lambda row: STEPS.index(row["step"]))
    lines = [
        "# Findings: every code that a run can report",
        "",
        MADE.format(sources="`workflow/headland/checks/findings.csv`"),
        "",
        "A finding is a row of `checks.csv`. Words in braces are filled in with what was found. *error*: "
        "a number would be wrong; *warning*: look at it; "
        "*note*: good to know. A code with several readings has a row for each. What is not yet looked "
        "for: [limits.md](limits.md).",
        "",
    ]
    for step in STEPS:
        own = [row for row in ordered if row["step"] == step]
        if not own:
            continue
        lines += [
            f"## {step or 'Tables that users write'}",
            "",
            *table(
                ("code", "severity", "what it says", "what to do", "limit", "source"),
                [
                    [
                        f"`{row['code']}`" + (f" ({cell(row['variant'])})" if row["variant"] else ""),
                        row["severity"],
                        *(cell(row[name]) for name in ("what", "remedy", "limit", "source")),
                    ]
                    for row in own
                ],
            ),
            "",
        ]
    counted = ", ".join(
        f"{sum(row['severity'] == severity for row in rows)} {severity}s" for severity in SEVERITIES
    )
    return "\n".join(
        [
            *lines,
            f"In all: {len({row['code'] for row in rows})} codes with {len(rows)} readings ({counted}).",
            "",
        ]
    )
