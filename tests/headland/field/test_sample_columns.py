"""Columns of a sample told apart by name, unit and size."""

import pytest

from headland.field.sample_channels import Columns, channels_of
from headland.field.sample_text import Sheet


def sheet(rows, names=None):
    lines = ([",".join(names)] if names else []) + [",".join(map(str, row)) for row in rows]
    return Sheet(lines, ",", ".", 1 if names else 0)


def columns_of(rows, names=None):
    found = channels_of(sheet(rows, names), frozenset())
    return {name: entry["column"] for name, entry in found.channels.items()}, found


FOUR = [[820.0 + k, 160.0 + k, -105.0 + k, 12.0 + k] for k in range(6)]


def test_four_columns_without_names_are_told_apart_by_size():
    """The two largest are shortwave, the incoming larger; of longwave the outgoing is larger."""
    found, _ = columns_of(FOUR)
    assert (found["sw_in"], found["sw_out"], found["lw_in"], found["lw_out"]) == (1, 2, 3, 4)


def test_in_any_order():
    found, _ = columns_of([[row[3], row[0], row[2], row[1]] for row in FOUR])
    assert (found["sw_in"], found["sw_out"], found["lw_in"], found["lw_out"]) == (2, 4, 3, 1)


def test_a_column_s_level_is_its_mean():
    """One gust of light moves the mean above another column, not the median."""
    rows = [[100.0, 120.0], [100.0, 120.0], [400.0, 120.0]]
    columns = Columns(sheet(rows), [0, 1])
    assert columns.level(0) == pytest.approx(200.0) and columns.level(1) == pytest.approx(120.0)


@pytest.mark.parametrize("count", [3, 5])
def test_more_or_fewer_columns_without_names_are_not_guessed(count):
    found, channels = columns_of([(row + [300.0])[:count] for row in FOUR])
    assert found["sw_in"] is None and found["lw_out"] is None
    assert set(channels.doubts) >= {"channels.sw_in", "channels.lw_out"}


def test_names_decide_against_size():
    names = ["SW_out", "SW_in", "LW_out", "LW_in"]
    found, _ = columns_of(FOUR, names)
    assert found["sw_in"] == "SW_in" and found["sw_out"] == "SW_out" and found["lw_in"] == "LW_in"


@pytest.mark.parametrize("first", [0, 3])
def test_empty_lines_are_no_rows_of_data_however_many_there_are(first):
    """Nor is a file of nothing else after a line of numbers."""
    lines = sheet(FOUR).lines
    gaps = Sheet([*lines[:first], *[""] * 20, *lines[first:]], ",", ".", first)
    assert gaps.width == 4 and len(gaps.rows) == len(FOUR) - first
    assert gaps.values[0] == pytest.approx([row[0] for row in FOUR[first:]])
    nothing = Sheet([lines[0], "", ""], ",", ".", 1)
    assert (nothing.width, nothing.rows) == (0, [])
