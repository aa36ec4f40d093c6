"""The drawing of a channel check: which head is covered when, and what its channel does. Plan and docs show
it."""

from __future__ import annotations

import math
from collections.abc import Sequence

from headland.field.lamps import NAMES
from headland.physics.constants import RADIATION

STEPS = (
    "Set up where the upper heads see open sky and the lower ones sunlit ground, with storage on.",
    "Note the time to the second when the first cover goes on (start).",
    "Cover one head for 20 s, then the next at once, without a pause. The order is in the remark.",
    "Take the last cover off and note the time (end).",
)
"""What to do, in order."""
LEFT, TOP, WIDTH, HEIGHT = 110.0, 34.0, 480.0, 30.0
"""Place of the first row of the drawing, and size of each, in its own units."""
RESPONSE = 4.0
"""s: time constant of the channels in the drawing."""


def drawing(seconds: float, order: Sequence[str] = RADIATION) -> str:
    """The drawing as SVG text. seconds: that each head is covered. order: of the covered heads."""
    total = seconds * (len(order) + 1)
    scale = WIDTH / total
    rows = [_row(number, name, (seconds, scale)) for number, name in enumerate(order)]
    ends = "".join(
        f'<text x="{LEFT + scale * at * seconds:.0f}" y="20" text-anchor="middle">{at * seconds:.0f} s</text>'
        for at in range(len(order) + 1)
    )
    height = TOP + 34.0 * len(order) + 8.0
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {LEFT + WIDTH + 10:.0f} {height:.0f}" '
        'role="img" font-family="sans-serif" font-size="12" fill="#5a6e80">'
        "<title>Each head is covered in turn; its channel falls towards zero, and the others stay.</title>"
        f"{ends}{''.join(rows)}</svg>"
    )


def _row(number: int, name: str, sizes: tuple[float, float]) -> str:
    """One channel: a bar while its head is covered, and the course of its signal. sizes: s, and units a s."""
    seconds, scale = sizes
    top = TOP + 34.0 * number
    start = number * seconds
    bar = (
        f'<rect x="{LEFT + scale * start:.1f}" y="{top:.1f}" width="{scale * seconds:.1f}" '
        f'height="{HEIGHT:.0f}" fill="#5a6e80" fill-opacity="0.15"/>'
    )
    moments = [0.5 * k for k in range(int(2 * WIDTH / scale) + 1)]
    levels = [1.0 - 0.9 * _level(moment - start, seconds) for moment in moments]
    places = zip(moments, levels, strict=True)
    points = " ".join(f"{LEFT + scale * t:.1f},{top + HEIGHT * level:.1f}" for t, level in places)
    line = f'<polyline points="{points}" fill="none" stroke="#5a6e80" stroke-width="1.5"/>'
    label = f'<text x="{LEFT - 6:.0f}" y="{top + 20:.0f}" text-anchor="end">{NAMES[name]}</text>'
    return bar + line + label


def _level(since: float, covered: float) -> float:
    """Share of its open signal that a channel has, some s after its head was covered."""
    if since < 0.0:
        return 1.0
    if since <= covered:
        return math.exp(-since / RESPONSE)
    return 1.0 - (1.0 - math.exp(-covered / RESPONSE)) * math.exp(-(since - covered) / RESPONSE)
