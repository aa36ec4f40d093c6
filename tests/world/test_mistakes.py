"""Mistakes: each changes the campaign, is recorded, and can be repeated."""

import copy

import numpy as np
import pytest

import world
from world.mistakes import ON_TABLES, PHYSICAL

CHOICES = {
    "sets": 2,
    "order": "two_at_a_time",
    "station": True,
    "continuous": True,
    "fields": ["short_grass", "bare_dry_soil", "paving"],
    "sky": "clear",
    "season": "summer",
}


@pytest.fixture(scope="module", params=["comma-clock", "semicolon-day"])
def day(request):
    return world.draw(12, logger=request.param, **CHOICES)


def content(tables) -> dict:
    out = {
        "campaign": str(tables.campaign),
        "notes": tables.notes.to_csv(),
        "register": tables.register.to_csv(),
    }
    return out | {name: text + encoding for name, (text, encoding) in tables.files.items()}


def parts_that_changed(before: dict, after: dict) -> set:
    return {key for key in before if before[key] != after[key]}


@pytest.mark.parametrize("code", ON_TABLES)
def test_mistakes_on_tables(day, code):
    kept = copy.deepcopy(day.tables)
    before = content(day.tables)
    try:
        done = world.inject(day, code, np.random.default_rng(4))
    except ValueError:
        assert "longwave" in code or code == "factor-outdated"  # needs a logger that stores fluxes
        assert day.kits[day.survey.sets[0]].logger.unit == "mV"
        return
    finally:
        after, day.tables = day.tables, kept
    changed = parts_that_changed(before, content(after))
    assert changed
    assert done["code"] == code.split("/")[0]
    if code.startswith("notes"):
        assert changed == {"notes"}


@pytest.fixture(scope="module")
def small():
    return world.draw(12, logger="comma-clock", **(CHOICES | {"fields": 2}))


def another(day):
    """Return a day that can be changed while the first stays as it is."""
    other = copy.copy(day)
    other.kits, other.tables = copy.deepcopy(day.kits), copy.deepcopy(day.tables)
    other.records = dict(day.records)
    return other


@pytest.mark.parametrize("code", PHYSICAL)
def test_physical_mistakes(small, code):
    day = another(small)
    truth = day.truth.segments.copy()
    before = content(day.tables)
    done = world.inject(day, code, np.random.default_rng(4))
    assert parts_that_changed(before, content(day.tables)) == {f"logger/{done['set']}_01.csv"}
    assert day.truth.segments.equals(truth)


def test_a_folder_takes_mistakes_and_a_repeat_is_equal(tmp_path):
    day = world.draw(12, logger="semicolon-day", **(CHOICES | {"fields": 2}))
    one, two = day.write(tmp_path / "one"), day.write(tmp_path / "two")
    for folder in (one, two):
        world.inject(folder, "rows-duplicated", np.random.default_rng(9), size=100)
        world.inject(folder, "notes-overlap", np.random.default_rng(9), size=120.0)
    for name in ("notes.csv", *(f"logger/{path.name}" for path in (one / "logger").iterdir())):
        assert (one / name).read_bytes() == (two / name).read_bytes()
    lengths = [len((one / "logger" / f"{name}_01.csv").read_text().splitlines()) for name in day.survey.sets]
    originals = [len(day.records[name]) + 3 for name in day.survey.sets]
    assert sum(lengths) == sum(originals) + 100


def test_mistakes_combine_and_physical_ones_come_first(small):
    day = another(small)
    done = world.inject_many(
        day, ["file-truncated", "notes-reversed", "head-tilted"], np.random.default_rng(1)
    )
    assert [one["code"] for one in done] == ["head-tilted", "notes-reversed", "file-truncated"]
    with pytest.raises(ValueError, match="before"):
        world.inject(day, "dome-wet", np.random.default_rng(1))


def test_a_tilt_of_the_chosen_size_changes_the_light_as_it_should(small):
    day = another(small)
    before = {one: day.records[one]["sw_in"].mean() for one in day.survey.sets}
    done = world.inject(day, "head-tilted", np.random.default_rng(2), size=8.0)
    name = done["set"]
    share = day.records[name]["sw_in"].mean() / before[name] - 1.0
    assert 0.0005 < abs(share) < 0.3


def test_a_day_that_is_not_sound_says_what_is_wrong():
    day = world.draw(3, sound=False, fields=2)
    assert 1 <= len(day.injected) <= 2


def test_one_set_has_no_sets_to_swap():
    day = world.draw(3, sets=1, fields=2, order="once")
    with pytest.raises(ValueError, match="one set"):
        world.inject(day, "notes-sets-swapped", np.random.default_rng(1))
