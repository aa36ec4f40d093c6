"""Errors of classes and of single groups: table values, the ground not walked, the sky before."""

import dataclasses
import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student_t

from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.draws import scores
from headland.uncertainty.intervals import interval
from headland.uncertainty.sources_group import class_sources, ground_sources, sky_sources

from .made import CLASSES, OFF, TERMS, at_work, drawn


def test_the_ground_not_walked_by_hand():
    groups = pd.DataFrame(
        [
            {
                "surface": "stubble",
                "independent": 9.0,
                "ground_sw_out": 6.0,
                "ground_lw_out": 5.0,
                "ground_correlation": -0.4,
            }
        ]
    )
    sources = ground_sources(groups, TERMS)
    errors = drawn(sources, 1, 20_000)
    t = student_t.ppf(0.975, 8.0)
    for name, s in (("ground_sw_out", 6.0), ("ground_lw_out", 5.0)):
        total = math.sqrt(sum(float(source.shift.get(name, np.zeros(1))[0]) ** 2 for source in sources))
        assert total * NORMAL_95 == pytest.approx(t * s / 3.0, rel=1e-6)
    low, high = interval(errors["ground_sw_out"], np.zeros(1))
    assert (high - low).item() / 2.0 == pytest.approx(t * 2.0, rel=0.02)
    assert np.corrcoef(errors["ground_sw_out"][:, 0], errors["ground_lw_out"][:, 0])[0, 1] == pytest.approx(
        -0.4, abs=0.03
    )


@pytest.mark.parametrize("looks, count", [(4.99, 0), (5.0, 2), (np.nan, 0)])
def test_fewer_than_5_looks_give_no_ground_term(looks, count):
    groups = pd.DataFrame(
        [
            {
                "surface": "stubble",
                "independent": looks,
                "ground_sw_out": 6.0,
                "ground_lw_out": 5.0,
                "ground_correlation": 0.0,
            }
        ]
    )
    assert len(ground_sources(groups, TERMS)) == count


def group(**changes):
    row = {
        "surface": "stubble",
        "independent": 5.0,
        "ground_sw_out": 6.0,
        "ground_lw_out": 5.0,
        "ground_correlation": 0.0,
    }
    return pd.DataFrame([row | changes])


@pytest.mark.parametrize("looks", [5.0, 9.0, 40.0])
def test_the_ground_has_the_tails_of_student_s_t(looks):
    """Far out, at 99.95 %, t of 4 degrees of freedom is 8.610 where a scaled normal would be 4.66."""
    shared, _ = ground_sources(group(independent=looks), TERMS)
    far = shared.distribution.quantiles(np.array([0.0005, 0.975, 0.9995])) * shared.shift["ground_sw_out"][0]
    expected = student_t.ppf([0.0005, 0.975, 0.9995], looks - 1.0) * 6.0 / math.sqrt(looks)
    assert far == pytest.approx(expected, rel=1e-3)
    if looks == 5.0:
        assert far[2] * math.sqrt(5.0) / 6.0 == pytest.approx(8.610, abs=0.01)


@pytest.mark.parametrize("correlation", [-1.0, -0.4, 0.0, 1.0])
def test_shortwave_and_longwave_of_the_ground_move_together_as_their_residuals(correlation):
    sources = ground_sources(group(ground_correlation=correlation), TERMS)
    size = {
        name: np.array([source.shift.get(name, np.zeros(1))[0] for source in sources])
        for name in ("ground_sw_out", "ground_lw_out")
    }
    lengths = {name: float(np.linalg.norm(vector)) for name, vector in size.items()}
    cosine = size["ground_sw_out"] @ size["ground_lw_out"] / math.prod(lengths.values())
    assert cosine == pytest.approx(correlation)
    assert lengths["ground_sw_out"] / lengths["ground_lw_out"] == pytest.approx(6.0 / 5.0)


def test_each_group_has_its_own_ground():
    groups = pd.concat([group(field="f0"), group(field="f1")], ignore_index=True)
    sources = ground_sources(groups, TERMS)
    assert len({source.name for source in sources}) == 4
    reached = [np.flatnonzero(source.shift["ground_lw_out"]).tolist() for source in sources]
    assert reached == [[], [0], [], [1]]  # without a correlation the shared part has no longwave
    assert not ground_sources(groups, OFF)


def sky_groups():
    return pd.DataFrame({"surface": ["stubble", "paving", "stubble"], "sky_memory": [50.0, 20.0, -10.0]})


def test_the_sky_before_has_the_size_of_the_response_and_shares_its_draw_with_the_class():
    """Stubble responds by 0.05 to 0.22: middle 0.135, and a rectangle of 0.085 about it."""
    sources = sky_sources(sky_groups(), CLASSES, TERMS)
    size = math.hypot(0.135, 0.085 / math.sqrt(3.0))
    assert sources[0].shift["sky_memory"].tolist() == pytest.approx([50.0 * size, 0.0, 0.0])
    assert sources[2].shift["sky_memory"].tolist() == pytest.approx([0.0, 0.0, -10.0 * size])
    assert [source.amplitude for source in sources] == [
        f"sky_response|{name}" for name in ("stubble", "paving", "stubble")
    ]
    # at the ends of the range the amplitude is the response itself
    ends = sources[0].factor(np.array([0.0, 1.0])) * size
    assert ends == pytest.approx([0.05, 0.22])


def test_without_a_range_the_sky_before_has_the_response_s_value():
    fixed = TERMS | {"sky_response": {**TERMS["sky_response"], "enabled": "false"}}
    sources = sky_sources(sky_groups(), CLASSES, fixed)
    assert sources[0].shift["sky_memory"].tolist() == pytest.approx([50.0 * 0.12, 0.0, 0.0])
    assert not sources[0].amplitude and not sky_sources(sky_groups(), CLASSES, OFF)


def test_the_amplitude_s_draws_are_those_of_the_class_s_response():
    """One draw of the response is in both: how the sky's past counts and how the common sky is reached."""
    groups = pd.DataFrame({"surface": ["stubble"], "sky_memory": [50.0], "day": [True]})
    sky = sky_sources(groups, CLASSES, TERMS)[0]
    walks = pd.DataFrame({"surface": ["stubble"]})
    response = next(
        s for s in class_sources(walks, groups, CLASSES, TERMS, at_work(walks)) if s.term == "sky_response"
    )
    assert sky.amplitude == response.name
    xi = scores([sky, response], 3, 4000)
    drawn_response = 0.135 + 0.085 / math.sqrt(3.0) * xi[1]
    size = math.hypot(0.135, 0.085 / math.sqrt(3.0))
    plain = scores([dataclasses.replace(sky, amplitude="")], 3, 4000)[0]
    assert xi[0] * size == pytest.approx(plain * drawn_response)
