"""The season's table: what is compared over the dates, and what heads do to each other."""

import math
from pathlib import Path

import pandas as pd
import pytest

from headland.files.surfaces import surface_classes
from headland.physics import radiation
from headland.record import season
from headland.report import page

TEMPLATE = Path(__file__).parents[3] / "workflow" / "headland" / "report" / "season.html.jinja"
CLASSES = surface_classes(Path(__file__).parents[3] / "config" / "surfaces.csv", {})


def surfaces(sw_in=800.0, lw_in=330.0):
    row = {"surface": "short_grass", "segments": 4, "sw_in": sw_in, "lw_in": lw_in, "net_radiation": 480.0}
    row |= {
        f"{q}{end}": v + d
        for q, v in (("albedo", 0.2), ("surface_temperature", 24.0), ("net_radiation_common_sky", 480.0))
        for end, d in (("", 0.0), ("_low", -0.01), ("_high", 0.01))
    }
    return pd.DataFrame([row])


def test_the_surface_less_the_air_moves_with_its_interval():
    row = season.rows(
        "day", "2026-05-21", surfaces(), {"short_grass": 19.0}, CLASSES, sky=(800.0, 330.0)
    ).iloc[0]
    assert (
        row["surface_minus_air"],
        row["surface_minus_air_low"],
        row["surface_minus_air_high"],
    ) == pytest.approx((5.0, 4.99, 5.01))


def test_under_its_own_sky_the_season_gives_net_and_under_too_different_a_one_nothing():
    own = season.rows("day", "2026-05-21", surfaces(), {}, CLASSES, sky=(800.0, 330.0)).iloc[0]
    assert own["net_radiation_season_sky"] == pytest.approx(480.0) and math.isnan(own["air_temperature"])
    other = season.rows("day", "2026-05-21", surfaces(), {}, CLASSES, sky=(900.0, 330.0)).iloc[0]
    entry = CLASSES["short_grass"]
    assert other["net_radiation_season_sky"] == pytest.approx(
        float(
            radiation.net_common_sky(
                480.0,
                0.2,
                sw_in=800.0,
                lw_in=330.0,
                sw_ref=900.0,
                lw_ref=330.0,
                emissivity=entry["emissivity"]["value"],
                sky_response=entry["sky_response"]["value"],
            )
        )
    )
    assert math.isnan(
        season.rows("day", "2026-05-21", surfaces(), {}, CLASSES, sky=(1100.0, 330.0)).iloc[0][
            "net_radiation_season_sky"
        ]
    )


def test_the_sky_of_the_season_is_the_mean_of_the_days():
    assert season.season_sky([surfaces(700.0, 300.0), surfaces(900.0, 340.0)]) == pytest.approx(
        (800.0, 320.0)
    )


def test_no_raw_net_is_among_what_is_compared():
    assert "net_radiation" not in season.QUANTITIES
    assert "net_radiation" not in season.rows(
        "day", "2026-05-21", surfaces(), {}, CLASSES, sky=(800.0, 330.0)
    )


def heads(date, ratio):
    visit = pd.DataFrame(
        [
            {
                "set_a": "curlew",
                "set_b": "lapwing",
                "channel": "sw_in",
                "ratio": ratio,
                "ratio_low": ratio - 0.02,
                "ratio_high": ratio + 0.02,
                "difference": 8.0,
                "e_n": 0.4,
            }
        ]
    )
    certificates = pd.DataFrame(
        [
            {
                "set": s,
                "channel": "sw_in",
                "sensor_id": i,
                "certificate_date": "2025-03-11",
                "expanded_uncertainty_percent": u,
            }
            for s, i, u in (("curlew", "A", 3.0), ("lapwing", "B", 4.0))
        ]
    )
    return season.heads("day", date, visit, certificates)


def test_certificates_allow_both_in_squares_and_drift_is_from_first_to_last():
    row = heads("2026-04-01", 1.0).iloc[0]
    assert row["allowed_percent"] == pytest.approx(5.0) and row["agree"]
    found = season.drift(pd.concat([heads("2026-04-01", 1.0), heads("2026-07-10", 1.01)]))
    assert [(d["heads"], d["dates"], d["days"]) for d in found] == [("A over B", 2, 100)] and found[0][
        "percent"
    ] == pytest.approx(1.0)
    assert season.drift(heads("2026-04-01", 1.0)) == []


def test_a_head_s_drift_is_seen_against_the_station_and_its_own_certificate():
    def against(date, ratio):
        table = pd.DataFrame(
            [
                {
                    "set": "curlew",
                    "channel": "sw_in",
                    "records": 9,
                    "ratio": ratio,
                    "ratio_low": ratio - 0.03,
                    "ratio_high": ratio + 0.03,
                    "e_n": abs(ratio - 1) / 0.03,
                },
                {
                    "set": "stranger",
                    "channel": "sw_in",
                    "records": 9,
                    "ratio": 1.0,
                    "ratio_low": 0.9,
                    "ratio_high": 1.1,
                    "e_n": 0.0,
                },
            ]
        )
        certificates = pd.DataFrame(
            [
                {
                    "set": "curlew",
                    "channel": "sw_in",
                    "sensor_id": "A",
                    "certificate_date": "2025-03-11",
                    "expanded_uncertainty_percent": 3.0,
                }
            ]
        )
        return season.heads_against_station("day", date, table, certificates)

    first, last = against("2026-04-01", 1.0), against("2026-07-10", 1.04)
    (row,) = last.to_dict("records")
    assert (row["set_b"], row["allowed_percent"], row["agree"], row["sensor_a"]) == (
        "station.csv",
        3.0,
        False,
        "A",
    )
    (found,) = season.drift(pd.concat([first, last]))
    assert found["heads"] == "A over station.csv" and found["percent"] == pytest.approx(4.0)
    season.heads_figure(pd.concat([first, last, heads("2026-07-10", 1.0)]))


def test_a_season_of_one_day_is_told_as_one():
    given = {
        "sky": ("800", "330"),
        "failed": [],
        "surfaces_figure": "",
        "heads_figure": "HEADS",
        "quantities": season.QUANTITIES,
        "rows": [],
        "drift": [],
        "heads": [],
    }

    def of(*dates):
        campaigns = [{"date": date, "name": "day", "title": "Day", "surfaces": 1} for date in dates]
        return page.page("season", {**given, "campaigns": campaigns})

    one, two = of("2026-04-01"), of("2026-04-01", "2026-07-10")
    assert (
        "<title>Season: 1 campaign<" in one
        and "2026-04-01 ·" in one
        and " to 2026" not in one
        and "HEADS" not in one
    )
    assert "<title>Season: 2 campaigns<" in two and "2026-04-01 to 2026-07-10 ·" in two
