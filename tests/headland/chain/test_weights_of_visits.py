"""The balance of groups by the recorded time of their visits: members, means, rates and words, by hand; and
the register's certificates just inside and just outside their limits."""

import datetime
import math

import numpy as np
import pandas as pd
import pytest

from headland.base import times
from headland.chain import balance, calibrate, clock_checks, weather
from headland.physics import heat

from .test_balance_findings import balanced, made
from .test_calibrate import DAY, choose, codes, full_register, register

NAN = math.nan


def test_a_visit_belongs_to_the_groups_that_have_its_names():
    groups = pd.DataFrame({"surface": ["a", "a", "b"], "field": ["x", "y", "x"]})
    visits = pd.DataFrame({"surface": ["a", "b", "a"], "field": ["y", "x", "x"], "weight": [1.0, 2.0, 4.0]})
    both = balance.members_of(groups, visits, ["surface", "field"])
    assert both.tolist() == [[0.0, 0.0, 4.0], [1.0, 0.0, 0.0], [0.0, 2.0, 0.0]]
    assert balance.members_of(groups[:1], visits, ["surface"]).tolist() == [[1.0, 0.0, 4.0]]
    assert balance.members_of(groups[:0], visits, ["surface"]).shape == (0, 3)


def test_a_mean_by_time_is_of_what_is_known():
    weights = pd.Series([100.0, 300.0, 50.0])
    assert balance.averaged(pd.Series([10.0, 20.0, NAN]), weights) == pytest.approx(17.5)
    assert math.isnan(balance.averaged(pd.Series([NAN, NAN, NAN]), weights))


def test_what_a_group_has_of_its_visits():
    visits = pd.DataFrame(
        {
            "weight": [100.0, 300.0],
            "day": [True, False],
            "air_temperature": [10.0, 20.0],
            "pressure": [950.0, 990.0],
            "fraction": [0.1, 0.5],
            "offset": [0.0, -8.0],
            "coefficient": [1.0, NAN],
            "air_source": ["b", ""],
            "split": ["x", "x"],
            "method": ["m", "k"],
        }
    )
    assert balance.over_visits(visits) == {
        "day": False,
        "air_temperature": 17.5,
        "pressure": 980.0,
        "fraction": pytest.approx(0.4),
        "offset": -6.0,
        "coefficient": 1.0,
        "air_source": "b",
        "split": "x",
        "method": "k; m",
    }
    # a half is not most
    assert not balance.over_visits(visits.assign(weight=200.0))["day"]
    assert balance.over_visits(visits.assign(weight=[201.0, 200.0]))["day"]


def test_the_rate_at_a_walk_is_of_its_own_surface_within_three_hours():
    """A surface rises by 40 W m-2 an hour for three hours and by 100 afterwards; another falls."""
    hours = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.5])
    net = np.where(hours <= 3, 40.0 * hours, 120.0 + 100.0 * (hours - 3.0))
    start = pd.Timestamp("2026-05-21T08:00Z") + pd.to_timedelta(hours, unit="h")
    own = pd.DataFrame(
        {
            "surface": "a",
            "start_utc": start,
            "end_utc": start + pd.Timedelta(minutes=10),
            "net_radiation": net,
        }
    )
    other = own.assign(surface="b", net_radiation=-10.0 * hours)
    rates = balance.rates_of(pd.concat([own, other], ignore_index=True))
    assert rates[0] == pytest.approx(40.0) and rates[7:13] == pytest.approx([-10.0] * 6)
    # the fourth sees from 0 to 6 h, the last from 3.5 h on
    assert rates[3] == pytest.approx(np.polyfit(hours[:6], net[:6], 1)[0])
    assert math.isnan(rates[6])
    # long walks count at their middle
    late = own[:4]
    late = late.assign(end_utc=late["start_utc"] + pd.to_timedelta([10, 10, 10, 130], unit="min"))
    assert not math.isnan(balance.rates_of(late)[3]) and math.isnan(balance.rates_of(own[:3])[0])


def test_a_group_of_one_visit_beyond_a_limit_is_estimated_all_the_same():
    """The limits hold for the mean: 60 and 400 W m-2 for equal times are 230."""
    row, found = balanced(net_radiation=[60.0, 400.0])
    assert row["reason"] == "" and found == []
    row, found = balanced(net_radiation=[60.0, 120.0])
    assert (row["reason"], found) == ("net-small", [("balance-not-estimated", "net-small", "")])
    assert row["method"] == "" and math.isnan(row["fraction"]) and math.isnan(row["offset"])
    row, _ = balanced(net_radiation=[60.0, 120.0], weight=[60.0, 240.0])
    assert row["reason"] == ""


def test_findings_name_the_group_by_all_that_it_is_of():
    segments, visits = made(solar_elevation=10.0)
    means = (
        segments.groupby(["surface", "field"])[["net_radiation", "surface_temperature"]].mean().reset_index()
    )
    methods = {"ground_heat": "class_fraction", "green_cover": "priestley_taylor", "latent_heat": "estimated"}
    table, found = balance.groups(means, visits, ["surface", "field"], methods)
    assert [one.facts["surface"] for one in found] == ["short_grass / Meadow"]
    assert list(table)[: 2 + len(balance.OVER_VISITS) + 1] == [
        "surface",
        "field",
        *balance.OVER_VISITS,
        "reason",
    ]


def test_heat_against_the_wind_is_told_with_its_numbers():
    row = {"sensible_heat": 123.6, "latent_heat": 200.0, "air_temperature": 21.26}
    (one,) = balance._against_wind(row, 15.04, 2.0, "Moor")
    assert one.facts == {
        "surface": "Moor",
        "sensible": "124",
        "surface_temperature": "15.0",
        "air_temperature": "21.3",
    }
    assert balance._against_wind(row, 25.0, 2.0, "Moor") == []


COLDER = {"surface_temperature": 15.0, "air_temperature": 20.0}


@pytest.mark.parametrize("sensible, against", [(50.1, True), (50.0, False), (-50.1, False)])
def test_a_small_sensible_heat_has_no_sure_sign(sensible, against):
    assert heat.against_wind(sensible, 0.0, **COLDER, wind_speed=2.0) == against


@pytest.mark.parametrize("sensible, latent, against", [(101.0, 399.0, True), (99.0, 401.0, False)])
def test_a_small_share_of_the_available_energy_has_no_sure_sign(sensible, latent, against):
    assert heat.against_wind(sensible, latent, **COLDER, wind_speed=2.0) == against


@pytest.mark.parametrize("wind, against", [(0.1, True), (0.0, False)])
def test_without_wind_nothing_is_against_it(wind, against):
    assert heat.against_wind(100.0, 0.0, **COLDER, wind_speed=wind) == against


# Certificates


@pytest.mark.parametrize("date, old", [("2024-05-21", False), ("2024-05-20", True)])
def test_a_certificate_is_old_after_24_months(date, old):
    """730 days are 23.98 months, 731 are 24.02."""
    _, found = choose(full_register(certificate_date=date))
    assert codes(found) == [("certificate-old", "")] * 4 * old
    if old:
        facts = found[0].facts
        assert facts == {"sensor": "S", "date": date, "day": "2026-05-21", "months": "24"}
        assert (found[0].file, found[0].line, found[0].set, found[0].channel) == (
            "instruments.csv",
            2,
            "heron",
            "sw_in",
        )


def test_a_logger_s_other_factor_is_told_with_its_per_cent():
    _, found = choose(full_register(factor=70.0, programmed_factor=68.0), "W m-2")
    facts = found[0].facts
    assert (facts["percent"], facts["programmed"], facts["factor"]) == ("+2.94", "68", "70")
    assert choose(full_register(factor=70.0, programmed_factor=68.0), "mV")[1] == []
    assert choose(full_register(factor=70.0, programmed_factor=70.0 * (1 + 0.9e-3)), "W m-2")[1] == []
    assert len(choose(full_register(factor=70.0, programmed_factor=70.0 * (1 + 1.2e-3)), "W m-2")[1]) == 4


@pytest.mark.parametrize(
    "programmed, another",
    [
        (70.0 * math.exp(0.119), False),
        (70.0 * math.exp(0.121), True),
        (70.0 * math.exp(-0.121), True),
        (1000.0 / 70.0, False),
        (700.0, False),
        (7.0, False),
    ],
)
def test_factors_further_apart_than_a_sensor_drifts_are_of_two(programmed, another):
    assert calibrate._of_another_sensor(70.0, programmed) == another


@pytest.mark.parametrize("count, place", [(1, 0), (2, 1), (3, 2), (4, 3), (5, 3), (8, 6), (100, 75)])
def test_certificates_are_those_of_the_day_at_three_quarters_of_the_record(count, place):
    days = pd.Series(
        pd.to_datetime([datetime.date(2026, 1, 1) + datetime.timedelta(days=n) for n in range(count)])
    )
    assert calibrate.measurement_day(days.iloc[::-1]) == datetime.date(2026, 1, 1) + datetime.timedelta(
        days=place
    )


def test_a_missing_certificate_names_the_lines_that_may_be_meant():
    table = full_register().assign(factor=NAN)
    more = register(
        {"set": "herom", "channel": "sw_in", "factor": 1.0},
        {"set": "teal", "channel": "sw_in", "factor": 1.0},
        {"channel": "", "factor": 1.0},
        {"set": "herom", "channel": "lw_in", "factor": 1.0},
    )
    table = pd.concat([table, more], ignore_index=True)
    table = table.assign(line=range(2, 2 + len(table)), certificate_date="2025-05-21")
    _, found = choose(table)
    (one,) = [
        finding for finding in found if finding.channel == "sw_in" and finding.code == "certificate-missing"
    ]
    # its own line, that of the misspelt set, and the one without a channel
    assert one.facts == {"set": "heron", "unit": "mV", "lines": [2, 6, 8]}
    assert (one.variant, one.set, one.file) == ("needed", "heron", "instruments.csv")


def test_the_body_temperature_is_its_own_thermometer_s_else_the_common_one():
    assert (
        calibrate.body_column("lw_in", {"body_temperature_lw_in": {}, "body_temperature": {}})
        == "body_temperature_lw_in"
    )
    assert (
        calibrate.body_column("lw_out", {"body_temperature_lw_in": {}, "body_temperature": {}})
        == "body_temperature"
    )
    chosen, _ = choose(full_register())
    assert chosen["body_channel"].tolist() == ["", "", "body_temperature", "body_temperature"]


def test_the_chosen_certificate_keeps_all_that_the_register_has_of_it():
    values = {
        "sensor_id": "Q-7",
        "expanded_uncertainty_percent": 4.5,
        "response_time_95": 18.0,
        "instrument_class": "A",
        "reference": "lamp",
        "calibration_temperature": 21.0,
        "temperature_coefficient": -0.1,
        "window_coefficient": 2.0,
    }
    chosen, _ = choose(full_register(**values, programmed_factor=70.0))
    of_heads = {"window_coefficient": [NAN, NAN, 2.0, 2.0]}  # shortwave heads have no window
    for name, value in values.items():
        assert chosen[name].tolist() == pytest.approx(of_heads.get(name, [value] * 4), nan_ok=True), name
    assert (
        chosen["certificate_date"].tolist() == ["2025-05-21"] * 4 and chosen["set"].tolist() == ["heron"] * 4
    )
    assert calibrate.age_in_months("2026-05-22", DAY) < 0 < calibrate.age_in_months("2026-05-20", DAY)


# Clocks and weather


def checks(*ahead):
    start = pd.Timestamp("2026-05-21T09:00Z") + pd.to_timedelta(np.arange(len(ahead)), unit="h")
    shown = start + pd.to_timedelta(list(ahead), unit="s")
    return pd.DataFrame(
        {"set": "heron", "activity": "clock_check", "start_utc": start, "logger_utc": shown, "notes_row": 4}
    )


@pytest.mark.parametrize(
    "ahead, code, seconds, minutes, direction",
    [
        (0.9, None, "", "", ""),
        (1.0, "clock-corrected", "1", "0", "ahead"),
        (-1.0, "clock-corrected", "1", "0", "behind"),
        (900.0, "clock-corrected", "900", "15", "ahead"),
        (-901.0, "clock-check-far-off", "901", "15", "behind"),
    ],
)
def test_a_clock_check_is_told_from_a_second_and_questioned_beyond_a_quarter_of_an_hour(
    ahead, code, seconds, minutes, direction
):
    found = clock_checks.clock_findings(checks(ahead))
    assert [one.code for one in found] == ([code] if code else [])
    for one in found:
        assert one.facts == {"seconds": seconds, "minutes": minutes, "direction": direction}
        assert (one.set, one.line) == ("heron", 4)


@pytest.mark.parametrize("ahead, moved", [(900.0, True), (-900.0, True), (901.0, False), (-901.0, False)])
def test_times_are_corrected_up_to_a_quarter_of_an_hour(ahead, moved):
    middle = pd.Series(pd.to_datetime(["2026-05-21T09:30Z"]))
    found = clock_checks.corrected_moments(middle, checks(ahead))
    assert found - times.since_1970(middle) == pytest.approx([-ahead if moved else 0.0])
    assert clock_checks.corrected_moments(middle, checks(10.0, 30.0)) - times.since_1970(
        middle
    ) == pytest.approx([-(10.0 + 20.0 * 1790.0 / 3620.0)])


def test_clock_checks_are_those_of_the_set():
    noted = pd.concat([checks(1.0), checks(2.0).assign(set="teal"), checks(3.0).assign(activity="walk")])
    assert (
        len(clock_checks.checks_of(noted, "heron")) == 1 and len(clock_checks.checks_of(noted, "rail")) == 0
    )


def test_the_air_in_the_middle_of_a_segment_says_where_it_is_from():
    middle = pd.Series(pd.to_datetime(["2026-05-21T10:00Z", "2026-05-21T15:00Z"]))
    rows = {
        "time_utc": middle[:1],
        "air_temperature": [21.0],
        "relative_humidity": [50.0],
        "pressure": [955.0],
        "wind_speed": [2.5],
    }
    table = pd.DataFrame(rows)
    found = weather.air_of(middle, table, {"air_temperature": 12.0, "pressure": 970.0})
    assert found["air_source"].tolist() == ["weather.csv", "campaign.yaml"]
    assert found["air_temperature"].tolist() == [21.0, 12.0] and found["pressure"].tolist() == [955.0, 970.0]
    assert found["wind_speed"].tolist()[:1] == [2.5] and set(found) == {
        "air_temperature",
        "pressure",
        "wind_speed",
        "air_source",
    }
    assert weather.air_of(middle, table, {})["air_source"].tolist() == ["weather.csv", ""]
    segments = pd.DataFrame({"start_utc": middle, "end_utc": middle + pd.Timedelta("9h")})
    settings = {"weather": {"air_temperature": 12.0, "wind_speed": 1.0}}
    assert weather.temperature_of(segments, table, settings).tolist() == [21.0, 12.0]
    assert weather.wind_of(segments, table, settings).tolist() == [2.5, 1.0]
    assert weather.usual(np.array([3.0, 1.0, np.inf, NAN, 20.0])) == 3.0 and math.isnan(
        weather.usual(np.array([NAN]))
    )
