"""Input that nobody meant well: limits, nesting, control and direction marks, markup, patterns.

Seeds of what broke under `study.fuzz` are kept here.
"""

import datetime
import io
import random
import zipfile

import openpyxl
import pytest
import yaml

from hang import ends
from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.base.words import LONGEST_LINE, harmful, plain
from headland.files import campaign_files, logger_files, settings, tables, user_rows, user_tables, yaml_files
from headland.report import page
from study import fuzz, fuzz_guard, fuzz_inputs, fuzz_readers, mutate, mutate_packed, mutate_text

HEAD = "date,set,start,end,field,surface,remark\n"
ROW = "2025-08-20,curlew,12:31:00,12:32:52,{field},short_grass,{remark}\n"
TEXTS = (
    "<script>alert(1)</script>",
    "a & b \\input{x} $\\frac{1}{0$ {0} {{7*7}}",
    "=1+1",
    "@SUM(A1)",
    "\x1b[2Jgone",
    "\u202egpj.exe",
    "\x9b31m",
    "x" * 10_000,
)


def read(tmp_path, text, kind="notes", name="notes.csv"):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return user_tables.read_user_table(path, kind)


def codes(found):
    return [finding.code for finding in found]


def sentences(found):
    return [findings.describe(finding, "segment", fuzz_guard.SENTENCES) for finding in found]


# Limits
# ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text, wanted",
    [
        (
            HEAD + ROW.format(field="a", remark="") * (user_rows.MOST_BY_HAND + 1),
            f"more than {user_rows.MOST_BY_HAND} rows",
        ),
        (HEAD + "," * 300 + "x\n", f"more than {user_rows.MOST_COLUMNS} columns"),
        (
            HEAD + ROW.format(field="a" * (user_rows.LONGEST_CELL + 1), remark=""),
            f"more than {user_rows.LONGEST_CELL} characters in a cell",
        ),
    ],
    ids=["rows", "columns", "a cell"],
)
def test_a_table_beyond_the_limits_is_refused_with_its_line(tmp_path, text, wanted):
    table, found = read(tmp_path, text)
    assert (
        not len(table)
        and codes(found) == ["table-unreadable"]
        and found[0].line
        and wanted in sentences(found)[0]["what"]
    )


@pytest.mark.parametrize("line", ["\n", "\r", " ,\n", '"\n"'])
@pytest.mark.parametrize("kind", ["notes", "ground"])
def test_lines_without_end_are_refused_before_they_are_read(tmp_path, kind, line):
    """Blank lines are no rows: no limit of rows ended them, and 50 MB of them took 14 s."""
    head = HEAD if kind == "notes" else "time_utc,field\n"
    with ends():
        frame, found = read(tmp_path, head + line * (40_000_000 // len(line)), kind, f"{kind}.csv")
    most = user_rows.LINES_A_ROW * user_rows.MOST_ROWS.get(kind, user_rows.MOST_BY_HAND)
    assert len(frame) == 0 and f"more than {most} lines" in str(found[0].facts)


def test_a_few_blank_lines_are_no_fault(tmp_path):
    frame, _ = read(tmp_path, HEAD + ("\n" * 8 + ROW.format(field="a", remark="")) * 100)
    assert len(frame) == 100


def test_a_long_row_of_digits_does_not_hold_up(tmp_path):
    with ends():
        table, _ = read(
            tmp_path, HEAD.replace("remark", "length") + ROW.format(field="a", remark="1" * 19_999 + "x") * 50
        )
    assert len(table) in (0, 50)


def campaign_of(folder):
    case = fuzz_inputs.folders()[0]
    return fuzz_readers.laid_out(folder, case)


def test_a_logger_file_beyond_the_limit_is_named(tmp_path, monkeypatch):
    monkeypatch.setattr(campaign_files, "LARGEST_LOGGER_FILE", 100)
    with pytest.raises(UserErrors, match="logger/curlew_01.csv: the file has .* bytes; expected at most 100"):
        settings.load(campaign_of(tmp_path / "x"), fuzz_guard.ROOT / "config")


def test_too_many_files_of_a_set_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(campaign_files, "MOST_FILES", 0)
    with pytest.raises(UserErrors, match="line .*: sets.curlew.files matches 1 files; expected at most 0"):
        settings.load(campaign_of(tmp_path / "x"), fuzz_guard.ROOT / "config")


def sheet(tmp_path, xml):
    """A workbook whose first sheet has the given rows of XML."""
    book, stream = openpyxl.Workbook(), io.BytesIO()
    book.save(stream)
    files = mutate_packed.unzipped(stream.getvalue())
    files["xl/worksheets/sheet1.xml"] = (
        b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        + xml
        + b"</sheetData></worksheet>"
    )
    return read(tmp_path, mutate_text.zipped(files), name="notes.xlsx")


@pytest.mark.parametrize(
    "xml",
    [
        b'<row r="1"><c r="A1" t="str"><v>set</v></c></row>'
        b'<row r="900000000"><c r="A900000000" t="str"><v>x</v></c></row>',
        b'<row r="1"><c r="A1" t="str"><v>set</v></c><c r="XFD1" t="str"><v>x</v></c></row>',
        b'<row r="1"><c r="A1" t="str"><v>' + b"a" * 30_000 + b"</v></c></row>",
    ],
    ids=["a row far down", "a column far out", "a cell"],
)
def test_a_sheet_beyond_the_limits_is_refused(tmp_path, xml):
    with ends():
        table, found = sheet(tmp_path, xml)
    assert codes(found) == ["table-unreadable"] and "more than" in sentences(found)[0]["what"]


def test_a_workbook_that_unpacks_without_end_is_refused(tmp_path):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"\0" * (user_rows.LARGEST_USER_TABLE + 1))
    _, found = read(tmp_path, stream.getvalue(), name="notes.xlsx")
    assert "larger than 50 MB" in sentences(found)[0]["what"]


def test_entities_of_a_workbook_do_not_multiply(tmp_path):
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    files = mutate_packed.unzipped(stream.getvalue()) | {"xl/worksheets/sheet1.xml": mutate_packed.BOMB}
    with ends():
        _, found = read(tmp_path, mutate_text.zipped(files), name="notes.xlsx")
    assert codes(found) == ["table-unreadable"]


@pytest.mark.parametrize(
    "text",
    [
        "a: " + "[" * 60 + "]" * 60,
        "a: &x [1]\nb: [*x, *x]",
        "a: !!python/object/apply:os.system [x]",
        "a: " + "x" * 1_000_001,
        'a: "\\u202e"',
        'a: "\\x1b[2J"',
        'a: "\\ud800"',
        '"\\x9b": 1',
    ],
    ids=[
        "nesting",
        "aliases",
        "a tag",
        "size",
        "direction",
        "a terminal's command",
        "half a character",
        "a key",
    ],
)
def test_yaml_beyond_plain_text_is_refused(tmp_path, text):
    (tmp_path / "campaign.yaml").write_text(text, encoding="utf-8")
    with pytest.raises(UserErrors) as problem:
        yaml_files.read_yaml(tmp_path / "campaign.yaml", "campaign.yaml")
    assert all(
        str(error).startswith("campaign.yaml") and str(error).isprintable() for error in problem.value.errors
    )


@pytest.mark.parametrize("levels, read", [(50, True), (51, False)])
def test_settings_may_be_nested_fifty_deep(tmp_path, levels, read):
    """The file itself is the first level."""
    text = "a: " + "[" * (levels - 1) + "]" * (levels - 1)
    (tmp_path / "campaign.yaml").write_text(text, encoding="utf-8")
    if read:
        assert list(yaml_files.read_yaml(tmp_path / "campaign.yaml", "campaign.yaml").values) == ["a"]
        return
    with pytest.raises(UserErrors, match="nested"):
        yaml_files.read_yaml(tmp_path / "campaign.yaml", "campaign.yaml")


@pytest.mark.parametrize("pattern", ["(a+)+b", "(a|a)*c", "((a*)*)*b", "(.*)(.*)(.*)(.*)(.*)x"])
def test_no_pattern_of_a_layout_holds_up(pattern):
    layout = fuzz_inputs.loggers()[0][0]
    layout = {
        "encoding": "utf-8",
        "missing": [""],
        "decimal": ".",
        **layout,
        "identity": {"logger_id": {"line": 1, "pattern": pattern}},
    }
    with ends():
        _, found = logger_files.read_logger_file(
            io.BytesIO(b"a" * 400 + b"!\n" + fuzz_inputs.loggers()[0][1]),
            "l.csv",
            "curlew",
            layout,
            utc_offset=datetime.timedelta(0),
            logger_id="C-11",
        )
    assert found


def test_no_missing_marker_of_a_layout_holds_up(tmp_path):
    case = fuzz_readers.READERS["layout"].seeds()[0]
    case["config/layouts/mine.yaml"] = yaml.safe_dump(
        fuzz_inputs.loggers()[0][0] | {"missing": ["1" * 100_000 + "x"]}
    ).encode()
    with pytest.raises(UserErrors, match="layouts/mine.yaml, line .*: missing.0 is"):
        settings.load(fuzz_readers.laid_out(tmp_path / "x", case), tmp_path / "x" / "config", needs=())


# Names and remarks
# ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_a_text_of_any_kind_stays_a_text(tmp_path, text):
    table, found = read(tmp_path, HEAD + ROW.format(field=text.replace(",", ""), remark="r"))
    kept = table["field"][0]
    assert len(kept) <= user_tables.LONGEST_TEXT and not harmful(kept)
    assert codes(found) == ([] if kept == text else ["text-changed"])
    template = page.environment().from_string("<td>{{ field }}</td>")
    assert "<script" not in page.filled(template, {"field": kept})
    tables.write_table(tmp_path / "out.csv", table, "notes")
    cell = (tmp_path / "out.csv").read_text(encoding="utf-8").splitlines()[1].split(",")[4].strip('"')
    assert (
        cell[:1] not in "=+-@"
        and tables.read_table(tmp_path / "out.csv", "notes")["field"][0].lstrip("'") == kept
    )


def test_what_joins_letters_stays(tmp_path):
    table, found = read(tmp_path, HEAD + ROW.format(field="می\u200cخواهم", remark="שדה\u200f"))
    assert table["field"][0] == "می\u200cخواهم" and not found


@pytest.mark.parametrize("text", TEXTS, ids=range(len(TEXTS)))
def test_a_line_for_people_is_one_printable_line(text):
    line = str(UserError("notes.csv", 3, text + "\nsecond", "a name"))
    assert line.isprintable() and len(line) <= LONGEST_LINE and line.startswith("notes.csv, line 3: ")
    assert plain("plain, with words") == "plain, with words"


# What broke
# ----------------------------------------------------------------------------------------------------


BROKE = {
    "notes without a row": ("to-intervals", {"notes.csv": HEAD.encode()}),
    "a layout that is a list": ("layout", {"config/layouts/mine.yaml": b"- a\n- b\n"}),
    "a layout that is empty": ("layout", {"config/layouts/mine.yaml": b"\n"}),
    "a unit that turns the direction": (
        "layout",
        {"config/layouts/mine.yaml": "interval: 1\nstamp: '\u202e'\n".encode()},
    ),
    "error terms that are no text": ("terms", {"uncertainty.csv": b"\xcaterm,label\n"}),
    "error terms with a row too long": ("terms", {"uncertainty.csv": b"term,label\na,b\nc,d,e,f\n"}),
    "no error terms": ("terms", {"uncertainty.csv": b""}),
    "a column with a terminal's command": ("register", {"instruments.csv": b"set,\x1b[2J,factor\n"}),
    "a mark of byte order in a cell": (
        "weather",
        {"weather.csv": "time_utc,air_temperature\n\ufeff2025-08-20T10:00:00Z,3\ufeff\n".encode()},
    ),
    "a column's name of 10 000 letters": (
        "notes",
        {"notes.csv": b"set," + b"a" * 10_000 + b",start,end,field,surface\n"},
    ),
    "a key that is a number of 5000 digits": (
        "settings",
        {"campaign.yaml": b"title: x\n" + b"1" * 5000 + b": 2\n"},
    ),
}


@pytest.mark.parametrize("name", BROKE)
def test_what_broke_once_ends_plainly(tmp_path, name):
    reader, files = BROKE[name]
    sound = fuzz_readers.READERS[reader].seeds()[0] if reader in ("layout", "to-intervals") else {}
    assert fuzz.ended(fuzz_readers.READERS[reader], fuzz_readers.laid_out(tmp_path / "x", sound | files)) in (
        "findings",
        "refused",
    )


def test_the_fuzzing_sees_a_break_and_keeps_its_seed(tmp_path, monkeypatch):
    """The negative test: a reader that fails, one that leaves its folder, one that never ends."""

    def bad(folder):
        raise KeyError("x")

    monkeypatch.setitem(
        fuzz.READERS,
        "bad",
        fuzz_readers.Reader(
            lambda: [{"a.csv": b"a,b\n1,2\n"}],
            lambda folder: 0 if (folder / "a.csv").read_bytes() == b"a,b\n1,2\n" else bad(folder),
        ),
    )
    tally = fuzz.study("bad", 5, tmp_path)
    assert tally.broken and list((tmp_path / "bad" / "broken").glob("KeyError*"))
    for read_ in (
        lambda folder: (folder.parent / "evil").write_text("x"),
        lambda folder: [i for i in iter(int, 1)],
    ):
        with pytest.raises(fuzz_guard.Broken):
            fuzz.ended(fuzz_readers.Reader(list, read_, times=0.1), fuzz_readers.laid_out(tmp_path / "y", {}))


@pytest.mark.parametrize("reader", [name for name in fuzz.READERS if not name.startswith("to-")])
def test_a_few_changed_inputs_of_each_reader_end_plainly(tmp_path, reader):
    chosen, draw = fuzz.READERS[reader], random.Random(7)
    for case in chosen.seeds()[:4]:
        fuzz.ended(
            chosen,
            fuzz_readers.laid_out(tmp_path / "x", mutate.mutated(case, draw, chosen.kinds, chosen.fixed)),
        )


def test_what_the_workbook_library_warns_of_is_not_shown(tmp_path, recwarn):
    """A workbook without its stylesheet, and one with a date beyond all dates: read, and what can't be used
    shows in the cell.
    """
    stream = io.BytesIO()
    book = openpyxl.Workbook()
    book.active.append(["date", "set", "start", "end", "field", "surface"])
    book.active.append([datetime.date(2025, 8, 20), "curlew", "12:31:00", "12:32:52", "a", "short_grass"])
    book.save(stream)
    files = mutate_packed.unzipped(stream.getvalue())
    files["xl/worksheets/sheet1.xml"] = files["xl/worksheets/sheet1.xml"].replace(
        b"<v>45889</v>", b"<v>99999999</v>"
    )
    for name, changed in (
        ("date.xlsx", files),
        ("style.xlsx", {name: content for name, content in files.items() if name != "xl/styles.xml"}),
    ):
        (tmp_path / name).write_bytes(mutate_text.zipped(changed))
        table, _ = user_tables.read_user_table(tmp_path / name, "notes")
        assert len(table) == 1 and str(table["date"].iloc[0]) != "2025-08-20"
    assert not [warning.message for warning in recwarn]
