"""Rules on what can be told at all follow the layout of the campaign."""

from types import SimpleNamespace

import pytest

import world
from study.world_decidable import RULES, decidable, in_words


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
