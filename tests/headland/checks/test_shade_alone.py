"""A shadow on the upper head of a set alone: SW_in drops, and SW_out of the same field does not."""

import numpy as np
import pandas as pd
import pytest

from headland.checks.shade_alone import shaded_alone

COUNT = 1200
HIT = slice(600, 640)
FIELD = np.full(COUNT, "Meadow", dtype=object)


def flagged(*light, **changes) -> int:
    """How many samples are."""
    return int(shaded(*light, **changes).sum())


def shaded(light=0.5, ground=1.0, *, elevation=45.0, where=HIT, fields=FIELD, interval=1.0, lit=700.0):
    """Samples flagged where SW_in and SW_out are multiplied by these."""
    sw_in, sw_out = np.full(COUNT, lit), np.full(COUNT, 0.2 * lit)
    sw_in[where] *= light
    sw_out[where] *= ground
    frame = pd.DataFrame(
        {"sw_in": sw_in, "sw_out": sw_out, "sw_clear": 720.0, "solar_elevation": elevation, "flags": ""}
    )
    return shaded_alone(frame, fields, 1.75e9 + interval * np.arange(COUNT), interval)


@pytest.mark.parametrize("elevation, left", [(70.0, 0.8564), (45.0, 0.6494), (20.0, 0.2626)])
def test_a_drop_of_the_light_over_ground_that_stays_lit_is_a_shadow(elevation, left):
    """More than heads off level, and than a lean of 12 degrees in opposite headings."""
    assert flagged(left - 0.01, elevation=elevation) == HIT.stop - HIT.start
    assert flagged(left + 0.01, elevation=elevation) == 0


@pytest.mark.parametrize("ground, expected", [(0.84, 40), (0.80, 0), (0.5, 0), (1.18, 40), (1.25, 0)])
def test_a_cloud_dims_both(ground, expected):
    assert flagged(ground=ground) == expected


def test_thin_cloud_dims_both_by_little():
    assert flagged(0.8, 0.95, elevation=70.0) == 40 and flagged(0.8, 0.9, elevation=70.0) == 0


def test_a_shadow_lasts_twenty_seconds():
    assert flagged(where=slice(600, 620)) == 20 and flagged(where=slice(600, 610)) == 0


def test_where_clouds_pass_nothing_is_said():
    """A cloud over brighter ground would look alike."""
    for clouds, expected in ((slice(800, 820), 40), (slice(800, 850), 0)):
        where = np.zeros(COUNT, bool)
        where[HIT] = True
        ground = np.where(where, 1.0, 0.5)
        where[clouds] = True
        assert flagged(ground=ground[where], where=where) == expected


def test_low_suns_other_fields_and_slow_loggers_show_nothing():
    assert flagged(0.1, elevation=9.0) == 0 and flagged(0.1, elevation=15.0) == 40
    elsewhere = FIELD.copy()
    elsewhere[600:680] = "Yard"
    assert flagged(fields=elsewhere, where=slice(600, 680)) == 0
    assert flagged(interval=20.0) == 0
    assert flagged(lit=400.0) == 0


def test_the_samples_of_the_shadow_are_flagged_and_no_others():
    assert np.flatnonzero(shaded()).tolist() == list(range(HIT.start, HIT.stop))
