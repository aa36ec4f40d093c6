"""The three measured days, with the figures that were worked out from their files
(../shared/real/README.md).
"""

import functools
import shutil
from pathlib import Path

import pandas as pd
import pytest
import yaml

import chain

REAL = Path(__file__).parents[3] / "shared" / "real"
pytestmark = pytest.mark.skipif(
    not REAL.is_dir(), reason="the measured days (../shared/real) are not on this machine"
)

FLUX = "W m-2"
LAYOUTS = {
    "valley": {
        "delimiter": "whitespace",
        "skip_lines": 2,
        "names": False,
        "missing": ["-9999.9"],
        "interval": 60,
        "stamp": "end",
        "time": {"year": 1, "month": 3, "day": 4, "hour": 5, "minute": 6},
        "channels": {
            "sw_in": {"column": 9, "unit": FLUX},
            "sw_out": {"column": 11, "unit": FLUX},
            "lw_in": {"column": 17, "unit": FLUX},
            "lw_out": {"column": 23, "unit": FLUX},
            "body_temperature_lw_in": {"column": 19, "unit": "degC"},
            "body_temperature_lw_out": {"column": 25, "unit": "degC"},
        },
    },
    "crop": {
        "interval": 1800,
        "stamp": "end",
        "time": {"column": "time_utc", "format": "%Y-%m-%d %H:%M:%S"},
        "channels": {
            **{c: {"column": f"{c}_W_m2", "unit": FLUX} for c in ("sw_in", "sw_out", "lw_in", "lw_out")},
            "body_temperature": {"column": "body_temp_degC", "unit": "degC"},
            "battery": {"column": "battery_V", "unit": "V"},
        },
    },
    "pasture": {
        "interval": 60,
        "stamp": "end",
        "time": {"column": "time_utc", "format": "%Y-%m-%d %H:%M:%S"},
        "channels": {
            **{c: {"column": f"{c}_W_m2", "unit": FLUX} for c in ("sw_in", "sw_out")},
            **{c: {"column": f"{c}_net_signal_W_m2", "unit": FLUX} for c in ("lw_in", "lw_out")},
            **{
                f"body_temperature_{c}": {"column": f"{c}_case_temp_K", "unit": "K"}
                for c in ("lw_in", "lw_out")
            },
        },
    },
}
SITES = {"valley": (37.70, -105.92, 2317), "crop": (36.607, -97.488, 315), "pasture": (36.607, -97.488, 315)}
FILES = {
    "valley": "valley_1min/slv16001.dat",
    "crop": "crop_30min/radiation_and_soil.csv",
    "pasture": "pasture_1min/radiation_1min.csv",
}


def campaign(folder: Path, day: str, longwave: str, notes: str) -> Path:
    latitude, longitude, elevation = SITES[day]
    (folder / "logger").mkdir(parents=True)
    shutil.copy(REAL / FILES[day], folder / "logger")
    (folder / "campaign.yaml").write_text(
        yaml.safe_dump(
            {
                "title": f"A measured day, {day}",
                "carrying": {"walking_speed": 0},
                "site": {
                    "name": day,
                    "latitude": latitude,
                    "longitude": longitude,
                    "elevation": elevation,
                    "timezone": "UTC",
                },
                "sets": {
                    "mast": {
                        "logger_id": "M-1",
                        "utc_offset": "+00:00",
                        "files": "logger/*",
                        "longwave": longwave,
                        "layout": LAYOUTS[day],
                    }
                },
            }
        )
    )
    rows = "".join(
        f"mast,M-1,{c},{c},100,W m-2 per mV,2015-06-01\n" for c in ("sw_in", "sw_out", "lw_in", "lw_out")
    )
    (folder / "instruments.csv").write_text(
        "set,logger_id,channel,sensor_id,factor,factor_unit,certificate_date\n" + rows
    )
    (folder / "notes.csv").write_text("set,start,end,field,surface\n" + notes)
    return folder


# SW in, SW out, albedo, LW in, LW out, net: tolerance 0.05 where the file prints two decimals of the mean,
# 0.3 otherwise
FIGURES = {
    "valley": ("mast,18:36,19:36,plot,bare_dry_soil\n", [(577.1, 100.6, 0.174, 183.3, 330.5, 329.33)]),
    "crop": (
        "mast,18:00,19:00,plot,tall_crop\nmast,20:00,21:00,plot,tall_crop\n",
        [(324.2, 58.3, 0.180, 409.4, 454.6, 220.70), (890.1, 151.3, 0.170, 393.5, 486.4, 645.82)],
    ),
}


@pytest.fixture(scope="module")
def outcome_of(tmp_path_factory):
    """What the chain makes of a day, once for all tests."""

    @functools.cache
    def made(day):
        return chain.run(
            campaign(tmp_path_factory.mktemp("measured") / day, day, "corrected", FIGURES[day][0]), draws=256
        )

    return made


@pytest.mark.parametrize("day", FIGURES)
def test_figures_of_the_measured_days(outcome_of, day):
    outcome, expected = outcome_of(day), FIGURES[day][1]
    assert outcome.codes("error", "warning") == []
    for (_, row), figures in zip(outcome.result.segments.iterrows(), expected, strict=True):
        for name, figure, tolerance in zip(
            ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "net_radiation"),
            figures,
            (0.05, 0.05, 0.0005, 0.05, 0.05, 0.01),
            strict=True,
        ):
            by_hand = row[f"{name}_by_hand"]
            assert abs(by_hand - figure) <= tolerance + 1e-9, (name, by_hand, figure)


def test_raw_net_signals_and_bodies_of_the_valley(outcome_of):
    """raw in -115.8, raw out +39.2 W m-2 (0.3: the file prints one decimal); bodies -3.7 and -5.4 degC
    (half a digit).
    """
    samples = outcome_of("valley").samples["mast"]
    stamped = pd.to_datetime(samples["time_utc"], utc=True)
    hour = samples[stamped.between("2016-01-01T18:37:00Z", "2016-01-01T19:36:00Z")].mean(numeric_only=True)
    for name, figure, tolerance in (
        ("lw_in_net", -115.8, 0.3),
        ("lw_out_net", 39.2, 0.3),
        ("body_temperature_lw_in", -3.7, 0.05),
        ("body_temperature_lw_out", -5.4, 0.05),
    ):
        assert abs(hour[name] - figure) <= tolerance, (name, hour[name])


def test_recorded_net_signal_of_the_pasture_against_its_makers_own_correction(tmp_path):
    """The simple formula with the case temperature is within 5.5 W m-2 of the makers' corrected value,
    which uses the dome as well.
    """
    notes = "mast,00:00,12:00,pasture,short_grass\nmast,12:00,23:59,pasture,short_grass\n"
    outcome = chain.run(campaign(tmp_path / "pasture", "pasture", "net", notes), to="segment")
    assert outcome.codes("error", "warning") == []
    ours = outcome.samples["mast"]
    theirs = pd.read_csv(REAL / FILES["pasture"])
    for channel in ("lw_in", "lw_out"):
        difference = (ours[channel] - theirs[f"{channel}_W_m2"]).abs()
        assert difference.max() <= 5.5 and difference.notna().sum() > 1400
