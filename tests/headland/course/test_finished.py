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


CONFIG = Path(__file__).parents[3] / "config"


@pytest.mark.parametrize("method, speed", [("own", 0.8), ("station", 0.0)])
def test_a_survey_is_read_from_the_folders_of_its_steps(monkeypatch, method, speed):
    """Each reader says what it was asked for."""
    layout = {"channels": {}, "interval": 1.0, "stamp": "end"}
    S = {
        "sets": {"heron": {"layout": layout, "longwave": "net", "utc_offset": "+02:00"}},
        "methods": {"incoming_terms": method, "set_scale": "mean"},
        "notes_file": "notes.csv",
        "station_file": "station.csv",
        "station": {"stamp": "start"},
        "carrying": {"walking_speed": speed},
        "notes": {"timezone": "Europe/Zurich"},
    }
    segments = pd.DataFrame({"start_utc": pd.to_datetime(["2026-05-21T10:00Z"])})
    monkeypatch.setattr(finished.tables, "read_table", lambda path, kind: (path.as_posix(), kind))
    monkeypatch.setattr(
        finished.user_tables, "read_user_table", lambda path, kind: ((path.as_posix(), kind), [])
    )
    monkeypatch.setattr(finished.user_tables, "read_station", lambda paths: (paths[0].as_posix(), []))
    monkeypatch.setattr(finished.calibrate, "register_factors", lambda register: ("factors of", register))
    monkeypatch.setattr(
        finished, "noted_in", lambda path, S, raw: ((path.as_posix(), raw), segments, ["odd"])
    )
    monkeypatch.setattr(finished, "_air", lambda campaign, S, raw: (campaign.as_posix(), raw))
    monkeypatch.setattr(finished, "_found", lambda steps, sets: (steps.as_posix(), sets))
    made = finished.survey_of(Path("day"), Path("out"), S, {"paving": {}}, CONFIG)
    raw = {"heron": ("out/steps/1_ingest/heron.csv", "samples_raw")}
    assert made.raw == raw and made.surfaces == {"paving": {}}
    assert made.segmented == {"heron": ("out/steps/5_segment/heron.csv", "samples_segmented")}
    assert made.certificates == {"heron": ("out/steps/2_calibrate/heron_certificates.csv", "certificates")}
    assert made.balances == ("out/steps/7_balance/surfaces.csv", "group_balance")
    assert made.visits == ("out/steps/7_balance/visits.csv", "visit_balance")
    assert made.register == ("factors of", ("day/instruments.csv", "instruments"))
    assert made.noted == ("day/notes.csv", raw) and made.segments is segments
    assert made.air == ("day", raw) and made.found == ("out/steps", ["heron"])
    assert made.sets["heron"]["utc_offset"] == made.notes_offset == 7200.0
    assert (made.set_scale, made.stamp, made.walks) == ("mean", "start", speed > 0)
    assert made.fixed == ("day/station.csv" if method == "station" else None)
    assert {"edge", "missing"} <= made.excluding
