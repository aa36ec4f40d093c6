"""Wrong cells in the project's own tables of config: named with their line before anything starts."""

import csv
import dataclasses

import pytest

from headland.base.classes import COURSE_SIZES, FLAGS
from headland.base.errors import UserErrors
from headland.files.config_tables import config_rows
from headland.files.own_numbers import course_rows, quality_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty.course import CourseSizes, course_sizes

from .made_tables import PROJECT

CONFIG = PROJECT / "config"
READ = {
    "course": course_rows,
    "quality": quality_rows,
    "surfaces": lambda path: surface_classes(path, {}),
    "uncertainty": uncertainty_terms,
}


def changed(tmp_path, table, row, column, cell):
    """A table of config with one cell changed. row: the beginning of its cells. Returns path and line."""
    with (CONFIG / f"{table}.csv").open(encoding="utf-8", newline="") as stream:
        head, *rows = csv.reader(stream)
    number = next(n for n, cells in enumerate(rows) if cells[: len(row)] == list(row))
    rows[number][head.index(column)] = cell
    path = tmp_path / "config" / f"{table}.csv"
    path.parent.mkdir()
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream).writerows([head, *rows])
    return path, number + 2


def refused(table, path):
    with pytest.raises(UserErrors) as problem:
        READ[table](path)
    return str(problem.value)


@pytest.mark.parametrize("table", READ)
def test_the_tables_that_come_with_the_project_are_read(table):
    assert READ[table](CONFIG / f"{table}.csv")


def test_the_columns_are_those_that_the_model_takes():
    assert [field.name for field in dataclasses.fields(CourseSizes)] == list(COURSE_SIZES)
    assert len(course_sizes(course_rows(CONFIG / "course.csv"))) == 3
    for row in config_rows(CONFIG / "quality.csv"):
        filled = tuple(name for name in ("low", "scale", "power", "offset") if row[name])
        assert filled == FLAGS[row["flag"]], row["flag"]


@pytest.mark.parametrize("cell", ["", "much", "0,5", "-1", "nan", "inf", "1e200", "\u202e1"])
def test_a_size_of_the_course_that_is_no_number_is_named(tmp_path, cell):
    """`plan` and step 8 ended in a trace."""
    path, line = changed(tmp_path, "course", ["albedo"], "own_walk", cell)
    told = refused("course", path)
    assert told.startswith(f"config/course.csv, line {line}: own_walk of albedo is") and told.isprintable()
    assert "expected a number from 0 to 1e+06" in told


@pytest.mark.parametrize(
    "row, column, cell, part",
    [
        (["frozen"], "low", "", 'low of frozen is ""; expected a number'),
        (["sw_in-rare"], "power", "1.2x", "power of sw_in-rare"),
        (["lw_in-rare"], "scale", "nan", 'scale of lw_in-rare is "nan"; expected a number, or nothing'),
        (["sun-low"], "excludes", "no", "excludes of sun-low"),
        (["sw_in-rare"], "channel", "sw_inn", "channel of sw_in-rare"),
        (["edge"], "flag", "egde", 'did you mean "edge"'),
        (["edge"], "flag", "overlap", 'flag "overlap"; expected a name of its own'),
        (["edge"], "flag", "", "no row for edge"),
    ],
)
def test_a_row_of_quality_that_no_step_could_use_is_named(tmp_path, row, column, cell, part):
    path, _ = changed(tmp_path, "quality", row, column, cell)
    assert part in refused("quality", path)


@pytest.mark.parametrize(
    "row, column, cell, part",
    [
        (["stubble", "albedo"], "value", "bright", 'albedo of stubble: value, low and high are "bright"'),
        (["stubble", "albedo"], "value", "", "expected numbers from 0 to 1"),
        (["stubble", "emissivity"], "high", "1.5", "expected numbers from 0.5 to 1"),
        (["stubble", "albedo"], "low", "0.3", "low <= value <= high"),
        (["stubble", "latent_method"], "value", "magic", "priestley_taylor or evaporative_fraction"),
        (["stubble", "label"], "value", "", "label of stubble"),
        (["stubble", "emissivity"], "property", "emisivity", "stubble lacks emissivity"),
        (["stubble", "emissivity"], "property", "albedo", "each pair once"),
        (["stubble", "emissivity"], "surface", "", "both names in each row"),
    ],
)
def test_a_class_that_no_step_could_use_is_named(tmp_path, row, column, cell, part):
    path, _ = changed(tmp_path, "surfaces", row, column, cell)
    assert part in refused("surfaces", path)


@pytest.mark.parametrize(
    "content",
    [b"", b"\xff\xfe", b'quantity,"open\n', b"a,b\n1,2,3\n", b"a,a\n1,2\n", b"\0,\n"],
    ids=["empty", "no text", "open quote", "a cell too many", "one name twice", "NUL"],
)
@pytest.mark.parametrize("table", READ)
def test_what_is_no_table_is_told_in_plain_lines(tmp_path, table, content):
    path = tmp_path / "config" / f"{table}.csv"
    path.parent.mkdir()
    path.write_bytes(content)
    told = refused(table, path)
    assert told.startswith(f"config/{table}.csv") and all(line.isprintable() for line in told.splitlines())


@pytest.mark.parametrize("table", READ)
def test_a_table_that_is_not_there_is_named(tmp_path, table):
    path = tmp_path / "config" / f"{table}.csv"
    assert f"config/{table}.csv: the file can't be read as a table (No such file" in refused(table, path)
