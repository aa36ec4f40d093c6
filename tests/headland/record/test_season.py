"""The season's table: what is compared over the dates, and what heads do to each other."""

import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.record import season, season_page
from headland.report import page

TEMPLATE = Path(__file__).parents[3] / "workflow" / "headland" / "report" / "season.html.jinja"
CLASSES = surface_classes(Path(__file__).parents[3] / "config" / "surfaces.csv", {})


def surfaces(sw_in=800.0, lw_in=330.0):
    row = {"surface": "short_grass", "segments": 4, "sw_in": sw_in, "lw_in": lw_in, "net_radiation": 480.0}
    row |= {"state": ""}
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
    # 80 of 100 W m-2 more are absorbed, and grass emits again a part of them
    response = CLASSES["short_grass"]["sky_response"]["value"]
    assert 0.01 < response < 0.2
    assert other["net_radiation_season_sky"] == pytest.approx(480.0 + 80.0 - 80.0 * response)
    assert math.isnan(
        season.rows("day", "2026-05-21", surfaces(), {}, CLASSES, sky=(1100.0, 330.0)).iloc[0][
            "net_radiation_season_sky"
        ]
    )


def test_a_day_s_sky_is_the_mean_over_its_surfaces_and_a_day_without_one_does_not_count():
    day = pd.DataFrame({"sw_in": [600.0, 700.0, 1100.0], "lw_in": [300.0, 310.0, 380.0]})
    other = pd.DataFrame({"sw_in": [900.0, np.nan], "lw_in": [350.0, np.nan]})
    none = pd.DataFrame({"sw_in": [np.nan], "lw_in": [np.nan]})
    assert season.season_sky([day]) == pytest.approx((800.0, 330.0))
    assert season.season_sky([day, other, none]) == pytest.approx((850.0, 340.0))
    assert np.isnan(season.season_sky([])).all()


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
        "surfaces_words": "",
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


def over_the_season():
    return pd.concat(
        [
            season.rows("one", "2026-04-01", surfaces(), {"short_grass": 19.0}, CLASSES, sky=(800.0, 330.0)),
            season.rows(
                "two", "2026-07-10", surfaces(820.0), {"short_grass": 21.0}, CLASSES, sky=(800.0, 330.0)
            ),
        ],
        ignore_index=True,
    )


def test_each_quantity_has_a_panel_with_its_values_and_ends_over_the_dates():
    table = over_the_season()
    figure = season.surfaces_figure(table, CLASSES)
    assert [axes.get_ylabel() for axes in figure.axes] == [title for title, _ in season.QUANTITIES.values()]
    for axes, name in zip(figure.axes, season.QUANTITIES, strict=True):
        (line,) = [one for one in axes.get_lines() if len(one.get_xdata()) == 2]
        assert line.get_ydata() == pytest.approx(table[name].to_numpy(float))
        for bars in axes.collections if f"{name}_low" in table else ():
            ends = [segment[:, 1].tolist() for segment in bars.get_segments()]
            wanted = table[[f"{name}_low", f"{name}_high"]].to_numpy(float)
            assert np.array(ends) == pytest.approx(wanted)


def test_a_campaign_with_errors_is_left_out_and_named():
    sound, wrong = {"name": "one", "errors": 0}, {"name": "two", "errors": 3}
    kept, left = season_page.without_errors([sound, wrong])
    assert kept == [sound]
    ((name, why),) = left
    assert name == "two" and "3 errors" in why and "--with-errors" in why


def test_what_an_error_makes_doubtful_is_hollow_in_the_figure_and_named_in_the_table():
    table = over_the_season().assign(state=["", "provisional"])
    for axes, name in zip(season.surfaces_figure(table, CLASSES).axes, season.QUANTITIES, strict=True):
        (hollow,) = [one for one in axes.get_lines() if one.get_markerfacecolor() == "white"]
        assert hollow.get_ydata() == pytest.approx(table[name].to_numpy(float)[1:])
    _, _, values = season_page.run(
        [read("one", ""), read("two", "provisional")],
        [],
    )
    text = page.page("season", values)
    assert text.count('<tr class="provisional">') == 1 and ">provisional<" in text


def read(name: str, state: str) -> dict:
    """What is read of a campaign."""
    return {
        "name": name,
        "title": name,
        "date": "2026-04-01",
        "surfaces": surfaces().assign(state=state),
        "air": {"short_grass": 19.0},
        "classes": CLASSES,
        "certificates": pd.DataFrame(),
        "compared": None,
        "station": None,
    }


def test_the_dates_all_lie_within_the_axis():
    figure = season.surfaces_figure(over_the_season(), CLASSES)
    low, high = figure.axes[-1].get_xlim()
    first, last = (pd.Timestamp(day).timestamp() / 86400.0 for day in ("2026-04-01", "2026-07-10"))
    assert low == pytest.approx(first - 5.0) and high == pytest.approx(last + 5.0)


def test_a_single_date_has_a_month_around_it():
    figure = season.surfaces_figure(over_the_season().iloc[:1], CLASSES)
    low, high = figure.axes[-1].get_xlim()
    day = pd.Timestamp("2026-04-01").timestamp() / 86400.0
    assert (low, high) == pytest.approx((day - 15.0, day + 15.0))


def test_what_certificates_allow_is_a_band_on_both_sides_of_1():
    table = pd.concat([heads("2026-04-01", 1.0), heads("2026-07-10", 1.01)])
    axes = season.heads_figure(table).axes[0]
    allowed = table["allowed_percent"].iloc[-1] / 100.0
    (band,) = [patch for patch in axes.patches if patch.get_height() > 0]
    low, high = band.get_y(), band.get_y() + band.get_height()
    assert (low, high) == pytest.approx((1.0 - allowed, 1.0 + allowed))
    drawn = [segment[:, 1].tolist() for bars in axes.collections for segment in bars.get_segments()]
    assert np.array(drawn) == pytest.approx(np.array([[0.98, 1.02], [0.99, 1.03]]))


def test_results_that_were_changed_since_the_run_are_named(tmp_path, monkeypatch):
    """A table without its columns passed the reading and ended in a trace in the comparison of heads."""
    (tmp_path / "segments.csv").write_text("segment;start_utc\nA;2025-08-20\n")
    monkeypatch.setattr(season_page.settings, "load", lambda *_, **__: {"sets": {}})
    campaigns, failed = season_page.read_each([(tmp_path / "day", tmp_path)], tmp_path)
    assert campaigns == [] and failed[0][0] == "day"
    assert (
        failed[0][1].startswith("segments.csv: it lacks segment")
        and "delete it and run again" in failed[0][1]
    )


def test_a_table_without_its_optional_columns_is_whole(tmp_path):
    names = [f["name"] for f in table_schema("group_balance")["fields"] if not f.get("optional")]
    assert len(names) < len(table_schema("group_balance")["fields"])
    (tmp_path / "surfaces.csv").write_text(",".join(names) + "\n")
    assert list(season_page.whole(tmp_path / "surfaces.csv", "group_balance")) == names


def test_rows_of_a_surface_stand_in_the_order_of_their_dates_whichever_campaign_came_first():
    late, early = read("late", ""), {**read("early", ""), "date": "2026-03-01"}
    rows = season_page.run([late, early], [])[2]["rows"]
    for surface in {row["surface"] for row in rows}:
        assert [row["campaign"] for row in rows if row["surface"] == surface] == ["early", "late"]


def test_the_sky_of_a_season_of_three_is_the_mean_not_the_middle_one():
    days = [surfaces(600.0, 300.0), surfaces(700.0, 310.0), surfaces(1000.0, 350.0)]
    assert season.season_sky(days) == pytest.approx((2300.0 / 3.0, 320.0))


def test_the_dates_are_under_the_lowest_panel():
    labels = [axes.get_xlabel() for axes in season.surfaces_figure(over_the_season(), CLASSES).axes]
    assert labels == [""] * (len(labels) - 1) + ["date"]
