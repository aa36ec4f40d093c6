"""What is read again of a finished run."""

from pathlib import Path

import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.course import finished


@pytest.mark.parametrize(
    "moments, seconds",
    [
        (["2026-03-28T10:00Z", "2026-03-29T10:00Z"], 3600.0),
        (["2026-03-29T10:00Z", "2026-03-28T10:00Z"], 3600.0),
        (["2026-05-21T10:00Z"], 7200.0),
        ([], 0.0),
    ],
)
def test_the_notes_zone_is_that_of_the_first_segment(moments, seconds):
    """Clocks of Zurich go forward in the night to 2026-03-29."""
    segments = pd.DataFrame({"start_utc": pd.to_datetime(moments, utc=True)})
    assert finished._notes_offset(segments, {"notes": {"timezone": "Europe/Zurich"}}) == seconds


def test_an_entry_has_its_offset_in_seconds():
    layout = {"channels": {"sw_in": {}}, "interval": 2.0, "stamp": "start", "delimiter": ","}
    entry = {"layout": layout, "longwave": "corrected", "utc_offset": "-01:30", "logger_id": "L"}
    assert finished._entry(entry) == {
        "channels": {"sw_in": {}},
        "interval": 2.0,
        "stamp": "start",
        "longwave": "corrected",
        "utc_offset": -5400.0,
    }


def test_findings_are_those_of_the_sets_and_of_the_notes(monkeypatch):
    read = []
    monkeypatch.setattr(
        finished.tables, "read_findings", lambda path: read.append(path) or [Finding("dome-wet")]
    )
    assert len(finished._found(Path("steps"), ["heron", "curlew"])) == 7
    assert [path.as_posix() for path in read] == [
        *(
            f"steps/{step}/{name}_findings.csv"
            for step in finished.STEPS_OF_SETS
            for name in ("heron", "curlew")
        ),
        "steps/5_segment/all_findings.csv",
    ]


@pytest.mark.parametrize("stamp, wanted", [("end", 15.0), ("start", 16.0)])
def test_the_air_is_that_at_the_middle_of_each_sample(tmp_path, stamp, wanted):
    """From 10 to 20 degC in 60 min, samples of 6 min that are stamped at 10:33."""
    (tmp_path / "weather.csv").write_text(
        "time_utc,air_temperature\n2026-05-21T10:00:00Z,10\n2026-05-21T11:00:00Z,20\n"
    )
    raw = {"heron": pd.DataFrame({"time_utc": pd.to_datetime(["2026-05-21T10:33:00Z"])})}
    layout = {"stamp": stamp, "interval": 360.0}
    S = {"weather_file": "weather.csv", "weather": {}, "sets": {"heron": {"layout": layout}}}
    assert finished._air(tmp_path, S, raw)["heron"].tolist() == pytest.approx([wanted])
