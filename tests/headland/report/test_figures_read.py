"""Figures and pages read back: numbers, ends, order and marks."""

import math
import re

import numpy as np
import pandas as pd
import pytest

from headland.report import (
    appendix,
    figures_answer,
    figures_balance,
    figures_map,
    figures_uncertainty,
    worked_segment,
)
from headland.report.differences import COMMON
from headland.report.figures import COMPONENTS

from .figures_made import budget, differences, frame, groups

SURFACES = {
    name: {"label": {"value": name.replace("_", " ")}, "colour": {"value": colour}, "marker": {"value": "o"}}
    for name, colour in (("short_grass", "#00aa00"), ("paving", "#777777"))
}


NOTHING_MEASURED = frame("measured", [])


def common_budget():
    """Half widths of 4.0, 3.7, … W m-2 by ten sources, for two surfaces and their difference."""
    table = budget()
    return table[table["quantity"] == "albedo"].assign(quantity=COMMON)


def lines_of(axes):
    return [(list(line.get_xdata()), list(line.get_ydata())) for line in axes.get_lines()]


# The energy balance -----------------------------------------------------------------------------------------


def test_each_flux_has_its_panel_title_values_and_both_ends():
    table = groups("surfaces")
    figure = figures_balance.balance(table, SURFACES, NOTHING_MEASURED)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles == figures_balance.titles(NOTHING_MEASURED) and len(set(titles)) == len(
        figures_balance.FLUXES
    )
    for axes, (name, _) in zip(figure.axes, figures_balance.FLUXES, strict=True):
        drawn = lines_of(axes)
        for _, row in table.iterrows():
            assert any(x == pytest.approx([row[f"{name}_low"], row[f"{name}_high"]]) for x, _ in drawn)
            assert any(x == pytest.approx([row[name]]) for x, _ in drawn)


def test_the_scale_of_the_fluxes_holds_every_end_and_zero():
    table = groups("surfaces")
    figure = figures_balance.balance(table, SURFACES, NOTHING_MEASURED)
    columns = [f"{name}{end}" for name, _ in figures_balance.FLUXES for end in ("_low", "_high")]
    low, high = figure.axes[0].get_xlim()
    most = table[columns].to_numpy(float).max()
    assert low == pytest.approx(-0.05 * most) and high == pytest.approx(1.05 * most)


def test_a_flux_that_is_not_estimated_says_so():
    table = groups("surfaces").assign(latent_heat=np.nan)
    figure = figures_balance.balance(table, SURFACES, NOTHING_MEASURED)
    said = {axes.get_title(loc="left"): [text.get_text() for text in axes.texts] for axes in figure.axes}
    names = [name for name, _ in figures_balance.FLUXES]
    title = figures_balance.titles(NOTHING_MEASURED)[names.index("latent_heat")]
    assert said.pop(title) == ["not estimated"] and not any(said.values())


# The column of intervals on the first page ------------------------------------------------------------------


SCALE = figures_answer.Scale(400.0, 800.0)


def test_the_axis_has_its_numbers_at_their_places():
    found = re.findall(r'<text x="([\d.]+)"[^>]*>([\d.−]+)</text>', figures_answer.axis(SCALE))
    assert len(found) >= 2
    for x, value in found:
        assert float(x) == pytest.approx(SCALE.place(float(value)), abs=0.006)
    ticks = re.findall(r'<path d="M([\d.]+) \d+V', figures_answer.axis(SCALE))
    assert [x for x, _ in found] == ticks


def test_a_row_reaches_from_end_to_end_with_its_mark_between():
    values = {"surface": "paving", COMMON: 520.0, f"{COMMON}_low": 480.0, f"{COMMON}_high": 610.0}
    drawn = figures_answer.row(values, SCALE, SURFACES)
    start, end = map(float, re.search(r'd="M([\d.]+) 6H([\d.]+)"', drawn).groups())
    assert (start, end) == pytest.approx((SCALE.place(480.0), SCALE.place(610.0)), abs=0.006)
    assert "#777777" in drawn and drawn.count("<path") == 2
    assert SCALE.place(400.0) == 9.0 and SCALE.place(800.0) == pytest.approx(103.0)
    unknown = values | {f"{COMMON}_low": math.nan, f"{COMMON}_high": math.nan}
    assert figures_answer.row(unknown, SCALE, SURFACES).count("<path") == 1
    doubtful = figures_answer.row(values | {"state": "provisional"}, SCALE, SURFACES)
    assert "#777777" not in doubtful or figures_answer.DOUBTFUL in doubtful


def test_the_scale_holds_values_and_ends():
    table = groups("surfaces")
    scale = figures_answer.scale_of(table)
    ends = table[[f"{COMMON}_low", f"{COMMON}_high"]].to_numpy(float)
    pad = 0.03 * (ends.max() - ends.min())
    assert (scale.low, scale.high) == pytest.approx((ends.min() - pad, ends.max() + pad))
    none = table.assign(**{COMMON: np.nan, f"{COMMON}_low": np.nan, f"{COMMON}_high": np.nan})
    assert figures_answer.scale_of(none) is None


# The map ----------------------------------------------------------------------------------------------------


def test_the_map_holds_the_fields_and_the_walks_with_a_margin():
    ring = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0], [0.0, 0.0]])
    points = pd.DataFrame({"east": [-10.0, 30.0], "north": [5.0, 36.0]})
    drawn = figures_map._frame(points, {"Yard": [ring]}, 4.5)
    assert drawn.middle == pytest.approx([15.0, 18.0])
    assert (drawn.half >= np.array([25.0, 18.0]) + 8.5 - 1e-9).all()
    assert drawn.half[1] * 2 * drawn.scale == pytest.approx(drawn.height)


# Sources of uncertainty -------------------------------------------------------------------------------------


def test_sources_are_ranked_by_their_middle_over_the_surfaces():
    table = common_budget()
    ranked = figures_uncertainty.ranked_sources(table, SURFACES)
    assert ranked.index.tolist() == [f"source {n}" for n in range(10)]
    assert ranked["median"].tolist() == pytest.approx([4.0 - 0.3 * n for n in range(10)])
    uneven = table[table["surface"].isin(SURFACES)].copy()
    uneven.loc[uneven["surface"] == "paving", "half_width_95"] *= 3.0
    wide = figures_uncertainty.ranked_sources(uneven, SURFACES).loc["source 0"]
    assert (wide["least"], wide["median"], wide["most"]) == pytest.approx((4.0, 8.0, 12.0))


def test_the_largest_sources_of_a_pair_are_drawn_first():
    figure = figures_uncertainty.shared(groups("surfaces"), differences(), common_budget(), SURFACES)
    right = figure.axes[1]
    labels = [text.get_text().replace("\n", " ") for text in right.get_yticklabels()]
    assert labels == [f"source {n}" for n in range(figures_uncertainty.SHARED)]
    assert right.get_xlim()[1] == pytest.approx(1.08 * 4.0)


def test_half_widths_are_half_of_what_the_ends_span():
    table = groups("surfaces")
    widths = figures_uncertainty.half_widths(table, differences(), ("short_grass", "paving"))
    assert widths == pytest.approx((0.05 * 540.0, 0.05 * 541.0, 8.5))


# Numbers in words -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "low, high, sigma, said",
    [("-3", "3", "", "± 3"), ("0", "0.08", "", "0 to 0.08"), ("3", "13", "", "3 to 13"),
     ("", "", "1", "σ = 1"), ("", "", "", "")],
)  # fmt: skip
def test_the_size_of_an_error_in_words(low, high, sigma, said):
    assert appendix._size({"low": low, "high": high, "sigma": sigma}) == said


def test_without_sun_the_worked_segment_has_no_albedo():
    value = {"solar_elevation": np.full(5, 45.0), "sw_in": np.full(5, 800.0), "sw_out": np.full(5, 160.0)}
    rows, albedo = worked_segment._albedo(value)
    assert albedo == pytest.approx(0.2) and [row["value"] for row in rows] == [pytest.approx(0.2)]
    rows, albedo = worked_segment._albedo(value | {"solar_elevation": np.full(5, 9.0)})
    assert rows == [] and math.isnan(albedo)
    assert worked_segment._albedo(value | {"sw_in": np.full(5, 50.0)})[0] == []


@pytest.mark.parametrize(
    "split, air, there",
    [("evaporative_fraction", 20.0, True), ("none", 20.0, False), ("evaporative_fraction", math.nan, False)],
)
def test_evaporation_is_worked_where_there_is_any_and_the_air_is_known(split, air, there):
    group = {"fraction": 0.1, "offset": 0.0, "split": split, "coefficient": 0.5, "day": True,
             "pressure": 1000.0, "air_temperature": air}  # fmt: skip
    rows = {row["key"]: row["value"] for row in worked_segment.of_balance(400.0, group)}
    assert ("balance.evaporation" in rows) == there
    if there:
        assert rows["balance.latent_heat"] == pytest.approx(180.0)
        assert rows["balance.evaporation"] == pytest.approx(3600.0 * 180.0 / 2.4538e6, rel=1e-4)


def test_the_psychrometric_constant_takes_the_pressure_in_kpa():
    """0.665e-3 times 95 kPa is 0.0632 kPa/K; 950 would be ten times that."""
    group = {"fraction": 0.1, "offset": 0.0, "split": "priestley_taylor", "coefficient": 1.26, "day": True,
             "pressure": 950.0, "air_temperature": 20.0}  # fmt: skip
    rows = worked_segment.of_balance(400.0, group)
    values = [row["value"] for row in rows]
    assert any(value == pytest.approx(0.0632, abs=5e-5) for value in values)
    # 1.26 times 0.1447 / (0.1447 + 0.0632) of 360 W m-2
    latent = next(row["value"] for row in rows if row["key"] == "balance.latent_heat")
    assert latent == pytest.approx(1.26 * 0.1447 / (0.1447 + 0.0632) * 360.0, rel=1e-3)


def test_every_component_has_a_colour_of_its_own():
    assert len({colour for _, colour, *_ in COMPONENTS.values()}) == len(COMPONENTS)


def test_one_surface_without_a_net_radiation_hides_no_other():
    table = groups("surfaces")
    figure = figures_balance.balance(table, SURFACES, NOTHING_MEASURED)
    table.loc[table.index[0], "net_radiation"] = np.nan
    assert len(figures_balance.balance(table, SURFACES, NOTHING_MEASURED).axes) == len(figure.axes)
    nothing = figures_balance.balance(table.assign(net_radiation=np.nan), SURFACES, NOTHING_MEASURED)
    assert "No surface has a net radiation." in [text.get_text() for text in nothing.texts]
