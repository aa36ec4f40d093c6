"""A second computation of one campaign's intervals, written from docs/method.md alone.

It imports nothing of the package and shares no code with it. `python -m independent` compares both and
writes docs/independent.md.
"""
