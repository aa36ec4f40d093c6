"""Mistakes that show across sources as rows of the study of detection.

A campaign whose record can't show a mistake is counted apart."""

from study import of_notes, of_sets

ROWS = (*of_notes.ROWS, *of_sets.ROWS)
