"""The drawing of the channel check shows what the check asks for, and the docs have the same one."""

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np

from headland.field import channel_drawing
from headland.field.timetable import COVER_SECONDS

SVG = "{http://www.w3.org/2000/svg}"
DOCS = Path(__file__).parents[3] / "docs"


def test_each_channel_falls_while_its_own_head_is_covered():
    root = ElementTree.fromstring(channel_drawing.drawing(COVER_SECONDS))
    bars, lines = root.findall(f"{SVG}rect"), root.findall(f"{SVG}polyline")
    assert len(bars) == len(lines) == 4
    ends = [float(bar.get("x")) + float(bar.get("width")) for bar in bars]
    assert np.allclose([float(bar.get("x")) for bar in bars[1:]], ends[:-1], atol=0.2)  # without a pause
    for bar, line, end in zip(bars, lines, ends, strict=True):
        x, y = np.array([point.split(",") for point in line.get("points").split()], float).T
        assert abs(x[np.argmax(y)] - end) < 6.0  # the lowest place is where its cover comes off
        assert np.ptp(y) > 0.8 * float(bar.get("height"))


def test_the_docs_have_this_drawing():
    text = (DOCS / "channel-check.svg").read_text(encoding="utf-8")
    assert text == channel_drawing.drawing(COVER_SECONDS) + "\n"
    assert "channel-check.svg" in (DOCS / "field-day.md").read_text(encoding="utf-8")
