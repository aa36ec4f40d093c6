"""Columns of a sample told apart by name, unit and size."""

import pytest

from headland.field.sample import layout_of
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


@pytest.mark.parametrize("above, below", [("SW in", "SW out instrument 2"), ("SW down", "SW up and down")])
def test_a_name_with_a_word_of_both_ways_is_that_which_no_other_column_can_be(above, below):
    found, channels = columns_of(FOUR, [below, above, "LW in", "LW out"])  # the larger numbers are below
    assert (found["sw_in"], found["sw_out"]) == (above, below)
    assert not {"channels.sw_in", "channels.sw_out"} & {k for k, v in channels.doubts.items() if "also" in v}


@pytest.mark.parametrize("first", [0, 3])
def test_empty_lines_are_no_rows_of_data_however_many_there_are(first):
    """Nor is a file of nothing else after a line of numbers."""
    lines = sheet(FOUR).lines
    gaps = Sheet([*lines[:first], *[""] * 20, *lines[first:]], ",", ".", first)
    assert gaps.width == 4 and len(gaps.rows) == len(FOUR) - first
    assert gaps.values[0] == pytest.approx([row[0] for row in FOUR[first:]])
    nothing = Sheet([lines[0], "", ""], ",", ".", 1)
    assert (nothing.width, nothing.rows) == (0, [])


UNITS = ["SW_in [mV]", "SW_out [mV]", "LW_in [mV]", "LW_out [mV]"]
HEADS = [[8.2 + k, 1.6 + k, -1.0 + k / 9, 0.2 + k / 9] for k in range(6)]


def with_more(*more, heads=UNITS):
    """Four heads by name and unit, and further columns: name and first value, a tenth more in each row."""
    names = [*heads, *(name for name, _ in more)]
    return columns_of([[*row, *(v + k / 10 for _, v in more)] for k, row in enumerate(HEADS)], names)


def test_units_are_those_in_the_names():
    _, found = with_more(("Body [degC]", 20.0))
    units = {name: entry["unit"] for name, entry in found.channels.items()}
    assert units == {
        **dict.fromkeys(("sw_in", "sw_out", "lw_in", "lw_out"), "mV"),
        "body_temperature": "degC",
    }
    assert found.doubts == {}


@pytest.mark.parametrize("largest, unit", [(59.0, "mV"), (61.0, "W m-2")])
def test_without_a_unit_larger_numbers_are_fluxes(largest, unit):
    """Of either head of the band, and of either sign."""
    names = ["SW_in", "SW_out", "LW_in", "LW_out"]
    for row in ([largest, 5.0, -3.0, 4.0], [5.0, largest, -3.0, 4.0], [-largest, 5.0, -3.0, 4.0]):
        _, found = columns_of([row] * 6, names)
        assert found.channels["sw_in"]["unit"] == found.channels["sw_out"]["unit"] == unit
        assert found.channels["lw_in"]["unit"] == "mV"
        assert found.doubts["channels.sw_in"].endswith(f"from the size of the numbers it is {unit}")


@pytest.mark.parametrize(
    "value, unit", [(21.0, "degC"), (79.0, "degC"), (81.0, "ohm"), (199.0, "ohm"), (201.0, "K"), (295.0, "K")]
)
def test_a_thermometer_without_a_unit_is_told_by_its_numbers(value, unit):
    found, channels = with_more(("body", value))
    assert found["body_temperature"] == "body" and channels.channels["body_temperature"]["unit"] == unit
    assert channels.doubts["channels.body_temperature"].endswith(f"it is {unit}")


def test_one_column_of_degrees_is_the_thermometer_and_two_are_none():
    found, channels = with_more(("X1 [degC]", 20.0))
    assert found["body_temperature"] == "X1 [degC]"
    assert channels.doubts["channels.body_temperature"] == "taken from its unit, no name shows it"
    found, channels = with_more(("X1 [degC]", 20.0), ("X2 [degC]", 21.0))
    assert found["body_temperature"] is None
    found, channels = with_more(("X1 [degC]", 20.0), ("air [degC]", 21.0))
    assert found["body_temperature"] == "X1 [degC]"
    found, channels = with_more(("air [degC]", 21.0))
    assert found["body_temperature"] is None and "body_temperature" in str(channels.doubts)


def test_two_thermometers_are_one_of_each_longwave_head():
    found, channels = with_more(("body in [degC]", 20.0), ("body out [degC]", 21.0))
    assert found["body_temperature_lw_in"] == "body in [degC]"
    assert found["body_temperature_lw_out"] == "body out [degC]" and "body_temperature" not in found
    found, channels = with_more(("body a [degC]", 20.0), ("body b [degC]", 21.0))
    assert found["body_temperature"] is None
    assert channels.doubts["channels.body_temperature"] == "one of body a [degC], body b [degC]"


def test_volts_are_the_supply_and_two_columns_of_them_are_not_chosen_from():
    found, channels = with_more(("Batt [V]", 12.0), ("body [degC]", 20.0))
    assert found["battery"] == "Batt [V]" and channels.channels["battery"]["unit"] == "V"
    found, _ = with_more(("Batt [V]", 12.0), ("Panel [V]", 18.0))
    assert "battery" not in found
    by_name, _ = with_more(("battery", 12.0))
    assert by_name["battery"] == "battery" and by_name["body_temperature"] is None


def test_a_second_column_of_a_head_is_named_in_the_doubt():
    heads = ["SW_in [mV]", "SW_out [mV]", "LW_in [mV]", "LW_out [mV]"]
    found, channels = with_more(("SW_in raw [mV]", 8.0), heads=heads)
    assert found["sw_in"] == "SW_in [mV]"
    assert channels.doubts["channels.sw_in"] == "there is also SW_in raw [mV]"
    assert "channels.sw_out" not in channels.doubts


def test_two_columns_of_a_band_without_a_way_are_told_by_the_sky():
    """By day more shortwave comes from above and less longwave."""
    found, channels = with_more(heads=["SW a [mV]", "SW b [mV]", "LW a [mV]", "LW b [mV]"])
    assert [found[name] for name in ("sw_in", "sw_out", "lw_in", "lw_out")] == [
        "SW a [mV]", "SW b [mV]", "LW a [mV]", "LW b [mV]",
    ]  # fmt: skip
    assert "more shortwave comes from above" in channels.doubts["channels.sw_in"]
    assert "less longwave comes from above" in channels.doubts["channels.lw_out"]


def test_columns_of_times_and_of_few_numbers_are_no_channels():
    rows = [[k, *row] for k, row in enumerate(FOUR)]
    found = channels_of(sheet(rows), frozenset({0})).channels
    assert [found[name]["column"] for name in ("sw_in", "sw_out", "lw_in", "lw_out")] == [2, 3, 4, 5]
    gaps = [[*row, 20.0 if k < 3 else ""] for k, row in enumerate(HEADS)]
    found, _ = columns_of(gaps, [*UNITS, "body [degC]"])
    assert found["body_temperature"] is None
    more = [[*row, 20.0 if k < 4 else ""] for k, row in enumerate(HEADS)]
    assert columns_of(more, [*UNITS, "body [degC]"])[0]["body_temperature"] == "body [degC]"


@pytest.mark.parametrize("lw_in, lw_out, way", [(-90.0, 12.0, "net"), (330.0, 410.0, "corrected")])
def test_incoming_longwave_tells_whether_the_own_emission_was_added(lw_in, lw_out, way):
    rows = [f"2026-05-21 10:00:0{k},{820 + k},{160 + k},{lw_in},{lw_out},21.5" for k in range(6)]
    names = "time,SW in (W m-2),SW out (W m-2),LW in (W m-2),LW out (W m-2),body (degC)"
    found = layout_of("\n".join([names, *rows]), "utf-8")
    assert found.longwave == way and found.doubts["longwave"].endswith(f" about {lw_in:.0f} W m-2")


def test_the_line_of_units_is_sought_below_the_names_wherever_these_are():
    """A line above the names that looks like units is none."""
    rows = [f"{820 + k},{160 + k},{-105 + k},{12 + k}" for k in range(6)]
    lines = ["a name,other,third,last", "V,V,V,V", "SW_in,SW_out,LW_in,LW_out", "mV,mV,uV,uV", *rows]
    made = Sheet(lines, ",", ".", 4)
    assert made.names == ["SW_in", "SW_out", "LW_in", "LW_out"] and made.units == ["mV", "mV", "uV", "uV"]


@pytest.mark.parametrize("name, sure", [("body", True), ("second", False)])
def test_a_thermometer_that_its_unit_alone_shows_is_doubted(name, sure):
    rows = [[*row, 21.5] for row in FOUR]
    names = ["SW in (mV)", "SW out (mV)", "LW in (mV)", "LW out (mV)", f"{name} (degC)"]
    found, channels = columns_of(rows, names)
    assert found["body_temperature"] == names[-1]
    assert ("channels.body_temperature" not in channels.doubts) == sure


def test_two_names_of_the_body_of_which_neither_tells_its_head_are_no_thermometer():
    names = ["SW in", "SW out", "LW in", "LW out", "body one", "body two"]
    found, channels = columns_of([[*row, 21.5, 21.6] for row in FOUR], names)
    assert not any(channel.startswith("body") and column for channel, column in found.items())
    assert not any("alone" in reason or "only" in reason for reason in channels.doubts.values())
