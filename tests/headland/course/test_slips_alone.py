"""Slips one by one on numbers written here: what each changes, and where it can't be made."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.base.findings import Finding
from headland.course import slips
from headland.course.rerun import Outcome

SIGMA = 5.670374419e-8
CHANNELS = ["sw_in", "sw_out", "lw_in", "lw_out"]


def certificates(*factors, programmed=np.nan):
    return pd.DataFrame(
        {
            "channel": CHANNELS,
            "factor": factors,
            "programmed_factor": programmed,
            "certificate_date": "2025-03-01",
        }
    )


def survey(**changes):
    """Heron stores mV, curlew W m-2."""
    register = pd.DataFrame(
        [("heron", "sw_in", "2019-03-01", 61.0), ("heron", "sw_in", "2022-03-01", 62.0),
         ("heron", "sw_in", "2025-03-01", 70.0), ("curlew", "sw_in", "2022-03-01", 63.0),
         ("heron", "sw_out", "2025-03-01", 60.0), ("heron", "sw_in", "2027-03-01", 66.0)],
        columns=["set", "channel", "certificate_date", "factor"],
    ).iloc[[1, 0, 2, 3, 4, 5]]  # fmt: skip
    units = {"heron": "mV", "curlew": "W m-2"}
    given = {
        "certificates": {
            "heron": certificates(70.0, 60.0, 100.0, 50.0, programmed=59.0),
            "curlew": certificates(71.0, 61.0, 101.0, 51.0),
        },
        "sets": {
            name: {"channels": {c: {"unit": unit} for c in CHANNELS}, "utc_offset": offset}
            for (name, unit), offset in zip(units.items(), (3600.0, 0.0), strict=True)
        },
        "register": register,
        "air": {"heron": np.array([15.0, np.nan]), "curlew": np.array([np.nan])},
        "notes_offset": 7200.0,
        "found": [],
        "set_scale": "none",
        "excluding": {"edge"},
        "surfaces": {},
    }
    return SimpleNamespace(**(given | changes))


def grouped(named):
    found = {}
    for code, slip in named:
        found.setdefault(code, []).append(slip)
    return found


# Emission ---------------------------------------------------------------------------------------------------


def test_each_slip_of_the_emission_by_hand():
    """A net signal of -100 W m-2 and a body of 300 K."""
    emission, found = SIGMA * 300.0**4, grouped(slips._of_emission(survey()))
    wanted = {
        "no-own-emission": -100.0,
        "emission-twice": -100.0 + 2 * emission,
        "celsius-in-fourth-power": -100.0 + SIGMA * 26.85**4,
        "zero-of-273": -100.0 + SIGMA * 299.85**4,
    }
    for code, value in wanted.items():
        for rule in (found[code][0].lw_in, found[code][0].lw_out):
            assert rule(-100.0, 300.0) == pytest.approx(value), code
    first, second = found["emission-in-one-term"]
    assert first.lw_in(-100.0, 300.0) == second.lw_out(-100.0, 300.0) == -100.0
    assert first.lw_out is None and second.lw_in is None


def test_the_air_in_kelvin_is_taken_for_the_body_where_any_is_known():
    (slip,) = grouped(slips._of_emission(survey()))["air-for-body"]
    assert (
        slip.body["heron"].tolist() == pytest.approx([288.15, np.nan], nan_ok=True)
        and np.isnan(slip.body["curlew"]).all()
    )
    unknown = survey(air={"heron": np.array([np.nan])})
    assert "air-for-body" not in grouped(slips._of_emission(unknown))


def outcome(**columns):
    table = pd.DataFrame(columns, index=pd.Index(["paving"], name="surface"))
    return Outcome(table, table)


def test_a_zero_of_273_is_made_in_the_fluxes_in_the_temperature_or_in_both():
    fluxes, warmer, both = grouped(slips._of_emission(survey()))["zero-of-273"]
    assert fluxes.last is None and warmer.lw_in is None and both.lw_out is fluxes.lw_out
    for slip in (warmer, both):
        found = slip.last(survey(), {}, outcome(surface_temperature=20.0))
        assert found.surfaces["surface_temperature"].tolist() == pytest.approx([20.15])
        assert found.segments["surface_temperature"].tolist() == pytest.approx([20.15])


# Factors ----------------------------------------------------------------------------------------------------


def factors(slip, name="heron"):
    return slip.certificates[name]["factor"].tolist()


def test_heads_of_one_band_lend_each_other_their_factors():
    found = grouped(slips._of_factors(survey()))["factor-of-other-head"]
    assert [factors(one) for one in found] == [
        [60.0, 60.0, 100.0, 50.0],
        [70.0, 70.0, 100.0, 50.0],
        [70.0, 60.0, 50.0, 50.0],
        [70.0, 60.0, 100.0, 100.0],
        [60.0, 70.0, 100.0, 50.0],
        [70.0, 60.0, 50.0, 100.0],
    ]
    assert factors(found[4], "curlew") == [61.0, 71.0, 101.0, 51.0]


def test_an_outdated_factor_is_the_newest_before_the_one_in_force_or_the_programmed_one():
    (slip,) = grouped(slips._of_factors(survey()))["factor-outdated"]
    assert factors(slip) == [62.0, 59.0, 59.0, 59.0]
    assert factors(slip, "curlew") == [63.0, 61.0, 101.0, 51.0]


def test_an_inverted_factor_is_1000_by_it_where_the_logger_stores_millivolts():
    found = grouped(slips._of_factors(survey()))["factor-inverted"]
    assert [factors(one) for one in found] == [
        pytest.approx([1000 / 70, 1000 / 60, 100.0, 50.0]),
        pytest.approx([70.0, 60.0, 10.0, 20.0]),
        pytest.approx([1000 / 70, 1000 / 60, 10.0, 20.0]),
    ]
    assert all(factors(one, "curlew") == [71.0, 61.0, 101.0, 51.0] for one in found)


def test_one_set_lends_its_factors_to_all():
    found = grouped(slips._of_factors(survey()))["factor-of-another-set"]
    assert len(found) == 14  # each of two sets lends four heads, two bands, all
    assert [factors(one) for one in found[-3:]] == [
        [71.0, 61.0, 100.0, 50.0],
        [70.0, 60.0, 101.0, 51.0],
        [71.0, 61.0, 101.0, 51.0],
    ]
    assert factors(found[6], "curlew") == [70.0, 60.0, 100.0, 50.0]


def test_one_set_alone_has_no_factors_of_another():
    alone = survey(
        certificates={"heron": certificates(70.0, 70.0, 50.0, 50.0)}, register=survey().register.iloc[:0]
    )
    found = grouped(slips._of_factors(alone))
    assert set(found) == {"factor-inverted"}  # nothing older is known, and both heads have one factor


# Ratios and signs -------------------------------------------------------------------------------------------


def test_means_of_ratios_in_three_ways():
    """Ratios of h1: 0.5, 0.25 (and 1 under a low sun, 1 in the dark, 0.1 at an edge, 0.2 of no segment); of
    h2: 0.3; of h3: 0.6.

    By samples (0.5 + 0.25 + 0.3 + 0.6) / 4, by segments (0.375 + 0.3 + 0.6) / 3, of the segments' albedos
    (0.4 + 0.3 + 0.8) / 3.
    """
    samples = pd.DataFrame(
        [("h1", 400.0, 200.0, 40.0, ""), ("h1", 800.0, 200.0, 40.0, ""), ("h1", 100.0, 100.0, 5.0, ""),
         ("h1", 40.0, 40.0, 40.0, ""), ("h1", 800.0, 80.0, 40.0, "edge"), ("", 100.0, 20.0, 40.0, "")],
        columns=["segment", "sw_in", "sw_out", "solar_elevation", "flags"],
    )  # fmt: skip
    other = pd.DataFrame(
        {"segment": ["h2", "h3"], "sw_in": [100.0, 500.0], "sw_out": [30.0, 300.0], "solar_elevation": 40.0,
         "flags": ""}
    )  # fmt: skip
    segments = pd.DataFrame(
        {"segment": ["h1", "h2", "h3", "h4"], "surface": "paving", "weight": 10.0,
         "activity": ["walk", "stand", "walk", "side_by_side"], "albedo": [0.4, 0.3, 0.8, 0.9]}
    ).set_index("segment")  # fmt: skip
    right = Outcome(segments, pd.DataFrame({"albedo": [0.35]}, index=pd.Index(["paving"], name="surface")))
    found = slips.mean_of_ratios(survey(), {"heron": samples, "curlew": other}, right)
    assert [one.surfaces["albedo"].item() for one in found] == pytest.approx([0.4125, 0.425, 0.5])
    assert all(one.segments["albedo"].to_dict()["h1"] == 0.375 for one in found)
    twice = {"heron": pd.concat([samples.iloc[:2], samples.iloc[:2]]), "curlew": other}
    ways = grouped(slips._of_ratios())["mean-of-ratios"]
    weighed = [way.last(survey(), twice, right).surfaces["albedo"].item() for way in ways]
    assert weighed == pytest.approx([0.4, 0.425, 0.5])


def test_ratios_upside_down_leave_a_zero_unknown():
    (slip,) = grouped(slips._of_ratios())["ratio-upside-down"]
    found = slip.last(survey(), {}, outcome(albedo=0.25, bowen_ratio=0.5, sw_in=800.0)).surfaces
    assert found.iloc[0].to_dict() == {"albedo": 4.0, "bowen_ratio": 2.0, "sw_in": 800.0}
    assert np.isnan(slip.last(survey(), {}, outcome(albedo=0.0)).surfaces["albedo"].item())


def test_signs_and_terms_left_out():
    """800 - 200 + 300 - 450 = 450."""
    four, found = (800.0, 200.0, 300.0, 450.0), grouped(slips._of_signs())
    assert [one.net(*four) for one in found["wrong-sign"] if one.net] == [
        -450.0,
        750.0,
        -750.0,
        850.0,
        1350.0,
    ]
    assert [one.net(*four) for one in found["net-of-three-terms"]] == [-350.0, 650.0, 150.0, 900.0]
    assert [one.net(*four) for one in found["one-band-only"]] == [600.0, -150.0]
    (negative,) = [one for one in found["wrong-sign"] if one.last]
    table = outcome(albedo=0.2, state="x")
    assert negative.last(survey(), {}, table).surfaces["albedo"].item() == -0.2


# Times, sets, surfaces --------------------------------------------------------------------------------------


def shifts(given):
    return [
        tuple(slip.shift(entry) for entry in given.sets.values())
        for slip in grouped(slips._of_times(given)).get("local-time-as-utc", [])
    ]


def test_local_time_taken_for_utc_in_the_notes_the_logger_or_both():
    assert shifts(survey()) == [(7200.0, 7200.0), (-3600.0, 0.0), (3600.0, 7200.0)]
    assert shifts(survey(notes_offset=0.0)) == [(-3600.0, 0.0), (-3600.0, 0.0)]
    at_utc = survey(notes_offset=0.0)
    at_utc.sets["heron"]["utc_offset"] = 0.0
    assert shifts(at_utc) == []


def test_what_is_withheld_is_used_only_where_something_is():
    assert "withheld-included" not in grouped(slips._of_times(survey()))
    frozen = survey(found=[Finding("channel-frozen", set="heron", channel="sw_in")])
    found = grouped(slips._of_times(frozen))
    assert [one.found for one in found["withheld-included"]] == [()]
    assert [one.kept for one in found["edges-included"]] == [frozenset({"edge"})]


def test_sets_are_swapped_in_pairs_and_lack_a_scale_where_there_is_one():
    three = survey(sets=dict.fromkeys(("a", "b", "c")), set_scale="mean")
    found = grouped(slips._of_sets(three))
    assert [one.swap for one in found["sets-swapped"]] == [("a", "b"), ("a", "c"), ("b", "c")]
    assert [one.set_scale for one in found["set-scale-missing"]] == ["none"]
    assert "set-scale-missing" not in grouped(slips._of_sets(survey()))


CLASSES = {
    "paving": {
        "emissivity": {"value": 0.9, "low": 0.85},
        "ground_heat_fraction_day": {"value": 0.4},
        "ground_heat_fraction_night": {"value": 0.7},
    },
    "tank": {"emissivity": {"value": 0.97}},
}


def test_slips_of_surfaces():
    found = grouped(slips._of_surfaces(survey(surfaces=CLASSES)))
    (black,) = found["emissivity-one"]
    assert [entry["emissivity"]["value"] for entry in black.surfaces.values()] == [1.0, 1.0]
    assert (
        black.surfaces["paving"]["emissivity"]["low"] == 0.85
        and CLASSES["paving"]["emissivity"]["value"] == 0.9
    )
    assert [one.fractions for one in found["ground-heat-of-another-class"]] == [{True: 0.4, False: 0.7}]
    assert [one.fractions for one in found["ground-heat-forgotten"]] == [{True: 0.0, False: 0.0}]


def test_without_the_reflected_sky_all_that_is_measured_is_emitted():
    """0.9 sigma (300 K)^4 is 300 K; a segment without a surface is black."""
    (slip,) = grouped(slips._of_surfaces(survey(surfaces=CLASSES)))["reflected-sky-forgotten"]
    flux = 0.9 * SIGMA * 300.0**4
    segments = pd.DataFrame({"surface": ["paving", ""], "lw_out": [flux, flux]}, index=["h1", "h2"])
    surfaces = pd.DataFrame({"lw_out": [flux]}, index=pd.Index(["paving"], name="surface"))
    found = slip.last(survey(surfaces=CLASSES), {}, Outcome(segments, surfaces))
    assert found.surfaces["surface_temperature"].tolist() == pytest.approx([26.85])
    assert found.segments["surface_temperature"].tolist() == pytest.approx(
        [26.85, 300.0 * 0.9**0.25 - 273.15]
    )


def test_net_radiation_as_visited_stands_for_that_under_one_sky_of_surfaces():
    (slip,) = grouped(slips._of_sky())["net-as-visited"]
    found = slip.last(survey(), {}, outcome(net_radiation=500.0, net_radiation_common_sky=480.0))
    assert found.surfaces["net_radiation_common_sky"].item() == 500.0
    assert found.segments["net_radiation_common_sky"].item() == 480.0


def test_every_kind_of_slip_is_in_the_list(monkeypatch):
    monkeypatch.setattr(slips, "slips_of_balance", lambda given: [("of-balance", None)])
    codes = {code for code, _ in slips.slips_of(survey(surfaces=CLASSES, set_scale="mean"))}
    assert codes >= {
        "no-own-emission", "factor-outdated", "mean-of-ratios", "wrong-sign", "edges-included",
        "sets-swapped", "emissivity-one", "of-balance", "net-as-visited",
    }  # fmt: skip
