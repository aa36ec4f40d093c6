"""A new campaign folder: the layout from a sample file, the form for the notes, packs for groups."""

import datetime
import io
import re
import subprocess
import sys
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
import yaml

from headland.base.errors import UserErrors
from headland.course import packs
from headland.field import new, new_folder, notes_workbook, sample
from headland.files import settings, user_tables, yaml_files
from headland.files.schemas import table_schema

ROOT = Path(__file__).parents[3]
DEMO = ROOT / "demo_inputs"


def found(path: Path) -> sample.Found:
    return sample.layout_of(path.read_text(encoding="utf-8")[:200_000], "utf-8")


@pytest.mark.parametrize(
    "file, layout, logger",
    [("curlew_01.csv", "comma-clock", "C-11"), ("lapwing_01.csv", "semicolon-day", "L-24")],
)
def test_the_layouts_of_the_demo_are_worked_out(file, layout, logger):
    """What the layouts in config/layouts say by hand comes out of the files alone; only a pattern may be
    written otherwise.
    """
    result, wanted = (
        found(DEMO / "logger" / file),
        yaml_files.read_yaml(ROOT / "config" / "layouts" / f"{layout}.yaml", layout).values,
    )
    wanted.pop("missing")
    assert result.logger_id == logger and result.longwave == "net"
    assert {key: result.layout[key] for key in wanted if key != "identity"} == {
        key: value for key, value in wanted.items() if key != "identity"
    }
    assert result.layout["identity"]["logger_id"]["line"] == wanted["identity"]["logger_id"]["line"]
    assert "stamp" in result.doubts


def rows(
    start: str, form: str, delimiter: str = ",", decimal: str = ".", *, count: int = 30, step: float = 1.0
) -> str:
    first = datetime.datetime.fromisoformat(start)
    return (
        "\n".join(
            delimiter.join(
                [
                    (first + datetime.timedelta(seconds=step * n)).strftime(form),
                    *(f"{v:.2f}".replace(".", decimal) for v in (11 + n / 50, 2.1, -1.1, 0.2, 21.5)),
                ]
            )
            for n in range(count)
        )
        + "\n"
    )


@pytest.mark.parametrize(
    "form, delimiter, decimal",
    [
        ("%d.%m.%Y %H:%M:%S", ";", ","),
        ("%Y/%m/%d %H:%M:%S", "\t", "."),
        ("%Y-%m-%dT%H:%M:%S", ",", "."),
        ("%m/%d/%Y %H:%M:%S", "|", "."),
        ("%Y-%m-%d %H:%M:%S", "whitespace", "."),
    ],
)
def test_many_ways_of_writing(form, delimiter, decimal):
    mark = " " if delimiter == "whitespace" else delimiter
    names = ["date", "clock"] if mark == " " else ["stamp"]
    text = (
        mark.join([*names, "swin(mV)", "swout(mV)", "lwin(mV)", "lwout(mV)", "body(degC)"])
        .replace("swin", "sw_in")
        .replace("swout", "sw_out")
        .replace("lwin", "lw_in")
        .replace("lwout", "lw_out")
    )
    result = sample.layout_of(text + "\n" + rows("2026-05-21T09:00:00", form, mark, decimal), "utf-8")
    layout = result.layout
    assert (layout["delimiter"], layout["decimal"], layout["interval"], layout["names"]) == (
        delimiter,
        decimal,
        1.0,
        True,
    )
    assert layout["time"]["format"] == form
    assert {name: c["unit"] for name, c in layout["channels"].items()} == {
        **dict.fromkeys(("sw_in", "sw_out", "lw_in", "lw_out"), "mV"),
        "body_temperature": "degC",
    }


def test_days_that_could_be_months_are_doubted():
    text = "stamp,sw_in,sw_out,lw_in,lw_out,body\n" + rows("2026-03-04T09:00:00", "%d/%m/%Y %H:%M:%S")
    assert "%m/%d/%Y" in sample.layout_of(text, "utf-8").doubts["time"]


def test_directions_from_the_numbers_are_doubted():
    text = "stamp,short1,short2,long1,long2,body\n" + rows("2026-03-24T09:00:00", "%Y-%m-%d %H:%M:%S")
    result = sample.layout_of(text, "utf-8")
    assert [result.layout["channels"][c]["column"] for c in ("sw_in", "sw_out", "lw_in", "lw_out")] == [
        "short1",
        "short2",
        "long1",
        "long2",
    ]
    assert {"channels.sw_in", "channels.lw_out"} <= set(result.doubts)


def test_a_thermometer_for_each_head():
    text = "stamp,sw_in,sw_out,lw_in,lw_out,lw_in_case_K,lw_in_dome_K,lw_out_case_K\n" + "".join(
        f"2026-05-21 10:0{n}:00,800,160,-90,10,295,294,295\n" for n in range(9)
    )
    result = sample.layout_of(text, "utf-8")
    assert {c: v["column"] for c, v in result.layout["channels"].items() if c.startswith("body")} == {
        "body_temperature_lw_in": "lw_in_case_K",
        "body_temperature_lw_out": "lw_out_case_K",
    }
    assert (
        result.layout["channels"]["body_temperature_lw_in"]["unit"] == "K"
        and "lw_in_dome_K" in result.doubts["channels.body_temperature_lw_in"]
    )


@pytest.mark.parametrize(
    "text", ["", "\n\n", "a letter, and another\nline of prose\n", "1\n2\n3\n", "\0\0\0", "a,b\n1,2\n"]
)
def test_what_holds_no_table(text):
    assert sample.layout_of(text, "utf-8") is None


def test_an_empty_folder_asks_for_each_thing_once(tmp_path):
    """A first-year student's first run: every fault one plain line, none twice."""
    run = subprocess.run(
        [
            sys.executable,
            ROOT / "scripts" / "verbs" / "new.py",
            "--folder",
            tmp_path / "day",
            "--shown",
            "day",
            "--from-file",
            DEMO / "logger" / "curlew_01.csv",
        ],
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    with pytest.raises(UserErrors) as problem:
        settings.load(tmp_path / "day", ROOT / "config")
    said = [str(error) for error in problem.value.errors]
    assert len(said) == len(set(said)) == 6 and all(
        "is missing; expected" in line and "a value" not in line for line in said
    )
    text = (tmp_path / "day" / "campaign.yaml").read_text(encoding="utf-8")
    for key, value in (
        ("name:            ", "name: Here"),
        ("latitude:        ", "latitude: 46.9"),
        ("longitude:       ", "longitude: 7.1"),
        ("elevation:       ", "elevation: 430"),
        ("timezone:        ", "timezone: Europe/Zurich"),
        ("utc_offset:              ", 'utc_offset: "+01:00"'),
    ):
        text = text.replace(key, value + "  ")
    (tmp_path / "day" / "campaign.yaml").write_text(text, encoding="utf-8")
    loaded = settings.load(tmp_path / "day", ROOT / "config")
    assert (
        loaded["sets"]["curlew"]["raw"] == ["logger/curlew_01.csv"] and loaded["notes_file"] == "notes.xlsx"
    )
    assert (tmp_path / "day" / "plan.csv").read_text("utf-8") == "field,surface,length,headings,outline\n"
    assert "Add a visit" in (tmp_path / "day" / "phone.html").read_text("utf-8")
    again = subprocess.run(
        [
            sys.executable,
            ROOT / "scripts" / "verbs" / "new.py",
            "--folder",
            tmp_path / "day",
            "--shown",
            "day",
        ],
        capture_output=True,
        text=True,
    )
    assert again.returncode == 2 and "not empty" in again.stderr


@pytest.mark.parametrize("name", ["a\nb", "a{b}", "a\x1b[2J"])
def test_a_folder_with_a_name_that_no_run_can_work_with_is_not_made(tmp_path, name):
    with pytest.raises(UserErrors, match="the path of the campaign folder holds"):
        new_folder.refuse_full(tmp_path / name, "x")


def test_the_form_is_read_as_it_is_filled_in(tmp_path):
    fields = table_schema("notes")["fields"]
    book = notes_workbook.notes_workbook(fields, ["curlew"], {"short_grass": "short grass"})
    sheet, names = book.active, [f["name"] for f in fields]
    lists = [check.formula1 for check in sheet.data_validations.dataValidation if check.type == "list"]
    assert (
        len(lists) == 4 and sum(check.type == "time" for check in sheet.data_validations.dataValidation) == 3
    )
    for name, value in (
        ("date", datetime.date(2026, 5, 21)),
        ("set", "curlew"),
        ("start", datetime.time(9, 31)),
        ("end", datetime.time(9, 33, 20)),
        ("surface", "short_grass"),
        ("heading", 90),
    ):
        sheet.cell(2, names.index(name) + 1, value)
    book.save(tmp_path / "notes.xlsx")
    table, findings = user_tables.read_user_table(tmp_path / "notes.xlsx", "notes")
    assert findings == [] and len(table) == 1
    assert table.iloc[0][["date", "set", "start", "end", "surface", "heading"]].tolist() == [
        "2026-05-21",
        "curlew",
        "09:31:00",
        "09:33:20",
        "short_grass",
        90.0,
    ]
    assert openpyxl.load_workbook(tmp_path / "notes.xlsx").active.title == "notes"


def test_surfaces_are_dealt_in_turn_or_as_named():
    frame = pd.DataFrame({"group": ["a", "b"], "surfaces": ["", ""]})
    assert packs.dealt(frame, ["x", "y", "z"]) == {"a": ["x", "z"], "b": ["y"]}
    assert packs.dealt(frame, ["x"]) == {"a": ["x"], "b": ["x"]}
    assert packs.dealt(frame.assign(surfaces=["x; y", "z"]), ["x", "y", "z"]) == {"a": ["x", "y"], "b": ["z"]}


def test_packs_hold_what_a_group_needs_and_no_key(tmp_path):
    (tmp_path / "groups.csv").write_text(
        "group,surfaces\nRed,short_grass paving\n../Blue,stubble\n", encoding="utf-8"
    )
    run = subprocess.run(
        [
            sys.executable,
            ROOT / "scripts" / "verbs" / "new.py",
            "--folder",
            tmp_path / "packs",
            "--shown",
            "packs",
            "--source",
            DEMO,
            "--groups",
            tmp_path / "groups.csv",
        ],
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stderr
    assert sorted(p.name for p in (tmp_path / "packs").iterdir()) == ["01_red", "02_blue"]
    red = tmp_path / "packs" / "01_red"
    assert {p.name for p in red.iterdir()} == {
        "campaign.yaml",
        "instruments.csv",
        "notes.csv",
        "weather.csv",
        "answers.csv",
        "GUIDE.md",
        "logger",
    }
    notes = pd.read_csv(red / "notes.csv")
    assert set(notes.loc[notes["activity"] == "walk", "surface"]) == {"short_grass", "paving"}
    assert settings.load(red, ROOT / "config")["title"].endswith(": Red")
    form = pd.read_csv(red / "answers.csv")
    assert set(form["surface"]) == {"short_grass", "paving"} and form["value"].isna().all()


def test_text_of_any_kind_stays_text_in_the_settings():
    text = 'a "quoted" \\ name: # with marks\t'
    assert yaml.safe_load(io.StringIO(f"title: {new.scalar(text)}"))["title"] == text


def test_commands_are_quoted_where_the_folder_has_a_blank_in_its_name(tmp_path):
    said = new_folder.made(tmp_path / "a new day", [], "days/a new day", {"paving": "paving"})
    told = "\n".join(said) + (tmp_path / "a new day" / "GUIDE.md").read_text(encoding="utf-8")
    for verb, more in (("plan", ""), ("new", " --preview"), ("report", "")):
        assert f"headland.py {verb} 'days/a new day'{more}" in told
    assert not re.findall(r"headland\.py \w+ days/", told)
