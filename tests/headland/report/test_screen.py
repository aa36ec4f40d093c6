"""What a screen shows can be read: in both schemes, at the width of a phone, with a finger."""

import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_rgb

from headland.report import figures

FOLDER = Path(figures.__file__).parent
STYLE = (FOLDER / "style.css").read_text(encoding="utf-8")
DARK = STYLE.partition("(prefers-color-scheme: dark)")[2]
PHONE = STYLE.partition("(max-width: 44rem)")[2].partition("(prefers-color-scheme: dark)")[0]
LOOK = (FOLDER / "look.html.jinja").read_text(encoding="utf-8")


def colours(text):
    """The named colours of the first block that gives some."""
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", text.partition(":root {")[2].partition("}")[0]))


def luminance(colour):
    """Relative luminance by WCAG 2.2 (from memory)."""
    return 0.05 + float(np.dot([0.2126, 0.7152, 0.0722], linear(colour)))


def linear(colour):
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in to_rgb(colour)]


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return high / low


def in_the_dark(colour):
    """A figure's colour after the filters of the dark scheme, as Filter Effects Level 1 defines them (from
    memory); turning hues by half a circle keeps the mean that its matrix weights by 0.213, 0.715 and 0.072.
    """
    share, gain = map(
        float, re.search(r"invert\((\S+)\) hue-rotate\(180deg\) brightness\((\S+)\)", DARK).groups()
    )
    turned = np.array(to_rgb(colour)) * (1.0 - 2.0 * share) + share
    mean = float(np.dot([0.213, 0.715, 0.072], turned))
    return tuple(np.clip(gain * np.clip(2.0 * mean - turned, 0.0, 1.0), 0.0, 1.0))


@pytest.mark.parametrize("scheme", [STYLE, DARK], ids=["light", "dark"])
def test_text_is_read_on_every_ground(scheme):
    named = colours(scheme)
    grounds = [named[name] for name in ("ground", "band", "alarm-ground", "differ", "fill-in")]
    assert len(grounds) == len(set(grounds))
    for ground in grounds:
        for name in ("ink", "soft"):
            assert contrast(named[name], ground) >= 4.5, (name, ground)
    assert contrast(named["accent"], named["ground"]) >= 4.5
    assert contrast(named["accent"], named["band"]) >= 4.5
    assert contrast(named["alarm"], named["alarm-ground"]) >= 4.5


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_the_phone_s_form_is_read_in_both_schemes(scheme):
    parts = (FOLDER / "phone.html.jinja").read_text(encoding="utf-8").split("(prefers-color-scheme: dark)")
    assert len(parts) == 2
    named = colours(parts[scheme])
    for letters, ground in (
        *((one, other) for one in ("ink", "soft") for other in ("ground", "band")),
        ("on-accent", "accent"),
        ("accent", "ground"),
    ):
        assert contrast(named[letters], named[ground]) >= 4.5, (letters, ground)
    assert contrast(named["line"], named["ground"]) >= 3.0  # the edge of a field to fill in


def test_figures_have_the_ground_of_the_dark_page_and_lines_that_show_on_it():
    ground = colours(DARK)["ground"]
    assert np.abs(np.array(in_the_dark("#ffffff")) - to_rgb(ground)).max() < 0.02
    lines = [colour for _, colour, _ in figures.COMPONENTS.values()] + [
        colour for colour, _ in figures.SET_LOOKS
    ]
    for colour in [*lines, "#1c1c1c", figures.COUNTS, figures.FLAGGED]:
        assert contrast(in_the_dark(colour), ground) >= 4.0, colour


def test_lamps_are_no_white_boxes_in_the_dark():
    night = LOOK.partition("(prefers-color-scheme: dark)")[2].partition("\n}")[0]
    ground = colours(DARK)["ground"]
    for name in ("green", "amber", "grey"):
        rule = re.search(rf"\.{name} {{(.*?)}}", night)[1].replace("var(--ground)", ground)
        letters, box = (
            re.search(rf"(?:^|; | ){what}: (#\w{{6}})", rule)[1] for what in ("color", "background")
        )
        assert contrast(letters, box) >= 4.5 and contrast(box, ground) < 1.5, name


def test_wide_figures_keep_letters_of_11_pixels_on_a_phone_and_slide():
    """The viewBox of a figure is in points: 7.05 inches are 507.6."""
    width = 14.0 * float(re.search(r"figure\.wide img { max-width: none; width: (\S+)rem", PHONE)[1])
    assert figures.SIZE * width / 507.6 >= 11.0
    assert "figure.wide { overflow-x: auto; }" in PHONE and "Slide the figure sideways." in PHONE
    for name in ("look", "plan", "season"):
        page = (FOLDER / f"{name}.html.jinja").read_text(encoding="utf-8")
        assert set(re.findall(r"<figure(.*?)>", page)) <= {
            ' class="wide"',
            ' class="wide drawing"',
            ' class="narrow"',
        }, name


def test_what_is_empty_has_no_title_on_a_card_and_fingers_hit_links_and_summaries():
    assert re.search(r"\.cards td:empty {[^}]*display: none", PHONE)
    assert int(re.search(r"\.pages a {[^}]*min-height: (\d+)px", PHONE)[1]) >= 40
    assert int(re.search(r"summary {[^}]*min-height: (\d+)px", STYLE)[1]) >= 40
