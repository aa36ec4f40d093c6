"""The map, the panels along transects, the points of fields and the sources of uncertainty, read back."""

import math

import numpy as np
import pandas as pd
import pytest
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from headland.physics.constants import SIGMA
from headland.report import figures_differences, figures_map, figures_transects, figures_uncertainty
from headland.report.differences import COMMON
from headland.report.figures import COMPONENTS, GUARD

from .figures_made import SURFACES, budget, differences, frame, groups, noted, samples

# The map


def walked(count=60, **changes):
    """A walk eastwards, a metre a second, over ground that reflects a fifth."""
    table = samples(count).assign(sw_in=800.0, sw_out=160.0, lw_in=340.0, lw_out=440.0, **changes)
    return table, pd.DataFrame({"east": np.arange(float(count)), "north": 3.0})


def points(table, located, used=None):
    used = np.ones(len(table), bool) if used is None else used
    return figures_map._points_of_map(table, located, used, {"heron-0521-1000": 1.0})


def test_five_seconds_of_walking_are_one_point_with_its_albedo_and_temperature():
    found = points(*walked())
    assert found["east"].tolist() == [2.0 + 5.0 * n for n in range(12)] and set(found["north"]) == {3.0}
    assert found["albedo"].tolist() == pytest.approx([0.2] * 12)
    assert found["temperature"].tolist() == pytest.approx([(440.0 / SIGMA) ** 0.25 - 273.15] * 12)


def test_only_used_samples_of_segments_with_a_place_are_on_the_map():
    table, located = walked()
    table.loc[40:, "segment"] = ""
    located.loc[20:29, "east"] = np.nan
    found = points(table, located, np.arange(60) >= 10)
    assert found["east"].tolist() == [12.0, 17.0, 32.0, 37.0]


@pytest.mark.parametrize(
    "column, value, lit",
    [
        ("solar_elevation", 10.0, False),
        ("solar_elevation", 10.1, True),
        ("sw_in", 50.0, False),
        ("sw_in", 50.1, True),
    ],
)
def test_without_sun_a_point_has_a_temperature_and_no_albedo(column, value, lit):
    table, located = walked(5)
    found = points(table.assign(**{column: value}), located)
    assert found["albedo"].notna().tolist() == [lit] and found["temperature"].notna().all()


@pytest.mark.parametrize("known, title", [(5, "surface temperature, °C"), (6, "albedo")])
def test_the_map_is_of_albedo_where_more_than_half_have_one(known, title):
    some = pd.DataFrame({"east": np.arange(10.0), "north": 0.0, "set": "a", "temperature": 25.0})
    some["albedo"] = np.where(np.arange(10) < known, 0.2, np.nan)
    assert figures_map._points(Figure().subplots(), some)[1] == title


@pytest.mark.parametrize(
    "length, round_", [(1.0, 1.0), (1.9, 1.0), (2.0, 2.0), (4.9, 2.0), (5.0, 5.0), (99.0, 50.0), (0.7, 0.5)]
)
def test_a_bar_of_length_is_a_round_number(length, round_):
    assert figures_map._round_length(length) == pytest.approx(round_)


RING = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 20.0], [0.0, 20.0], [0.0, 0.0]])


def test_the_map_keeps_its_scale_both_ways_and_its_height_within_the_page():
    place = pd.DataFrame({"east": [20.0], "north": [10.0]})
    wide = figures_map._frame(place, {"a": [RING]}, 4.5)
    assert wide.scale == pytest.approx(6.85 / 57.0) and wide.height == pytest.approx(37.0 * wide.scale)
    assert wide.half == pytest.approx([28.5, 18.5])
    high = figures_map._frame(place, {"a": [RING * [1.0, 20.0]]}, 4.5)
    assert high.scale == pytest.approx(6.0 / 417.0) and high.height == pytest.approx(6.0)
    flat = figures_map._frame(place, {"a": [RING * [40.0, 0.5]]}, 4.5)
    assert flat.height == 1.2 and flat.half[1] == pytest.approx(0.6 / flat.scale)


def test_a_name_stands_over_its_field_and_below_where_another_is_in_the_way():
    frame_ = figures_map._frame(pd.DataFrame({"east": [20.0], "north": [10.0]}), {"a": [RING]}, 4.5)
    line, room = 0.14 / frame_.scale, 0.072 * 4 / 2 / frame_.scale
    above = figures_map._place_of_name(RING, "Yard", 4.5, frame_, [])
    assert above == pytest.approx((20.0, 24.5, room))
    below = figures_map._place_of_name(RING, "Yard", 4.5, frame_, [above])
    assert below == pytest.approx((20.0, -4.5 - line, room))
    # where both are taken it stays above
    assert figures_map._place_of_name(RING, "Yard", 4.5, frame_, [above, below]) == above
    beside = [(20.0 + 2.01 * room, 24.5, room), (20.0, 24.5 + 1.01 * line, room)]
    assert figures_map._place_of_name(RING, "Yard", 4.5, frame_, beside) == above
    near = [(20.0 + 1.99 * room, 24.5 - 0.99 * line, room)]
    assert figures_map._place_of_name(RING, "Yard", 4.5, frame_, near) == pytest.approx(below)
    long = figures_map._place_of_name(RING, "x" * 80, 4.5, frame_, [])
    assert long[0] + long[2] <= frame_.middle[0] + frame_.half[0] + 1e-9 or long[2] > frame_.half[0]


def test_the_map_has_its_points_fields_bar_and_sets():
    table, located = walked()
    given = figures_map.Walked(
        {"heron": table, "teal": table}, {"heron": located, "teal": located + 5.0},
        {name: np.zeros(60, bool) for name in ("heron", "teal")}, {"heron-0521-1000": 1.0},
    )  # fmt: skip
    figure = figures_map.walks_map(given, {"Yard": [RING]}, 4.5)
    axes = figure.axes[0]
    first, second = axes.collections
    assert np.array(first.get_offsets()[:2]) == pytest.approx(np.array([[2.0, 3.0], [7.0, 3.0]]))
    assert np.array(second.get_offsets()[0]) == pytest.approx([7.0, 8.0])
    assert np.array(first.get_array()) == pytest.approx(np.full(12, 0.2))
    guard, outline = axes.get_lines()
    frame_ = figures_map._frame(
        pd.concat([points(table, located), points(table, located + 5.0)]), {"a": [RING]}, 4.5
    )
    assert guard.get_linewidth() == pytest.approx(9.0 * frame_.scale * 72) and guard.get_color() == GUARD
    assert np.column_stack(outline.get_data()) == pytest.approx(RING)
    assert axes.get_xlim() == pytest.approx(
        (frame_.middle[0] - frame_.half[0], frame_.middle[0] + frame_.half[0])
    )
    assert axes.get_ylim() == pytest.approx(
        (frame_.middle[1] - frame_.half[1], frame_.middle[1] + frame_.half[1])
    )
    (bar,) = [one for one in figure.get_children() if hasattr(one, "get_xdata")]
    length = np.ptp(bar.get_xdata()) * 7.05 / frame_.scale
    (said,) = [text.get_text() for text in figure.texts if text.get_text().endswith(" m")]
    assert f"{length:.6g} m" == said and length <= 2 * frame_.half[0] / 5.0 < 2.5 * length
    assert [text.get_text() for text in figure.legends[0].get_texts()] == ["heron", "teal", "guard"]
    markers = [handle.get_marker() for handle in figure.legends[0].legend_handles[:2]]
    assert markers == ["o", "s"]


# Along transects


def panel_parts(part, row=None, box=(1.0, 2.0, 3.0)):
    scale = figures_transects.Scale(0.0, 1000.0)
    axes = Figure().subplots()
    table = part.assign(excluded=part["flags"].ne(""), edge=part["flags"].eq("edge"))
    figures_transects._panel(axes, noted() if row is None else row, table, scale, box)
    return axes


def test_a_panel_has_its_components_edges_and_failed_samples_at_their_places():
    axes = panel_parts(samples())
    lines = [one for one in axes.collections if isinstance(one, LineCollection)]
    assert len(lines) == len(COMPONENTS)
    for line, channel in zip(lines, COMPONENTS, strict=True):
        (drawn,) = line.get_segments()
        assert drawn[:, 0] == pytest.approx(1.0 + np.arange(60) / 59.0 * 3.0)
        assert drawn[:, 1] == pytest.approx(2.0 + samples()[channel].to_numpy(float) / 1000.0 * 0.86)
    half = 3.0 / 59.0 / 2.0
    boxes = {}
    for patch in [one for one in axes.patches if isinstance(one, PathPatch)]:
        corners = patch.get_path().vertices
        boxes[patch.get_hatch() or ""] = (*corners.min(axis=0), *corners.max(axis=0))
    assert boxes[""] == pytest.approx((1.0 - half, 2.0, 1.0 + 9 / 59 * 3 + half, 2.86))
    assert boxes["////"] == pytest.approx((1.0 + 30 / 59 * 3 - half, 2.0, 1.0 + 30 / 59 * 3 + half, 2.86))
    assert [text.get_text() for text in axes.texts] == ["0521-1000 Lower meadow", "59 m"]


@pytest.mark.parametrize(
    "count, step, said",
    [(61, 1.0, "1 min"), (120, 60.0, "119 min"), (121, 60.0, "2 h"), (301, 60.0, "5 h"), (1, 1.0, "1 min")],
)
def test_a_stand_is_drawn_by_its_time(count, step, said):
    part = samples(count, step=step).assign(position=np.nan)
    assert panel_parts(part).texts[1].get_text() == said
    still = samples(count, step=step).assign(position=5.0)
    assert panel_parts(still).texts[1].get_text() == said


def test_all_panels_of_a_set_share_a_scale_that_holds_what_is_in_its_segments():
    part = samples()
    part.loc[59, ["sw_in", "segment"]] = [3000.0, ""]
    (page,) = figures_transects.transects(frame("noted", [noted()]), part, np.zeros(60, bool))
    low = part["sw_out"][:59].min()
    high = part["sw_in"][:59].max()
    pad = 0.04 * (high - low)
    axes = page.axes[0]
    lines = [one for one in axes.collections if isinstance(one, LineCollection)]
    foot = page.get_figheight() - 0.36 - 0.17 - 0.86
    top = lines[0].get_segments()[0][:, 1].max()
    assert top == pytest.approx(foot + (high - low + pad) / (high - low + 2 * pad) * 0.86)
    ticks = [text for text in axes.texts if text.get_text().isdigit()]
    for text in ticks:
        wanted = foot + (float(text.get_text()) - low + pad) / (high - low + 2 * pad) * 0.86
        assert text.get_position()[1] == pytest.approx(wanted)
    assert len(ticks) >= 3 and len({text.get_position()[0] for text in ticks}) == 1


@pytest.mark.parametrize("count, pages, lines", [(1, 1, 1), (4, 1, 1), (5, 1, 2), (24, 1, 6), (25, 2, 4)])
def test_four_panels_in_a_row_and_24_on_a_page(count, pages, lines):
    names = [f"heron-0521-{1000 + n}" for n in range(count)]
    table = pd.concat(
        [samples(3, name, f"2026-05-21 10:{n:02}:00") for n, name in enumerate(names)], ignore_index=True
    )
    rows = frame("noted", [noted(name) for name in names])
    drawn = figures_transects.transects(rows, table, np.zeros(len(table), bool))
    assert len(drawn) == pages and drawn[0].get_figheight() == pytest.approx(0.36 + lines * 1.23)
    assert len(drawn[0].axes[0].collections) == 4 * -(-count // pages)
    assert figures_transects.transects(rows.assign(segment="x"), table, np.zeros(len(table), bool)) == []


# Points of fields


SIZE = figures_differences.SIZE


@pytest.mark.parametrize(
    "a, b, meet",
    [
        ((0, 0, 2, 2), (1, 1, 2, 2), True),
        ((0, 0, 2, 2), (2, 0, 2, 2), False),
        ((0, 0, 2, 2), (0, 2, 2, 2), False),
        ((2, 0, 2, 2), (0, 0, 2, 2), False),
        ((0, 2, 2, 2), (0, 0, 2, 2), False),
        ((0, 0, 4, 4), (1, 1, 1, 1), True),
    ],
)
def test_boxes_meet_where_they_overlap_both_ways(a, b, meet):
    assert figures_differences._meet(a, b) == meet


@pytest.mark.parametrize(
    "box, inside",
    [
        ((0, 0, *SIZE), True),
        ((-0.01, 0, 1, 1), False),
        ((0, -0.01, 1, 1), False),
        ((0.01, 0, SIZE[0], 1), False),
        ((0, 0.01, 1, SIZE[1]), False),
    ],
)
def test_a_name_stays_in_the_frame(box, inside):
    assert figures_differences._inside(box) == inside


def test_a_name_goes_right_and_up_else_where_there_is_room():
    middle = (SIZE[0] / 2, SIZE[1] / 2)
    place = figures_differences.free_place([], middle, (0.5, 0.14))
    assert place == pytest.approx((middle[0] + 0.08, middle[1] + 0.05))
    below = figures_differences.free_place([(*place, 0.5, 0.14)], middle, (0.5, 0.14))
    assert below == pytest.approx((middle[0] + 0.08, middle[1] - 0.19))
    left = figures_differences.free_place([], (SIZE[0], middle[1]), (0.5, 0.14))
    assert left == pytest.approx((SIZE[0] - 0.58, middle[1] + 0.05))
    left_below = figures_differences.free_place([], SIZE, (0.5, 0.14))
    assert left_below == pytest.approx((SIZE[0] - 0.58, SIZE[1] - 0.19))
    assert figures_differences.free_place([(0.0, 0.0, *SIZE)], middle, (0.5, 0.14)) is None
    assert figures_differences.free_place([], middle, (2 * SIZE[0], 0.14)) is None


def test_each_field_is_a_point_with_both_intervals_and_each_surface_is_named_once():
    rows = groups("fields", 4)
    rows.loc[2:, "surface"] = "short_grass"
    rows.loc[3, "albedo"] = np.nan
    axes = figures_differences.albedo_temperature(rows, SURFACES).axes[0]
    lines = [tuple(map(list, line.get_data())) for line in axes.get_lines()]
    assert len(lines) == 9
    for place, row in rows[:3].iterrows():
        x, y = row["albedo"], row["surface_temperature"]
        assert lines[3 * place] == ([row["albedo_low"], row["albedo_high"]], [y, y])
        assert lines[3 * place + 1] == (
            [x, x], [row["surface_temperature_low"], row["surface_temperature_high"]],
        )  # fmt: skip
        assert lines[3 * place + 2] == ([x], [y])
    assert sorted(text.get_text() for text in axes.texts) == ["paving", "short grass"]
    low, high = rows["albedo_low"][:3].min(), rows["albedo_high"][:3].max()
    pad = 0.14 * (high - low)
    assert axes.get_xlim() == pytest.approx((low - pad, high + pad))


def test_an_axis_of_one_value_without_an_interval_has_a_least_width():
    row = groups("fields", 1)
    row[["albedo_low", "albedo_high", "surface_temperature_low", "surface_temperature_high"]] = np.nan
    axes = figures_differences.albedo_temperature(row, SURFACES).axes[0]
    assert axes.get_xlim() == pytest.approx((0.15, 0.25)) and axes.get_ylim() == pytest.approx((24.0, 26.0))


# Sources of uncertainty


def boxes_of(axes):
    """Left, right and middle of the bars, in the order in which they were drawn."""
    found = []
    for patch in [one for one in axes.patches if isinstance(one, PathPatch)]:
        for box in patch.get_path().vertices.reshape(-1, 5, 2):
            (x0, y0), (x1, y1) = box.min(axis=0), box.max(axis=0)
            found.append((x0, x1, (y0 + y1) / 2))
    return np.array(found)


def common(count=12):
    table = pd.concat([budget()] * 2, ignore_index=True)
    table = table[table["quantity"] == "albedo"].assign(quantity=COMMON)
    table["source"] = [f"source {n % count:02}" for n in range(len(table))]
    table["half_width_95"] = [5.0 - 0.3 * (n % count) for n in range(len(table))]
    return table


def test_eight_sources_are_bars_of_their_median_with_their_range():
    table = common()[["surface", "quantity", "source", "half_width_95"]]
    table = table.drop_duplicates(["surface", "source"])
    table.loc[table["surface"] == "paving", "half_width_95"] *= 2.0
    axes = figures_uncertainty.budget(table, SURFACES).axes[0]
    ranked = figures_uncertainty.ranked_sources(table, SURFACES)[:8]
    assert len(boxes_of(axes)) == 8
    assert boxes_of(axes)[:, 1] == pytest.approx(ranked["median"].to_numpy())
    assert boxes_of(axes)[:, 2] == pytest.approx(np.arange(8))
    ranges = [tuple(line.get_xdata()) for line in axes.get_lines()]
    assert ranges == list(zip(ranked["least"], ranked["most"], strict=True))
    assert [text.get_text() for text in axes.texts] == [f"{value:.1f}" for value in ranked["median"]]
    assert [text.xy[0] for text in axes.texts] == ranked["most"].tolist()
    assert axes.get_xlim() == pytest.approx((0.0, 1.12 * ranked["most"].max()))
    assert [text.get_text() for text in axes.get_yticklabels()] == ranked.index.tolist()


def test_a_source_that_a_surface_lacks_is_0_there_and_equal_ones_go_by_their_most():
    rows = [
        ("short_grass", "a", 2.0), ("paving", "a", 2.0), ("short_grass", "b", 4.0), ("short_grass", "a", 1.0),
        ("paving", "c", 5.0), ("paving - short_grass", "d", 9.0),
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["surface", "source", "half_width_95"]).assign(quantity=COMMON)
    ranked = figures_uncertainty.ranked_sources(table, SURFACES)
    # medians over both: c of 0 and 5, a of 3 and 2, b of 4 and 0; what differences have is none of a surface
    assert ranked.index.tolist() == ["c", "a", "b"]
    assert ranked.to_numpy().tolist() == [[2.5, 0.0, 5.0], [2.5, 2.0, 3.0], [2.0, 0.0, 4.0]]


def test_two_values_and_their_difference_are_bars_around_zero():
    figure = figures_uncertainty.shared(groups("surfaces"), differences(), common(), SURFACES)
    left, right = figure.axes
    widths = (0.05 * 541.0, 0.05 * 540.0, 8.5)  # paving has more and comes first
    assert boxes_of(left) == pytest.approx(
        np.array([[-width, width, place] for place, width in enumerate(widths)])
    )
    apart = math.hypot(*widths[:2])
    assert list(left.get_lines()[0].get_xdata()) == pytest.approx([-apart, apart])
    assert [text.get_text() for text in left.texts] == [
        "paving: ± 27 W m⁻²", "short grass: ± 27 W m⁻²", "difference: ± 8 W m⁻²",
        f"if no errors were shared: ± {apart:.0f} W m⁻²",
    ]  # fmt: skip
    assert left.get_xlim() == pytest.approx((-1.08 * apart, 1.08 * apart))
    assert right.get_ylim() == pytest.approx((5.6, -0.6))


def test_each_source_has_three_bars_for_both_values_and_their_difference():
    rows = [
        ("paving", "a", 3.0), ("paving", "a", 1.0), ("short_grass", "a", 2.0),
        ("paving - short_grass", "a", 0.5), ("short_grass", "b", 6.0), ("short_grass", "c", 9.0),
    ]  # fmt: skip
    table = pd.DataFrame(rows, columns=["surface", "source", "half_width_95"])
    table = table.assign(quantity=[COMMON] * 5 + ["albedo"])
    axes = figures_uncertainty.shared(groups("surfaces"), differences(), table, SURFACES).axes[1]
    assert [text.get_text() for text in axes.get_yticklabels()] == ["b", "a"]
    # in the order of paving, grass and their difference; a bar of no width is none
    wanted = [[0.0, 4.0, 0.71], [0.0, 6.0, 0.0], [0.0, 2.0, 1.0], [0.0, 0.5, 1.29]]
    assert boxes_of(axes) == pytest.approx(np.array(wanted))
    assert axes.get_xlim() == pytest.approx((0.0, 1.08 * 6.0))
    turned = table.assign(surface=table["surface"].replace("paving - short_grass", "short_grass - paving"))
    again = figures_uncertainty.shared(groups("surfaces"), differences(), turned, SURFACES).axes[1]
    assert boxes_of(again) == pytest.approx(boxes_of(axes))
