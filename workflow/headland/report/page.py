"""One small function that makes every page beside the report: its template, the style sheet and its values."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from headland.report import report

TEMPLATES = Path(__file__).parent
STYLES = ("style.css", "screen.css")


def page(name: str, values: Mapping) -> str:
    """A page as HTML, everything in it escaped.

    name: of a file `<name>.html.jinja` beside this module. values: what it prints.
    """
    styles = [(TEMPLATES / name).read_text(encoding="utf-8") for name in STYLES]
    text = (TEMPLATES / f"{name}.html.jinja").read_text(encoding="utf-8")
    return report.page(text, styles, values)
