"""The quick look: each lamp on a sound campaign and on one with the mistake, and the page as it is made of a folder."""

import dataclasses
import importlib.util
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from headland import look
from simulate import simulate, specs

ROOT = Path(__file__).parents[2]
SITE = {"latitude": 45.93, "longitude": 14.87, "elevation": 310.0}


@pytest.fixture(scope="module")
def script():
    """scripts/look.py as a module: in this process, so that libraries are loaded once."""
    sys.path.insert(0, str(ROOT / "scripts"))
    try:
        spec = importlib.util.spec_from_file_location("look_script", ROOT / "scripts" / "look.py")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(ROOT / "scripts"))
    return module


@pytest.fixture
def run(script):
    def look_once(folder, results):
        return script.look_at(folder, results, 0.0), (results / "look.html").read_text(encoding="utf-8")
    return look_once


@pytest.fixture(scope="module")
def campaign():
    return simulate(dataclasses.replace(specs.many_sets(2), sky=dataclasses.replace(specs.many_sets(2).sky, kind="clear")))


def test_a_sound_campaign_is_good_and_asks_for_nothing(run, campaign, tmp_path):
    campaign.write(tmp_path / "day")
    state, page = run(tmp_path / "day", tmp_path / "results")
    assert state == "green"
    assert 'class="lamp red"' not in page and 'class="lamp amber"' not in page


def test_every_colour_has_its_word():
    assert set(look.WORDS) == set(look.WORST) and len(set(look.WORDS.values())) == len(look.WORDS)


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
    raw[-1].write_bytes(raw[-1].read_bytes()[:-7])          # still being written
    state, page = run(folder, tmp_path / "results")
    assert state == "red" and "leads are reversed" in page


def test_an_empty_folder_of_loggers_is_red(run, campaign, tmp_path):
    campaign.write(tmp_path / "day")
    for path in (tmp_path / "day" / "logger").iterdir():
        path.unlink()
    state, page = run(tmp_path / "day", tmp_path / "results")
    assert state == "red" and "Nothing was stored" in page


def test_a_campaign_file_that_can_not_be_used_is_status_2(tmp_path):
    done = subprocess.run([sys.executable, ROOT / "scripts" / "look.py", tmp_path, tmp_path / "results"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 2 and "campaign.yaml" in done.stderr and "Traceback" not in done.stderr


def test_watching_shows_a_new_file_within_an_interval(campaign, tmp_path):
    folder, results = tmp_path / "day", tmp_path / "results"
    campaign.write(folder)
    raw = sorted((folder / "logger").iterdir())[0]
    content = raw.read_bytes()
    raw.unlink()
    watcher = subprocess.Popen([sys.executable, ROOT / "scripts" / "look.py", folder, results, "--follow", "--every", "1"], stdout=subprocess.PIPE, text=True)
    try:
        assert watcher.stdout.readline().startswith("RED")      # one set has nothing yet
        raw.write_bytes(content[: len(content) // 2])           # cut in the middle of a line, as a copy under way is
        assert watcher.stdout.readline().split(":")[0] in ("AMBER", "RED", "GREEN")
        raw.write_bytes(content)
        deadline = time.monotonic() + 20.0
        while (said := watcher.stdout.readline()) and not said.startswith("GREEN") and time.monotonic() < deadline:
            pass
        assert said.startswith("GREEN")
        assert 'http-equiv="refresh"' in (results / "look.html").read_text(encoding="utf-8")
    finally:
        os.kill(watcher.pid, signal.SIGKILL)
        watcher.wait()


# Tests of series -------------------------------------------------------------------------------------------------


def test_the_longest_stretch():
    assert look.longest([0, 1, 1, 0, 1, 1, 1], 2.0) == 6.0
    assert look.longest([], 1.0) == 0.0


def test_a_frozen_channel_is_one_that_stays_while_another_moves():
    moving = np.arange(200.0)
    assert look.is_frozen(np.full(200, 3.0), [moving], 1.0)
    assert not look.is_frozen(np.full(200, 3.0), [np.full(200, 1.0)], 1.0)
    assert not look.is_frozen(moving, [moving], 1.0)
    assert not look.is_frozen(np.full(100, 3.0), [moving[:100]], 1.0)


def test_warming_is_the_slope_an_hour():
    seconds = np.arange(0.0, 1200.0)
    assert look.warming(seconds, 20.0 + seconds * 15.0 / 3600.0) == pytest.approx(15.0, abs=1e-6)
    assert look.warming(seconds[:60], np.full(60, 20.0)) == 0.0


@pytest.mark.parametrize("late", [0.0, 3600.0, -7200.0])
def test_a_shifted_clock_shows_against_a_clear_sky(late):
    from headland import sun

    true = pd.date_range("2026-05-21 06:00", "2026-05-21 10:00", freq="60s", tz="UTC")
    elevation, _ = sun.position(true, SITE["latitude"], SITE["longitude"], SITE["elevation"])
    clear = sun.clear_sky_global(elevation, true, SITE["elevation"])
    seconds = true.as_unit("us").asi8 / 1e6 - late
    shift, then, now = look.shift_to_sun(seconds, 0.97 * clear, SITE)
    assert shift == pytest.approx(late, abs=300.0) and then < 0.01
    if late:
        assert now > 3 * then


def test_clouds_tell_the_lag_of_two_clocks():
    generator = np.random.default_rng(1)
    t = np.arange(3600.0)
    sky = 600.0 + 200.0 * np.interp(t, np.arange(0.0, 3601.0, 60.0), generator.standard_normal(61))
    lag, sure = look.lag_between(pd.Series(sky, t), pd.Series(sky, t + 120.0))
    assert lag == 120.0 and sure > 0.99
    assert np.isnan(look.lag_between(pd.Series(np.full(3600, 600.0), t), pd.Series(np.full(3600, 600.0), t))[0])
