"""The sun's path, the walks on it and their shadows, read back from the drawing."""

import numpy as np
import pandas as pd
import pytest
from matplotlib.patches import Circle
from matplotlib.quiver import Quiver

from headland.physics import geometry, sun
from headland.report import figures, sun_path

from .test_sun_path import CARRYING, SITE, noted


def parts(table, sets=("heron",), site=SITE, carrying=CARRYING):
    """The path, the view from above and the shares in shadow."""
    return sun_path.sun_path(table, sets, site, carrying).axes


def marks(axes, filled):
    """Places of the walks: filled where a heading is noted."""
    found = []
    for line in axes.get_lines():
        hollow = line.get_markerfacecolor() == "white"
        if line.get_marker() in sun_path.MARKERS and line.get_linestyle() == "None" and hollow != filled:
            found += list(zip(*map(list, line.get_data()), strict=True))
    return found


def arrows_of(path):
    """East and north of each heading's arrow, and where it stands."""
    (arrows,) = [one for one in path.collections if isinstance(one, Quiver)]
    return np.array(arrows.U), np.array(arrows.V), np.array(arrows.XY)


def test_a_walk_has_the_sun_of_its_middle():
    walks = sun_path.walks_under_the_sun(noted(), SITE, CARRYING)
    middle = pd.to_datetime(["2025-08-20 10:01Z", "2025-08-20 10:11Z", "2025-08-20 10:21Z"], utc=True)
    assert walks["middle_utc"].tolist() == list(middle)
    elevation, azimuth = sun.position(middle, 46.0, 14.0, 300.0)
    np.testing.assert_allclose(walks[["elevation", "azimuth"]], np.column_stack([elevation, azimuth]))
    np.testing.assert_allclose(walks["phi"][:2], azimuth[:2] - [90.0, 270.0])
    assert walks["phi"].isna().tolist() == walks["view"].isna().tolist() == [False, False, True]
    both = pd.concat([noted(), noted(activity="stand")])
    assert len(sun_path.walks_under_the_sun(both, SITE, CARRYING)) == 3


def test_walks_stand_on_the_path_and_those_without_a_heading_are_hollow():
    path = parts(noted())[0]
    walks = sun_path.walks_under_the_sun(noted(), SITE, CARRYING)
    places = walks[["azimuth", "elevation"]].to_numpy()
    assert np.array(marks(path, False)) == pytest.approx(places)
    assert np.array(marks(path, True)) == pytest.approx(places[:2])
    east, north, places_of_arrows = arrows_of(path)
    # east and west, in the order of the walks, at their azimuths
    assert east == pytest.approx([1.0, -1.0]) and north == pytest.approx([0.0, 0.0], abs=1e-12)
    assert places_of_arrows[:, 0] == pytest.approx(places[:2, 0]) and (places_of_arrows[:, 1] < 0).all()
    east, north, _ = arrows_of(parts(noted(headings=(0.0, 45.0)))[0])
    assert north == pytest.approx([1.0, np.sqrt(0.5)]) and east == pytest.approx([0.0, np.sqrt(0.5)])


def test_the_path_is_that_of_the_day_with_every_second_hour_named():
    path = parts(noted())[0]
    line = path.get_lines()[0]
    (day,) = sun_path.days_of(sun_path.walks_under_the_sun(noted(), SITE, CARRYING), SITE)
    assert line.get_ydata() == pytest.approx(day["elevation"].to_numpy())
    assert (day["elevation"] > 0).all() and day["time_utc"].diff().dropna().eq(pd.Timedelta("4min")).all()
    # in August the sun is up from about half past four to half past six in the evening, UTC
    named = [text.get_text() for text in path.texts if ":" in text.get_text()]
    assert named == [f"{hour:02}:00" for hour in range(6, 19, 2)]
    noon = next(text for text in path.texts if text.get_text() == "10:00")
    row = day[day["time_utc"] == pd.Timestamp("2025-08-20 10:00Z")].iloc[0]
    assert noon.xy == pytest.approx((row["azimuth"], row["elevation"]))
    low, high = path.get_xlim()
    assert (low, high) == pytest.approx((day["azimuth"].min() - 8.0, day["azimuth"].max() + 8.0))
    assert path.get_ylim()[1] == pytest.approx(1.3 * day["elevation"].max() + 3.0)


@pytest.mark.parametrize(
    "longitude, start",
    [(14.0, "2025-08-20 10:00"), (-150.0, "2025-08-20 22:00"), (150.0, "2025-08-20 02:00")],
)
def test_a_day_is_the_sun_s_own_from_midnight_to_midnight(longitude, start):
    """The path rises and sets once, with the noon of the walks in it, wherever the date changes."""
    site = SITE | {"longitude": longitude}
    walks = sun_path.walks_under_the_sun(noted(start), site, CARRYING)
    (day,) = sun_path.days_of(walks, site)
    assert day["time_utc"].is_monotonic_increasing and len(day) * 4 / 60 == pytest.approx(13.8, abs=0.3)
    assert day["time_utc"].min() < walks["middle_utc"].min() < day["time_utc"].max()
    assert day["azimuth"].iloc[0] < 90.0 < 270.0 < day["azimuth"].iloc[-1]


def test_ticks_of_the_path_are_named_and_within_it():
    path = parts(noted())[0]
    low, high = path.get_xlim()
    ticks = {text.get_text() for text in path.get_xticklabels()}
    assert {"90°\neast", "120°", "180°\nsouth", "270°\nwest"} <= ticks
    assert all(low <= tick <= high for tick in path.get_xticks())
    assert [text.get_text() for text in path.get_yticklabels()] == ["0°", "20°", "40°", "60°"]
    southern = parts(noted("2025-12-20 02:00"), site=SITE | {"latitude": -35.0, "longitude": 150.0})[0]
    assert "0°\nnorth" in {text.get_text() for text in southern.get_xticklabels()}
    assert southern.get_xlim()[0] < 360.0 < southern.get_xlim()[1]


def test_azimuths_around_north_are_not_torn():
    assert sun_path._along([350.0, 10.0, 180.1], 360.0) == pytest.approx([350.0, 370.0, 180.1])
    assert sun_path._along([350.0, 10.0, 180.0], 180.0) == pytest.approx([350.0, 10.0, 180.0])


@pytest.mark.parametrize("days, drawn", [(1, 1), (6, 6), (7, 2)])
def test_of_many_days_the_first_and_the_last_are_drawn(days, drawn):
    table = pd.concat([noted(f"2025-08-{10 + day} 10:00") for day in range(days)], ignore_index=True)
    lines = [line for line in parts(table)[0].get_lines() if len(line.get_xdata()) > 100]
    assert len(lines) == drawn
    title = parts(table)[0].get_title(loc="left")
    wanted = "2025-08-10" if days == 1 else f"2025-08-10 to 2025-08-{9 + days}"
    assert title.startswith(f"the sun on {wanted} (times: UTC)")


def test_the_view_from_above_has_its_circles_carrier_and_a_shadow_a_walk():
    view = parts(noted(headings=(90.0, 270.0, None)))[1]
    circles = [patch.get_radius() for patch in view.patches if isinstance(patch, Circle)]
    assert circles == pytest.approx([1.0, 3.0])  # in heights of the head, here 1.5 m
    # half of the view is from within one height, nine tenths from within three
    words = {text.get_text() for text in view.texts}
    assert {"50 % of the view", "90 % of the view", "carrier", "head", "walk"} <= words
    assert view.get_xlim() == view.get_ylim() == pytest.approx((-3.6, 3.6))
    bodies = [line for line in view.get_lines() if len(line.get_xdata()) == 2]
    for body in bodies:  # under the lowest and the highest head, which are one here
        assert list(body.get_xdata()) == pytest.approx([-0.15, 0.15])
        assert list(body.get_ydata()) == pytest.approx([-0.8, -0.8])
    assert len(bodies) == 2
    (shapes,) = view.collections
    walks = sun_path.walks_under_the_sun(noted(), SITE, CARRYING)[:2]
    corners = geometry.shadow_corners(walks["phi"], walks["elevation"], geometry.carrier_of(CARRYING))
    drawn = [path.vertices[:4] for path in shapes.get_paths()]
    # to the right across the page, ahead up the page
    assert np.array(drawn) == pytest.approx(corners[..., ::-1] / 1.5)


def test_shares_in_shadow_stand_at_the_angle_between_walk_and_sun():
    *_, shares = parts(noted(headings=(90.0, 350.0)))
    walks = sun_path.walks_under_the_sun(noted(headings=(90.0, 350.0)), SITE, CARRYING)
    apart = [abs((phi + 180.0) % 360.0 - 180.0) for phi in walks["phi"]]
    assert 30.0 < apart[0] < 180.0 and apart != walks["phi"].tolist()
    assert np.array(marks(shares, True)) == pytest.approx(np.column_stack([apart, 100.0 * walks["view"]]))
    lines = {line.get_label(): line for line in shares.get_lines() if line.get_label().startswith("sun ")}
    low, high = (float(np.round(end)) for end in (walks["elevation"].min(), walks["elevation"].max()))
    assert list(lines) == [f"sun {end:.0f}° high" for end in dict.fromkeys((low, high))]
    carrier = geometry.carrier_of(CARRYING)
    for end, line in zip(dict.fromkeys((low, high)), lines.values(), strict=True):
        wanted = geometry.shadow_view(np.array([0.0, 90.0, 180.0]), np.full(3, end), 1.5, carrier)
        assert np.interp([0.0, 90.0, 180.0], *line.get_data()) == pytest.approx(100.0 * wanted)
    most = max(line.get_ydata().max() for line in lines.values())
    assert shares.get_ylim() == pytest.approx((0.0, 1.18 * most)) and shares.get_xlim() == (-4.0, 184.0)


def test_each_set_has_its_own_marker_colour_and_row_of_headings():
    table = pd.concat([noted(), noted(set="teal", headings=(None,))], ignore_index=True)
    figure = sun_path.sun_path(table, ("heron", "teal"), SITE, CARRYING)
    path = figure.axes[0]
    rows = {text.get_text(): text.get_position()[1] for text in path.texts if "headings" in text.get_text()}
    assert list(rows) == ["headings of heron", "headings of teal: none noted"]
    bottom = path.get_ylim()[0]
    assert list(rows.values()) == pytest.approx([0.25 * bottom, 0.75 * bottom])
    (legend,) = figure.legends
    assert [text.get_text() for text in legend.get_texts()] == [
        "heron", "teal", "hollow: heading not noted (2 of 4)",
    ]  # fmt: skip
    colours = [handle.get_color() for handle in legend.legend_handles]
    assert colours[:2] == [colour for colour, _ in figures.SET_LOOKS[:2]]


def test_walks_by_night_are_counted_and_not_drawn():
    table = pd.concat([noted(), noted("2025-08-20 22:00", headings=(90.0,))], ignore_index=True)
    path, view, shares = parts(table)
    assert len(marks(path, False)) == 3 and len(view.collections[0].get_paths()) == 2
    assert len(marks(shares, True)) == 3 and np.isfinite(np.array(marks(shares, True))).all(axis=1).sum() == 2
    assert "1 walks with the sun down" in {text.get_text() for text in path.texts}
