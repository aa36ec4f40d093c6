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
