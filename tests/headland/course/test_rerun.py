"""The chain once more on a few segments and samples, each number by hand."""

import functools
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from headland.chain import summarise
from headland.course import pairs, rerun
from headland.course.rerun import Outcome, Slip, Survey

from ..uncertainty import made

SIGMA = 5.670374419e-8
NOON = pd.Timestamp("2026-05-21T09:00:00Z")
CERTIFICATE = pd.DataFrame(
    {"channel": ["sw_in", "sw_out", "lw_in", "lw_out"], "factor": [70.0, 60.0, 100.0, 50.0],
     "response_time_95": 12.0}
)  # fmt: skip
CHANNELS = {c: {"unit": "mV"} for c in CERTIFICATE["channel"]} | {"body_temperature": {"unit": "degC"}}
ENTRY = {"channels": CHANNELS, "longwave": "net", "interval": 1.0, "stamp": "end", "utc_offset": 3600.0}


def survey(segments, **changes):
    """What `Survey` needs to go from samples to segments; `balanced` gives what it needs from there on."""
    whole = Survey(
        raw={},
        segmented={},
        certificates={},
        sets={"heron": ENTRY, "curlew": ENTRY},
        register=pd.DataFrame(),
        noted=pd.DataFrame({"set": ["heron", "curlew"], "activity": ["clock_check", "walk"]}),
        segments=segments,
        balances=pd.DataFrame(),
        visits=pd.DataFrame(),
        surfaces=made.CLASSES,
        excluding=frozenset({"edge"}),
        walks=True,
        notes_offset=7200.0,
        air={},
    )
    return replace(whole, **changes)


@functools.cache
def of_two():
    """A survey of two walks of one set over stubble and paving, with their balance."""
    frame = made.segments()
    means = summarise.groups(frame, ["surface"], made.CLASSES, summarise.reference_sky(frame))
    return survey(frame, balances=made.balances(means, frame), visits=made.visits(frame))


def side_by_side():
    """Heron and curlew beside each other, then heron over stubble and curlew over paving."""
    activity = ["side_by_side", "side_by_side", "walk", "walk"]
    frame = made.segments(
        4,
        ("heron", "curlew") * 2,
        ("stubble", "stubble", "stubble", "paving"),
        sw_in=np.array([800.0, 640.0, 400.0, 480.0]),
        sw_out=np.array([200.0, 100.0, 100.0, 50.0]),
        lw_in=np.array([330.0, 340.0, 300.0, 320.0]),
        lw_out=np.array([450.0, 456.0, 430.0, 486.0]),
        lw_out_net=20.0,
        activity=activity,
    )
    return frame.assign(field=["f0", "f0", "f0", "f1"])


# Scale and balance ------------------------------------------------------------------------------------------


def test_without_a_scale_means_stay_as_they_are():
    frame = side_by_side()
    assert rerun.on_scale(survey(frame), frame, made.CLASSES) is frame


def test_on_heron_s_scale_curlew_s_walk_has_heron_s_heads():
    """Curlew read 4/5 of heron's sun, half of its reflection, 10 and 6 W m-2 more of longwave."""
    frame = side_by_side()
    scaled = rerun.on_scale(survey(frame, set_scale="heron"), frame, made.CLASSES).iloc[3]
    four = [scaled[name] for name in ("sw_in", "sw_out", "lw_in", "lw_out")]
    assert four == pytest.approx([600.0, 100.0, 310.0, 480.0])
    assert scaled["net_radiation"] == pytest.approx(600.0 - 100.0 + 310.0 - 480.0)
    assert scaled["albedo"] == pytest.approx(1 / 6)
    assert scaled["albedo_sw_in"] == pytest.approx(frame["albedo_sw_in"].iloc[3] * 1.25)
    emissivity = made.CLASSES["paving"]["emissivity"]["value"]
    kelvin = ((480.0 - (1 - emissivity) * 310.0) / emissivity / SIGMA) ** 0.25
    assert scaled["surface_temperature"] == pytest.approx(kelvin - 273.15)


def test_by_night_the_sums_behind_the_albedo_are_zero_on_one_scale():
    frame = side_by_side().assign(sw_in=0.0, albedo_sw_in=0.0, albedo_sw_out=0.0)
    scaled = rerun.on_scale(survey(frame, set_scale="heron"), frame, made.CLASSES)
    assert (scaled["albedo_sw_in"] == 0.0).all() and scaled["albedo"].isna().all()


def test_a_segment_without_a_surface_is_black_on_one_scale():
    frame = side_by_side().assign(surface=["stubble", "stubble", "stubble", ""])
    kelvin = rerun.on_scale(survey(side_by_side(), set_scale="heron"), frame, made.CLASSES)
    assert kelvin["surface_temperature"].iloc[3] == pytest.approx((480.0 / SIGMA) ** 0.25 - 273.15)


def balanced(slip=rerun.NO_SLIP, **changes):
    return rerun.outcome(replace(of_two(), **changes), of_two().segments, slip)


def test_without_a_slip_an_outcome_is_the_chain_s_own():
    found = balanced()
    net = found.surfaces["net_radiation"]
    assert net.to_dict() == pytest.approx({"stubble": 490.0, "paving": 560.0})
    assert found.segments["net_radiation"].tolist() == [490.0, 560.0]
    own = of_two().balances.set_index("surface")
    for name in ("ground_heat", "sensible_heat", "latent_heat"):
        assert found.surfaces[name].to_dict() == pytest.approx(own[name].to_dict(), nan_ok=True), name
    assert found.surfaces.index.name == "surface" and found.segments.index.tolist() == ["s0", "s1"]


def test_another_net_radiation_moves_what_follows_from_it():
    """Without the reflected term both surfaces have 190 and 90 W m-2 more, under one sky as under their own,
    and ground heat is its share of that."""
    right, wrong = balanced(), balanced(Slip(net=lambda sw_in, sw_out, lw_in, lw_out: sw_in + lw_in - lw_out))
    for name in ("net_radiation", "net_radiation_common_sky"):
        off = wrong.surfaces[name] - right.surfaces[name]
        assert off.to_dict() == pytest.approx({"stubble": 190.0, "paving": 90.0})
    assert wrong.segments["net_radiation"].tolist() == [680.0, 650.0]
    share = right.surfaces["ground_heat"] / right.surfaces["net_radiation"]
    assert wrong.surfaces["ground_heat"].to_dict() == pytest.approx(
        (share * wrong.surfaces["net_radiation"]).to_dict()
    )


def test_fractions_of_the_day_are_those_that_count_by_day():
    wrong = balanced(Slip(fractions={True: 0.25, False: 0.9}))
    assert wrong.surfaces["ground_heat"].to_dict() == pytest.approx({"stubble": 122.5, "paving": 140.0})


def test_a_fraction_of_nothing_leaves_no_offset_and_another_one_keeps_it():
    visits = of_two().visits.assign(offset=30.0)
    nothing, half = (
        balanced(Slip(fractions=dict.fromkeys((True, False), share)), visits=visits).surfaces["ground_heat"]
        for share in (0.0, 0.5)
    )
    assert nothing.tolist() == [0.0, 0.0]
    assert sorted(half) == pytest.approx(sorted([0.5 * 490.0 + 30.0, 0.5 * 560.0 + 30.0]))


def test_other_forms_of_the_visits_are_made_from_visits_and_segments():
    def forms(visits, segments):
        assert segments["net_radiation"].tolist() == [490.0, 560.0]
        return visits.assign(fraction=0.1, offset=0.0)

    assert balanced(Slip(forms=forms)).surfaces["ground_heat"]["stubble"] == pytest.approx(49.0)


def test_other_properties_of_the_classes_are_those_of_the_slip():
    black = {
        name: {**entry, "emissivity": {"value": 1.0}} if "emissivity" in entry else entry
        for name, entry in made.CLASSES.items()
    }
    found = balanced(Slip(surfaces=black)).surfaces["surface_temperature"]["paving"]
    assert found == pytest.approx((480.0 / SIGMA) ** 0.25 - 273.15)


# Samples ----------------------------------------------------------------------------------------------------


def recorded(count=120, certificates=CERTIFICATE):
    """A set whose samples are 1 s apart; it stores mV, and 20 degC of the body."""
    volts = {"sw_in": 10.0, "sw_out": 2.0, "lw_in": -1.0, "lw_out": 0.4, "body_temperature": 20.0}
    times = NOON + pd.to_timedelta(np.arange(1.0, count + 1), unit="s")
    raw = pd.DataFrame({"time_utc": times, **volts})
    segmented = raw.assign(segment="s0", flags="edge", body_temperature=20.0)
    frame = made.segments(height=1.5, speed=0.8, length=np.nan).assign(
        start_utc=[NOON, NOON + pd.Timedelta("60s")],
        end_utc=[NOON + pd.Timedelta("60s"), NOON + pd.Timedelta("2min")],
    )
    more = {"raw": {"heron": raw}, "segmented": {"heron": segmented}, "sets": {"heron": ENTRY}}
    return survey(frame, certificates={"heron": certificates}, **more)


def first(slip=rerun.NO_SLIP):
    return rerun.samples_of(recorded(), slip)["heron"].iloc[0]


EMISSION = SIGMA * 293.15**4


def test_samples_are_signals_by_the_factors_and_longwave_with_its_emission():
    row = first()
    four = [row[name] for name in ("sw_in", "sw_out", "lw_in", "lw_out")]
    assert four == pytest.approx([700.0, 120.0, EMISSION - 100.0, EMISSION + 20.0])
    assert (row["lw_in_net"], row["lw_out_net"]) == pytest.approx((-100.0, 20.0))
    assert (row["segment"], row["flags"]) == ("s0", "edge")


def test_a_slip_in_one_longwave_term_leaves_the_other():
    row = first(Slip(lw_in=lambda net, kelvin: net + kelvin))
    assert (row["lw_in"], row["lw_out"]) == pytest.approx((193.15, EMISSION + 20.0))
    row = first(Slip(lw_out=lambda net, kelvin: net + kelvin))
    assert (row["lw_in"], row["lw_out"]) == pytest.approx((EMISSION - 100.0, 313.15))


def test_another_body_temperature_and_other_certificates():
    row = first(Slip(body={"heron": np.full(120, 300.0)}))
    assert row["lw_out"] == pytest.approx(SIGMA * 300.0**4 + 20.0)
    row = first(Slip(certificates={"heron": CERTIFICATE.assign(factor=[7.0, 6.0, 10.0, 5.0])}))
    assert (row["sw_in"], row["lw_out"]) == pytest.approx((70.0, EMISSION + 2.0))


NO_CHECKS = pd.DataFrame({"set": [], "activity": [], "start_utc": [], "end_utc": [], "logger_utc": []})


def placed(shift=None, noted=NO_CHECKS):
    whole = replace(recorded(), noted=noted)
    samples = {name: frame.assign(flags="edge missing") for name, frame in rerun.samples_of(whole).items()}
    return rerun.placed(whole, samples, shift)["heron"]


def test_samples_are_placed_again_and_keep_the_flags_that_are_not_of_a_place():
    """Two walks of a minute; the edge is 20 s while the head settles. Stamps are ends of the intervals."""
    found = placed()
    assert found["segment"].tolist() == ["s0"] * 60 + ["s1"] * 60
    assert found["middle_utc"].iloc[0] == NOON + pd.Timedelta("500ms")
    assert all("missing" in flags.split() for flags in found["flags"])
    edges = np.array(["edge" in flags.split() for flags in found["flags"]])
    assert edges[:5].all() and edges[60:65].all() and not edges[40:50].any()


def test_notes_taken_too_late_by_a_shift_lie_over_later_samples():
    """30 s later: the first half minute is in no segment, and the second segment is half as long."""
    found = placed(lambda entry: 30.0 if entry is ENTRY else 0.0)
    assert found["segment"].tolist() == [""] * 30 + ["s0"] * 60 + ["s1"] * 30


def test_samples_are_placed_by_the_set_s_own_clock_checks():
    """Heron's logger is 30 s behind, curlew's 90 s ahead; a walk is no clock check."""
    rows = [("heron", "clock_check", -30), ("curlew", "clock_check", 90), ("heron", "walk", 45)]
    noted = pd.DataFrame(
        [
            {"set": name, "activity": activity, "start_utc": NOON, "end_utc": NOON,
             "logger_utc": NOON + pd.Timedelta(seconds=off), "notes_row": 2}
            for name, activity, off in rows
        ]
    )  # fmt: skip
    assert placed(noted=noted)["segment"].tolist() == ["s0"] * 30 + ["s1"] * 60 + [""] * 30


def test_segments_are_averaged_with_the_flags_and_classes_of_the_slip(monkeypatch):
    given, asked = recorded(), []
    monkeypatch.setattr(
        rerun.incoming, "with_sky_memory", lambda frame, excluding: (frame, sorted(excluding))
    )

    def averaged(segments, samples, settings, **more):
        asked.append((segments, samples, settings, more))
        return "means", []

    monkeypatch.setattr(rerun.summarise, "averaged", averaged)
    whole = replace(given, excluding=frozenset({"edge", "wet"}), stamp="start", found=("x",), fixed="station")
    for slip in (rerun.NO_SLIP, Slip(kept=frozenset({"edge"}), surfaces={"paving": {}})):
        assert rerun.segments_of(whole, {"heron": "frame"}, slip) == "means"
    right, kept = asked
    assert right[0] is whole.segments and right[1] == {"heron": ("frame", ["edge", "wet"])}
    assert right[2] == {"sets": whole.sets, "stamp": "start"}
    assert right[3] == {
        "excluding": {"edge", "wet"}, "surfaces": made.CLASSES, "found_before": ("x",), "fixed": "station",
    }  # fmt: skip
    assert kept[1] == {"heron": ("frame", ["wet"])} and kept[3]["excluding"] == {"wet"}
    assert kept[3]["surfaces"] == {"paving": {}}


def test_flags_of_a_place_are_taken_off():
    assert rerun._without_place("edge missing overlap low-head frozen") == "missing frozen"


# Pieces -----------------------------------------------------------------------------------------------------


def test_exchanged_sets_exchange_notes_and_segments_and_nothing_else():
    whole = survey(side_by_side())
    changed = rerun._changed(whole, Slip(swap=("heron", "curlew")))
    assert changed.segments["set"].tolist() == ["curlew", "heron"] * 2
    assert changed.noted["set"].tolist() == ["curlew", "heron"]
    assert rerun._changed(whole, Slip(lw_in=abs)) == whole
    other = rerun._changed(whole, Slip(set_scale="mean", found=(), certificates={"x": 1}))
    assert (other.set_scale, other.found, other.certificates) == ("mean", (), {"x": 1})


@pytest.mark.parametrize("scale, beside", [("none", set()), ("mean", {"s0", "s1"})])
def test_a_part_holds_its_own_segments_and_those_that_lend(scale, beside):
    frame = pd.concat([side_by_side(), side_by_side().iloc[[0]].assign(segment="s4", activity="sky_monitor")])
    whole = replace(survey(side_by_side()), segments=frame.reset_index(drop=True), set_scale=scale)
    of_one = rerun.part_of(whole, "segments", "s2").segments["segment"]
    assert set(of_one) == {"s2", "s4"} | beside
    of_paving = rerun.part_of(whole, "surfaces", "paving").segments["segment"]
    assert set(of_paving) == {"s3", "s4"} | beside


def test_a_value_is_read_by_name_and_unknown_where_there_is_none():
    table = pd.DataFrame({"albedo": [0.2]}, index=["paving"])
    found = Outcome(pd.DataFrame(), table)
    assert rerun.value_in(found, "surfaces", "paving", "albedo") == 0.2
    for kind, item, name in (
        ("surfaces", "gravel", "albedo"),
        ("surfaces", "paving", "sw_in"),
        ("segments", "paving", "albedo"),
    ):
        assert np.isnan(rerun.value_in(found, kind, item, name))


def test_what_was_made_before_is_not_made_again(monkeypatch):
    """Samples are made once for slips that do not reach them, again for those that do, and placed again where
    notes are late or exchanged."""
    calls, given = [], survey(made.segments())

    def called(name, first, *rest):
        assert isinstance(first, Survey) and not any(isinstance(one, Survey) for one in rest)
        calls.append(name)
        return name

    for name in ("samples_of", "placed", "segments_of"):
        monkeypatch.setattr(rerun, name, functools.partial(called, name))
    monkeypatch.setattr(rerun, "outcome", lambda changed, segments, slip: (changed, segments))
    before: dict = {}
    late, bare = (lambda entry: 60.0), (lambda net, kelvin: net)
    rerun.through(given, rerun.NO_SLIP, before)
    assert rerun.through(given, Slip(net=max), before) == (given, "segments_of")
    assert calls == ["samples_of", "segments_of"]
    parts = {name: {name: 1} for name in ("body", "certificates", "kept", "surfaces", "found")}
    slips = [Slip(lw_in=bare), Slip(lw_out=bare), *(Slip(**{name: part}) for name, part in parts.items())]
    for slip in slips:
        calls.clear()
        rerun.through(given, slip, before)
        assert calls == ["samples_of", "segments_of"], slip
    for slip in (Slip(shift=late), Slip(swap=("heron", "curlew"))):
        calls.clear()
        rerun.through(given, slip, before)
        assert calls == ["samples_of", "placed", "segments_of"], slip
    last = Slip(last=lambda changed, samples, result: (samples, result))
    assert rerun.through(given, last, before) == ("samples_of", (given, "segments_of"))


# Two slips in one number ------------------------------------------------------------------------------------


def two(monkeypatch, values, together):
    """Possibilities for 500 W m-2 with slips of these values alone; together: value of every two."""
    slips = [(code, Slip(**{part: code})) for code, part in (("a", "lw_in"), ("b", "lw_out"), ("c", "lw_in"))]
    monkeypatch.setattr(pairs, "part_of", lambda survey, kind, item: f"part of {survey}")
    monkeypatch.setattr(pairs, "through", lambda survey, slip, made: (survey, frozenset(slip.parts.values())))
    seen = []

    def value_in(result, kind, item, quantity):
        if isinstance(result, str):
            return values[result]
        seen.append(result[0])
        return together[result[1]]

    monkeypatch.setattr(pairs, "value_in", value_in)
    return pairs.two_slips("survey", slips, list(zip("abc", "abc", strict=True))), seen


def test_two_slips_that_change_different_things_are_tried_together(monkeypatch):
    """a and c change the same thing. 1 W m-2 or 0.5 %: 2.5 W m-2 of 500 are no change."""
    known, seen = two(
        monkeypatch, {"a": 400.0, "b": 600.0, "c": 450.0}, {frozenset("ab"): 520.0, frozenset("bc"): 599.0}
    )
    assert known("surfaces", "paving", "net_radiation", 500.0) == [
        ("a+b", 520.0)
    ]  # b and c give what b gives
    assert set(seen) == {"part of survey"}
    count = len(seen)
    known("surfaces", "paving", "net_radiation", 500.0)
    assert len(seen) == count  # known by now
    known("surfaces", "gravel", "net_radiation", 500.0)
    assert len(seen) > count


def test_under_one_sky_all_segments_are_needed(monkeypatch):
    known, seen = two(monkeypatch, {"a": 400.0, "b": 600.0, "c": 500.0}, {frozenset("ab"): 520.0})
    assert known("surfaces", "paving", "net_radiation_common_sky", 500.0) == [("a+b", 520.0)]
    assert seen == ["survey"]


def test_a_slip_that_changes_nothing_is_in_no_pair(monkeypatch):
    known, seen = two(monkeypatch, {"a": 501.0, "b": 600.0, "c": 502.4}, {})
    assert known("surfaces", "paving", "net_radiation", 500.0) == [] and not seen
    nan, _ = two(monkeypatch, {"a": np.nan, "b": 600.0, "c": 502.4}, {})
    assert nan("surfaces", "paving", "net_radiation", 500.0) == []
