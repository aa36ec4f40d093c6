"""Settings: defaults, and one plain line for each fault of campaign.yaml."""

import pytest

from headland.files import settings

from .made_settings import CONFIG, GOOD, PROJECT, faults, load


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
