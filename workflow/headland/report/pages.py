"""One small function that makes every page beside the report: its template, the style sheet and its values.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from headland.report import report

TEMPLATES = Path(__file__).parent
STYLES = ("style.css", "screen.css")


def page(template: str, context: Mapping) -> str:
    """A page as HTML, everything in it escaped.

    template: the name of a file `<template>.html.jinja` beside this module. context: its values.
    """
    styles = [(TEMPLATES / name).read_text(encoding="utf-8") for name in STYLES]
    text = (TEMPLATES / f"{template}.html.jinja").read_text(encoding="utf-8")
    return report.page(text, styles, context)
