"""Windows of one set's record: means, segment, and where the sun is calm."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.checks import same_sky
from headland.checks.same_sky import records_of, windows

COUNT = 1800
MOMENTS = 1.75e9 + np.arange(float(COUNT))


def record(sw_in, elevation=45.0):
    frame = {"sw_in": sw_in, "sw_out": 100.0, "lw_in": 330.0, "lw_out": 430.0, "body_temperature": 20.0,
             "solar_elevation": elevation, "solar_azimuth": 170.0}  # fmt: skip
    segment = np.where(np.arange(COUNT) < 900, "a", "b")
    return pd.DataFrame(frame, index=range(COUNT)).assign(segment=segment)


def test_an_even_sun_is_calm_and_a_cloud_s_shadow_is_not():
    even = windows(record(np.full(COUNT, 700.0)), MOMENTS, 60.0)
    assert even["calm"].all() and even["sw_in"].tolist() == pytest.approx([700.0] * len(even))
    light = np.full(COUNT, 700.0)
    light[850:950] = 250.0
    broken = windows(record(light), MOMENTS, 60.0)
    assert not broken["calm"].iloc[len(broken) // 2] and broken["calm"].iloc[0] and broken["calm"].iloc[-1]


def test_each_window_has_the_segment_that_it_begins_in():
    found = windows(record(np.full(COUNT, 700.0)), MOMENTS, 60.0)
    assert set(found["segment"].iloc[:14]) == {"a"} and set(found["segment"].iloc[16:]) == {"b"}
    assert found["solar_azimuth"].tolist() == pytest.approx([170.0] * len(found))


def test_a_set_is_looked_at_over_its_noted_time_only():
    frame = record(np.full(COUNT, 700.0))
    campaign = SimpleNamespace(
        segments=pd.DataFrame({"segment": ["b"], "activity": ["walk"]}),
        samples={"heron": frame, "plover": frame.assign(segment="")},
        moments=dict.fromkeys(("heron", "plover"), MOMENTS),
        spoilt=lambda name: np.zeros(COUNT, bool),
    )
    found = records_of(campaign, ("heron", "plover"), 60.0)
    assert list(found) == ["heron"] and set(found["heron"]["segment"]) == {"b"}


def test_longwave_signals_of_a_window_are_what_arrives_less_the_head_s_own_emission(monkeypatch):
    class Seen(Exception):
        pass

    def prepare(window, *_):
        raise Seen(window)

    monkeypatch.setattr(same_sky.inputs, "prepare", prepare)
    frame = windows(record(np.full(COUNT, 700.0)), MOMENTS, 60.0).assign(set="heron")
    segments = pd.DataFrame({"segment": ["a", "b"], "heading": [80.0, 260.0]})
    with pytest.raises(Seen) as seen:
        same_sky.modelled(frame, SimpleNamespace(segments=segments, carrying={}))
    (window,) = seen.value.args
    emission = 5.670374e-8 * 293.15**4  # of a body at 20 degC
    assert window["lw_in_net"].to_numpy() == pytest.approx(330.0 - emission, abs=1e-3)
    assert window["lw_out_net"].to_numpy() == pytest.approx(430.0 - emission, abs=1e-3)
    assert window["heading"].iloc[[0, -1]].tolist() == [80.0, 260.0]
