"""The form for a phone in a browser without a screen: buttons give times, and the file is read as notes."""

import base64
import json
import re
import shutil
import subprocess
from pathlib import Path

import pandas as pd
import pytest

from headland.field import phone, timetable
from headland.files import user_tables
from headland.files.schemas import table_schema

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)
in_browser = pytest.mark.skipif(not BROWSER, reason="no browser without a screen here")
START, END = (pd.Timestamp(f"2026-05-21 {hour}:00", tz="UTC") for hour in ("08", "13"))
NASTY = '</script><b>"Meadow", east'
ACT = """<script>
var found = function (query) { return document.querySelector(query); };
var press = function (name) { found('[data-stamp="' + name + '"]').click(); };
var type = function (name, value) {
  var input = found('[data-name="' + name + '"]');
  input.value = value;
  input.dispatchEvent(new Event("change"));
};
var open = function (place) { document.querySelectorAll("summary")[place].click(); };
%s
document.body.setAttribute("data-csv", btoa(unescape(encodeURIComponent(headlandNotes.csv()))));
</script>"""
MEASURE = """<script>onload = function () {
  var inner = document.getElementById("f").contentDocument;
  var boxes = function (query) {
    return Array.from(inner.querySelectorAll(query)).map(function (e) { return e.getBoundingClientRect(); });
  };
  var rights = boxes("button, input, select, summary, p, h1").map(function (box) { return box.right; });
  var heights = boxes("button, summary, select, input").map(function (box) { return box.height; });
  var shown = heights.filter(function (height) { return height > 0; });
  document.body.dataset.right = Math.max.apply(null, rights);
  document.body.dataset.low = Math.min.apply(null, shown);
};</script>"""


@pytest.fixture(scope="module")
def visits():
    rows = [("Ley", "short_grass", 90.0, 65.0), (NASTY, "paving", 80.0, 65.0)]
    fields = pd.DataFrame(rows, columns=["field", "surface", "length", "heading"])
    return timetable.timetable(fields, ["heron", "plover"], timetable.Day(START, END, 0.8, 4.0, False, 1, 7))[
        0
    ]


def made(visits=None) -> str:
    return phone.made("A day", "Europe/Ljubljana", ["heron", "plover"], ["short_grass", "paving"], visits)


def dom(page: str, folder: Path, *more: str) -> str:
    (folder / "phone.html").write_text(page, encoding="utf-8")
    words = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={folder / 'browser'}", *more]
    words += ["--dump-dom", f"file://{folder / 'phone.html'}"]
    return subprocess.run([BROWSER, *words], capture_output=True, text=True, timeout=120).stdout


def notes(page: str, folder: Path, act: str) -> pd.DataFrame:
    """The rows of the file after some actions, as the chain reads them."""
    seen = dom(page.replace("</body>", ACT % act + "</body>"), folder)
    (folder / "notes.csv").write_bytes(base64.b64decode(re.search(r'data-csv="([^"]+)"', seen)[1]))
    read, found = user_tables.read_user_table(folder / "notes.csv", "notes")
    assert not found
    return read


def test_the_page_loads_nothing_and_no_text_ends_its_data(visits):
    page = made(visits)
    assert page.count("</script>") == 2 and not re.search(r"(src|href)=|https?://|fetch\(|XMLHttp", page)


@in_browser
def test_buttons_give_times_and_the_file_is_read_as_notes(visits, tmp_path):
    act = (
        'press("start"); type("logger_shows", "10:00:06");'
        'open(4); press("start"); press("end");'
        'open(4); document.querySelectorAll(".skies button")[1].click();'
    )
    read = notes(made(visits), tmp_path, act)
    assert read["activity"].tolist() == ["clock_check", "walk"] and set(read["set"]) == {"heron"}
    assert read["logger_shows"].tolist() == ["10:00:06", ""] and read["sky"].tolist() == ["", "broken"]
    assert re.fullmatch(r"\d\d:\d\d:\d\d", read["end"][1]) and re.fullmatch(
        r"\d{4}-\d\d-\d\d", read["date"][1]
    )
    now = pd.Timestamp.now("Europe/Ljubljana")
    noted = pd.Timestamp(f"{read['date'][1]} {read['start'][1]}", tz="Europe/Ljubljana")
    assert abs((now - noted).total_seconds()) < 120.0
    assert (read["transect"][1], read["pass"][1], read["heading"][1]) == ("1", "1", 65.0)


@in_browser
def test_without_a_plan_visits_are_added_and_odd_text_comes_through(tmp_path):
    act = (
        'document.getElementById("add").click(); type("surface", "paving");'
        f"type('field', {NASTY!r}); type('remark', 'a \"b\",\\n c'); press('start'); press('end');"
    )
    read = notes(made(), tmp_path, act.replace("</script>", "<\\/script>"))
    assert read["field"].tolist() == [NASTY] and read["surface"].tolist() == ["paving"]
    assert read["remark"].tolist() == ['a "b", c']


@in_browser
def test_another_phones_file_is_taken_over_once(tmp_path):
    columns = ",".join(field["name"] for field in table_schema("notes")["fields"])
    other = f'{columns}\n2026-05-21,plover,10:00,10:02,"a, ""b""",paving,walk{"," * 12}\n'
    taken = f"headlandNotes.take({json.dumps(other)});"
    read = notes(made(), tmp_path, taken + taken)
    assert read["set"].tolist() == ["plover"] and read["field"].tolist() == ['a, "b"']


@in_browser
def test_on_a_phone_nothing_is_beyond_the_edge_and_every_target_is_large(visits, tmp_path):
    (tmp_path / "inner.html").write_text(made(visits), encoding="utf-8")
    outer = f'<iframe id="f" src="inner.html" style="width:390px;height:800px;border:0"></iframe>{MEASURE}'
    seen = dom(f"<body>{outer}</body>", tmp_path, "--allow-file-access-from-files")
    assert 200 < float(re.search(r'data-right="([\d.]+)"', seen)[1]) <= 390
    assert float(re.search(r'data-low="([\d.]+)"', seen)[1]) >= 48
