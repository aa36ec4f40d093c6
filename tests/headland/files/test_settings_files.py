"""Settings as files: YAML, links, names, and the files that a campaign needs."""

import os
from functools import partial

import pytest

from headland.base.errors import UserErrors
from headland.files import settings

from .made_settings import CONFIG, GOOD, faults, load


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


@pytest.mark.parametrize("kind", ["folder", "pipe", "broken link"])
@pytest.mark.parametrize("name", ["weather.csv", "station.xlsx", "fields.geojson", "track_heron.gpx"])
def test_a_name_that_is_no_plain_file_is_refused_and_not_passed_over(campaign, name, kind):
    path = campaign / name
    {
        "folder": path.mkdir,
        "pipe": partial(os.mkfifo, path),
        "broken link": partial(path.symlink_to, "x"),
    }[kind]()
    (fault,) = faults(campaign, GOOD)
    assert fault.file == name and fault.found.startswith("no plain file")


def test_a_pipe_called_campaign_yaml_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "campaign.yaml")
    with pytest.raises(UserErrors, match="campaign.yaml: no plain file"):
        settings.load(tmp_path, CONFIG)


@pytest.mark.parametrize("name", ["notes.csv", "weather.csv", "logger/heron_1.csv"])
def test_a_file_that_the_user_may_not_read_is_named(campaign, name, monkeypatch):
    """Root may read everything, so the system's answer is given here."""
    (campaign / name).touch()
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, how: path != campaign / name and access(path, how))
    (fault,) = faults(campaign, GOOD)
    assert (fault.file, fault.found) == (name, "you may not read this file")


@pytest.mark.parametrize("name", ["logger", "."])
def test_a_folder_that_the_user_may_not_read_is_named(campaign, name, monkeypatch):
    """A glob passes over it without a word."""
    access = os.access
    monkeypatch.setattr(os, "access", lambda path, how: path != campaign / name and access(path, how))
    (fault,) = faults(campaign, GOOD)
    assert fault.found == "you may not read this folder"
    assert fault.file == ("logger/" if name == "logger" else str(campaign))
