"""The sun's path with the walks on it, and the carrier's shadow in the view."""

import xml.etree.ElementTree as ElementTree

import numpy as np
import pandas as pd
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.text import Text

from headland.report import appendix, figures, sun_path
from headland.uncertainty import inputs

from .figures_made import frame

SITE = {"latitude": 46.0, "longitude": 14.0, "elevation": 300.0}
CARRYING = {
    "sensor_height": 1.5,
    "reach": 1.2,
    "carrier_height": 1.75,
    "carrier_width": 0.45,
    "walking_speed": 0.8,
}


def noted(start: str = "2025-08-20 10:00", headings=(90.0, 270.0, None), **changes) -> pd.DataFrame:
    begin = pd.Timestamp(start, tz="UTC")
    return frame(
        "noted",
        [
            {
                "segment": f"heron-{n}",
                "set": "heron",
                "activity": "walk",
                "start_utc": begin + pd.Timedelta(minutes=10 * n),
                "end_utc": begin + pd.Timedelta(minutes=10 * n + 2),
                "heading": heading,
                "height": CARRYING["sensor_height"],
                **changes,
            }
            for n, heading in enumerate(headings)
        ],
    )


def texts(figure) -> list[Text]:
    return [text for text in figure.findobj(Text) if text.get_text().strip() and text.get_visible()]


def drawn(table: pd.DataFrame, sets=("heron",), site=SITE, carrying=CARRYING) -> str:
    """Everything that the figure says, in letters of 8 pt at least, as wide as the text at most."""
    figure = sun_path.sun_path(table, sets, site, carrying)
    assert (
        min(text.get_fontsize() for text in texts(figure)) >= 8.0 and figure.get_figwidth() <= figures.WIDTH
    )
    ElementTree.fromstring(figures.svg(figure))
    return "\n".join(text.get_text() for text in texts(figure))


def test_a_shadow_falls_where_the_sun_is_not():
    """Walking away from a sun 45 degrees high, the shadow of 1.75 m starts 1.2 m behind the head and ends
    0.55 m ahead of it (plane geometry).
    """
    walks = sun_path.walks_under_the_sun(noted(), SITE, CARRYING)
    assert walks["azimuth"].between(130, 190).all() and walks["elevation"].between(45, 60).all()
    assert walks["view"].notna().tolist() == [True, True, False]
    corners = sun_path.geometry.shadow_corners(180.0, 45.0, sun_path.geometry.Carrier(1.2, 1.75, 0.45))
    np.testing.assert_allclose(
        [corners[:, 0].min(), corners[:, 0].max(), np.ptp(corners[:, 1])], [-1.2, 0.55, 0.45], atol=1e-9
    )
    away, towards = (
        sun_path.walks_under_the_sun(noted(headings=[heading]), SITE, CARRYING)["view"].iloc[0]
        for heading in (walks["azimuth"].iloc[0] + 180.0, walks["azimuth"].iloc[0])
    )
    assert away > 3 * towards > 0


def test_over_a_canopy_the_shadow_is_that_of_the_model():
    """0.6 m of a canopy hide the legs: a head 0.9 m over it and 1.15 m of a carrier."""
    table = pd.concat([noted(), noted(height=0.9)], ignore_index=True)
    walks = sun_path.walks_under_the_sun(table, SITE, CARRYING)
    lower = {**CARRYING, "sensor_height": 0.9, "carrier_height": 1.15}
    alone = sun_path.walks_under_the_sun(noted(height=0.9), SITE, lower)
    np.testing.assert_allclose(walks["view"][3:], alone["view"], rtol=1e-12)
    assert (walks["view"][3:5].to_numpy() / walks["view"][:2].to_numpy() - 1.0 < -0.01).any()
    of_model = inputs.shade_of(walks.rename(columns={"elevation": "solar_elevation"}), CARRYING)
    known = walks["phi"].notna()
    expected = of_model(walks["phi"].fillna(0.0).to_numpy()[None, :])[0]  # every 5 degrees, interpolated
    np.testing.assert_allclose(walks["view"][known], expected[known], rtol=0.01)


def drawn_shadows(table: pd.DataFrame) -> list[np.ndarray]:
    figure = sun_path.sun_path(table, ("heron",), SITE, CARRYING)
    found = [one for ax in figure.axes for one in ax.collections if isinstance(one, PolyCollection)]
    return [path.vertices[:4] for one in found for path in one.get_paths()]


def test_shadows_are_drawn_in_heights_of_the_head_over_what_it_looks_at():
    """The foot is 1.2 m behind heads 1.5 and 0.9 m over it."""
    bare, canopy = (drawn_shadows(noted(headings=[90.0], height=height))[0] for height in (1.5, 0.9))
    np.testing.assert_allclose(bare[:2].mean(axis=0), [0.0, -1.2 / 1.5], atol=1e-9)
    np.testing.assert_allclose(canopy[:2].mean(axis=0), [0.0, -1.2 / 0.9], atol=1e-9)
    lengths = [np.linalg.norm(one[2:].mean(axis=0) - one[:2].mean(axis=0)) for one in (bare, canopy)]
    assert lengths[1] / lengths[0] == pytest.approx((1.15 / 0.9) / (1.75 / 1.5))
    mixed = pd.concat([noted(), noted(height=0.9)], ignore_index=True)
    assert "head 0.9 m above" in drawn(mixed) and "m above" not in drawn(noted())


def test_it_says_what_it_shows_and_what_is_not_noted():
    said = drawn(noted())
    assert (
        "hollow: heading not noted (1 of 3)" in said
        and "headings of heron" in said
        and "2025-08-20" in said
        and "10:00" in said
        and "south" in said
    )
    assert "none noted" in drawn(noted(headings=(None, None))) and "no heading is noted" in drawn(
        noted(headings=(None, None))
    )
    means = frame(
        "segment_means",
        [
            {
                "set": "heron",
                "activity": "walk",
                "solar_elevation": 50.0,
                "solar_azimuth": 170.0,
                "heading": way,
            }
            for way in (90.0, None)
        ],
    )
    assert (
        "1 of 2 walks" in appendix.headings_words(means)
        and appendix.headings_words(means.assign(heading=90.0)) == ""
    )
    assert "80° to the side" in appendix.sun_path_words(
        means
    ) and "no heading noted" in appendix.sun_path_words(means.assign(heading=np.nan))


@pytest.mark.parametrize(
    "latitude, start, said",
    [
        (-35.0, "2025-12-20 02:00", "north"),
        (78.0, "2025-06-20 22:00", "270°"),
        (0.0, "2025-03-20 11:00", "90°"),
        (75.0, "2025-12-20 10:00", "sun was down all day"),
        (46.0, "2025-08-20 22:00", "3 walks with the sun down"),
    ],
)
def test_any_place_and_time(latitude, start, said):
    longitude = 150.0 if latitude < 0 else 14.0
    assert said in drawn(noted(start), site={**SITE, "latitude": latitude, "longitude": longitude})


def test_nobody_walked():
    for table, carrying in (
        (noted(activity="stand"), CARRYING),
        (frame("noted", []), CARRYING),
        (noted(), {**CARRYING, "walking_speed": 0.0}),
    ):
        assert "Nobody walked" in drawn(table, carrying=carrying)


def test_many_days_and_sets_fit():
    table = pd.concat(
        [
            noted(f"2025-08-{day} 10:00", set=f"set {n} $x$ with a long name")
            for day in range(10, 19)
            for n in range(9)
        ],
        ignore_index=True,
    )
    assert "2025-08-10 to 2025-08-18" in drawn(table, tuple(dict.fromkeys(table["set"])))
