"""Settings: what campaign.yaml and layouts may say, and one plain line for each fault in them."""

import os
from pathlib import Path

import pytest

from headland.base.errors import UserErrors
from headland.files import settings
from headland.files.surfaces import surface_classes

PROJECT = Path(__file__).parents[3]
CONFIG = PROJECT / "config"

GOOD = """\
title: Spring practical
site:
  name: Mill meadow
  latitude: 46.9
  longitude: 7.1
  elevation: 430
  timezone: Europe/Zurich
sets:
  heron:
    logger_id: H-1
    utc_offset: "+01:00"
    files: logger/heron_*.csv
    layout: comma-clock
    longwave: net
carrying:
  walking_speed: 0.8
"""

INLINE = """\
    layout:
      interval: 1
      stamp: end
      time: {column: 1, format: "%Y-%m-%d %H:%M:%S"}
      channels:
        sw_in: {column: 2, unit: W m-2}
        sw_out: {column: 3, unit: W m-2}
        lw_in: {column: 4, unit: W m-2}
        lw_out: {column: 5, unit: W m-2}
        body_temperature: {column: 6, unit: degC}
"""
WITH_INLINE = GOOD.replace("    layout: comma-clock\n", INLINE)


@pytest.fixture
def campaign(tmp_path):
    folder = tmp_path / "spring"
    (folder / "logger").mkdir(parents=True)
    (folder / "logger/heron_1.csv").write_text("x\n")
    for name in ("notes.csv", "instruments.csv"):
        (folder / name).write_text("x\n")
    return folder


def load(folder, text):
    (folder / "campaign.yaml").write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return settings.load(folder, CONFIG)


def faults(folder, text):
    with pytest.raises(UserErrors) as caught:
        load(folder, text)
    lines = str(caught.value).split("\n")
    assert len(lines) == len(caught.value.errors)  # one plain line each
    for line in lines:
        assert "Traceback" not in line and "; expected " in line and line.isprintable() and len(line) < 900
        assert not line.endswith("; expected ") and "jsonschema" not in line
    return caught.value.errors


def fault(folder, old, new, text=GOOD):
    """The single fault after one change: its line, what was found and what is expected."""
    assert old in text
    (error,) = faults(folder, text.replace(old, new, 1))
    return error


def test_a_good_file_gets_every_default(campaign):
    got = load(campaign, GOOD)
    assert got["notes"] == {"timezone": "Europe/Zurich", "shift": "00:00:00"}
    assert got["carrying"] == {
        "sensor_height": 1.5,
        "reach": 1.2,
        "carrier_height": 1.8,
        "carrier_width": 0.5,
        "walking_speed": 0.8,
    }
    assert {
        "certificate": "latest",
        "ground_heat": "class_fraction",
        "green_cover": "priestley_taylor",
    }.items() <= got["methods"].items()
    assert (
        got["sets"]["heron"]["raw"] == ["logger/heron_1.csv"]
        and got["sets"]["heron"]["layout_name"] == "comma-clock"
    )
    assert got["sets"]["heron"]["layout"]["channels"]["sw_in"]["unit"] == "mV" and isinstance(
        got["seed"], int
    )
    assert got["notes_file"] == "notes.csv" and got["weather_file"] == "" and "short_grass" in got["surfaces"]


def test_the_demo_is_sound():
    assert settings.load(PROJECT / "demo_inputs", CONFIG)["seed"] == 20250820


def test_the_seed_follows_the_title(campaign):
    seeds = {load(campaign, GOOD.replace("Spring", word))["seed"] for word in ("Spring", "Autumn", "Spring")}
    assert len(seeds) == 2 and load(campaign, GOOD + "seed: 7\n")["seed"] == 7


# (what is changed, into what, line, words of what was found, words of what is expected)
FAULTS = {
    "misspelt key": ("carrying:", "carying:", 15, "unknown key carying", 'did you mean "carrying"'),
    "misspelt inner key": (
        "walking_speed",
        "walking_sped",
        16,
        "unknown key carrying.walking_sped",
        'did you mean "walking_speed"',
    ),
    "misspelt key of the site": (
        "elevation: 430",
        "elevation: 430\n  altitude: 430",
        7,
        "unknown key site.altitude",
        "one of name, latitude",
    ),
    "missing title": ("title: Spring practical\n", "", None, "title is missing", "what the report is called"),
    "missing key of the site": (
        "  elevation: 430\n",
        "",
        2,
        "site.elevation is missing",
        "m above sea level",
    ),
    "missing key of a set": (
        "    longwave: net\n",
        "",
        9,
        "sets.heron.longwave is missing",
        '"net" or "corrected"',
    ),
    "wrong choice": (
        "longwave: net",
        "longwave: nett",
        14,
        'sets.heron.longwave is "nett"',
        'did you mean "net"',
    ),
    "text for a number": (
        "latitude: 46.9",
        "latitude: north",
        4,
        'site.latitude is "north"',
        "a number (degrees, north positive)",
    ),
    "decimal comma": ("latitude: 46.9", "latitude: 46,9", 4, 'site.latitude is "46,9"', "a number"),
    "number for a text": ("title: Spring practical", "title: 2026", 1, "title is 2026", "text"),
    "too far north": ("latitude: 46.9", "latitude: 91", 4, "site.latitude is 91", "at most 90"),
    "negative speed": (
        "walking_speed: 0.8",
        "walking_speed: -0.8",
        16,
        "carrying.walking_speed is -0.8",
        "at least 0",
    ),
    "no height": ("walking_speed: 0.8", "sensor_height: 0", 16, "carrying.sensor_height is 0", "more than 0"),
    "no time zone": (
        "Europe/Zurich",
        "Europe/Zürich",
        7,
        'site.timezone is "Europe/Zürich"',
        'did you mean "Europe/Zurich"',
    ),
    "no layout of that name": (
        "comma-clock",
        "comma-clok",
        13,
        'sets.heron.layout is "comma-clok"',
        'did you mean "comma-clock"',
    ),
    "a bad set name": ("  heron:", "  2nd set:", 9, '"2nd set"', "beginning with a letter"),
    "an offset without sign": (
        '"+01:00"',
        '"01:00"',
        11,
        'sets.heron.utc_offset is "01:00"',
        'such as "+01:00"',
    ),
    "an offset in hours": ('"+01:00"', "1", 11, "sets.heron.utc_offset is 1", "text"),
    "an offset too large": ('"+01:00"', '"+15:00"', 11, 'utc_offset is "+15:00"', "fixed offset"),
    "an empty title": ("title: Spring practical", 'title: ""', 1, 'title is ""', "what the report is called"),
    "site as a list": (
        "walking_speed: 0.8",
        "walking_speed: [0.8]",
        16,
        "carrying.walking_speed is [0.8]",
        "a number",
    ),
    "a true for a number": (
        "walking_speed: 0.8",
        "walking_speed: true",
        16,
        "carrying.walking_speed is true",
        "a number",
    ),
    "yes is text": (
        "walking_speed: 0.8",
        "walking_speed: yes",
        16,
        'carrying.walking_speed is "yes"',
        "a number",
    ),
    "infinity is text": (
        "walking_speed: 0.8",
        "walking_speed: .inf",
        16,
        'carrying.walking_speed is ".inf"',
        "a number",
    ),
    "key given twice": (
        "  walking_speed: 0.8",
        "  walking_speed: 0.8\n  walking_speed: 0.9",
        17,
        "carrying.walking_speed is given twice",
        "each key once",
    ),
    "an anchor": ("title: Spring practical", "title: &a Spring", 1, "an anchor or alias", "written out"),
    "an alias": ("title: Spring practical", "title: *a", 1, "an anchor or alias", "written out"),
    "a tab": ("  latitude", "\tlatitude", 4, "not readable as YAML", "indented with spaces"),
    "not YAML": ("title: Spring practical", "title: [Spring", 2, "not readable as YAML", "lines such as"),
    "two texts": (
        "title: Spring practical",
        "title: Spring: practical",
        1,
        "not readable as YAML",
        "lines such as",
    ),
    "a tag": (
        "title: Spring practical",
        "title: !!python/object/apply:os.system [ls]",
        1,
        "a tag (!)",
        "plain text or a number",
    ),
    "a key that is a list": (
        "title: Spring practical",
        "title: x\n? [a, b]\n: c",
        2,
        "a key that is not plain text",
        "a name",
    ),
    "out through dots": (
        "logger/heron_*.csv",
        "../other/*.csv",
        12,
        "sets.heron.files",
        "inside the campaign folder",
    ),
    "out through dots within": (
        "logger/heron_*.csv",
        "logger/../../*.csv",
        12,
        "sets.heron.files",
        "inside the campaign folder",
    ),
    "an absolute path": (
        "logger/heron_*.csv",
        "/etc/pass*",
        12,
        "sets.heron.files",
        "inside the campaign folder",
    ),
    "a drive": ("logger/heron_*.csv", "C:/data/*.csv", 12, "sets.heron.files", "inside the campaign folder"),
    "a drive with backslashes": (
        "logger/heron_*.csv",
        "'\\\\server\\x\\*.csv'",
        12,
        "sets.heron.files",
        "inside the campaign folder",
    ),
    "home": ("logger/heron_*.csv", "~/x.csv", 12, "sets.heron.files", "inside the campaign folder"),
    "a whole tree": (
        "logger/heron_*.csv",
        "'**/*.csv'",
        12,
        "sets.heron.files",
        "inside the campaign folder",
    ),
    "no file matches": (
        "logger/heron_*.csv",
        "logger/curlew_*.csv",
        12,
        "no set has a file",
        "logger/curlew_*.csv",
    ),
    "corrected millivolts": (
        "longwave: net",
        "longwave: corrected",
        14,
        "longwave is corrected, but lw_in is in mV",
        "net: only a flux",
    ),
    "negative seed": ("carrying:\n", "seed: -1\ncarrying:\n", 15, "seed is -1", "at least 0"),
    "half a seed": ("carrying:\n", "seed: 1.5\ncarrying:\n", 15, "seed is 1.5", "a whole number"),
    "no glob": ("logger/heron_*.csv", "''", 12, 'sets.heron.files is ""', "inside the campaign folder"),
    "a name too long for a file": (
        "logger/heron_*.csv",
        "a" * 300,
        12,
        "sets.heron.files is",
        "inside the campaign folder",
    ),
    "overrides in one word": (
        "carrying:\n",
        "overrides: true\ncarrying:\n",
        15,
        "overrides is true",
        "keys of its own",
    ),
    "a range without a value": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: {low: 0.2}}}}\ncarrying:\n",
        15,
        "overrides.surfaces.stubble.albedo",
        "value",
    ),
    "a list for a number": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: [0.2]}}}\ncarrying:\n",
        15,
        "albedo",
        "",
    ),
    "a list within a range": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: {value: 0.2, low: [1]}}}}\ncarrying:\n",
        15,
        "albedo",
        "",
    ),
    "a word as an end": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: {value: 0.2, low: x}}}}\ncarrying:\n",
        15,
        "albedo",
        "",
    ),
    "an unknown method": (
        "carrying:\n",
        "methods: {ground_heat: hysterisis}\ncarrying:\n",
        15,
        'methods.ground_heat is "hysterisis"',
        'did you mean "hysteresis"',
    ),
    "a shift in words": (
        "carrying:\n",
        "notes: {shift: an hour}\ncarrying:\n",
        15,
        'notes.shift is "an hour"',
        'such as "-01:00:00"',
    ),
    "a surface's unknown property": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albdo: 0.2}}}\ncarrying:\n",
        15,
        "unknown key overrides.surfaces.stubble.albdo",
        'did you mean "albedo"',
    ),
    "text for a surface's number": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: high}}}\ncarrying:\n",
        15,
        'overrides.surfaces.stubble.albedo is "high"',
        "a number",
    ),
    "a number for a surface's text": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {latent_method: 1}}}\ncarrying:\n",
        15,
        "latent_method is 1",
        "text",
    ),
    "a value outside its range": (
        "carrying:\n",
        "overrides: {surfaces: {stubble: {albedo: {value: 0.2, low: 0.3, high: 0.4}}}}\ncarrying:\n",
        15,
        "value outside low and high",
        "low <= value <= high",
    ),
}


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_has_its_line_and_a_way_out(campaign, name):
    old, new, line, found, expected = FAULTS[name]
    errors = faults(campaign, GOOD.replace(old, new, 1))
    hits = [error for error in errors if found in error.found and expected in error.expected]
    assert hits, [str(error) for error in errors]
    assert hits[0].file == "campaign.yaml" and hits[0].line == line, str(hits[0])
    assert len([error for error in errors if "corrected" not in error.found]) <= 1, [
        str(error) for error in errors
    ]


def test_all_faults_at_once(campaign):
    (campaign / "notes.csv").unlink()
    text = (
        GOOD.replace("latitude: 46.9", "latitude: 99")
        .replace("longwave: net", "longwave: raw")
        .replace("comma-clock", "nothing")
        .replace("carrying:", "carying:")
        .replace("logger/heron", "../heron")
        + "overrides: {surfaces: {stubble: {albdo: 1}}}\n"
    )
    found = "\n".join(error.found for error in faults(campaign, text))
    for part in (
        "site.latitude is 99",
        'longwave is "raw"',
        'layout is "nothing"',
        "unknown key carying",
        "sets.heron.files",
        "no such file",
        "albdo",
    ):
        assert part in found


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


# YAML
# ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "content, words",
    [
        (GOOD.encode("utf-16"), "UTF-16"),
        (GOOD.replace("Mill", "Mühle").encode("latin-1"), "Latin-1"),
        (b"", "no keys"),
        (b"# only a remark\n", "no keys"),
        (b"- a\n- b\n", "no keys"),
        (b"just text", "no keys"),
        (b"\x00\x01\x02", "YAML"),
        (b"a: " + b"[" * 1000, ""),
        (b"a:\n" + b"".join(b" " * k + b"a:\n" for k in range(1, 600)), ""),
    ],
)
def test_files_that_are_no_settings(campaign, content, words):
    assert words in faults(campaign, content)[0].found


def test_a_byte_order_mark_and_windows_line_ends_are_fine(campaign):
    assert (
        load(campaign, b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())["title"] == "Spring practical"
    )


def test_a_huge_file_is_not_parsed(campaign):
    assert "larger than 1 MB" in faults(campaign, GOOD + "#" * 1_000_001)[0].found


def test_huge_numbers_do_no_harm(campaign):
    for number in ("9" * 5000, "1e999", "1" + "0" * 400):
        assert faults(campaign, GOOD.replace("430", number))


@pytest.mark.parametrize(
    "old, new, where, value",
    [
        ('"+01:00"', "+01:00", ("sets", "heron", "utc_offset"), "+01:00"),
        ('"+01:00"', "-03:30", ("sets", "heron", "utc_offset"), "-03:30"),
        ("carrying:\n", "notes: {shift: 01:30}\ncarrying:\n", ("notes", "shift"), "01:30"),
        ("carrying:\n", "notes: {shift: -1:00:00}\ncarrying:\n", ("notes", "shift"), "-1:00:00"),
        ("title: Spring practical", "title: no", ("title",), "no"),
        ("title: Spring practical", "title: 2026-05-21", ("title",), "2026-05-21"),
        ("title: Spring practical", "title: 1_000", ("title",), "1_000"),
        ("logger_id: H-1", "logger_id: 0x1F", ("sets", "heron", "logger_id"), "0x1F"),
        ("logger_id: H-1", "logger_id: 0017", ("sets", "heron", "logger_id"), "0017"),
        ("logger_id: H-1", "logger_id: on", ("sets", "heron", "logger_id"), "on"),
        ("walking_speed: 0.8", "walking_speed:", ("carrying", "walking_speed"), 0.8),
        ("walking_speed: 0.8", "walking_speed: 8e-1", ("carrying", "walking_speed"), 0.8),
    ],
)
def test_yaml_means_what_people_read(campaign, old, new, where, value):
    got = load(campaign, GOOD.replace(old, new, 1))
    for key in where:
        got = got[key]
    assert got == value


# Files
# ------------------------------------------------------------------------------------------------------------


def test_a_link_that_leaves_the_folder_is_refused(campaign, tmp_path):
    (tmp_path / "heron_9.csv").write_text("secret")
    os.symlink(tmp_path / "heron_9.csv", campaign / "logger/heron_9.csv")
    (error,) = faults(campaign, GOOD)
    assert (error.file, error.found) == ("logger/heron_9.csv", "a link that leads out of the campaign folder")
    os.symlink(tmp_path, campaign / "elsewhere")
    (error,) = faults(campaign, GOOD.replace("logger/heron_*", "elsewhere/heron_*"))
    assert error.file == "elsewhere/heron_9.csv"


def test_a_link_within_the_folder_is_followed(campaign):
    os.symlink("heron_1.csv", campaign / "logger/heron_2.csv")
    assert load(campaign, GOOD)["sets"]["heron"]["raw"] == ["logger/heron_1.csv", "logger/heron_2.csv"]


@pytest.mark.parametrize(
    "name", ["notes.csv", "instruments.csv", "weather.csv", "station.csv", "fields.geojson", "track.gpx"]
)
def test_no_file_of_the_campaign_may_be_a_link_out_of_it(campaign, tmp_path, name):
    (tmp_path / "secret").write_text("secret")
    (campaign / name).unlink(missing_ok=True)
    os.symlink(tmp_path / "secret", campaign / name)
    (error,) = faults(campaign, GOOD)
    assert error.file == name and "a link" in error.found


@pytest.mark.parametrize(
    "name, words",
    [
        ("heron_{a}.csv", "'{'"),
        ("heron_<b>.csv", "'<'"),
        ("heron_\x1b[2J.csv", "U+001B"),
        ("heron_\n.csv", "'\\n'"),
        ("heron_\u202e.csv", "U+202E"),
        (os.fsdecode(b"heron_\xff.csv"), "not UTF-8"),
        ("heron_" + "a" * 200 + ".csv", "at most"),
    ],
)
def test_a_name_that_no_run_can_work_with_is_refused(campaign, name, words):
    (campaign / "logger" / name).write_text("x")
    (error,) = faults(campaign, GOOD)
    assert words in str(error) and str(error).isprintable()


@pytest.mark.parametrize("part", ["a{b}", "a<b>", "a\tb", os.fsdecode(b"a\xffb")])
def test_a_folder_that_no_run_can_work_with_is_refused(campaign, part):
    other = campaign.parent / part / "spring"
    other.parent.mkdir()
    campaign.rename(other)
    (error,) = faults(other, GOOD)
    assert "the path of the campaign folder" in error.found and str(error).isprintable()


@pytest.mark.parametrize("name", ["all", "noted_intervals", "heron_findings", "heron_untold", "Heron_Places"])
def test_a_set_named_like_our_files_is_refused(campaign, name):
    errors = faults(campaign, GOOD.replace("  heron:\n", f"  {name}:\n"))
    assert any("has a name of our own files" in error.found for error in errors)


def test_two_sets_that_differ_in_capitals_are_refused(campaign):
    second = GOOD[GOOD.index("  heron:") : GOOD.index("carrying:")].replace("heron:", "Heron:", 1)
    errors = faults(campaign, GOOD.replace("carrying:", second + "carrying:", 1))
    assert any("named like the set heron" in error.found for error in errors)


@pytest.mark.parametrize("number", ["!!float .nan", "!!float .inf", "!!int 1", ".nan", ".inf", "1e999"])
def test_numbers_are_finite(campaign, number):
    assert faults(campaign, GOOD.replace("latitude: 46.9", f"latitude: {number}"))


def test_folders_are_no_files_and_names_are_sorted(campaign):
    (campaign / "logger/heron_0.csv").mkdir()
    (campaign / "logger/heron_10.csv").write_text("")
    assert load(campaign, GOOD)["sets"]["heron"]["raw"] == ["logger/heron_1.csv", "logger/heron_10.csv"]


@pytest.mark.parametrize(
    "missing, name", [("notes.csv", "notes.csv"), ("instruments.csv", "instruments.csv")]
)
def test_files_that_each_campaign_needs(campaign, missing, name):
    (campaign / missing).unlink()
    assert faults(campaign, GOOD)[0].file == name


def test_two_files_of_notes_are_one_too_many(campaign):
    (campaign / "notes.xlsx").write_text("")
    assert "both are there" in faults(campaign, GOOD)[0].found


def test_no_folder_no_campaign_file(tmp_path, campaign):
    for folder, words in ((tmp_path / "none", "no such folder"), (campaign, "no such file")):
        with pytest.raises(UserErrors) as caught:
            settings.load(folder, CONFIG)
        assert words in str(caught.value)
    (campaign / "campaign.yml").write_text(GOOD)
    with pytest.raises(UserErrors, match="there is campaign.yml"):
        settings.load(campaign, CONFIG)


# Surface classes
# --------------------------------------------------------------------------------------------------


def classes(overrides):
    return surface_classes(CONFIG / "surfaces.csv", overrides)


def test_an_override_keeps_the_range_or_widens_it():
    entry = classes({"stubble": {"albedo": 0.20}})["stubble"]["albedo"]
    assert (entry["value"], entry["low"], entry["high"], entry["how"], entry["source"]) == (
        0.20,
        0.15,
        0.35,
        "override",
        "campaign.yaml",
    )
    entry = classes({"stubble": {"albedo": 0.40}})["stubble"]["albedo"]
    assert (entry["value"], entry["low"], entry["high"]) == (0.40, 0.15, 0.40)
    entry = classes({"stubble": {"albedo": {"value": 0.3, "low": 0.29, "high": 0.31, "source": "own"}}})[
        "stubble"
    ]["albedo"]
    assert (entry["low"], entry["high"], entry["source"]) == (0.29, 0.31, "own")
    assert classes({})["stubble"]["albedo"]["value"] == 0.24


GRAVEL = {
    "albedo": 0.2,
    "emissivity": 0.95,
    "latent_method": "none",
    "sky_response": 0.15,
    "surface_minus_air": 10,
}


def test_a_class_of_one_s_own():
    entry = classes(
        {"clay_court": {**GRAVEL, "ground_heat_fraction_day": 0.3, "ground_heat_fraction_night": 0.6}}
    )["clay_court"]
    assert (
        entry["label"]["value"] == "clay court" and entry["albedo"]["low"] == entry["albedo"]["high"] == 0.2
    )


def test_a_class_of_one_s_own_without_all_its_values(campaign):
    error = fault(campaign, "carrying:\n", "overrides:\n  surfaces:\n    stubbel: {albedo: 0.2}\ncarrying:\n")
    assert error.line == 17 and "emissivity" in error.found and 'did you mean "stubble"' in error.expected


def test_a_class_whose_split_needs_a_coefficient_must_bring_it():
    """Without it the balance and the report would have nothing to take."""
    with pytest.raises(UserErrors, match="evaporative_fraction"):
        classes(
            {
                "clay_court": {
                    **GRAVEL,
                    "latent_method": "evaporative_fraction",
                    "ground_heat_fraction_day": 0.3,
                    "ground_heat_fraction_night": 0.6,
                }
            }
        )


@pytest.mark.parametrize(
    "override",
    [
        {"latent_method": "magic"},
        {"emissivity": 1.2},
        {"emissivity": 0.0},
        {"emissivity": -0.5},
        {"albedo": 3.0},
    ],
)
def test_a_value_that_means_nothing_is_refused(override):
    with pytest.raises(UserErrors):
        classes({"stubble": override})


def test_a_class_brings_both_ground_heat_fractions_or_none():
    with pytest.raises(UserErrors, match="ground_heat_fraction_night"):
        classes({"snow": {"ground_heat_fraction_day": 0.1}})


def test_what_was_changed_from_the_defaults_is_listed():
    loaded = settings.load(PROJECT / "demo_inputs", PROJECT / "config") | {
        "overrides": {"surfaces": {"stubble": {"albedo": 0.3}}}
    }
    assert settings.changed(loaded) == [
        ["carrying.carrier_height", "1.75", "1.8"],
        ["carrying.carrier_width", "0.45", "0.5"],
        ["carrying.walking_speed", "0.85", "0.8"],
        ["overrides.surfaces.stubble.albedo", "0.3", "config/surfaces.csv"],
    ]
