"""Each cell of the report's smaller tables, worked out by hand; parts of figures that say a number."""

import math
import re

import numpy as np
import pandas as pd
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from headland.report import (
    appendix,
    differences,
    figures,
    figures_differences,
    figures_of,
    page_findings,
    page_one_number,
    sun_path,
)

from . import figures_made
from .test_sun_path import CARRYING, SITE, noted

NAN = math.nan
MINUS = "\u2212"


def cells(made):
    """The texts of a table's rows."""
    return [[cell["text"] for cell in row] for row in made["rows"]]


def test_a_certificate_s_row_has_what_is_known_and_a_dash_for_the_rest():
    known = {
        "set": "heron",
        "channel": "sw_out",
        "sensor_id": "S-1",
        "factor": 66.894,
        "programmed_factor": 67.0,
        "certificate_date": "2024-05-01",
        "age_months": 12.4,
        "expanded_uncertainty_percent": 3.25,
        "response_time_95": 11.6,
        "instrument_class": "B",
    }
    none = dict.fromkeys(("sensor_id", "certificate_date", "instrument_class"), "")
    none |= dict.fromkeys(
        ("programmed_factor", "age_months", "expanded_uncertainty_percent", "response_time_95"), NAN
    )
    sets = {"heron": {"logger_id": "H-7"}}
    made = page_findings.certificates_table(pd.DataFrame([known, known | none]), sets)
    first, second = cells(made)
    assert first == [
        "heron (H-7)",
        "shortwave out",
        "S-1",
        "66.89",
        "67.00",
        "2024-05-01",
        "12",
        "3.2",
        "12",
        "B",
    ]
    assert second == ["heron (H-7)", "shortwave out", "–", "66.89", *["–"] * 6]


def found(*rows):
    names = ("severity", "code", "step", "remedy")
    return pd.DataFrame([dict(zip(names, row, strict=True)) for row in rows], columns=names)


def test_how_many_findings_there_are_and_how_the_page_shows_them():
    words = page_findings.findings_words
    assert words(found()) == "Nothing was found wrong or doubtful."
    error, warning = ("error", "a", "screen", "x"), ("warning", "b", "screen", "y")
    assert words(found(error, warning)) == "Found: 1 error, 1 warning and 0 notes."
    alike = words(found(error, warning, warning))
    assert alike == "Found: 1 error, 2 warnings and 0 notes. Findings of one kind share a row."
    many = [("note", f"n{k}", "screen", "x") for k in range(page_findings.MOST_ROWS)]
    assert "gravest" not in words(found(*many)) and "14 notes" in words(found(*many))
    more = words(found(*many, error))
    assert "The 14 gravest kinds are shown; checks.csv, attached, has all." in more


def test_which_scale_the_sets_are_on():
    assert page_findings.scale_words("none") == "Each set keeps its own scale."
    assert "put on their mean" in page_findings.scale_words("mean")
    assert "on the scale of heron by" in page_findings.scale_words("heron")


@pytest.mark.parametrize(
    "row, said",
    [
        ({"how": "read", "source": "Oke (1987)"}, "Oke (1987) (read)"),
        ({"how": "", "source": "Oke (1987)"}, "Oke (1987)"),
        ({"how": "common practice", "source": "common practice"}, "common practice"),
        ({"how": "common practice", "source": ""}, "common practice"),
        ({"how": "override", "source": "own site"}, "OVERRIDE of this campaign: own site"),
    ],
)
def test_where_a_value_is_from(row, said):
    assert appendix.sourced(row) == said


@pytest.mark.parametrize(
    "row, said",
    [
        ({"low": "-0.5", "high": "0.5", "sigma": ""}, "± 0.5"),
        ({"low": "0", "high": "0.08", "sigma": ""}, "0 to 0.08"),
        ({"low": "", "high": "", "sigma": "0.2"}, "σ = 0.2"),
        ({"low": "", "high": "", "sigma": ""}, ""),
        (
            {"low": "-1", "high": "1", "class_A": "0.5", "class_B": "1", "class_C": "2"},
            "± 0.5, 1, 2 (class A, B, C)",
        ),
        (
            {"low": "0", "high": "1", "class_A": "10", "class_B": "20", "class_C": "30"},
            "0 to 10, 20, 30 (class A, B, C)",
        ),
    ],
)
def test_how_large_an_error_is(row, said):
    assert appendix._size({"sigma": ""} | row) == said


def test_only_terms_that_are_drawn_are_listed():
    row = {"label": "zero", "shared_by": "head", "distribution": "normal", "low": "", "high": ""}
    row |= {"sigma": "2", "unit": "W m-2", "source": "x", "how": "read"}
    rows = pd.DataFrame([row | {"enabled": "true"}, row | {"enabled": "false", "label": "off"}])
    assert cells(appendix.terms_table(rows)) == [["zero", "head", "normal", "σ = 2 W m⁻²", "x (read)"]]


PAIRS = pd.DataFrame(
    {
        "quantity": "net_radiation_common_sky",
        "surface_a": ["paving", "stubble", "stubble"],
        "surface_b": ["stubble", "gravel", "snow"],
        "difference": [30.0, -12.0, NAN],
        "difference_low": [20.0, -20.0, NAN],
        "difference_high": [45.0, 1.0, NAN],
        "distinguishable": [True, "undecided", ""],
    }
)


def test_a_difference_is_the_same_from_both_sides():
    rows = differences.of_quantity(PAIRS)
    one, other = (
        differences.between(rows, "paving", "stubble"),
        differences.between(rows, "stubble", "paving"),
    )
    assert (one["difference"], one["difference_low"], one["difference_high"]) == (30.0, 20.0, 45.0)
    assert (other["difference"], other["difference_low"], other["difference_high"]) == (-30.0, -45.0, -20.0)
    assert (other["surface_a"], other["surface_b"]) == ("stubble", "paving")
    assert differences.between(rows, "paving", "gravel") is None
    ahead = differences.leads(rows, "stubble")
    assert ahead.to_dict() == {"paving": -30.0, "gravel": -12.0} and list(ahead) == [-30.0, -12.0]


@pytest.mark.parametrize(
    "value, word",
    [(True, differences.TRUE), (np.bool_(False), differences.FALSE), ("true", differences.TRUE),
     ("false", differences.FALSE), ("undecided", differences.UNDECIDED), ("", differences.NONE),
     (NAN, differences.NONE)],
)  # fmt: skip
def test_a_verdict_in_words(value, word):
    assert differences.verdict(value) == word


@pytest.mark.parametrize(
    "value, unit, text",
    [
        (280.0, "1", "280"),
        (0.5, "1", "0.5000"),
        (12.345, "1", "12.35"),
        (9.99, "W m-2", "9.9900"),
        (-10.0, "W m-2", f"{MINUS}10.00"),
        (280.0, "W m-2", "280.00"),
        (NAN, "1", "–"),
    ],
)
def test_digits_of_a_check_by_hand(value, unit, text):
    assert page_one_number.shown(value, unit) == text


# Figures ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "latitude, longitude, start, middle",
    [(46.0, 14.0 + east, "2025-08-20 10:00", 180.0) for east in (0.0, 0.4, 0.8)]
    + [(-35.0, 150.0 + east, "2025-12-20 02:00", 360.0) for east in (0.0, 0.4, 0.8)],
)
def test_the_sun_s_path_is_whole_around_its_noon(latitude, longitude, start, middle):
    """In the south in the northern hemisphere, and in the north in the southern one."""
    figure = sun_path.sun_path(
        noted(start), ("heron",), SITE | {"latitude": latitude, "longitude": longitude}, CARRYING
    )
    axes = figure.axes[0]
    path = axes.lines[0]
    x, y = path.get_xdata(), path.get_ydata()
    assert np.isfinite(x).all() and len(set(np.sign(np.diff(x)))) == 1  # not torn
    assert x[np.argmax(y)] == pytest.approx(middle, abs=3.0)
    low, high = axes.get_xlim()
    assert low < x.min() < middle - 60.0 and middle + 60.0 < x.max() < high
    assert (low + high) / 2.0 == pytest.approx(middle, abs=5.0)


def drawn(row, surfaces=None):
    axes = Figure().subplots()
    surfaces = surfaces or {"paving": {"colour": {"value": "#123456"}, "marker": {"value": "o"}}}
    figures.dot(axes, {"surface": "paving", **row}, "albedo", 2.0, surfaces)
    return axes.lines


def test_a_value_is_on_the_line_of_its_whole_interval():
    line, dot = drawn({"albedo": 0.2, "albedo_low": 0.15, "albedo_high": 0.27})
    assert list(line.get_xdata()) == [0.15, 0.27] and list(line.get_ydata()) == [2.0, 2.0]
    assert list(dot.get_xdata()) == [0.2] and dot.get_markerfacecolor() == "#123456"
    (alone,) = drawn({"albedo": 0.2, "albedo_low": NAN, "albedo_high": NAN})
    assert list(alone.get_xdata()) == [0.2]
    doubtful = drawn({"albedo": 0.2, "albedo_low": 0.1, "albedo_high": 0.3, "state": figures.PROVISIONAL})
    assert doubtful[1].get_markerfacecolor() == "white" and doubtful[0].get_color() == figures.DOUBTFUL


def test_a_gap_in_the_record_parts_two_stretches():
    """Samples of a second, with a pause of three seconds and one that is not masked."""
    seconds = np.array([0, 1, 2, 5, 6, 7, 8, 9, 10])
    times = np.datetime64("2026-05-21T10:00:00") + seconds.astype("timedelta64[s]")
    mask = np.array([1, 1, 1, 1, 1, 0, 1, 1, 1], bool)
    found = figures.stretches(times, mask, 1.0)
    start = pd.Timestamp("2026-05-21T10:00:00")
    spans = [((a - start).total_seconds(), (b - start).total_seconds()) for a, b in found]
    assert spans == [(0.0, 3.0), (5.0, 7.0), (8.0, 11.0)]
    assert figures.stretches(times, np.zeros(9, bool), 1.0) == []


@pytest.mark.parametrize("count", [100, 10_000])
def test_thinned_series_keep_their_extremes(count):
    x, y = np.arange(float(count)), np.sin(np.arange(count) / 7.0)
    y[count // 2], y[count // 3] = 50.0, -60.0
    kept_x, kept_y = figures.thinned(x, y, most=80)
    assert len(kept_x) == len(kept_y) <= 84 and (np.diff(kept_x) > 0).all()
    assert kept_y.max() == 50.0 and kept_y.min() == -60.0 and kept_x[kept_y.argmax()] == count // 2


def all_figures():
    given = figures_made.campaign()
    record = figures_made.Record(*(given[name] for name in ("noted", "samples", "intervals", "excluded")))
    made = figures_of.numbers(given["tables"], given["means"], figures_made.SURFACES)
    return made | figures_of.samples(record, figures_made.SURFACES, figures_made.SETTINGS)


def test_nothing_is_drawn_beside_the_paper():
    """Every panel, colour bar and text of every figure, but for the numbers of scales beyond their ends."""
    looked_at = 0
    for name, figure in all_figures().items():
        drawing = FigureCanvasAgg(figure).get_renderer()
        figure.canvas.draw()
        paper = figure.bbox
        for axes in figure.axes:
            box = axes.get_window_extent(drawing)
            assert box.x0 >= -1 and box.x1 <= paper.x1 + 1 and box.y0 >= -1 and box.y1 <= paper.y1 + 1, name
        both = [axis for axes in figure.axes for axis in (axes.xaxis, axes.yaxis)]
        scales = {text for axis in both for text in axis.findobj(Text)}
        for text in set(figure.findobj(Text)) - scales:
            if text.get_text().strip() and text.get_visible():
                box = text.get_window_extent(drawing)
                inside = box.x1 > 0 and box.x0 < paper.x1 and box.y1 > 0 and box.y0 < paper.y1
                assert inside, (name, text.get_text())
                looked_at += 1
    assert looked_at > 20


def test_names_of_fields_are_beside_their_points():
    """In the corner of two fields far apart, each name is nearer to its own point than to the other."""
    surfaces = {name: {"label": {"value": name}} for name in ("paving", "snow")}
    ends = {
        "albedo_low": NAN,
        "albedo_high": NAN,
        "surface_temperature_low": NAN,
        "surface_temperature_high": NAN,
    }
    rows = [
        {"surface": "paving", "albedo": 0.1, "surface_temperature": 40.0, **ends},
        {"surface": "snow", "albedo": 0.8, "surface_temperature": 0.0, **ends},
    ]
    axes = figures_differences.albedo_temperature(pd.DataFrame(rows), surfaces).axes[0]
    places = {text.get_text(): np.array(text.get_position()) for text in axes.texts}
    low, high = np.array([axes.get_xlim(), axes.get_ylim()]).T
    points = {
        row["surface"]: (np.array([row["albedo"], row["surface_temperature"]]) - low) / (high - low)
        for row in rows
    }
    for name, other in (("paving", "snow"), ("snow", "paving")):
        away = np.abs(places[name] - points[name]).max()
        assert away < 0.35 and away < np.abs(places[name] - points[other]).max()
        assert places[name].min() >= 0.0 and places[name].max() <= 1.0


def test_of_several_fields_of_one_surface_the_first_is_named():
    names = ("albedo", "surface_temperature")
    ends = {f"{name}_{end}": NAN for name in names for end in ("low", "high")}
    rows = [
        {"surface": "paving", "albedo": albedo, "surface_temperature": warmth, **ends}
        for albedo, warmth in ((0.1, 40.0), (0.5, 20.0), (0.8, 0.0))
    ]
    surfaces = {"paving": {"label": {"value": "paving"}}}
    axes = figures_differences.albedo_temperature(pd.DataFrame(rows), surfaces).axes[0]
    (text,) = axes.texts
    assert text.get_text() == "paving" and text.get_position()[0] < 0.5 < text.get_position()[1]


def test_letters_of_an_equation_are_outlines_and_the_image_is_cut_to_them():
    image = figures.equation(r"\alpha = \frac{a}{b}")
    assert "<text" not in image and image.count("<path") >= 4
    wide, high = (float(re.search(rf'{side}="([\d.]+)pt"', image).group(1)) for side in ("width", "height"))
    assert 20.0 < wide < 60.0 and 10.0 < high < 40.0
    plain = figures.svg(next(iter(all_figures().values())))
    assert "<text" in plain
