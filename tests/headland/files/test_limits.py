"""Small files that would need much memory or time: each is refused or read within bounds.

Each is read in its own process.
"""

import io
import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import openpyxl
import pytest

from study import mutate_packed

ROOT = Path(__file__).parents[3]
MEMORY, SECONDS = 500_000_000, 40
"""Bytes of addresses beside those of the libraries, and seconds of processor time, that a reading may take.
"""
SHEET = b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
STYLES = b'<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
TEXTS = b'<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
SHARED = (
    b'<Override PartName="/xl/sharedStrings.xml" ContentType='
    b'"application/vnd.openxmlformats-officedocument.spreadsheetml.sharedStrings+xml"/>'
)
CODE = {
    "table": "from headland.files.user_tables import read_user_table as read; "
    "_, found = read(path, 'notes'); print(*[f.facts.get('found', f.code) for f in found][:3])",
    "track": "from headland.files.gpx import read_track as read; "
    "_, found = read(path.open('rb'), 't'); print(*[f.facts.get('found', f.code) for f in found][:3])",
    "outlines": "from headland.files.geojson import read_outlines as read; "
    "_, found = read(path.open('rb'), 't', 'field'); print(*[f.facts.get('found') for f in found][:3])",
    "settings": "from headland.files.yaml_files import read_yaml as read\n"
    "try: read(path, 'c')\nexcept Exception as problem: print(type(problem).__name__, str(problem)[:300])",
}


READINGS = """
import json, os, resource, sys, traceback
from pathlib import Path
import openpyxl
from headland.files import geojson, gpx, user_tables, yaml_files
memory, seconds = map(int, sys.argv[1:])
memory += int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
for line in sys.stdin:
    code, path, said, wrong = json.loads(line)
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        for stream, file in ((1, said), (2, wrong)):
            os.dup2(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), stream)
        status = 1
        try:
            exec(code, {"path": Path(path)})
            sys.stdout.flush()
            status = 0
        except BaseException:
            traceback.print_exc()
            sys.stderr.flush()
        os._exit(status)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""
"""Reads each file in a fork of a process that has the readers loaded: loading them takes longer than most
files."""


@pytest.fixture(scope="module")
def readings():
    """The process that forks."""
    environment = os.environ | {"PYTHONPATH": str(ROOT / "workflow"), "OPENBLAS_NUM_THREADS": "1"}
    words = [sys.executable, "-c", READINGS, str(MEMORY), str(SECONDS)]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE}
    with subprocess.Popen(words, text=True, env=environment, **pipes) as process:
        yield process
        process.stdin.close()


@pytest.fixture
def said_of(readings, tmp_path):
    """What a reader says of a file, within the bounds."""

    def read(kind, path):
        files = [str(path), str(tmp_path / "said"), str(tmp_path / "wrong")]
        print(json.dumps([CODE[kind], *files]), file=readings.stdin, flush=True)
        status = int(readings.stdout.readline())
        assert status == 0, (status, (tmp_path / "wrong").read_text()[-500:])
        return (tmp_path / "said").read_text()

    return read


def book(**parts):
    """A workbook whose parts are replaced."""
    stream = io.BytesIO()
    openpyxl.Workbook().save(stream)
    names = {"sheet": "xl/worksheets/sheet1.xml", "styles": "xl/styles.xml", "texts": "xl/sharedStrings.xml"}
    parts.setdefault("texts", TEXTS + b"</sst>")
    files = mutate_packed.unzipped(stream.getvalue()) | {names.get(k, k): v for k, v in parts.items()}
    types = "[Content_Types].xml"
    files[types] = files[types].replace(b"</Types>", SHARED + b"</Types>")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def wide_rows():
    row = b"".join(b'<c r="%s1"><v>1</v></c>' % letters for letters in (b"A", b"GR", b"GS", b"XFD"))
    return SHEET + b"<row>" + row + b"</row></sheetData></worksheet>"


BOOKS = {
    "a million styles": lambda: book(
        styles=STYLES + b"<cellXfs>" + b"<xf/>" * 1_000_000 + b"</cellXfs></styleSheet>"
    ),
    "a million fonts": lambda: book(
        styles=STYLES + b"<fonts>" + b"<font><b/></font>" * 500_000 + b"</fonts></styleSheet>"
    ),
    "a million shared texts": lambda: book(texts=TEXTS + b"<si><t>a</t></si>" * 1_000_000 + b"</sst>"),
    "a million relations": lambda: book(
        **{
            "xl/_rels/workbook.xml.rels": b"<Relationships>"
            + b"<Relationship/>" * 1_000_000
            + b"</Relationships>"
        }
    ),
    "a million attributes": lambda: book(
        sheet=b"<worksheet " + b" ".join(b'a%d=""' % n for n in range(1_000_000)) + b"/>"
    ),
    "cells in millions": lambda: book(
        sheet=SHEET + (b"<row>" + b"<c><v>1</v></c>" * 200 + b"</row>") * 9_000 + b"</sheetData></worksheet>"
    ),
    "a cell beyond the last column": lambda: book(sheet=wide_rows()),
    "one long text in every cell": lambda: book(
        texts=TEXTS + b"<si><t> " + b"a" * 19_000 + b" </t></si></sst>",
        sheet=SHEET
        + (b"<row>" + b'<c t="s"><v>0</v></c>' * 100 + b"</row>") * 2_000
        + b"</sheetData></worksheet>",
    ),
    "nested without end": lambda: book(sheet=SHEET + b"<row>" * 100_000),
    "entities": lambda: book(sheet=mutate_packed.BOMB),
    "a thousand parts": lambda: book(**{f"xl/worksheets/more{n}.xml": b"<a/>" for n in range(1_000)}),
    "a part without end": lambda: book(styles=b"\0" * 60_000_000),
}


@pytest.mark.parametrize("name", BOOKS)
def test_a_workbook_is_refused_before_it_takes_memory_or_time(tmp_path, said_of, name):
    content = BOOKS[name]()
    (tmp_path / "notes.xlsx").write_bytes(content)
    said = said_of("table", tmp_path / "notes.xlsx")
    words = ("more than", "larger than", "longer than", "nested", "entity", "no XML")
    assert any(word in said for word in words), said


def test_a_large_but_honest_workbook_is_read(tmp_path, said_of):
    columns = b"".join(
        b'<c t="inlineStr"><is><t>%s</t></is></c>' % name
        for name in (b"date", b"set", b"start", b"end", b"field", b"surface", b"activity")
    )
    row = b"<row>" + b'<c t="inlineStr"><is><t>x</t></is></c>' * 7 + b"</row>"
    content = book(sheet=SHEET + b"<row>" + columns + b"</row>" + row * 9_000 + b"</sheetData></worksheet>")
    (tmp_path / "notes.xlsx").write_bytes(content)
    said = said_of("table", tmp_path / "notes.xlsx")
    assert "more than" not in said and "value-invalid" in said


GPX = b'<gpx xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
TRACKS = {
    "attributes": GPX + b"<trkpt " + b" ".join(b'a%d=""' % n for n in range(1_000_000)) + b"/>",
    "elements": GPX + b"<a/>" * 2_100_000,
    "a long text": GPX + b'<trkpt lat="1" lon="1"><time>' + b"2" * 15_000_000,
    "depth": GPX + b"<a>" * 1_000_000,
    "a document type": b'<!DOCTYPE gpx [<!ENTITY a "b">]>' + GPX,
}


@pytest.mark.parametrize("name", TRACKS)
def test_a_track_is_refused_before_it_takes_memory_or_time(tmp_path, said_of, name):
    (tmp_path / "track.gpx").write_bytes(TRACKS[name])
    said = said_of("track", tmp_path / "track.gpx")
    assert any(word in said for word in ("more than", "longer than", "nested", "document type")), said


@pytest.mark.parametrize(
    "text", [b"[" + b"[]," * 6_000_000 + b"[]]", b'{"features": [' + b"{}," * 1_500_000 + b"{}]}"]
)
def test_outlines_are_refused_before_they_take_memory_or_time(tmp_path, said_of, text):
    (tmp_path / "fields.geojson").write_bytes(text)
    assert said_of("outlines", tmp_path / "fields.geojson").strip() not in ("", "None")


@pytest.mark.parametrize(
    "text",
    [
        "a: [" + "b, " * 300_000 + "b]",
        "a:\n" + "- b\n" * 200_000,
        "\n".join(f"k{n}: 1" for n in range(90_000)),
    ],
    ids=["a list in one line", "a list", "keys"],
)
def test_settings_of_many_parts_are_refused_before_they_are_built(tmp_path, said_of, text):
    (tmp_path / "campaign.yaml").write_text(text)
    assert "more than 50000 keys and values" in said_of("settings", tmp_path / "campaign.yaml")
