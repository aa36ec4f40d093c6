"""Attacks on `verify` that broke it once: each by a process of its own with bounded memory and time."""

import json
import random
import struct

import pytest

from study import archive_writer, archives, archives_made, archives_more


def ended(tmp_path, make, pair=False):
    """How a check of one archive ended: what broke a rule. make: its bytes, or what writes it to a path."""
    one = archives.Ended()
    write = make if callable(make) else lambda path: path.write_bytes(make)
    archives.check(tmp_path, write, one, pair)
    assert one.runs == 1 and one.megabytes < 400 and one.seconds < 40
    return one.broken


def test_a_sound_archive_is_called_intact_by_this_check(tmp_path):
    """The rules of the study can fail: they forbid what is said of a sound archive."""
    assert ended(tmp_path, archive_writer.packed()) == ["exit 0", "it is called intact"]


def test_a_file_of_terabytes_is_not_read(tmp_path):
    assert ended(tmp_path, lambda path: archives.sparse(path, random.Random(1))) == []


@pytest.mark.parametrize(
    "name", ["manifest-sha256.txt", "tagmanifest-sha256.txt", "bag-info.txt", "bagit.txt"]
)
@pytest.mark.parametrize("line", [b"\n", b"a\n"])
def test_a_bag_s_own_file_of_lines_without_end_takes_no_memory(tmp_path, name, line):
    text = line * (45_000_000 // len(line))
    hostile = archive_writer.written(archive_writer.entries_of(archive_writer.packed(), {f"x/{name}": text}))
    assert ended(tmp_path, hostile) == []


@pytest.mark.parametrize("what", ["offset", "packed", "size"])
@pytest.mark.parametrize("far", [2**64 - 1, 2**63, 2**40])
def test_a_place_beyond_all_numbers_is_refused(tmp_path, what, far):
    lie = archive_writer.with_lie(
        random.Random(1),
        central={what: 0xFFFFFFFF},
        extra_central=archive_writer.extra(1, struct.pack("<Q", far)),
    )
    assert ended(tmp_path, lie) == []


@pytest.mark.parametrize("where", ["extra_local", "extra_central"])
def test_a_second_name_beside_an_entry_is_found_where_another_program_packed_the_zip(tmp_path, where):
    entries = archive_writer.entries_of(archive_writer.packed())
    setattr(entries[3], where, archive_writer.extra(0x7075, b"\1" + bytes(4) + b"../evil"))
    assert ended(tmp_path, archive_writer.by_another_program(entries)) == []


@pytest.mark.parametrize("lie", [{"method": 0}, {"size": 1}, {"packed": 1}, {"crc": 7}, {"flags": 1}])
def test_a_header_that_disagrees_with_the_directory_is_found(tmp_path, lie):
    entries = archive_writer.entries_of(archive_writer.packed())
    entries[3].local = lie
    assert ended(tmp_path, archive_writer.by_another_program(entries)) == []


def test_a_file_without_a_name_is_refused(tmp_path):
    """The library looks at a name's last character."""
    assert ended(tmp_path, archive_writer.with_one(name=b"")) == []


def test_campaigns_of_a_season_may_not_unpack_to_more_than_the_season_s_size_allows(tmp_path):
    inner = archive_writer.packed({"results/zeros.csv": bytes(60_000_000)})
    assert ended(tmp_path, archive_writer.season({f"{number}.zip": inner for number in range(60)})) == []


def test_thousands_of_false_campaigns_of_a_season_are_folded(tmp_path):
    assert ended(tmp_path, archive_writer.season({f"{n}.zip": b"no zip" for n in range(2000)})) == []


@pytest.mark.parametrize("depth", [200, 330, 900])
def test_deep_settings_are_not_compared(tmp_path, depth):
    deep = b'{"inputs": [], "campaign": ' + b'{"a":' * depth + b"1" + b"}" * depth + b"}"
    assert ended(tmp_path, archive_writer.packed({"settings.json": deep}), pair=True) == []


def test_long_keys_above_many_settings_take_no_memory(tmp_path):
    assert ended(tmp_path, archives_made.long_keys(random.Random(1)), pair=True) == []


@pytest.mark.parametrize("value", [5, None, [1], True])
def test_versions_that_are_no_texts_are_compared_as_texts(tmp_path, value):
    versions = json.dumps({"libraries": {"a": value}}).encode()
    assert ended(tmp_path, archive_writer.packed({"versions.json": versions}), pair=True) == []


def test_a_description_that_gives_a_key_twice_is_not_intact(tmp_path):
    """One program would read the first value, and another the last."""
    text = b'{"campaign": {"title": "a"}, "campaign": {"title": "b"}, "inputs": []}'
    assert ended(tmp_path, archive_writer.packed({"settings.json": text})) == []


@pytest.mark.parametrize("number", range(8))
def test_a_description_that_is_no_strict_json_is_not_intact(tmp_path, number):
    """NaN, or UTF-16: other readers refuse what was called intact."""
    assert ended(tmp_path, archives_more.loose(random.Random(number))) == []


def test_a_season_in_a_season_is_not_called_intact(tmp_path):
    """The archives in it would not be looked at."""
    inner = archive_writer.season({"b.zip": b"no zip"})
    assert ended(tmp_path, archive_writer.season({"a.zip": inner})) == []


@pytest.mark.parametrize("columns, rows", [(249_000, 1), (900, 100)])
def test_tables_of_very_many_cells_are_compared_within_bounds(tmp_path, columns, rows):
    head = b",".join([b"a"] * columns) + b"\n"
    one, other = (head + (b",".join([cell] * columns) + b"\n") * rows for cell in (b"1", b"2"))
    (tmp_path / "here").mkdir()
    for name, text in (("sound.zip", one), ("other.zip", other)):
        made = archive_writer.packed({f"results/{n}.csv": text for n in range(20_000_000 // len(text))})
        (tmp_path / "here" / name).write_bytes(made)
    second = (tmp_path / "here" / "other.zip").read_bytes()
    assert ended(tmp_path, second, pair=True) == []
