"""The report: eight pages, each with its own module, put together for the template."""

from __future__ import annotations

from collections.abc import Sequence

from headland.report import (
    appendix,
    page_answer,
    page_balance,
    page_differences,
    page_findings,
    page_methods,
    page_one_number,
    page_recorded,
    page_uncertainty,
)
from headland.report.given import Given
from headland.report.page import embedded
from headland.report.wording import count, listed

SECTIONS = (
    ("answer", "The answer"),
    ("differences", "Which surfaces differ"),
    ("recorded", "How we know"),
    ("balance", "Energy balance"),
    ("uncertainty", "Uncertainty"),
    ("one-number", "One number, all the way"),
    ("findings", "Instruments and findings"),
    ("methods", "Methods and references"),
    ("appendix", "Attached"),
)
"""The pages, in their order."""
PAGES = (
    page_answer,
    page_differences,
    page_recorded,
    page_balance,
    page_uncertainty,
    page_one_number,
    page_findings,
    page_methods,
    appendix,
)


def context(given: Given, attached: Sequence[str]) -> dict:
    """Everything that the template prints. attached: names of the files that go along with the PDF."""
    result: dict = {}
    for module in PAGES:
        own = module.context(given)
        twice = set(result) & set(own)
        assert not twice, f"two pages give {twice}"
        result |= own
    sets = list(given.settings["sets"])
    return result | {
        "title": given.settings["title"],
        "site": given.settings["site"],
        "dates": page_answer.days(given),
        "sets_line": f"{count(len(sets), 'set')}: {listed(sets)}",
        "sections": SECTIONS,
        "figures": {name: embedded(text) for name, text in given.pictures.items()},
        "attached": list(attached),
        "questions": list(given.questions),
    }
