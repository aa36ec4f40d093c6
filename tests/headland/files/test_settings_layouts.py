"""Layouts in campaign.yaml and those that come with the project."""

import pytest

from .made_settings import CONFIG, GOOD, WITH_INLINE, faults, load

INLINE_FAULTS = {
    "missing channel": (
        "        sw_in: {column: 2, unit: W m-2}\n",
        "",
        "sets.heron.layout.channels.sw_in is missing",
        "",
    ),
    "no body temperature": (
        "        body_temperature: {column: 6, unit: degC}\n",
        "",
        "sets.heron.layout.channels has sw_in, sw_out, lw_in, lw_out",
        "body_temperature",
    ),
    "wrong unit": (
        "sw_in: {column: 2, unit: W m-2}",
        "sw_in: {column: 2, unit: W/m2}",
        'channels.sw_in.unit is "W/m2"',
        'did you mean "W m-2"',
    ),
    "column 0": ("sw_in: {column: 2", "sw_in: {column: 0", "channels.sw_in.column is 0", "at least 1"),
    "column 2.0": (
        "sw_in: {column: 2",
        "sw_in: {column: 2.0",
        "channels.sw_in.column is 2.0",
        "a whole number",
    ),
    "lines counted as 1.0": (
        "stamp: end",
        "stamp: end\n      lines_after_names: 1.0",
        "layout.lines_after_names is 1.0",
        "a whole number",
    ),
    "column twice": (
        "sw_out: {column: 3",
        "sw_out: {column: 2",
        "sw_out has the same column 2 as sw_in",
        "a column of its own",
    ),
    "names without a line of names": (
        "      stamp: end\n",
        "      stamp: end\n      names: false\n",
        None,
        None,
    ),
    "time without format": (
        'time: {column: 1, format: "%Y-%m-%d %H:%M:%S"}',
        "time: {column: 1}",
        "layout.time",
        "",
    ),
    "interval 0": ("interval: 1", "interval: 0", "layout.interval is 0", "more than 0"),
    "wrong stamp": ("stamp: end", "stamp: ende", 'layout.stamp is "ende"', 'did you mean "end"'),
    "two delimiters": (
        "stamp: end",
        'stamp: end\n      delimiter: ";;"',
        'layout.delimiter is ";;"',
        "one character, or whitespace",
    ),
    "unknown key": (
        "stamp: end",
        "stamp: end\n      skiplines: 2",
        "unknown key sets.heron.layout.skiplines",
        'did you mean "skip_lines"',
    ),
    "pattern without a group": (
        "stamp: end",
        'stamp: end\n      identity: {logger_id: {line: 1, pattern: "logger"}}',
        "identity.logger_id.pattern",
        "one group in parentheses",
    ),
    "no pattern at all": (
        "stamp: end",
        'stamp: end\n      identity: {logger_id: {line: 1, pattern: "(("}}',
        "identity.logger_id.pattern",
        "one group in parentheses",
    ),
    "wrong encoding": (
        "stamp: end",
        "stamp: end\n      encoding: utf8",
        'layout.encoding is "utf8"',
        'did you mean "utf-8"',
    ),
}


@pytest.mark.parametrize("name", INLINE_FAULTS)
def test_faults_of_an_inline_layout(campaign, name):
    old, new, found, expected = INLINE_FAULTS[name]
    text = WITH_INLINE.replace(old, new, 1)
    assert text != WITH_INLINE
    if found is None:
        text = text.replace("sw_in: {column: 2", "sw_in: {column: down")
        found, expected = "columns by name (down) with names: false", "positions from 1"
    (error,) = faults(campaign, text)
    assert found in error.found and expected in error.expected and 13 <= error.line <= 23, str(error)


def test_a_good_inline_layout(campaign):
    layout = load(campaign, WITH_INLINE)["sets"]["heron"]["layout"]
    assert (
        layout["delimiter"],
        layout["decimal"],
        layout["encoding"],
        layout["names"],
        layout["missing"],
    ) == (",", ".", "utf-8", True, ["", "NaN"])
    assert (
        load(campaign, WITH_INLINE.replace("longwave: net", "longwave: corrected"))["sets"]["heron"][
            "longwave"
        ]
        == "corrected"
    )


@pytest.mark.parametrize("name", sorted(path.stem for path in (CONFIG / "layouts").glob("*.yaml")))
def test_the_layouts_that_come_with_the_project_are_sound(campaign, name):
    assert load(campaign, GOOD.replace("comma-clock", name))["sets"]["heron"]["layout_name"] == name
