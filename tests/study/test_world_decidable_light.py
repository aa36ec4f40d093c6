"""Rules on what the light can tell follow the truth of sky, heads and ground."""

from types import SimpleNamespace as Made

import numpy as np
import pandas as pd
import pytest

from study.world_decidable import decidable
from world.clouds import KINDS

T = np.arange(0.0, 86400.0, 60.0)
HEIGHT = np.maximum(np.sin(np.pi * (T - 21600.0) / 43200.0) * np.sin(np.radians(60.0)), -0.5)


def day(legs=(), kind="clear", grade="A", *, direct=0.8, **disturbance):
    """A day with the sun up from 6 to 18 hours, 60 degrees high at noon, and one set. legs: start, end (s),
    direction."""
    assert kind in KINDS
    made = [Made(start=a, end=b, direction=way, field=0, activity="walk") for a, b, way in legs]
    sky = Made(
        minute=T,
        sun_minute=np.stack([T, T, HEIGHT]),
        beam_clear=800.0 * (HEIGHT > 0.0),
        diffuse_clear=np.full(len(T), 60.0),
    )
    return Made(
        survey=Made(of=lambda name: made, sets=["teal"]),
        scene=Made(sky=sky, clouds=Made(kind=kind)),
        kits={"teal": Made(disturbance=Made(**disturbance))},
        grade=grade,
        paths={"teal": Made(t=T)},
        ideals={"teal": Made(direct=np.full(len(T), direct))},
    )


def done(size=None, unit="", **where):
    return {"set": "teal", "size": size, "unit": unit} | where


NOON = 43200.0
FOUR = [(NOON + 100.0 * k, NOON + 100.0 * k + 90.0, (1, -1)[k % 2]) for k in range(4)]


@pytest.mark.parametrize("dark, can", [((0, 2), True), ((0, 1, 2), False), ((0,), False), ((0, 1), False)])
def test_a_carriers_shadow_turns_with_the_heading(dark, can):
    spans = [FOUR[place][:2] for place in dark]
    assert decidable("own-shade", day(FOUR), done(spans_s=spans)) is can


@pytest.mark.parametrize(
    "channel, can", [("sw_in", True), ("sw_out", True), ("lw_in", False), ("lw_out", False)]
)
def test_a_cover_on_a_longwave_head_is_as_warm_as_the_air(channel, can):
    assert decidable("cover-left-on/one", day(covered={channel: (0.0, 1.0)}), done()) is can


@pytest.mark.parametrize("size, direct, can", [(0.13, 0.8, True), (0.11, 0.8, False), (0.3, 0.4, False)])
def test_drops_show_where_they_hide_the_sky_beside_a_sun(size, direct, can):
    soaked = day(direct=direct, wet=[(NOON, NOON + 600.0, size)])
    assert decidable("dome-wet", soaked, done(size)) is can


def test_a_swing_shows_in_the_sun():
    assert decidable("swing-strong", day(FOUR), done())
    assert not decidable("swing-strong", day(FOUR, direct=0.4), done())


@pytest.mark.parametrize(
    "grade, kind, size, sets, station",
    [
        ("A", "clear", 0.112, True, True),
        ("A", "clear", -0.112, True, True),
        ("A", "clear", 0.111, False, False),
        ("B", "haze", 0.163, False, True),
        ("B", "broken", 0.3, False, False),
        ("C", "clear", 0.3, False, True),
    ],
)
def test_a_change_of_a_head_shows_beyond_what_its_class_may_do(grade, kind, size, sets, station):
    """5.25 sqrt(0.015^2 + 0.015^2) = 0.1114, 5.25 sqrt(0.027^2 + 0.015^2) = 0.1622."""
    made = day(kind=kind, grade=grade)
    assert decidable("sets-disagree", made, done(size)) is sets
    assert decidable("station-disagrees", made, done(size)) is station


def test_a_wrong_clock_shows_over_a_long_clear_morning_and_not_in_half_an_hour_at_noon():
    morning = [(8 * 3600.0, 9 * 3600.0, 1), (11 * 3600.0, 12 * 3600.0, -1)]
    short = [(NOON - 900.0, NOON, 1), (NOON + 100.0, NOON + 900.0, -1)]
    for variant, off in (
        ("clock-against-sun", done(5400.0, "s")),
        ("clock-against-sun/offset", done(-2, "h")),
    ):
        assert decidable(variant, day(morning), off)
        assert not decidable(variant, day(short), off)
        assert not decidable(variant, day(morning, "cirrus"), off)
    everyone = done(5400.0, "s") | {"set": None}
    assert decidable("clock-against-sun/all", day(morning), everyone)
    assert not decidable("clock-against-sun/all", day(morning), everyone | {"size": 1200.0})


@pytest.mark.parametrize("albedo, hour, can", [(0.20, 12, True), (0.16, 12, False), (0.20, 7, False)])
def test_an_albedo_shows_where_the_table_has_no_room_for_it(albedo, hour, can):
    """Deep water reflects up to 0.15 in the table; 5.25 sqrt(2) 0.015 of 0.20 are 0.022."""
    made = day([(3600.0 * hour, 3600.0 * hour + 90.0, 1)])
    made.tables = Made(notes=pd.DataFrame({"field": ["Fen edge"], "surface": ["deep_water"]}))
    made.truth = Made(fields=pd.DataFrame({"field": ["Fen edge"], "albedo": [albedo]}))
    assert decidable("surface-mislabelled", made, done(field="Fen edge")) is can
