"""Numbers in words, for pages beside the report."""

from headland.report.report import ALIKE, SHOWN, WITHOUT, interval, listed, number, span

__all__ = ["ALIKE", "SHOWN", "WITHOUT", "interval", "listed", "number", "span"]
