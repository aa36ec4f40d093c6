"""What slips lead to, against wrong answers worked out by hand from the demo's samples."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from headland.base import findings
from headland.course import rerun, slips
from headland.course.withheld import withholding

from .made_survey import steps, survey, used_samples

SIGMA = 5.670374419e-8
FOUR = ["sw_in", "sw_out", "lw_in", "lw_out"]
OLD, NEW = 1000 / 15.17, 1000 / 14.99  # W m-2 per mV of lapwing's lower shortwave head
CURLEW, LAPWING = {"sw_in": 66.89, "sw_out": 65.66}, {"sw_in": 1000 / 14.71, "sw_out": NEW}


@pytest.fixture(scope="module")
def whole():
    return survey()


@pytest.fixture(scope="module")
def made():
    return {}


@pytest.fixture(scope="module")
def outcomes(whole, made):
    """By code, what each of its slips gives."""
    found = {}
    for code, slip in slips.slips_of(whole):
        found.setdefault(code, []).append(rerun.through(whole, slip, made))
    return found


@pytest.fixture(scope="module")
def right(whole, made):
    return rerun.through(whole, rerun.NO_SLIP, made)


@pytest.fixture(scope="module")
def good():
    """The samples that count, with what a student needs beside them."""
    every = used_samples()
    kept = every[~every["flags"].astype(str).str.contains("edge|missing|impossible|overlap|low-head")]
    kept = kept.assign(emission=SIGMA * (kept["body_temperature"] + 273.15) ** 4)
    return kept.assign(curlew=kept["set"] == "curlew")


def classes(name):
    return {
        surface: entry[name]["value"] for surface, entry in steps().outcome.surfaces.items() if name in entry
    }


def grey(up, down, surface):
    emissivity = classes("emissivity")[surface]
    return ((up - (1 - emissivity) * down) / (emissivity * SIGMA)) ** 0.25 - 273.15


def by_hand(surface, own):
    """code, quantity, value: as a student would get them who made the slip."""
    mean, curlew = own.mean(numeric_only=True), own["curlew"]
    sw_in, sw_out, lw_in, lw_out = (mean[name] for name in FOUR)
    net, ground = sw_in - sw_out + lw_in - lw_out, classes("ground_heat_fraction_day")
    yield from (
        ("no-own-emission", "lw_in", mean["lw_in_net"]),
        ("no-own-emission", "lw_out", mean["lw_out_net"]),
        ("emission-twice", "lw_in", mean["lw_in_net"] + 2 * mean["emission"]),
        ("emission-twice", "lw_out", mean["lw_out_net"] + 2 * mean["emission"]),
        ("emission-in-one-term", "net_radiation", sw_in - sw_out + mean["lw_in_net"] - lw_out),
        ("emission-in-one-term", "net_radiation", sw_in - sw_out + lw_in - mean["lw_out_net"]),
        (
            "celsius-in-fourth-power",
            "lw_out",
            (own["lw_out_net"] + SIGMA * own["body_temperature"] ** 4).mean(),
        ),
        (
            "celsius-in-fourth-power",
            "lw_in",
            (own["lw_in_net"] + SIGMA * own["body_temperature"] ** 4).mean(),
        ),
        ("zero-of-273", "lw_in", (own["lw_in_net"] + SIGMA * (own["body_temperature"] + 273.0) ** 4).mean()),
        ("emissivity-one", "surface_temperature", (lw_out / SIGMA) ** 0.25 - 273.15),
        ("reflected-sky-forgotten", "surface_temperature", grey(lw_out, 0.0, surface)),
        ("mean-of-ratios", "albedo", (own["sw_out"] / own["sw_in"]).mean()),
        ("ratio-upside-down", "albedo", sw_in / sw_out),
        ("factor-outdated", "sw_out", own["sw_out"].where(curlew, own["sw_out"] / NEW * OLD).mean()),
        ("factor-inverted", "sw_in", own["sw_in"].where(~curlew, own["sw_in"] / 66.89 * 1000 / 66.89).mean()),
        ("wrong-sign", "net_radiation", -net),
        ("wrong-sign", "net_radiation", net - 2 * (lw_in - lw_out)),
        ("wrong-sign", "net_radiation", net - 2 * (sw_in - sw_out)),
        ("wrong-sign", "net_radiation", net + 2 * sw_out),
        ("wrong-sign", "net_radiation", net + 2 * lw_out),
        ("wrong-sign", "surface_temperature", -grey(lw_out, lw_in, surface)),
        ("net-of-three-terms", "net_radiation", net - sw_in),
        ("net-of-three-terms", "net_radiation", net + sw_out),
        ("net-of-three-terms", "net_radiation", net - lw_in),
        ("net-of-three-terms", "net_radiation", net + lw_out),
        ("one-band-only", "net_radiation", sw_in - sw_out),
        ("one-band-only", "net_radiation", lw_in - lw_out),
        ("net-as-visited", "net_radiation_common_sky", net),
        ("ground-heat-of-another-class", "ground_heat", ground["bare_dry_soil"] * net),
        ("ground-heat-forgotten", "ground_heat", 0.0),
    )
    # lapwing stores W m-2, and only of its lower head the programmed factor is known
    exchanged = own["sw_out"] * np.where(
        curlew, CURLEW["sw_in"] / CURLEW["sw_out"], LAPWING["sw_in"] / LAPWING["sw_out"]
    )
    yield "factor-of-other-head", "sw_out", exchanged.mean()
    exchanged = own["sw_in"] * np.where(curlew, CURLEW["sw_out"] / CURLEW["sw_in"], 1.0)
    yield "factor-of-other-head", "sw_in", exchanged.mean()
    lent = own["sw_in"] * np.where(curlew, LAPWING["sw_in"] / CURLEW["sw_in"], 1.0)
    yield "factor-of-another-set", "sw_in", lent.mean()


def near(tables, surface, quantity, value):
    return any(
        abs(table.surfaces[quantity][surface] - value) < 2e-3 * max(abs(value), 1.0) for table in tables
    )


def test_each_wrong_answer_by_hand_is_what_its_slip_gives(outcomes, good):
    missed = [
        (surface, code, quantity, value)
        for surface, own in good.groupby("surface")
        for code, quantity, value in by_hand(surface, own)
        if not near(outcomes[code], surface, quantity, value)
    ]
    assert missed == []


def test_the_air_taken_for_the_body(outcomes, good):
    weather = pd.read_csv(steps().campaign / "weather.csv")
    air = np.interp(
        pd.to_datetime(good["time_utc"], utc=True).dt.as_unit("s").astype("int64"),
        pd.to_datetime(weather["time_utc"], utc=True).dt.as_unit("s").astype("int64"),
        weather["air_temperature"],
    )
    wrong = (good["lw_out_net"] + SIGMA * (air + 273.15) ** 4).groupby(good["surface"]).mean()
    for surface, value in wrong.items():
        assert near(outcomes["air-for-body"], surface, "lw_out", value)


def test_edges_that_count(outcomes):
    every = used_samples()
    for surface, value in every.groupby("surface")["sw_out"].mean().items():
        assert near(outcomes["edges-included"], surface, "sw_out", value)


def test_without_a_slip_it_is_what_the_chain_reports(right):
    means = steps().outcome.means["surfaces"].set_index("surface")
    balances = steps().outcome.balances["surfaces_balance"].set_index("surface")
    for name in [*FOUR, "albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky"]:
        assert right.surfaces[name].to_dict() == pytest.approx(means[name].to_dict(), rel=1e-9)
    for name in ("ground_heat", "sensible_heat", "latent_heat"):
        found, wanted = right.surfaces[name], balances[name]
        assert found.to_dict() == pytest.approx(wanted.to_dict(), rel=1e-9, nan_ok=True)


def test_sets_that_are_exchanged_find_no_samples_or_another_ground(outcomes, right):
    (swapped,) = outcomes["sets-swapped"]
    both = swapped.surfaces["sw_out"].dropna()
    assert not np.allclose(both, right.surfaces["sw_out"][both.index], rtol=1e-3)


def test_a_clock_an_hour_or_two_off_moves_the_notes_over_other_samples(whole, outcomes, right):
    offsets = {entry["utc_offset"] for entry in whole.sets.values()}
    assert whole.notes_offset == 7200.0 and max(offsets) > 0.0
    assert len(outcomes["local-time-as-utc"]) == 3
    for table in outcomes["local-time-as-utc"]:
        moved = table.segments["samples_used"] != right.segments["samples_used"]
        assert moved.any()


def test_what_the_chain_withholds_has_no_right_value_and_a_name_for_who_used_it(whole, made):
    frozen = findings.Finding("channel-frozen", set="curlew", channel="lw_out")
    survey_ = dataclasses.replace(whole, found=[*whole.found, frozen])
    slip = dict(slips.slips_of(survey_))["withheld-included"]
    nothing, used = (rerun.through(survey_, one, {}) for one in (rerun.NO_SLIP, slip))
    mine = nothing.segments["set"] == "curlew"
    assert nothing.segments.loc[mine, ["lw_out", "net_radiation"]].isna().all(axis=None)
    assert nothing.segments.loc[~mine, "net_radiation"].notna().all()
    assert used.segments.loc[mine, "lw_out"].notna().all()
    assert "withheld-included" not in dict(slips.slips_of(whole))


def test_on_one_scale_the_sets_agree_side_by_side(whole):
    survey_ = dataclasses.replace(whole, set_scale="mean")
    lacks = dict(slips.slips_of(survey_))["set-scale-missing"]
    scaled, own = (rerun.through(survey_, one, {}) for one in (rerun.NO_SLIP, lacks))
    beside = scaled.segments[scaled.segments["activity"] == "side_by_side"]
    for _, pair in beside.groupby("field"):
        assert np.ptp(pair.groupby("set")["sw_in"].mean()) < 0.3
    assert np.ptp(own.segments.loc[beside.index].groupby("set")["sw_in"].mean()) > 1.0
    assert (scaled.segments["net_radiation"] - own.segments["net_radiation"]).abs().min() > 0.5
    assert "set-scale-missing" not in dict(slips.slips_of(whole))


def test_two_slips_change_different_things_or_can_not_be_made_together():
    twice, one, scale = (
        rerun.Slip(lw_in=slips._twice),
        rerun.Slip(lw_in=slips._bare),
        rerun.Slip(set_scale="none"),
    )
    assert twice.beside(one) is None
    assert twice.beside(scale).parts == {"lw_in": slips._twice, "set_scale": "none"}


def test_a_part_of_the_survey_has_what_an_item_needs(whole):
    name = whole.segments.loc[whole.segments["surface"] == "paving", "segment"].iloc[0]
    part = rerun.part_of(whole, "segments", name)
    assert set(part.segments["segment"]) - {name} <= set(
        whole.segments.loc[whole.segments["activity"] == "sky_monitor", "segment"]
    )
    scaled = rerun.part_of(dataclasses.replace(whole, set_scale="mean"), "surfaces", "paving")
    assert set(scaled.segments["surface"]) >= {"paving"}
    beside = whole.segments["activity"] == "side_by_side"
    assert set(whole.segments.loc[beside, "segment"]) <= set(scaled.segments["segment"])
    other = whole.segments["surface"].eq("short_grass") & whole.segments["activity"].eq("walk")
    assert not set(whole.segments.loc[other, "segment"]) & set(scaled.segments["segment"])


@pytest.mark.parametrize(
    "channel, lost",
    [("sw_in", {"sw_in", "albedo"}), ("sw_out", {"sw_out", "albedo"}),
     ("lw_in", {"lw_in", "surface_temperature"}), ("lw_out", {"lw_out", "surface_temperature"})],
)  # fmt: skip
def test_a_frozen_channel_takes_what_is_made_from_it(whole, right, channel, lost):
    """Net radiation is made from all four. Segments of the other set, and under its own sky, keep theirs."""
    frozen = findings.Finding("channel-frozen", set="curlew", channel=channel)
    survey_ = dataclasses.replace(whole, found=[*whole.found, frozen])
    own = right.segments[right.segments["set"] == "curlew"].index[0]
    other = right.segments[
        (right.segments["set"] == "lapwing") & (right.segments["incoming_set"] == "lapwing")
    ]
    for quantity in (*FOUR, "albedo", "surface_temperature", "net_radiation"):
        found = withholding(survey_, right.segments, "segments", own, quantity)
        assert (frozen in found) == (quantity in lost or quantity == "net_radiation"), quantity
        assert frozen not in withholding(survey_, right.segments, "segments", other.index[0], quantity)
    surface = right.segments.loc[own, "surface"]
    assert frozen in withholding(survey_, right.segments, "surfaces", surface, channel)


def test_fractions_of_another_class_are_those_of_the_day_and_of_the_night(whole):
    fractions = [
        slip.fractions for code, slip in slips.slips_of(whole) if code == "ground-heat-of-another-class"
    ]
    day, night = classes("ground_heat_fraction_day"), classes("ground_heat_fraction_night")
    assert fractions == [{True: day[name], False: night[name]} for name in whole.surfaces if name in day]
    # another slip of that code forgets the minus of ground heat in the sensible heat alone
    forgetting = [slip for code, slip in slips.slips_of(whole) if code == "ground-heat-forgotten"]
    (forgotten,) = [slip.fractions for slip in forgetting if slip.fractions is not None]
    assert forgotten == {True: 0.0, False: 0.0}


def test_factors_that_are_the_same_or_unknown_are_no_slip(whole):
    assert slips._with_factors(whole, lambda name, row: np.nan) is None
    assert slips._with_factors(whole, lambda name, row: row["factor"]) is None
    one = slips._with_factors(
        whole, lambda name, row: 50.0 if (name, row["channel"]) == ("curlew", "sw_in") else np.nan
    )
    for name, table in whole.certificates.items():
        changed = one.certificates[name]["factor"].to_numpy() != table["factor"].to_numpy()
        assert table["channel"][changed].tolist() == (["sw_in"] if name == "curlew" else [])
