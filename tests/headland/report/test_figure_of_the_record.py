"""The record on its time axis and the passes beside their surfaces, read back from the drawing."""

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_rgba
from matplotlib.dates import date2num, num2date
from matplotlib.patches import PathPatch, Rectangle

from headland.report import figures, figures_recorded
from headland.report.figures_recorded import STRIPS, Record

from .figures_made import SURFACES as PLAIN
from .figures_made import frame, groups, means, noted, samples

SURFACES = PLAIN | {"short_grass": PLAIN["short_grass"] | {"colour": {"value": "#00aa00"}}}

START = pd.Timestamp("2026-05-21 10:00:00")


def seconds(number) -> float:
    """Of a place on the time axis, from the start of the record."""
    return (pd.Timestamp(num2date(number)).tz_localize(None) - START).total_seconds()


def record(sets=("heron",), rows=None, **changes):
    given = {
        "noted": frame("noted", [noted()] if rows is None else rows),
        "samples": {name: samples() for name in sets},
        "intervals": dict.fromkeys(sets, 1.0),
        "excluded": {name: samples()["flags"].ne("").to_numpy() for name in sets},
    } | changes
    return figures_recorded.record(Record(**given), SURFACES, "Europe/Ljubljana")


def bars(axes, colour):
    """Start and end in s, foot and head in inches, of the bars of one colour."""
    found = []
    for patch in axes.patches:
        if isinstance(patch, PathPatch) and to_rgba(patch.get_facecolor()) == to_rgba(colour):
            corners = patch.get_path().vertices.reshape(-1, 5, 2)
            for box in corners:
                (x0, y0), (x1, y1) = box.min(axis=0), box.max(axis=0)
                found.append((round(seconds(x0)), round(seconds(x1)), round(y0, 3), round(y1, 3)))
    return sorted(found)


def test_each_kind_of_sample_has_its_stretches_in_its_row():
    """Ten samples near an edge, 20 used, one that failed a test, 29 used; all of them noted."""
    axes = record().axes[0]
    assert bars(axes, STRIPS["noted"].colour) == [(0, 60, -0.32, -0.2)]
    assert bars(axes, STRIPS["used"].colour) == [(10, 30, -0.46, -0.34), (31, 60, -0.46, -0.34)]
    # low bars: along the foot what is left out, along the head what failed
    assert bars(axes, STRIPS["edge"].colour) == [(0, 10, -0.46, -0.41)]
    assert bars(axes, STRIPS["flagged"].colour) == [(30, 31, -0.39, -0.34)]
    assert bars(axes, STRIPS["not noted"].colour) == []
    # the noted interval above, in the colour of its surface
    assert bars(axes, SURFACES["short_grass"]["colour"]["value"]) == [(0, 60, -0.175, -0.025)]


def test_samples_without_a_note_are_a_low_bar_of_their_own_and_are_not_used():
    axes = record(samples={"heron": samples(segment="")}).axes[0]
    assert bars(axes, STRIPS["not noted"].colour) == [(0, 60, -0.32, -0.27)]
    assert not any(bars(axes, STRIPS[kind].colour) for kind in ("noted", "used", "edge", "flagged"))


def test_sets_are_below_each_other_with_their_own_notes():
    rows = [noted(), noted(set_name="teal", start="2026-05-21 10:00:20")]
    axes = record(("heron", "teal"), rows).axes[0]
    words = [text.get_text() for text in axes.get_yticklabels()]
    assert words == ["heron noted", "stored", "used", "teal noted", "stored", "used"]
    assert axes.get_yticks() == pytest.approx([-0.1, -0.26, -0.4, -0.6, -0.76, -0.9])
    green = SURFACES["short_grass"]["colour"]["value"]
    assert [bar[:2] for bar in bars(axes, green)] == [(0, 60), (20, 80)]
    assert [bar[2] for bar in bars(axes, STRIPS["noted"].colour)] == [-0.82, -0.32]
    assert axes.get_ylim() == pytest.approx((-1.0, 0.06))


def test_no_more_than_six_sets_are_drawn_one_by_one():
    names = [f"s{n}" for n in range(8)]
    assert len(record(names, [noted(set_name=name) for name in names]).axes[0].get_yticks()) == 18


def test_the_axis_reaches_a_hundredth_beyond_the_record_in_utc_and_local_time():
    figure = record(rows=[noted(), noted(start="2026-05-21 10:19:00")])
    low, high = (seconds(end) for end in figure.axes[0].get_xlim())
    assert (low, high) == pytest.approx((-12.0, 1212.0))
    (low, high) = (seconds(end) for end in record().axes[0].get_xlim())
    assert (low, high) == pytest.approx((-1.0, 61.0))
    (above,) = figure.axes[0].child_axes
    assert above.get_xlabel() == "local time" and figure.axes[2].get_xlabel() == "UTC"
    ticks = [date2num(START + pd.Timedelta(minutes=n)) for n in (5, 10)]
    # Ljubljana is two hours ahead in May
    assert above.xaxis.get_major_formatter().format_ticks(ticks) == ["12:05", "12:10"]
    assert figure.axes[2].xaxis.get_major_formatter().format_ticks(ticks) == ["10:05", "10:10"]


def test_a_long_pause_makes_two_pieces_each_with_its_own_samples():
    later = "2026-05-22 10:00:00"
    both = pd.concat([samples(), samples(120, "heron-2", later)], ignore_index=True)
    figure = record(
        rows=[noted(), noted("heron-2", start=later)],
        samples={"heron": both},
        excluded={"heron": np.zeros(180, bool)},
    )
    assert len(figure.axes) == 6
    first, second = figure.axes[0], figure.axes[3]
    day = 86400
    assert [bar[:2] for bar in bars(first, STRIPS["used"].colour)] == [(0, 60)]
    assert [bar[:2] for bar in bars(second, STRIPS["used"].colour)] == [(day, day + 120)]
    widths = [axes.get_position().width for axes in (first, second)]
    assert widths[1] / widths[0] == pytest.approx(180.0 / 120.0)  # 60 s beside each
    assert [axes.get_ylabel() for axes in figure.axes] == [
        "", "shortwave\nin, W m⁻²", "longwave\nin, W m⁻²", "", "", "",
    ]  # fmt: skip
    names = [[text.get_text() for text in axes.texts] for axes in figure.axes]
    assert names == [[], [], [], [], ["heron", "clear sky"], ["heron"]]


def test_incoming_terms_are_drawn_as_stored_beside_the_clear_sky():
    _, shortwave, longwave = record().axes
    stored = samples()
    lines = [line for line in shortwave.get_lines() if line.get_clip_on()]
    assert [len(line.get_xdata()) for line in lines] == [60, 60]
    assert lines[0].get_ydata() == pytest.approx(stored["sw_in"].to_numpy(float))
    assert set(lines[1].get_ydata()) == {820.0} and lines[1].get_color() == figures_recorded.CLEAR_SKY[0]
    (line,) = [line for line in longwave.get_lines() if line.get_clip_on()]
    assert set(line.get_ydata()) == {340.0} and line.get_color() == figures.SET_LOOKS[0][0]


def test_a_line_is_parted_where_nothing_was_stored_for_more_than_minutes():
    """Samples a second; a hole of 100 s is drawn through, one of 200 s is not (2.5 times a minute)."""
    for hole, parts in ((100, 1), (200, 2)):
        both = pd.concat(
            [samples(), samples(start=str(START + pd.Timedelta(seconds=60 + hole)))], ignore_index=True
        )
        axes = record(samples={"heron": both}, excluded={"heron": np.zeros(120, bool)}).axes[2]
        assert len([line for line in axes.get_lines() if line.get_clip_on()]) == parts


def test_names_at_the_end_of_lines_stand_at_their_height_or_at_least_a_line_apart():
    """The sky's panel of shortwave is 1.15 inches high."""
    figure = record(samples={"heron": samples().assign(sw_in=400.0, sw_clear=800.0)})
    axes = figure.axes[1]
    low, high = axes.get_ylim()
    places = {text.get_text(): text.get_position()[1] for text in axes.texts}
    assert places["heron"] == pytest.approx((400.0 - low) / (high - low))
    assert places["clear sky"] == pytest.approx((800.0 - low) / (high - low))
    heights = {"heron": 500.0, "teal": 499.0, "rail": 900.0}
    some = {name: samples().assign(sw_in=value, sw_clear=np.nan) for name, value in heights.items()}
    close = record(tuple(heights), [noted()], samples=some).axes[1]
    places = {text.get_text(): text.get_position()[1] for text in close.texts}
    assert places["heron"] - places["teal"] == pytest.approx(0.13 / 1.15)
    samples_of_lines = [line for line in close.get_lines() if not line.get_clip_on()]
    assert [line.get_ydata()[0] for line in samples_of_lines] == sorted(places.values())


@pytest.mark.parametrize(
    "gaps, kept",
    [([10, 10, 10], [0, 1, 2, 3]), ([9, 1, 10], [0, 2, 3]), ([9, 9, 9], [0, 2]), ([4, 4, 4], [0, 3])],
)
def test_a_marker_stands_where_the_one_before_leaves_room(gaps, kept):
    middles = START.tz_localize("UTC") + pd.to_timedelta(np.cumsum([0, *gaps]), unit="s")
    half = pd.Timedelta(seconds=3)
    table = pd.DataFrame({"start_utc": middles - half, "end_utc": middles + half}).iloc[::-1]
    assert figures_recorded._with_room(table, pd.Timedelta(seconds=10)) == kept


def test_spans_closer_than_the_least_are_drawn_as_one_and_others_left_to_their_piece():
    def span(start, end):
        return START + pd.Timedelta(seconds=start), START + pd.Timedelta(seconds=end)

    def joined(*spans):
        found = figures_recorded._joined([span(*one) for one in spans], span(0, 100), pd.Timedelta(seconds=5))
        return [tuple((end - START).total_seconds() for end in one) for one in found]

    assert joined((20, 30), (0, 10)) == [(0, 10), (20, 30)]
    assert joined((0, 10), (14, 20)) == [(0, 20)] and joined((0, 10), (15, 20)) == [(0, 10), (15, 20)]
    assert joined((0, 50), (10, 20), (54, 60)) == [(0, 60)]
    assert joined((-20, -1), (-20, 0), (100, 120), (101, 120)) == [(-20, 0), (100, 120)]


def test_the_keys_name_each_strip_beside_a_piece_of_it():
    figure = record()
    words = [text.get_text() for text in figure.texts]
    assert words == [
        "stored:",
        "noted",
        "not noted",
        "used:",
        "used",
        "near an edge or settling",
        "failed a test",
    ]
    pieces = [one for one in figure.get_children() if isinstance(one, Rectangle) and one is not figure.patch]
    assert [piece.get_facecolor() for piece in pieces] == [to_rgba(strip.colour) for strip in STRIPS.values()]
    height = figure.get_figheight()
    assert [piece.get_height() * height for piece in pieces] == pytest.approx([0.12, 0.05, 0.12, 0.05, 0.05])
    # each word begins right of its piece, and the next piece right of the word
    places = [text.get_position()[0] for text in figure.texts if not text.get_text().endswith(":")]
    starts = [piece.get_x() for piece in pieces]
    assert all(a < b for a, b in zip(starts, places, strict=True))
    assert all(a < b for a, b in zip(places, starts[1:], strict=False))
    lower = [piece.get_y() for piece in pieces]
    assert lower[1] == lower[3] == pytest.approx(lower[0]) and lower[4] > lower[3]


# Passes


def test_each_pass_is_a_dot_on_the_bar_of_its_surface():
    table = groups("surfaces")
    figure = figures_recorded.passes(table, means(), SURFACES)
    titles = [axes.get_xlabel() for axes in figure.axes]
    assert titles == [title for _, title in figures_recorded.PANELS]
    names = [text.get_text() for text in figure.axes[0].get_yticklabels()]
    assert names == ["paving", "short grass"]  # most net radiation first
    for axes, (quantity, _) in zip(figure.axes, figures_recorded.PANELS, strict=True):
        rows = table.set_index("surface").loc[["paving", "short_grass"]]
        ends = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in axes.patches]
        wanted = [(row[f"{quantity}_low"], row[f"{quantity}_high"]) for _, row in rows.iterrows()]
        assert np.array(ends) == pytest.approx(np.array(wanted))
        middles = [bar.get_y() + bar.get_height() / 2 for bar in axes.patches]
        assert middles == pytest.approx([0.0, 1.0])
        upright, dots = axes.get_lines()[::2], axes.get_lines()[1::2]
        assert [list(line.get_xdata()) for line in upright] == [[value] * 2 for value in rows[quantity]]
        for place, line in enumerate(dots):
            assert sorted(line.get_xdata()) == pytest.approx(sorted(means()[quantity][:3]))
            # spread over less than the bar, the first at one end and the last at the other
            assert line.get_ydata() == pytest.approx(place + np.array([-0.21, 0.0, 0.21]))


def test_a_single_pass_and_very_many():
    table = groups("surfaces", 1)
    one = means(1)
    axes = figures_recorded.passes(table, one[:1], SURFACES).axes[0]
    assert axes.get_lines()[1].get_ydata() == pytest.approx([-0.21])
    for count, marks in ((24, 24), (25, 0)):
        many = pd.concat([one[:1]] * count, ignore_index=True).assign(albedo=np.linspace(0.1, 0.2, count))
        line = figures_recorded.passes(table, many, SURFACES).axes[0].get_lines()[1]
        assert (line.get_marker() != "None") == bool(marks)
        x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
        if not marks:  # an upright line a pass, parted from the next
            assert np.isnan(x[2::3]).all() and x[::3] == pytest.approx(x[1::3])
            assert y[1::3] - y[::3] == pytest.approx(np.full(count, 0.16)) and len(x) == 3 * count
            x = x[::3]
        assert x == pytest.approx(np.linspace(0.1, 0.2, count))


def test_a_pass_without_a_value_is_no_dot():
    gaps = means()
    gaps.loc[1, "albedo"] = np.nan
    axes = figures_recorded.passes(groups("surfaces"), gaps, SURFACES).axes[0]
    assert [len(line.get_xdata()) for line in axes.get_lines()[1::2]] == [3, 2]
