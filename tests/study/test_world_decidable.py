"""Rules on what can be told at all follow the layout of the campaign."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import world
from study.world_decidable import RULES, decidable, in_words
from world.air import GRID


def a_day(**survey):
    return SimpleNamespace(survey=SimpleNamespace(**survey))


def test_every_rule_is_for_a_mistake_of_the_world_and_is_on_the_page():
    assert set(RULES) <= set(world.CODES)
    assert all(f"`{variant}`" in in_words() for variant in RULES)


@pytest.mark.parametrize("name, can", [("heron", True), ("plover", False)])
def test_a_visit_forgotten_in_a_record_without_a_pause_can_t_be_told(name, can):
    day = a_day(continuous={"heron": False, "plover": True})
    assert decidable("data-without-note", day, {"set": name}) is can
    assert decidable("notes-reversed", day, {"set": name})


@pytest.mark.parametrize("continuous, can", [((True, True), False), ((True, False), True)])
def test_a_watch_that_is_off_needs_a_record_with_pauses(continuous, can):
    day = a_day(continuous=dict(zip(("heron", "plover"), continuous, strict=True)))
    assert decidable("notes-shifted/watch", day, {}) is can


def a_kit(programmed, certified):
    channels = ("lw_in", "lw_out")
    return SimpleNamespace(
        logger=SimpleNamespace(programmed=dict.fromkeys(channels, programmed) if programmed else {}),
        heads=dict.fromkeys(channels, SimpleNamespace(certified=certified)),
    )


@pytest.mark.parametrize(
    "programmed, others, can", [(10.0, 11.2, False), (10.0, 11.4, True), (None, 17.0, False)]
)
def test_sensors_on_another_logger_are_told_by_its_program(programmed, others, can):
    day = a_day()
    day.kits = {"heron": a_kit(programmed, 10.0), "plover": a_kit(None, others)}
    for mine, other in (("heron", "plover"), ("plover", "heron")):
        done = {"set": mine, "other": other, "what": "lw sensors of both changed places"}
        assert decidable("pair-broken", day, done) is can


@pytest.mark.parametrize("programmed, can", [(10.0, False), (None, True)])
def test_a_wrong_unit_changes_no_flux_that_the_logger_computed(programmed, can):
    day = a_day()
    day.kits = {"heron": a_kit(programmed, 10.0)}
    assert decidable("factor-inverted", day, {"set": "heron"}) is can


@pytest.mark.parametrize("channels, beside", [(["sw_in", "sw_out"], True), (["sw_in", "lw_out"], False)])
@pytest.mark.parametrize("programmed", [None, 10.0])
@pytest.mark.parametrize("side", [True, False])
@pytest.mark.parametrize("older", [0, 1, 2])
def test_exchanged_factors_need_a_second_source(channels, beside, programmed, side, older):
    day = a_day(side_by_side=side)
    day.kits = {"heron": a_kit(programmed, 10.0)}
    rows = [*channels, *channels[:older]]
    day.tables = SimpleNamespace(register=pd.DataFrame({"set": "heron", "channel": rows}))
    can = older == 2 or bool(programmed) or (side and beside)
    assert decidable("factors-exchanged", day, {"set": "heron", "channels": channels}) is can


def a_day_of_two_fields(warmer, lighter, sun):
    """Over the one row of the notes, 1 h long, one field is warmer by so many K and lighter by so many ln."""
    values = {"surface_temperature": (25.0 + warmer, 25.0), "albedo": (0.2 * np.exp(lighter), 0.2)}
    day = a_day()
    day.notes = pd.DataFrame({"start_s": [36000.0], "end_s": [39600.0], "field": ["Meadow"]})
    day.tables = SimpleNamespace(notes=day.notes.assign(field="Yard"))
    height = np.full(len(GRID), np.sin(np.radians(sun)))
    day.scene = SimpleNamespace(incoming=[SimpleNamespace(sun=(height, height, height))])
    day.value = lambda name, quantity, start, end: values[quantity][name == "Yard"]
    return day


@pytest.mark.parametrize(
    "warmer, lighter, sun, can",
    [
        (10.5, 0.0, 40.0, False),
        (10.7, 0.0, 40.0, True),
        (0.0, -0.42, 40.0, False),
        (0.0, -0.43, 40.0, True),
        (0.0, -0.43, 14.0, False),
        (7.6, 0.31, 40.0, True),
        (7.4, 0.29, 40.0, False),
    ],
)
def test_a_pass_in_another_field_is_told_from_ground_that_differs(warmer, lighter, sun, can):
    """By five times 1.5 K, or 0.06, times the root of two."""
    day = a_day_of_two_fields(warmer, lighter, sun)
    assert decidable("field-inconsistent/row", day, {"rows": [1]}) is can
    done = {"rows": [1], "fields": ["Meadow", "Yard"]}
    assert decidable("notes-sets-swapped/one-field", day, done) is can
