"""The figures: the same bytes each time, nothing lost in thinning, and something sensible drawn of anything
that a campaign can hold.
"""

import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from itertools import pairwise
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg

from headland.report import figures, figures_transects, figures_uncertainty

from .figures_made import (
    NASTY,
    ROOT,
    budget,
    campaign,
    differences,
    drawn,
    frame,
    groups,
    means,
    noted,
    samples,
)


def test_the_same_bytes_each_time():
    assert drawn() == drawn()


def test_no_date_and_no_address_outside():
    for name, text in drawn().items():
        assert not re.search(r"\b20\d\d-\d\d-\d\dT", text), name
        addresses = set(re.findall(r'(?:href|src)="([^"#][^"]*)"', text)) | set(
            re.findall(r"url\(([^#)][^)]*)\)", text)
        )
        assert not addresses, name


def test_every_figure_is_as_wide_as_the_text_at_most():
    for name, text in drawn().items():
        assert float(re.search(r'width="([\d.]+)pt"', text).group(1)) <= 72 * figures.WIDTH + 0.1, name


@pytest.mark.parametrize("field", [NASTY, "f" * 300, "$", "$$a$$", "\\", "{}", "%", ""])
def test_any_name_gives_an_image_that_can_be_read(field):
    for text in drawn(**campaign(field)).values():
        ElementTree.fromstring(text)


def test_a_name_is_never_read_as_an_equation():
    """Mathtext drops the dollars and sets its own: the same letters without a meaning must be drawn as they
    are.
    """
    assert figures.shortened("$x^2$") == r"\$x^2\$"
    assert figures.shortened("a" * 30) == "a" * 23 + "…"
    assert figures.shortened("a\x08b\nc") == "a b c"


def test_colour_and_marker_that_do_not_exist_are_replaced():
    assert (
        figures.look({"x": {"colour": {"value": "not a colour"}, "marker": {"value": "$m$"}}}, "x")
        == figures.PLAIN
    )
    assert figures.look({}, "unknown") == figures.PLAIN


def test_thinning_keeps_the_ends_and_the_extremes():
    y = np.sin(np.arange(10_000) / 300.0)
    y[1234], y[8765] = 9.0, -9.0
    x, thin = figures.thinned(np.arange(10_000), y, 100)
    assert len(x) <= 102 and x[0] == 0 and x[-1] == 9999
    assert thin.max() == 9.0 and thin.min() == -9.0
    x, thin = figures.thinned(np.arange(5), [1.0, np.nan, 2.0, 3.0, 4.0], 100)
    assert len(x) == 5
    assert len(figures.thinned(np.arange(1000), np.full(1000, np.nan), 100)[0]) == 2


def test_a_long_pause_breaks_the_axis_but_not_into_ever_more_pieces():
    day = pd.Timestamp("2026-05-21 10:00")
    spans = [(day + pd.Timedelta(days=n), day + pd.Timedelta(days=n, hours=2)) for n in range(3)]
    assert figures.time_parts(spans) == spans
    assert figures.time_parts(
        [(day, day + pd.Timedelta(hours=2)), (day + pd.Timedelta(hours=3), day + pd.Timedelta(hours=4))]
    ) == [(day, day + pd.Timedelta(hours=4))]
    many = [(day + pd.Timedelta(days=n), day + pd.Timedelta(days=n, hours=2)) for n in range(20)]
    assert figures.time_parts(many) == [(many[0][0], many[-1][1])]


def test_nothing_at_all_still_gives_every_figure():
    empty = {
        "noted": frame("noted", []),
        "samples": {"heron": frame("samples_segmented", [])},
        "excluded": {"heron": np.zeros(0, bool)},
        "tables": {
            name: frame(name, [])
            for name in ("surfaces", "fields", "differences", "measured", "uncertainty_budget")
        },
        "means": frame("segment_means", []),
    }
    assert set(drawn(**empty)) == {
        "albedo_temperature",
        "balance",
        "budget",
        "passes",
        "record",
        "shared",
        "sun_path",
    }


def test_notes_without_data_and_data_without_notes():
    assert "record" in drawn(
        samples={"heron": frame("samples_segmented", [])}, excluded={"heron": np.zeros(0, bool)}
    )
    assert "record" in drawn(noted=frame("noted", []), samples={"heron": samples(segment="")})


def test_missing_values_and_intervals():
    nothing = groups("surfaces")
    nothing[[c for c in nothing if c.endswith(("_low", "_high"))]] = np.nan
    assert drawn(
        tables={**campaign()["tables"], "surfaces": nothing, "fields": groups("fields").assign(albedo=np.nan)}
    )
    night = groups("surfaces").assign(
        **{
            q: np.nan
            for q in ("albedo", "albedo_low", "albedo_high", "ground_heat", "sensible_heat", "latent_heat")
        }
    )
    assert drawn(tables={**campaign()["tables"], "surfaces": night})
    only_ground = groups("surfaces").assign(sensible_heat=np.nan, latent_heat=np.nan)
    assert drawn(tables={**campaign()["tables"], "surfaces": only_ground})


def test_ten_surfaces_and_fluxes_over_a_thousand():
    many = {
        "surfaces": groups("surfaces", 10, net_radiation=1100.0),
        "fields": groups("fields", 30),
        "differences": differences(10),
        "measured": frame("measured", []),
        "uncertainty_budget": budget(10),
    }
    for name, text in drawn(tables=many, means=means(10)).items():
        assert float(re.search(r'height="([\d.]+)pt"', text).group(1)) <= 72 * 9.3, name


def titles_of(ax) -> list[str]:
    """Names of the panels of a page, as they were drawn one after the other."""
    return [text.get_text() for text in ax.texts if text.get_text().startswith("0521-")]


def test_many_segments_go_over_several_pages_and_none_is_lost():
    names = [f"heron-0521-{1000 + n}" for n in range(60)]
    parts = [
        samples(20, name, f"2026-05-21 {10 + n // 20}:{n % 20 * 3:02d}:00") for n, name in enumerate(names)
    ]
    notes = frame(
        "noted",
        [
            noted(name, f"Field {n}", f"2026-05-21 {10 + n // 20}:{n % 20 * 3:02d}:00")
            for n, name in enumerate(names)
        ],
    )
    pages = figures_transects.transects(notes, pd.concat(parts, ignore_index=True), np.zeros(60 * 20, bool))
    assert len(pages) == 3
    titles = [text for page in pages for ax in page.axes for text in titles_of(ax)]
    assert [title.split()[0] for title in titles] == [name.removeprefix("heron-") for name in names]
    assert all(page.get_figheight() <= 9.3 for page in pages)


def test_titles_of_panels_with_wide_names_end_before_the_next_panel():
    names = [f"heron-0521-{1000 + n}" for n in range(8)]
    parts = [samples(20, name, f"2026-05-21 10:{n * 3:02d}:00") for n, name in enumerate(names)]
    notes = frame(
        "noted",
        [noted(name, "Mammoth meadow $W$", f"2026-05-21 10:{n * 3:02d}:00") for n, name in enumerate(names)],
    )
    (page,) = figures_transects.transects(notes, pd.concat(parts, ignore_index=True), np.zeros(20 * 8, bool))
    drawn_by = FigureCanvasAgg(page).get_renderer()
    boxes = [
        text.get_window_extent(drawn_by)
        for ax in page.axes
        for text in ax.texts
        if text.get_text().startswith("0521-")
    ]
    assert (
        all(a.x1 < b.x0 for a, b in pairwise(boxes) if a.y0 == b.y0)
        and max(box.x1 for box in boxes) <= page.bbox.x1
    )
    assert figures.fitted("Yard", 1.0) == "Yard" and figures.fitted("Yard", 0.2) == "Y…"


def test_one_sample_standing_still():
    one = samples(1).assign(position=np.nan)
    assert drawn(samples={"heron": one}, excluded={"heron": np.zeros(1, bool)})


def test_twelve_sets_over_six_days_fit_their_pages():
    some = {
        f"set{n}": pd.concat(
            [samples(30, start=f"2026-05-{20 + day} 10:{n:02d}:00") for day in range(6)], ignore_index=True
        )
        for n in range(12)
    }
    notes = frame(
        "noted",
        [
            noted(start=f"2026-05-{20 + day} 10:{n:02d}:00", set_name=f"set{n}")
            for n in range(12)
            for day in range(6)
        ],
    )
    text = drawn(
        noted=notes,
        samples=some,
        intervals={name: 1.0 for name in some},
        excluded={name: np.zeros(180, bool) for name in some},
    )
    for name in text:
        assert float(re.search(r'height="([\d.]+)pt"', text[name]).group(1)) <= 72 * 9.6, name


def test_an_equation_is_an_image():
    ElementTree.fromstring(figures.equation(r"\dfrac{1000}{S}"))


def test_the_pair_shown_is_the_one_whose_difference_gains_most():
    table = differences(3)
    net = table["quantity"] == "net_radiation_common_sky"
    best = net & (table["surface_a"] == table["surface_a"].iloc[0]) & (table["surface_b"] == "class_2")
    table.loc[best, ["difference_low", "difference_high"]] = [11.0, 13.0]
    assert set(figures_uncertainty.sharing_pair(groups("surfaces", 3), table)) == {
        table["surface_a"].iloc[0],
        "class_2",
    }
    assert (
        figures_uncertainty.sharing_pair(groups("surfaces", 3), table.assign(difference_low=np.nan)) is None
    )
    assert figures_uncertainty.sharing_pair(groups("surfaces", 1), differences(1)) is None


def python(folder: Path, text: str) -> subprocess.CompletedProcess:
    """Run a program with a folder of its own for what the library keeps."""
    own = os.environ | {"MPLCONFIGDIR": str(folder)}
    command = [sys.executable, "-c", text]
    return subprocess.run(command, cwd=ROOT, env=own, capture_output=True, text=True, timeout=300)


def test_fonts_are_those_that_the_library_ships_whatever_the_user_has(tmp_path):
    """The list of fonts that is kept for a user may come from a time when others were there, or none."""
    code = (
        "import sys; sys.path.insert(0, 'workflow'); from headland.report import figures; "
        "print(len(figures.equation('Q^*')), figures.equation('Q^*')[-400:])"
    )
    said = []
    for name, broken in (("sound", False), ("broken", True)):
        (tmp_path / name).mkdir()
        if broken:
            forgetting = python(
                tmp_path / name,
                "import matplotlib; from pathlib import Path; from matplotlib import font_manager as f; "
                "m = f.fontManager; m.ttflist = [e for e in m.ttflist if 'DejaVu' not in e.name]; "
                "f.json_dump(m, next(Path(matplotlib.get_cachedir()).glob('fontlist*.json')))",
            )
            assert forgetting.returncode == 0, forgetting.stderr
        said.append(python(tmp_path / name, code).stdout)
    assert said[0] and said[0] == said[1]


def test_what_an_error_makes_doubtful_is_grey_and_hollow():
    doubtful = groups("surfaces").assign(state="provisional")
    plain = drawn()["balance"]
    grey = drawn(tables={**campaign()["tables"], "surfaces": doubtful})["balance"]
    assert figures.DOUBTFUL in grey and figures.DOUBTFUL not in plain


def test_numbers_of_a_scale_keep_their_digits():
    text = '<g transform="translate(1.23456 7.89123) scale(0.015625 -0.015625)"><path d="M0.123456 1"/></g>'
    assert figures.rounded(text) == (
        '<g transform="translate(1.23 7.89) scale(0.015625 -0.015625)"><path d="M0.12 1"/></g>'
    )


def test_surfaces_are_in_the_order_of_their_net_radiation_under_the_common_sky():
    table = groups("surfaces", 4)
    table.loc[1, "net_radiation_common_sky"] = np.nan
    assert figures.order(table) == ["class_3", "class_2", "short_grass", "paving"]


def test_the_pair_shown_gains_against_the_intervals_of_both_its_surfaces():
    """The first surface is known badly, all differences alike: the pairs with it gain most."""
    three, table = groups("surfaces", 3), differences(3)
    table = table[table["quantity"] == "net_radiation_common_sky"].iloc[::-1]
    table = table.assign(difference_low=11.0, difference_high=13.0)
    first = table["surface_a"].iloc[-1]
    half = np.where(three["surface"] == first, 50.0, 5.0)
    for end, sign in (("low", -1.0), ("high", 1.0)):
        three[f"net_radiation_common_sky_{end}"] = three["net_radiation_common_sky"] + sign * half
    assert table["surface_a"].iloc[0] != first and first in figures_uncertainty.sharing_pair(three, table)
