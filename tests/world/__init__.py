"""An independent world of walked net-radiation surveys: `draw(seed, **choices)` gives a Day."""

from .day import QUANTITIES, Day, draw
from .mistakes import CODES, inject, inject_many

__all__ = ["CODES", "QUANTITIES", "Day", "draw", "inject", "inject_many"]
