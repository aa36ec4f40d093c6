"""One number, all the way: the same values as the chain's, with every step on the way."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.chain import balance, calibrate, correct_longwave
from headland.chain.segment_means import segment_means
from headland.files import config_tables
from headland.files.surfaces import surface_classes
from headland.physics import heat, radiation
from headland.report import worked, worked_segment

ROOT = Path(__file__).parents[3]
CLASSES = surface_classes(ROOT / "config" / "surfaces.csv", {})
KEYS = {
    row["key"]: row
    for row in config_tables.read_config_table(ROOT / "workflow" / "headland" / "quantities.csv").to_dict(
        "records"
    )
}
REGISTER = pd.DataFrame(
    [
        {
            "sensor_id": "S-1",
            "certificate_date": "2025-03-11",
            "channel": "sw_in",
            "factor": 15.0,
            "factor_unit": "uV per W m-2",
        }
    ]
)


def certificates(programmed=math.nan) -> pd.DataFrame:
    return pd.DataFrame(
        [
            {
                "channel": c,
                "sensor_id": "S-1",
                "certificate_date": "2025-03-11",
                "factor": 1000 / 15.0,
                "programmed_factor": programmed,
            }
            for c in calibrate.RADIATION
        ]
    )


@pytest.mark.parametrize(
    "unit, body, longwave, programmed",
    [
        ("mV", "degC", "net", math.nan),
        ("uV", "ohm", "net", math.nan),
        ("W m-2", "K", "net", 66.0),
        ("W m-2", "degC", "corrected", 66.0),
        ("W m-2", "degC", "corrected", math.nan),
    ],
)
def test_a_sample_ends_where_the_chain_ends(unit, body, longwave, programmed):
    channels = {c: {"column": c, "unit": unit} for c in calibrate.RADIATION} | {
        "body_temperature": {"column": "t", "unit": body}
    }
    scale = {"mV": 0.015, "uV": 15.0, "W m-2": 1.0}[unit]
    lw = (340.0, 450.0) if longwave == "corrected" else (-95.0, 12.0)
    raw = {
        "sw_in": 800 * scale,
        "sw_out": 150 * scale,
        "lw_in": lw[0] * scale,
        "lw_out": lw[1] * scale,
        "body_temperature": {"degC": 21.5, "K": 294.65, "ohm": 108.37}[body],
        "file": "logger/a.csv",
        "line": 7,
    }
    table = certificates(programmed)
    rows = worked.of_sample(raw, channels, table, REGISTER, longwave)
    chain = correct_longwave.corrected(
        calibrate.calibrate(
            pd.DataFrame([{**raw, "time_utc": pd.Timestamp("2026-05-21", tz="UTC")}]),
            channels,
            table,
            longwave,
        )
    ).iloc[0]
    net = radiation.net_radiation(*(chain[c] for c in calibrate.RADIATION))
    assert rows[-1]["value"] == pytest.approx(net, rel=1e-12) and rows[-1]["key"] == "summarise.net_radiation"
    by_key = {row["key"]: row["value"] for row in rows}
    assert [by_key[f"correct_longwave.{c}"] for c in ("lw_in", "lw_out")] == pytest.approx(
        [chain["lw_in"], chain["lw_out"]]
    )
    assert set(by_key) - {""} <= set(KEYS)
    assert ("calibrate.factor" in by_key) == (unit in ("mV", "uV") or programmed > 0)


def samples(count=60) -> pd.DataFrame:
    n = np.arange(count)
    return pd.DataFrame(
        {
            "sw_in": 800.0 + n,
            "sw_out": 160.0 + n / 7,
            "lw_in": 340.0 + n / 50,
            "lw_out": 450.0 - n / 60,
            "solar_elevation": 50.0,
            "lw_in_net": 0.0,
            "lw_out_net": 0.0,
            "body_temperature": 20.0,
            "solar_azimuth": 150.0,
            "sw_clear": 850.0,
            "incoming_body_temperature": 20.0,
            "sw_in_memory": 800.0,
            "seconds": n,
        }
    )


@pytest.mark.parametrize("surface", ["short_grass", "bare_dry_soil", "paving"])
def test_a_segment_ends_where_the_chain_ends(surface):
    frame, out, entry = samples(), np.arange(60) < 10, CLASSES[surface]
    mean = segment_means(
        frame, ~out, interval=1.0, emissivity=entry["emissivity"]["value"], height=1.5, speed=0.8
    ) | {
        "notes_row": 7,
        "speed": 0.8,
        "height": 1.5,
    }
    fraction, offset, _ = balance.ground_heat_terms(entry, "class_fraction", True, 0.0, math.nan)
    split, coefficient = balance.split_of(entry, "priestley_taylor")
    group = {
        "fraction": fraction,
        "offset": offset,
        "split": split,
        "coefficient": coefficient,
        "day": True,
        "air_temperature": 20.0,
        "pressure": 950.0,
        "reason": "",
    }
    rows = {
        row["key"]: row["value"]
        for row in worked_segment.of_segment(frame, out, mean, entry, group=group, sky=(820.0, 338.0))
    }
    for key, name in (
        ("summarise.albedo", "albedo"),
        ("summarise.surface_temperature", "surface_temperature"),
        ("summarise.net_radiation", "net_radiation"),
    ):
        assert rows[key] == pytest.approx(mean[name], rel=1e-12)
    net = np.array([mean["net_radiation"]])
    visit = pd.DataFrame([group])
    terms = heat.estimate(visit, visit, np.ones((1, 1)), visit_net=net, net=net)
    for name in ("ground_heat", "latent_heat", "sensible_heat"):
        assert rows[f"balance.{name}"] == pytest.approx(terms[name][0], rel=1e-12)
    assert rows["balance.ground_heat"] + rows["balance.latent_heat"] + rows[
        "balance.sensible_heat"
    ] == pytest.approx(rows["summarise.net_radiation"])
    assert set(rows) - {""} <= set(KEYS)


def test_what_is_not_estimated_has_no_row():
    mean = {"notes_row": 7, "speed": 0.0, "height": 1.5}
    keys = {
        row["key"]
        for row in worked_segment.of_segment(
            samples(),
            np.zeros(60, bool),
            mean,
            CLASSES["snow"],
            group={"reason": "melt"},
            sky=(math.nan, math.nan),
        )
    }
    assert (
        "summarise.net_radiation" in keys
        and not any(key.startswith("balance") for key in keys)
        and "summarise.net_radiation_common_sky" not in keys
    )


def test_the_segment_with_all_values_is_followed_and_its_middle_sample():
    means = pd.DataFrame(
        {
            "segment": ["a", "b", "c", "d"],
            "set": ["heron"] * 4,
            "surface": ["snow", "paving", "paving", "paving"],
            "activity": ["walk", "walk", "walk", "dark"],
            "weight": [90.0, 50.0, 60.0, 99.0],
            "samples_used": [90, 50, 60, 99],
            "net_radiation_common_sky": [1.0, 1.0, 1.0, 1.0],
        }
    )
    balances = pd.DataFrame({"segment": ["a", "b", "c"], "latent_heat": [math.nan, 0.0, 0.0]})
    assert (
        worked.chosen_segment(means, balances, "heron") == "c"
        and worked.chosen_segment(means, balances, "plover") == ""
    )
    assert worked.chosen_sample(np.arange(10) > 2, np.arange(10) > 7) == 5
