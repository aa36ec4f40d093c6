"""Tables in words, for pages beside the report."""

from headland.report.report import words_table

__all__ = ["words_table"]
