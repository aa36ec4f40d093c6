"""The simulated campaigns are what they claim to be.

The arithmetic below is written out by hand on purpose.
"""

from __future__ import annotations

import csv
import dataclasses
import datetime as dt
import functools
import io
import re
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import openpyxl
import pandas as pd
import pytest
import yaml

from . import specs
from .campaign import simulate
from .demo import FOLDER
from .spec import Errors

READY = (
    "minimal",
    "demo",
    "station",
    "many_sets",
    "southern",
    "polar_day",
    "polar_night",
    "over_midnight",
    "clock_change",
    "fast",
    "two_days",
    "inline_layout",
)


@pytest.fixture(scope="module")
def demo():
    return simulate(specs.demo())


def test_demo_inputs_are_what_the_code_writes(demo):
    """demo_inputs/ byte for byte: made in another process, at another time."""
    for name, content in demo.files().items():
        assert (FOLDER / name).read_bytes() == content, (
            f"{name}: write it anew with `python -m simulate.demo`"
        )
    on_disk = {str(p.relative_to(FOLDER)) for part in ("logger", "truth") for p in (FOLDER / part).iterdir()}
    assert on_disk == {name for name in demo.files() if "/" in name}


def test_sizes(demo):
    sizes = [len(content) for content in demo.files().values()]
    assert sum(sizes) < 2_000_000 and max(sizes) < 1_000_000


def test_demo_is_a_day_as_described(demo):
    walks = demo.notes[demo.notes["activity"] == "walk"]
    assert walks["field"].nunique() >= 6 and walks["surface"].nunique() >= 5
    per_visit = walks.groupby(["set", "field"])
    assert set(per_visit.size()) <= {2, 3}
    assert (per_visit["heading"].nunique() == 2).all()
    assert (demo.notes["activity"] == "side_by_side").sum() == 2
    assert (demo.notes["activity"] == "clock_check").sum() == 4
    starts = pd.to_datetime(demo.notes["date"] + " " + demo.notes["start"])
    assert 2.2 < (starts.max() - starts.min()).total_seconds() / 3600 < 2.8
    assert len(set(demo.notes["date"])) == 1


def test_demo_looks_like_life(demo):
    """High sun on grass, raw longwave under a mostly clear sky, factors of two heads of one make."""
    truth = demo.truth["segments"]
    grass = truth[(truth["surface"] == "short_grass") & (truth["sw_in"] > 800)]
    assert len(grass) and grass["sw_in"].between(800, 950).all() and grass["sw_out"].between(110, 165).all()
    raw = {
        row["channel"]: demo.records["curlew"][row["channel"]] * float(row["factor"])
        for _, row in demo.register[demo.register["set"] == "curlew"].iterrows()
    }
    assert -125 < raw["lw_in"].median() < -75 and -10 < raw["lw_out"][raw["sw_in"] > 800].min() < 25
    assert demo.records["curlew"]["body_temperature"].between(21, 26).all()
    for _, of_set in demo.register[demo.register["certificate_date"] == "2025-03-11"].groupby("set"):
        factor = of_set.set_index("channel")["factor"].astype(float)
        assert 0.005 < abs(np.log(factor["sw_in"] / factor["sw_out"])) < 0.025
    speeds = demo.notes.loc[demo.notes["speed"] != "", "speed"].astype(float)
    assert speeds.between(0.8, 1.0).all()


def test_demo_stops_once_with_the_storage_off(demo):
    gaps = demo.records["curlew"]["stamp"].diff().dt.total_seconds()
    row = demo.notes[demo.notes["remark"].str.contains("storage off")].iloc[0]
    truth = demo.truth["segments"]
    true = truth[(truth["set"] == row["set"]) & (truth["notes_row"] == row.name + 2)].iloc[0]
    noted = (pd.Timestamp(true["end_utc"]) - pd.Timestamp(true["start_utc"])).total_seconds()
    assert 63 <= noted - true["samples"] <= 66 and gaps.between(64, 67).any()


def note_lines(files: dict[str, bytes]) -> list[list[str]]:
    """The rows of the notes as text, from whichever of the two files there is."""
    if "notes.csv" in files:
        return list(csv.reader(io.StringIO(files["notes.csv"].decode())))
    sheet = openpyxl.load_workbook(io.BytesIO(files["notes.xlsx"])).worksheets[0]

    def day(v):
        return v.date() if isinstance(v, dt.datetime) else v

    return [["" if v is None else str(day(v)) for v in row] for row in sheet.iter_rows(values_only=True)]


@functools.cache
def records_by_hand(layout: str, *contents: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Seconds of the logger's clock, and the numbers, of files in one of the two named layouts."""
    seconds, cells = [], []
    for content in contents:
        for text in content.decode().splitlines()[4 if layout == "comma-clock" else 3 :]:
            if layout == "comma-clock":
                stamp, *row = text.split(",")
            else:
                day, time, *row = text.replace(",", ".").split(";")
                stamp = f"{day[6:]}-{day[3:5]}-{day[:2]} {time}"
            seconds.append(dt.datetime.fromisoformat(stamp).replace(tzinfo=dt.UTC).timestamp())
            cells.append([float(cell) for cell in row])
    return np.array(seconds), np.array(cells)


def by_hand(files: dict[str, bytes], line: int) -> dict[str, float]:
    """One segment of a campaign in the two named layouts, from the bytes of its files, without a library for
    radiation.
    """
    settings = yaml.safe_load(files["campaign.yaml"])
    note = list(csv.reader(io.StringIO(files["notes.csv"].decode())))
    note = dict(zip(note[0], note[line - 1], strict=False))
    setting = settings["sets"][note["set"]]
    zone = ZoneInfo(settings["notes"]["timezone"])
    start, end = (
        dt.datetime.fromisoformat(f"{note['date']} {note[k]}").replace(tzinfo=zone) for k in ("start", "end")
    )
    register = [
        r for r in csv.DictReader(io.StringIO(files["instruments.csv"].decode())) if r["set"] == note["set"]
    ]
    factors, programmed, t95 = {}, {}, 0.0
    for r in sorted(register, key=lambda r: r["certificate_date"]):  # the newest one stays
        inverted = r["factor_unit"] == "uV per W m-2"
        factors[r["channel"]] = 1000 / float(r["factor"]) if inverted else float(r["factor"])
        was = float(r["programmed_factor"] or r["factor"])
        programmed[r["channel"]] = 1000 / was if inverted else was
        t95 = max(t95, float(r["response_time_95"]))
    seconds, cells = records_by_hand(
        setting["layout"],
        *(
            content
            for name, content in sorted(files.items())
            if re.fullmatch(setting["files"].replace("*", ".*"), name)
        ),
    )
    middle = seconds - int(setting["utc_offset"][:3]) * 3600 - 0.5
    values = cells[(middle >= start.timestamp()) & (middle < end.timestamp())]
    edge = 0.0
    if note["activity"] == "walk":
        height = settings["carrying"]["sensor_height"] - float(note["canopy_height"] or 0)
        edge = 3 * height / (float(note["length"]) / len(values))  # 3 h / v, a record a second
    recorded = np.arange(len(values)) + 0.5
    values = values[(recorded >= edge + t95) & (len(values) - recorded >= edge)]
    flux = {}
    for i, channel in enumerate(("sw_in", "sw_out", "lw_in", "lw_out")):
        scale = (
            factors[channel] if setting["layout"] == "comma-clock" else factors[channel] / programmed[channel]
        )
        flux[channel] = values[:, i] * scale
        if channel.startswith("lw"):
            flux[channel] = flux[channel] + 5.670374419e-8 * (values[:, 4] + 273.15) ** 4
    emissivity = settings["overrides"]["surfaces"][note["surface"]]["emissivity"]
    out = {channel: v.mean() for channel, v in flux.items()}
    out["albedo"] = flux["sw_out"].sum() / flux["sw_in"].sum()
    emitted = (out["lw_out"] - (1 - emissivity) * out["lw_in"]) / emissivity
    out["surface_temperature"] = (emitted / 5.670374419e-8) ** 0.25 - 273.15
    out["net_radiation"] = out["sw_in"] - out["sw_out"] + out["lw_in"] - out["lw_out"]
    return {**out, "samples_used": len(values)}


@pytest.mark.parametrize("name", ["minimal", "demo"])
def test_nothing_wrong_means_that_raw_signals_invert_to_the_truth(name):
    """Within what the truth's four decimals leave, and seven decimals of a millivolt at 90 W m-2 per mV."""
    campaign = simulate(specs.exact(getattr(specs, name)()))
    files = campaign.files()
    truth = pd.read_csv(io.BytesIO(files["truth/segments.csv"]))
    assert len(truth) >= 2
    for _, row in truth.iterrows():
        found = by_hand(files, row["notes_row"])
        for quantity, value in found.items():
            assert value == pytest.approx(row[quantity], abs=1e-4 if quantity != "albedo" else 2e-6), (
                quantity,
                row["notes_row"],
            )


def test_with_errors_the_same_arithmetic_misses_the_truth_by_as_much_as_instruments_do(demo):
    files = {**demo.files(), "campaign.yaml": simulate(specs.exact(specs.demo())).files()["campaign.yaml"]}
    truth = demo.truth["segments"]
    off = np.array(
        [
            by_hand(files, row["notes_row"])["net_radiation"] - row["net_radiation"]
            for _, row in truth.iterrows()
        ]
    )
    assert 2 < np.sqrt(np.mean(off**2)) < 60


@pytest.mark.parametrize("name", READY)
def test_ready_campaigns(name):
    """Each one is complete: notes that parse, records in every noted interval, truth for each, the same when
    made again.
    """
    spec = getattr(specs, name)()
    campaign = simulate(spec)
    files = campaign.files()
    if name in ("minimal", "fast"):  # the demo's bytes are compared above
        assert files == simulate(getattr(specs, name)()).files()
    noted = "notes.xlsx" if spec.notes_xlsx else "notes.csv"
    assert {
        "campaign.yaml",
        "instruments.csv",
        noted,
        "truth/segments.csv",
        "truth/fields.csv",
        "truth/surfaces.csv",
        "truth/README.md",
    } <= set(files)
    settings = yaml.safe_load(files["campaign.yaml"])
    assert all(isinstance(s["utc_offset"], str) for s in settings["sets"].values())
    lines = note_lines(files)
    zone = ZoneInfo(settings["notes"]["timezone"])
    for _, row in campaign.truth["segments"].iterrows():
        note = dict(zip(lines[0], lines[row["notes_row"] - 1], strict=False))
        assert (note["set"], note["field"], note["surface"]) == (row["set"], row["field"], row["surface"])
        for key in ("start", "end"):
            text = note[key] if "-" in note[key] else f"{note['date']} {note[key]}"
            assert (
                dt.datetime.fromisoformat(text).replace(tzinfo=zone).timestamp()
                == pd.Timestamp(row[f"{key}_utc"]).timestamp()
            )
        assert row["samples_used"] > 0
        assert 40 < row["lw_in"] < 600 and -40 < row["surface_temperature"] < 60
        assert np.isnan(row["albedo"]) == (row["sw_in"] < 50)
    for s in spec.sets:
        assert (campaign.records[s.name]["stamp"].diff().dt.total_seconds().dropna() >= 0).all()


def test_a_layout_of_ones_own_inverts_to_the_truth():
    """uV by the responsivity; the upper body from ohm, the lower in K; every segment comes out."""
    files = simulate(specs.exact(specs.inline_layout())).files()
    layout = yaml.safe_load(files["campaign.yaml"])["sets"]["pipit"]["layout"]
    assert layout["channels"]["body_temperature_lw_in"]["unit"] == "ohm"
    register = csv.DictReader(io.StringIO(files["instruments.csv"].decode()))
    responsivity = {r["channel"]: float(r["factor"]) for r in register}
    table = pd.read_csv(io.BytesIO(files["logger/pipit_01.csv"]), sep="\t", skiprows=1)
    middle = pd.to_datetime(
        table[["year", "month", "day", "hour", "minute", "second"]], utc=True
    ) + pd.Timedelta(seconds=0.5)
    # IEC 60751 above 0 degC is a quadratic in the temperature: R = 100 (1 + a t + b t^2)
    a, b = 3.9083e-3, -5.775e-7
    top = (-a + np.sqrt(a * a - 4 * b * (1 - table["r_top"] / 100))) / (2 * b) + 273.15
    lw_in = table["l_top"] / responsivity["lw_in"] + 5.670374419e-8 * top**4
    lw_out = table["l_base"] / responsivity["lw_out"] + 5.670374419e-8 * table["t_base"] ** 4
    net = table["s_top"] / responsivity["sw_in"] - table["s_base"] / responsivity["sw_out"] + lw_in - lw_out
    truth = pd.read_csv(io.BytesIO(files["truth/segments.csv"]))
    heights = {"Lower meadow": 1.45, "Dry tilth": 1.5}
    for _, row in truth.iterrows():
        here = ((middle >= row["start_utc"]) & (middle < row["end_utc"])).to_numpy()
        n = here.sum()
        edge, recorded = 3 * heights[row["field"]] * n / 90.0, np.arange(n) + 0.5
        used = np.flatnonzero(here)[(recorded >= edge + 12.0) & (n - recorded >= edge)]
        assert len(used) == row["samples_used"]
        for series, quantity in ((lw_in, "lw_in"), (lw_out, "lw_out"), (net, "net_radiation")):
            assert series.iloc[used].mean() == pytest.approx(row[quantity], abs=1e-4)


def test_over_midnight_has_an_interval_on_two_days():
    notes = simulate(specs.over_midnight()).notes
    assert notes["end"].str.contains("2025-08-21 00:").any()


def test_clock_change_lies_inside_the_recording():
    for season in ("spring", "autumn"):
        campaign = simulate(specs.clock_change(season))
        stand = campaign.notes[campaign.notes["activity"] == "stand"].iloc[0]
        zone = ZoneInfo("Europe/Ljubljana")
        a, b = (
            dt.datetime.fromisoformat(f"{stand['date']} {stand[k]}").replace(tzinfo=zone).utcoffset()
            for k in ("start", "end")
        )
        assert a != b
    twice = simulate(specs.clock_change("autumn", ambiguous=True)).notes
    assert twice["start"].str.startswith("02:").any()


def test_tenths_of_a_second():
    with_fraction, cut = simulate(specs.fast()), simulate(specs.fast(fraction=False))
    assert b":01.100000," in with_fraction.logger_files()["logger/curlew_01.csv"]
    counts = cut.records["curlew"]["stamp"].value_counts()
    assert (
        counts.max() == 10
        and (cut.truth["segments"]["sw_in"] == with_fraction.truth["segments"]["sw_in"]).all()
    )


def test_a_further_set_changes_nothing_for_the_others():
    few, many = simulate(specs.many_sets(2)), simulate(specs.many_sets(4))
    for name in few.records:
        pd.testing.assert_frame_equal(
            few.records[name].drop(columns="battery"), many.records[name].drop(columns="battery")
        )


def test_errors_can_be_switched_off_one_by_one():
    """Each term alone moves some channel; none moves nothing."""
    base = specs.minimal(sky=dataclasses.replace(specs.minimal().sky, kind="clear"))
    still = simulate(base).records["curlew"]
    changes = dict(
        factor=1.0,
        drift=(3.0, 1.0),
        temperature=(2.0, 3.0),
        directional=1.0,
        levelling=1.0,
        zero=1.0,
        body=0.2,
        body_gradient=0.3,
        cooling=0.08,
        window=0.012,
        carrier=True,
        swing=1.5,
        noise=0.1,
    )
    for term, size in changes.items():
        moved = simulate(base.with_(errors=dataclasses.replace(Errors.none(), **{term: size}))).records[
            "curlew"
        ]
        assert any((moved[c] != still[c]).any() for c in moved.columns), term


def test_independent_of_the_workflow():
    for path in Path(__file__).parent.glob("*.py"):
        assert not re.search(
            r"^\s*(from|import)\s+(headland|workflow)", path.read_text(encoding="utf-8"), re.M
        ), path.name
