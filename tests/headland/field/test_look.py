"""The quick look: each lamp on a sound campaign and on one with the mistake, and the page as it is made of a
folder.
"""

import base64
import dataclasses
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import chain
from headland.base import findings
from headland.field import lamps
from headland.report import figures
from simulate import mistakes_across as across
from simulate import mistakes_instruments as wrong
from simulate import simulate, specs

ROOT = Path(__file__).parents[3]
BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)


@pytest.fixture(scope="module")
def script(as_module):
    return as_module("look")


@pytest.fixture
def run(script):
    def look_once(folder, results):
        return script.look_at(folder, results, 0.0), (results / "look.html").read_text(encoding="utf-8")

    return look_once


@pytest.fixture(scope="module")
def campaign():
    return simulate(
        dataclasses.replace(specs.many_sets(2), sky=dataclasses.replace(specs.many_sets(2).sky, kind="clear"))
    )


def test_a_sound_campaign_is_good_and_asks_for_nothing(run, campaign, tmp_path):
    campaign.write(tmp_path / "day")
    state, page = run(tmp_path / "day", tmp_path / "results")
    assert state == "green"
    assert 'class="lamp red"' not in page and 'class="lamp amber"' not in page
    assert "W m⁻²" in page and "°C" in page and "W m-2" not in page and "degC" not in page
    picture = base64.b64decode(re.search(r"data:image/svg\+xml;base64,([^\"]+)", page).group(1)).decode()
    assert (
        float(re.search(r'<svg[^>]* width="([\d.]+)pt"', picture).group(1))
        == pytest.approx(72 * figures.WIDTH)
        and "noted" in picture
    )  # wider, its letters would shrink on the page


PHONE = """<iframe id="phone" src="look.html" style="width:390px;height:800px;border:0"></iframe><script>
onload = function () {
  var cells = document.getElementById("phone").contentDocument.querySelectorAll("table.lamps td");
  var ends = Array.from(cells).map(function (cell) { return cell.getBoundingClientRect().right; });
  document.body.setAttribute("data-right", Math.max.apply(null, ends));
};</script>"""


@pytest.mark.skipif(not BROWSER, reason="no browser without a screen here")
def test_on_a_phone_what_to_do_is_on_the_screen(run, campaign, tmp_path):
    folder = tmp_path / "day"
    campaign.write(folder)
    (folder / "instruments.csv").unlink()
    assert "Put instruments.csv into the folder" in run(folder, tmp_path)[1]
    (tmp_path / "phone.html").write_text(PHONE, encoding="utf-8")
    seen = subprocess.run(
        [
            BROWSER,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--allow-file-access-from-files",
            "--dump-dom",
            f"file://{tmp_path / 'phone.html'}",
        ],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert 200 < float(re.search(r'data-right="([\d.]+)"', seen.stdout)[1]) <= 390


def test_every_colour_has_its_word():
    assert set(lamps.WORDS) == set(lamps.WORST) and len(set(lamps.WORDS.values())) == len(lamps.WORDS)


def test_without_notes_and_register_it_still_looks(run, campaign, tmp_path):
    folder = tmp_path / "day"
    campaign.write(folder)
    for name in ("notes.csv", "instruments.csv", "weather.csv"):
        (folder / name).unlink()
    state, page = run(folder, tmp_path / "results")
    assert state == "amber" and "No certificate" in page and "No notes in the folder yet" in page


def test_mistakes_are_red_or_amber_and_a_damaged_folder_is_told_without_a_trace(run, campaign, tmp_path):
    folder = tmp_path / "day"
    names = list(campaign.records)
    kept = campaign.records[names[0]]["sw_in"].copy()
    campaign.records[names[0]]["sw_in"] *= -1
    try:
        campaign.write(folder)
    finally:
        campaign.records[names[0]]["sw_in"] = kept
    (folder / "weather.csv").write_bytes(b"\x00\xff\x00")
    (folder / "notes.csv").write_bytes(b"\xff\xfejunk")
    raw = sorted((folder / "logger").iterdir())
    raw[-1].write_bytes(raw[-1].read_bytes()[:-7])  # still being written
    state, page = run(folder, tmp_path / "results")
    assert state == "red" and "sw_in has the wrong sign" in page and "sign-reversed" in page


def test_an_empty_folder_of_loggers_is_red(run, campaign, tmp_path):
    campaign.write(tmp_path / "day")
    for path in (tmp_path / "day" / "logger").iterdir():
        path.unlink()
    state, page = run(tmp_path / "day", tmp_path / "results")
    assert state == "red" and "Nothing was stored" in page


def test_a_campaign_file_that_can_not_be_used_is_status_2(tmp_path):
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "verbs" / "look.py", tmp_path, tmp_path / "results"],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2 and "campaign.yaml" in done.stderr and "Traceback" not in done.stderr


# As the chain says it ---------------------------------------------------------------------------------------


def of_heads(campaign):
    a, b = campaign.records
    return wrong.channel_frozen(
        wrong.cover_left_on(wrong.sign_reversed(campaign, a, "sw_in"), a, visit=1), b, "lw_out"
    )


def of_notes(campaign):
    return across.notes_late(campaign, 3600.0)


def of_a_factor(campaign):
    return across.scaled(campaign, list(campaign.records)[1], "sw_in", 1.4)


@pytest.mark.parametrize(
    "mistakes, wanted",
    [
        (None, set()),
        (of_heads, {"sign-reversed", "cover-left-on", "channel-frozen"}),
        (of_notes, {"notes-shifted"}),
        (of_a_factor, {"sets-disagree"}),
    ],
)
def test_what_is_found_is_what_the_chain_finds_in_its_words(script, campaign, tmp_path, mistakes, wanted):
    folder = (mistakes(campaign) if mistakes else campaign).write(tmp_path / "day")
    found = chain.run(folder, draws=64).found
    rows = [
        findings.describe(f, step, chain.SENTENCES)
        for step, f in findings.folded(
            [
                (s, f)
                for s, f in found
                if s in ("ingest", "calibrate", "screen", "segment") or f.code == "sets-disagree"
            ]
        )
    ]

    def place(row):
        line = f", line {row['line']}" if row["line"] else ""
        return f"{row['file']}{line}: " if row["file"] else ""

    theirs = sorted(
        (row["code"], row["set"], place(row) + row["what"]) for row in rows if row["severity"] != "note"
    )
    lamps = [lamp for lamp in script.seen_in(folder)["urgent"] if lamp.code]
    assert wanted <= {code for code, _, _ in theirs} and (wanted or not theirs)
    assert sorted((lamp.code, lamp.set, lamp.what) for lamp in lamps) == theirs
    assert all(lamp.remedy for lamp in lamps)


def test_sets_are_not_held_against_each_other_by_a_wrong_head(script, campaign, tmp_path):
    lamps = script.seen_in(of_heads(campaign).write(tmp_path / "day"))["together"]
    assert not any(lamp.subject == "clocks" for lamp in lamps) and any(
        lamp.subject == "clocks and incoming terms" and lamp.state == "grey" for lamp in lamps
    )


def test_every_code_with_a_lamp_or_a_remedy_is_one_of_the_chain():
    known = {code for code, _ in chain.SENTENCES}
    assert {code for codes in lamps.SUBJECTS.values() for code in codes} <= known and set(
        lamps.IN_FIELD
    ) <= known


def test_without_notes_a_cover_is_told_of_its_run(script, campaign, tmp_path):
    folder = wrong.cover_left_on(campaign, list(campaign.records)[0]).write(tmp_path / "day")
    (folder / "notes.csv").unlink()
    lamps = [lamp for lamp in script.seen_in(folder)["urgent"] if lamp.code]
    assert lamps and {lamp.code for lamp in lamps} == {"cover-left-on"} and "run " in lamps[0].what


def test_nothing_heavy_is_loaded_that_is_not_used():
    code = (
        "import sys; sys.path[:0] = ['scripts/verbs', 'workflow']; import look; "
        "print([m for m in ('scipy.stats', 'typst', 'openpyxl', 'snakemake') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60)
    assert done.stdout.strip() == "[]", done.stdout + done.stderr


# Watching ---------------------------------------------------------------------------------------------------


class Enough(Exception):
    """Ends the watching, as Ctrl-C does."""


def watched(script, folder, results, *between):
    """The page after each look. Something is done to the folder during each wait; one look a wait at most."""
    pages, left = [], list(between)

    def wait(seconds):
        assert seconds == 3.0
        pages.append((results / "look.html").read_text(encoding="utf-8"))
        if not left:
            raise Enough
        left.pop(0)()

    with pytest.raises(Enough):
        script.follow(folder, results, 3.0, wait)
    return pages


def test_watching_shows_a_new_file_within_one_interval_and_survives_one_that_is_being_written(
    script, campaign, tmp_path
):
    folder, results = campaign.write(tmp_path / "day"), tmp_path / "results"
    raw = sorted((folder / "logger").iterdir())[0]
    content = raw.read_bytes()
    raw.unlink()
    half = content[: content.index(b"\n", len(content) // 2) - 5]  # ends in the middle of a line
    first, partly, whole, same = watched(
        script, folder, results, lambda: raw.write_bytes(half), lambda: raw.write_bytes(content), lambda: None
    )
    assert "Nothing was stored" in first and "Nothing was stored" not in partly
    assert 'class="lamp red"' not in whole and 'class="lamp amber"' not in whole and whole == same
    samples = [int(re.search(r"(\d+) samples of 2 sets", page)[1]) for page in (first, partly, whole)]
    assert samples[0] < samples[1] < samples[2]
    assert 'http-equiv="refresh" content="3"' in whole


def test_watching_outlives_a_folder_that_is_being_worked_on(script, campaign, tmp_path, capsys):
    folder, results = campaign.write(tmp_path / "day"), tmp_path / "results"
    settings, notes, register = (folder / name for name in ("campaign.yaml", "notes.csv", "instruments.csv"))
    kept = settings.read_bytes()
    pages = watched(
        script,
        folder,
        results,
        lambda: settings.write_bytes(kept[:40]),
        lambda: settings.write_bytes(kept),
        lambda: notes.write_bytes(notes.read_bytes()[:100]),
        lambda: register.write_bytes(b""),
    )
    said = capsys.readouterr().out
    assert pages[0] == pages[1] == pages[2] and pages[3] != pages[2] and len(pages) == 5
    assert "campaign.yaml" in said and "Traceback" not in said


# What is said on the terminal -------------------------------------------------------------------------------


def test_what_asks_for_something_is_said_with_the_walk_to_do_again(script, campaign, tmp_path, capsys):
    folder = of_heads(campaign).write(tmp_path / "day")
    script.look_at(folder, tmp_path / "results", 0.0)
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("ACT: ")
    covered = next(place for place, line in enumerate(lines) if "curlew, covers" in line)
    noted = next(
        line for line in (folder / "notes.csv").read_text("utf-8").splitlines() if "11:04:32" in line
    )
    assert "Ridge pasture" in noted and "curlew" in noted
    assert lines[covered + 1].startswith("  do: Take the covers off")
    assert lines[covered + 2] == "  walk again: Ridge pasture, transect 1, pass 2, 11:04:32 to 11:06:24."
    reversed_ = next(place for place, line in enumerate(lines) if "signs and places" in line)
    assert "walk again:" not in lines[reversed_ + 2]  # the chain can't, but a person can correct that later
    page = (tmp_path / "results" / "look.html").read_text("utf-8")
    assert "<b>Walk again:</b> Ridge pasture, transect 1, pass 2, 11:04:32 to 11:06:24." in page


def test_without_notes_the_run_to_do_again_is_that_of_the_set_alone(script, campaign, tmp_path, capsys):
    folder = wrong.cover_left_on(campaign, list(campaign.records)[0], visit=1).write(tmp_path / "day")
    (folder / "notes.csv").unlink()
    script.look_at(folder, tmp_path / "results", 0.0)
    (line,) = [line for line in capsys.readouterr().out.splitlines() if "walk again" in line]
    assert re.fullmatch(r"  walk again: run 2, from 11:04:\d\d to 11:06:\d\d\.", line)


def test_following_says_what_is_new_and_what_is_solved_and_beeps_only_for_new(
    script, campaign, tmp_path, capsys
):
    sound = campaign.write(tmp_path / "day")
    files = {path.name: path.read_bytes() for path in (sound / "logger").iterdir()}
    of_heads(campaign).write(sound)
    said, left = [], [lambda: (sound / "more.txt").write_text("x")]

    def wait(seconds):
        said.append(capsys.readouterr().out.splitlines())
        if left:
            left.pop()()
        elif files:
            for name in list(files):
                (sound / "logger" / name).write_bytes(files.pop(name))
        else:
            raise Enough

    with pytest.raises(Enough):
        script.follow(sound, tmp_path / "results", 3.0, wait, beep=True)
    first, same, solved = said[:3]
    assert script.BELL in first and script.BELL not in same and script.BELL not in solved
    assert "0 new, 3 as before, 0 solved" in same[0] and len(same) == 1
    assert "0 new, 0 as before, 3 solved" in solved[0] and "  solved: curlew, covers" in solved
