"""The figures that zoom and read out: what is put into the page, and the small program in a browser without
a screen.
"""

import json
import re
import shutil
import subprocess

import numpy as np
import pandas as pd
import pytest

from headland.report import explore

from . import report_made as test_report

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)


def samples(count: int, gap_at: int = -1) -> pd.DataFrame:
    seconds = np.arange(count) + np.where(np.arange(count) >= gap_at, 600 if gap_at >= 0 else 0, 0)
    times = pd.Timestamp("2026-05-21T10:00:00Z") + pd.to_timedelta(seconds, unit="s")
    return pd.DataFrame(
        {
            "time_utc": times + pd.Timedelta(seconds=6),  # the logger's clock is ahead
            "middle_utc": times,
            **{name: np.arange(count, dtype=float) for name in ("sw_in", "sw_out", "lw_in", "lw_out")},
        }
    )


def test_a_short_record_is_kept_whole():
    got = explore.of_set(samples(10), 1.0)
    assert got["sw_in"] == list(range(10)) and got["block"] == 1.0 and got["run"] == [0] * 10


def test_a_long_record_is_thinned_to_means_that_cross_no_pause():
    got = explore.of_set(samples(4501, gap_at=2000), 1.0)
    assert got["block"] == 4.0 and len(got["seconds"]) == 500 + 626
    assert got["sw_in"][0] == 1.5 and got["run"][499:501] == [0, 1] and got["sw_in"][500] == 2001.5


def test_missing_values_are_null():
    frame = samples(3)
    frame.loc[1, "sw_out"] = np.nan
    assert explore.of_set(frame, 1.0)["sw_out"] == [0.0, None, 2.0]


def test_no_text_ends_the_element_that_holds_it():
    nasty = "</script><script>alert(1)</script><!-- & "
    text = explore.data(
        {"heron": samples(5)},
        {"heron": 1.0},
        test_report.segments(field=nasty),
        test_report.given().surfaces,
    )
    assert "<" not in text and "&" not in text and json.loads(text)["bands"][0]["label"] == nasty


# the script that plays a reader: keys, then two fingers, none of which is real
HARNESS = """<script>
  var canvas = document.querySelector(".explore .canvas"), said = [];
  var reading = document.querySelector(".explore .reading");
  function say() { said.push(reading.textContent + " @" + canvas.querySelectorAll("text").length); }
  function key(name) {
    canvas.dispatchEvent(new KeyboardEvent("keydown", {key: name, bubbles: true, cancelable: true}));
    say();
  }
  ["0", "ArrowRight", "+", "+", "+", "ArrowLeft", "0"].forEach(key);
  canvas.setPointerCapture = function () {};
  var box = canvas.getBoundingClientRect();
  function finger(kind, id, share) {
    var place = {pointerId: id, clientX: box.left + share * box.width, bubbles: true};
    canvas.dispatchEvent(new PointerEvent(kind, place));
    say();
  }
  finger("pointerdown", 5, 0.4); finger("pointerdown", 6, 0.5); finger("pointermove", 6, 0.95);
  finger("pointerup", 6, 0.95); finger("pointerup", 5, 0.4);
  document.body.setAttribute("data-said", said.join(" | "));
</script></body>"""


@pytest.mark.skipif(not BROWSER, reason="no browser without a screen here")
def test_it_zooms_and_reads_out_in_a_browser(tmp_path):
    page = test_report.html(
        explored=explore.data(
            {"heron": samples(60)}, {"heron": 1.0}, test_report.segments(), test_report.given().surfaces
        )
    )
    (tmp_path / "page.html").write_text(page.replace("</body>", HARNESS), encoding="utf-8")
    run = subprocess.run(
        [
            BROWSER,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--dump-dom",
            f"file://{tmp_path / 'page.html'}",
        ],
        capture_output=True,
        text=True,
        timeout=120,
    )
    said = re.search(r'data-said="([^"]*)"', run.stdout)[1].split(" | ")
    assert "2026-05-21 10:00:30 UTC, Lower meadow (short grass)" in said[0] and "shortwave in 30.0" in said[0]
    assert "10:00:31 UTC" in said[1] and "longwave out 31.0" in said[1] and "10:00:30 UTC" in said[5]
    assert (
        said[4].split("@")[1] != said[0].split("@")[1] == said[6].split("@")[1]
    )  # other labels of the axis when zoomed, and back

    def second(text: str) -> int:
        return int(re.search(r"10:00:(\d\d) UTC", text)[1])

    assert (
        second(said[7]) < second(said[8]) and said[8].split("@")[1] != said[9].split("@")[1]
    )  # a finger reads, two of them zoom
    assert (
        not re.search(r'class="explore"[^>]* hidden', run.stdout)
        and run.stdout.count("stroke-dasharray") >= 8
    )
