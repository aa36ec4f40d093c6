"""Rows and drawn marks of a season, cell by cell: heads, their drift, bands and panels."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.record import season, season_page

from .test_season import CLASSES, over_the_season, read, surfaces

VISIT = {
    "set_a": "curlew", "set_b": "lapwing", "channel": "sw_in", "ratio": 1.01, "ratio_low": 0.98,
    "ratio_high": 1.05, "difference": 8.0, "e_n": 0.4,
}  # fmt: skip


def certificates(*rows):
    names = ("set", "channel", "sensor_id", "certificate_date", "expanded_uncertainty_percent")
    return pd.DataFrame(rows, columns=names)


TWO = certificates(
    ("curlew", "sw_in", "A", "2025-03-11", 3.0),
    ("lapwing", "sw_in", "B", "2024-05-02", 4.0),
    ("curlew", "lw_in", "C", "2025-03-12", 6.0),
)


def test_a_visit_side_by_side_is_a_row_with_both_heads():
    (row,) = season.heads("day", "2026-04-01", pd.DataFrame([VISIT]), TWO).to_dict("records")
    own = {
        "campaign": "day", "date": "2026-04-01", "sensor_a": "A", "sensor_b": "B",
        "certificate_a": "2025-03-11", "certificate_b": "2024-05-02", "allowed_percent": 5.0, "agree": True,
    }  # fmt: skip
    assert row == VISIT | own and tuple(row) == season.HEADS


@pytest.mark.parametrize("e_n, agree", [(0.0, True), (1.0, True), (1.01, False), (math.nan, None)])
def test_heads_agree_up_to_an_e_n_of_1_and_without_one_nothing_is_said(e_n, agree):
    table = season.heads("day", "2026-04-01", pd.DataFrame([VISIT | {"e_n": e_n}]), TWO)
    assert table["agree"].tolist() == [agree]


@pytest.mark.parametrize("change", [{"channel": "lw_in"}, {"set_b": "teal"}, {"channel": "sw_out"}])
def test_a_visit_of_which_a_head_has_no_certificate_is_no_row(change):
    visits = pd.DataFrame([VISIT | change, VISIT])
    assert season.heads("day", "2026-04-01", visits, TWO)["ratio"].tolist() == [1.01]
    assert tuple(season.heads("day", "2026-04-01", visits[:1], TWO)) == season.HEADS


@pytest.mark.parametrize("e_n, agree", [(1.0, True), (1.01, False)])
def test_a_head_against_the_station_is_a_row_with_its_own_certificate_alone(e_n, agree):
    one = {
        "set": "lapwing", "channel": "sw_in", "ratio": 1.02, "ratio_low": 0.99, "ratio_high": 1.06,
        "e_n": e_n, "records": 9,
    }  # fmt: skip
    compared = pd.DataFrame([one, one | {"channel": "lw_in"}, one | {"set": "teal"}])
    (row,) = season.heads_against_station("day", "2026-04-01", compared, TWO).to_dict("records")
    assert math.isnan(row.pop("difference"))
    assert row == {
        "campaign": "day", "date": "2026-04-01", "set_a": "lapwing", "set_b": "station.csv",
        "channel": "sw_in", "sensor_a": "B", "sensor_b": "station.csv", "certificate_a": "2024-05-02",
        "certificate_b": "", "ratio": 1.02, "ratio_low": 0.99, "ratio_high": 1.06, "allowed_percent": 4.0,
        "e_n": e_n, "agree": agree,
    }  # fmt: skip


def met(*rows):
    """Pairs of heads that met: sensor a, sensor b, channel, date, ratio, half of the interval."""
    names = ("sensor_a", "sensor_b", "channel", "date", "ratio", "half")
    table = pd.DataFrame(rows, columns=names).assign(allowed_percent=5.0)
    return table.assign(ratio_low=table["ratio"] - table["half"], ratio_high=table["ratio"] + table["half"])


def test_drift_is_of_each_pair_in_each_channel_from_the_mean_of_its_first_day_to_that_of_its_last():
    """Three dates, out of order, the first with two visits; another channel and another pair meet on one
    date with a ratio."""
    table = met(
        ("A", "B", "sw_in", "2026-06-30", 0.99, 0.01),
        ("A", "B", "sw_in", "2026-04-01", 1.01, 0.01),
        ("A", "B", "sw_in", "2026-04-01", 1.05, 0.01),
        ("A", "B", "sw_in", "2026-05-01", 3.00, 0.01),
        ("A", "B", "sw_out", "2026-04-01", 1.00, 0.01),
        ("A", "B", "sw_out", "2026-06-30", np.nan, 0.01),
        ("A", "C", "sw_in", "2026-06-30", 1.20, 0.01),
    )
    assert season.drift(table) == [
        {"heads": "A over B", "channel": "sw_in", "dates": 3, "days": 90,
         "percent": pytest.approx(100.0 * (0.99 / 1.03 - 1.0))}
    ]  # fmt: skip


def test_a_figure_of_heads_has_a_panel_a_pair_by_channel_and_name_with_its_own_band():
    table = met(
        ("B", "A", "sw_in", "2026-04-01", 1.01, 0.02),
        ("A", "B", "sw_in", "2026-06-30", 0.99, 0.01),
        ("A", "B", "sw_in", "2026-04-01", 1.02, 0.03),
        ("A", "B", "lw_out", "2026-04-01", 1.03, 0.02),
    )
    table.loc[1, "allowed_percent"] = 4.0
    figure = season.heads_figure(table)
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert [title.partition(": ")[2] for title in titles] == ["A over B", "A over B", "B over A", ""]
    assert [axes.axison for axes in figure.axes] == [True, True, True, False]
    longwave, pair, other, _ = figure.axes
    # the limits of longwave certificates are none of a ratio
    assert not longwave.patches and len(pair.patches) == len(other.patches) == 1
    band = pair.patches[0]
    assert (band.get_y(), band.get_height()) == pytest.approx((0.96, 0.08))
    drawn = [[one[:, 1].tolist() for one in bars.get_segments()] for bars in pair.collections]
    assert np.array(drawn[0]) == pytest.approx(np.array([[0.99, 1.05], [0.98, 1.00]]))
    assert all(any(line.get_ydata()[0] == 1.0 for line in axes.get_lines()) for axes in figure.axes[:3])


@pytest.mark.parametrize("count, panels", [(1, 2), (2, 2), (11, 12), (12, 12), (13, 12), (20, 12)])
def test_no_more_than_twelve_pairs_are_drawn_two_in_a_row(count, panels):
    table = met(*[(f"A{n:02}", "B", "sw_in", "2026-04-01", 1.0, 0.01) for n in range(count)])
    figure = season.heads_figure(table)
    assert len(figure.axes) == panels and sum(axes.axison for axes in figure.axes) == min(count, 12)


def test_a_figure_without_a_row_says_so():
    for figure in (season.heads_figure(met()), season.surfaces_figure(over_the_season()[:0], CLASSES)):
        assert [text.get_text()[:3] for text in figure.texts] == ["No "] and not figure.axes


def test_a_surface_met_once_is_a_mark_and_met_twice_a_line_in_the_order_of_the_dates():
    table = pd.concat([over_the_season(), over_the_season()[1:].assign(surface="stubble")])
    panel = season.surfaces_figure(table.iloc[::-1], CLASSES).axes[0]
    lines = {line.get_label(): line for line in panel.get_lines() if not line.get_label().startswith("_")}
    assert len(lines) == 2
    once = next(line for line in lines.values() if len(line.get_xdata()) == 1)
    twice = next(line for line in lines.values() if len(line.get_xdata()) == 2)
    assert once.get_linestyle() == "None" and twice.get_linestyle() == "-"
    assert list(twice.get_xdata()) == sorted(twice.get_xdata())
    assert [text.get_text() for text in panel.get_legend().get_texts()] == list(lines)


def test_rows_of_the_season_keep_what_they_are_made_from():
    row = season.rows(
        "one", "2026-04-01", surfaces(812.0, 341.0).assign(state="provisional"), {"short_grass": 19.0},
        CLASSES, sky=(800.0, 330.0),
    ).iloc[0]  # fmt: skip
    assert (row["campaign"], row["date"], row["surface"], row["segments"]) == (
        "one", "2026-04-01", "short_grass", 4,
    )  # fmt: skip
    assert (row["sw_in"], row["lw_in"], row["air_temperature"], row["state"]) == (
        812.0,
        341.0,
        19.0,
        "provisional",
    )
    assert (row["albedo_low"], row["albedo"], row["albedo_high"]) == pytest.approx((0.19, 0.2, 0.21))
    unknown = season.rows("one", "2026-04-01", surfaces(), {}, {}, sky=(800.0, 330.0)).iloc[0]
    assert math.isnan(unknown["net_radiation_season_sky"]) and unknown["albedo"] == 0.2


# The page


def campaign(name, date, visit=None, against=None):
    made = read(name, "") | {"date": date, "certificates": TWO}
    return made | {"compared": visit, "station": against}


def test_the_page_has_campaigns_by_date_rows_by_surface_and_heads_in_words():
    visits = pd.DataFrame([VISIT, VISIT | {"e_n": 1.5, "ratio": 1.2}, VISIT | {"e_n": math.nan}])
    against = pd.DataFrame([VISIT | {"set": "lapwing", "e_n": 0.2}])
    later = campaign("late", "2026-07-10", visits, against)
    later["surfaces"] = pd.concat([surfaces().assign(surface="stubble"), surfaces()])
    failed = [("broken", "it has no surface")]
    table, heads, values = season_page.run([later, campaign("early", "2026-04-01")], failed)
    assert table["campaign"].tolist() == ["early", "late", "late"]
    assert [(c["name"], c["date"], c["surfaces"]) for c in values["campaigns"]] == [
        ("early", "2026-04-01", 1), ("late", "2026-07-10", 2),
    ]  # fmt: skip
    assert [(row["surface"], row["date"]) for row in values["rows"]] == [
        ("short grass", "2026-04-01"), ("short grass", "2026-07-10"), ("stubble", "2026-07-10"),
    ]  # fmt: skip
    assert [row["word"] for row in values["heads"]] == ["agree", "DIFFER", "–", "agree"]
    assert [row["e_n"] for row in values["heads"]][:2] == ["0.40", "1.50"]
    assert [row["allowed"] for row in values["heads"]] == ["5.0", "5.0", "5.0", "4.0"]
    assert values["sky"] == ["800", "330"] and values["failed"] == failed
    assert len(heads) == 4 and heads["set_b"].tolist()[-1] == "station.csv"


def test_a_surface_in_words_goes_from_its_least_to_its_greatest():
    table = over_the_season()
    table["albedo"] = [0.25, 0.2]
    table["surface_minus_air"] = [-1.0, 4.0]
    table["net_radiation_season_sky"] = np.nan
    words = season_page.surfaces_words(table, CLASSES)
    assert words.startswith("short grass: albedo 0.200 ") and "0.250" in words and words.endswith("4.0.")
    assert "net" not in words
    assert season_page.surfaces_words(table.assign(albedo=np.nan, surface_minus_air=np.nan), CLASSES) == (
        "short grass: no value."
    )
    assert season_page.surfaces_words(table[:0], CLASSES) == "No surface has a value."


def test_a_table_of_no_campaign_has_its_columns():
    assert list(season_page.gathered([], "season_heads")) == list(season.HEADS)
