"""Sets side by side: what a pair is, one scale, and what it does to values and intervals."""

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty import intercompare
from headland.uncertainty.linear import half_width
from headland.uncertainty.model import MEASURED
from headland.uncertainty.sources import instrument_sources

from . import made


def side_by_side(**changes):
    """Heron walks stubble, curlew paving. Before that both stood on the stubble.

    There curlew read 4 % less sun and 6 W m-2 more from the ground.
    """
    start = [pd.Timestamp("2026-05-21T08:00:00Z")] * 2 + [pd.Timestamp("2026-05-21T09:00:00Z")] * 2
    frame = made.segments(
        4,
        ("heron", "curlew", "heron", "curlew"),
        ("stubble", "stubble", "stubble", "paving"),
        sw_in=np.array([800.0, 768.0, 800.0, 768.0]),
        sw_out=np.array([190.0, 190.0, 190.0, 90.0]),
        lw_out=np.array([450.0, 456.0, 450.0, 486.0]),
        lw_out_net=20.0,
        field=["f0", "f0", "f0", "f1"],
        activity=["side_by_side", "side_by_side", "walk", "walk"],
        start_utc=start,
        **changes,
    )
    return frame.assign(end_utc=frame["start_utc"] + pd.Timedelta(minutes=10))


def test_pairs_are_over_one_field_at_one_time():
    frame = side_by_side()
    assert intercompare.visits(frame) == [{"heron": 0, "curlew": 1}]
    assert intercompare.visits(frame.assign(field=["f0", "f1", "f0", "f1"])) == []
    late = frame.assign(
        start_utc=frame["start_utc"] + pd.to_timedelta([0, 5, 0, 0], unit="min"),
        end_utc=frame["end_utc"] + pd.to_timedelta([0, 5, 0, 0], unit="min"),
    )
    assert intercompare.visits(late) == []
    assert intercompare.visits(frame.assign(samples_used=[0, 100, 100, 100])) == []


@pytest.mark.parametrize(
    "reference, heron, curlew",
    [
        ("heron", (800.0, 450.0), (800.0, 480.0)),
        ("curlew", (768.0, 456.0), (768.0, 486.0)),
        ("mean", (784.0, 453.0), (784.0, 483.0)),
    ],
)
def test_sets_are_put_on_one_scale(reference, heron, curlew):
    result = made.whole(side_by_side(), set_scale=reference, draws=400).segments
    walks = result[result["activity"] == "walk"].set_index("set")
    assert walks.loc["heron", ["sw_in", "lw_out"]].tolist() == pytest.approx(heron) and walks.loc[
        "curlew", ["sw_in", "lw_out"]
    ].tolist() == pytest.approx(curlew)
    assert walks["net_radiation"].to_numpy() == pytest.approx(
        (walks["sw_in"] - walks["sw_out"] + walks["lw_in"] - walks["lw_out"]).to_numpy()
    )
    for name in MEASURED:
        assert ((walks[f"{name}_low"] <= walks[name]) & (walks[name] <= walks[f"{name}_high"])).all(), name


def test_on_one_scale_what_each_head_has_of_its_own_cancels_between_sets():
    frame = side_by_side()

    def width(terms, scale):
        result = made.whole(frame, made.only(*terms), set_scale=scale, draws=1500)
        row = result.differences.set_index("quantity").loc["net_radiation"]
        return row["difference_high"] - row["difference_low"]

    assert width(("certificate_sensor",), "none") > 20.0 and width(
        ("certificate_sensor",), "heron"
    ) < 0.35 * width(("certificate_sensor",), "none")
    # the comparison has an uncertainty of its own: the ground under the two
    assert (
        width(("side_by_side",), "heron")
        > 5.0
        > width(("side_by_side",), "none")
        == pytest.approx(0.0, abs=1e-9)
    )


def test_the_comparison_names_what_was_read():
    table = made.whole(side_by_side(), draws=2000).intercomparison.set_index("channel")
    row = table.loc["sw_in"]
    assert (row["set_a"], row["set_b"], row["difference"]) == (
        "heron",
        "curlew",
        pytest.approx(32.0),
    ) and row["ratio"] == pytest.approx(800.0 / 768.0)
    assert (
        row["difference_low"] < 32.0 < row["difference_high"]
        and row["ratio_low"] < 800.0 / 768.0 < row["ratio_high"]
    )
    segments = made.whole(side_by_side(), draws=2000).segments.iloc[:2]
    half = ((segments["sw_in_high"] - segments["sw_in_low"]) / 2.0).to_numpy()
    assert row["e_n"] == pytest.approx(32.0 / np.hypot(*half), rel=1e-6)
    assert table.loc["lw_out", "difference"] == pytest.approx(-6.0)


def test_a_set_that_never_stood_by_the_reference_is_named_and_keeps_its_scale():
    frame = side_by_side().assign(activity="walk")
    result = made.whole(frame, set_scale="heron", draws=200)
    assert [f.set for f in result.findings if f.code == "scale-not-known"] == ["curlew"]
    assert result.segments.loc[3, "sw_in"] == 768.0 and result.intercomparison.empty
    assert not [f for f in made.whole(frame, draws=200).findings if f.code == "scale-not-known"]


def test_without_sun_shortwave_heads_are_not_compared():
    frame = side_by_side()
    dark = frame.assign(sw_in=frame["sw_in"] / 100.0, sw_out=frame["sw_out"] / 100.0)
    assert made.whole(dark, set_scale="heron", draws=200).segments.loc[3, "sw_in"] == pytest.approx(7.68)


def test_a_monitor_s_errors_are_the_monitor_s():
    """Heron's walk with curlew's incoming terms: curlew's heads make the error of SW_in and L_in."""
    frame = made.segments().assign(incoming_set="curlew", incoming_heading=180.0)
    terms = made.only("certificate_sensor", "zero", "body_temperature")
    sources = instrument_sources(frame, made.certificates(("heron", "curlew")), terms)
    touched = {
        (source.unit.split("/")[0], name)
        for source in sources
        for name, size in source.shift.items()
        if size.any()
    }
    assert (
        ("curlew", "factor_sw_in") in touched
        and ("heron", "factor_sw_in") not in touched
        and ("heron", "factor_sw_out") in touched
    )
    assert (
        ("curlew", "body_lw_in") in touched
        and ("heron", "body_lw_out") in touched
        and ("heron", "body_lw_in") not in touched
    )
    # the two thermometers are two: the body temperature no longer cancels in net radiation
    half = half_width(made.parts(sources, "net_radiation", frame))
    assert (half > 2.0).all()


# What the comparison and the scale know ---------------------------------------------------------------------


def test_e_n_by_hand():
    assert intercompare.normalised_error(-3.0, 3.0, 4.0) == pytest.approx(0.6)
    assert intercompare.normalised_error(0.03, 0.02) == pytest.approx(1.5)
    assert np.isnan(intercompare.normalised_error(1.0, 0.0, 0.0))


def compared(frame, *terms, draws=4000):
    """Half widths of difference and ratio by channel, for heron and curlew side by side."""
    table = made.whole(frame, made.only(*terms), draws=draws).intercomparison.set_index("channel")
    half = {name: (table[f"{name}_high"] - table[f"{name}_low"]) / 2.0 for name in ("difference", "ratio")}
    return half, table


def test_what_two_sets_share_cancels_in_their_comparison():
    """The band's reference moves both: the ratio has no interval, the difference that of 32 W m-2 alone."""
    half, table = compared(side_by_side(), "certificate_band")
    band = 1.96 * 0.015 * np.sqrt(0.2)
    assert half["ratio"]["sw_in"] == pytest.approx(0.0, abs=1e-9)
    assert half["difference"]["sw_in"] == pytest.approx(band * 32.0, rel=0.02)
    # E_n is of the two sets' own intervals, which each have the reference's error
    assert table.loc["sw_in", "e_n"] == pytest.approx(32.0 / (band * np.hypot(800.0, 768.0)), rel=0.02)


def test_what_two_sets_do_not_share_is_in_their_comparison():
    half, _ = compared(side_by_side(), "certificate_sensor")
    own = 1.96 * 0.015 * np.sqrt(0.8)
    assert half["difference"]["sw_in"] == pytest.approx(own * np.hypot(800.0, 768.0), rel=0.02)
    assert half["ratio"]["sw_in"] == pytest.approx(own * np.sqrt(2.0) * 800.0 / 768.0, rel=0.02)


def test_the_ground_under_two_sets_is_in_their_comparison():
    """6 and 5 W m-2 under each of the two; the sky over them is one."""
    half, _ = compared(side_by_side(), "side_by_side")
    assert half["difference"]["sw_out"] == pytest.approx(1.96 * 6.0 * np.sqrt(2.0), rel=0.02)
    assert half["difference"]["lw_out"] == pytest.approx(1.96 * 5.0 * np.sqrt(2.0), rel=0.02)
    assert half["difference"]["sw_in"] == pytest.approx(0.0, abs=1e-9)
    assert half["difference"]["lw_in"] == pytest.approx(0.0, abs=1e-9)


def test_the_ground_under_two_sets_is_no_error_of_what_each_reads():
    result = made.whole(side_by_side(), made.only("side_by_side"), draws=100).segments
    for channel in ("sw_out", "lw_out"):
        assert result[f"{channel}_high"].tolist() == result[f"{channel}_low"].tolist()


def test_the_ground_side_by_side_is_the_scatter_of_that_field_s_walks():
    frame = side_by_side().assign(ground_sw_out=[99.0, 99.0, 3.0, 20.0])
    assert intercompare.ground_scatter(frame, "sw_out") == {0: 3.0, 1: 3.0}  # the walk over f0, not f1
    elsewhere = frame.assign(field=["f0", "f0", "f1", "f1"])
    root = np.sqrt((3.0**2 + 20.0**2) / 2.0)  # of all walks where that field was not walked
    assert intercompare.ground_scatter(elsewhere, "sw_out") == pytest.approx({0: root, 1: root})
    none = frame.assign(activity=["side_by_side", "side_by_side", "stand", "stand"])
    assert intercompare.ground_scatter(none, "sw_out") == {0: 0.0, 1: 0.0}
    unused = frame.assign(samples_used=[100, 100, 0, 100])
    assert intercompare.ground_scatter(unused, "sw_out") == {0: 20.0, 1: 20.0}


@pytest.mark.parametrize("minutes, together", [(2.0, True), (2.1, False), (-2.0, True), (-2.1, False)])
def test_sets_are_side_by_side_with_four_fifths_of_their_time_in_common(minutes, together):
    frame = side_by_side()
    late = pd.to_timedelta([0.0, minutes, 0.0, 0.0], unit="min")
    moved = frame.assign(start_utc=frame["start_utc"] + late, end_utc=frame["end_utc"] + late)
    assert bool(intercompare.visits(moved)) == together


def test_the_longer_of_two_intervals_counts():
    frame = side_by_side()
    longer = frame.assign(end_utc=frame["end_utc"] + pd.to_timedelta([0.0, 3.0, 0.0, 0.0], unit="min"))
    assert intercompare.visits(longer) == []  # ten minutes of thirteen


def scaled(reference, flux, errors, sunny=True):
    """Fluxes of heron and curlew side by side and once more each, on one scale."""
    sets = np.array(["heron", "curlew", "heron", "curlew"])
    scale = intercompare.Scale(reference, sets, sets, [{"heron": 0, "curlew": 1}], [sunny])
    rows = {channel: np.array([flux], float) for channel in ("sw_in", "sw_out", "lw_in", "lw_out")}
    return intercompare.on_one_scale(rows, scale, {name: np.array([e], float) for name, e in errors.items()})


def test_one_scale_is_a_ratio_for_shortwave_and_a_difference_for_longwave():
    found = scaled("heron", [100.0, 80.0, 50.0, 60.0], {})
    assert found["sw_in"][0].tolist() == pytest.approx([100.0, 100.0, 50.0, 75.0])
    assert found["lw_in"][0].tolist() == pytest.approx([100.0, 100.0, 50.0, 80.0])
    mean = scaled("mean", [100.0, 80.0, 50.0, 60.0], {})
    assert mean["sw_out"][0].tolist() == pytest.approx([90.0, 90.0, 45.0, 67.5])
    assert mean["lw_out"][0].tolist() == pytest.approx([90.0, 90.0, 40.0, 70.0])
    dark = scaled("heron", [100.0, 80.0, 50.0, 60.0], {}, sunny=False)
    assert dark["sw_in"][0].tolist() == [100.0, 80.0, 50.0, 60.0]
    assert dark["lw_in"][0].tolist() == pytest.approx([100.0, 100.0, 50.0, 80.0])


def test_the_ground_under_a_set_is_no_part_of_its_scale():
    """Curlew stood over ground that was 10 W m-2 darker: over the same ground it would have read 90."""
    errors = {"side_by_side_sw_out": [0.0, -10.0, 0.0, 0.0], "side_by_side_lw_out": [0.0, -10.0, 0.0, 0.0]}
    found = scaled("heron", [100.0, 80.0, 50.0, 60.0], errors)
    assert found["sw_out"][0, 3] == pytest.approx(60.0 * 100.0 / 90.0)
    assert found["lw_out"][0, 3] == pytest.approx(60.0 + 10.0)
    assert found["sw_in"][0, 3] == pytest.approx(75.0)


@pytest.mark.parametrize("sun, scaled_too", [(49.0, False), (51.0, True)])
def test_shortwave_heads_are_compared_above_50(sun, scaled_too):
    frame = side_by_side().assign(sw_in=[sun, sun, 800.0, 768.0])
    scale, _ = intercompare.scale_of(frame, "heron")
    assert scale.sunny == [scaled_too]
