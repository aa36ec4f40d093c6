"""Sun, sky, views and covers of the simulation, against closed forms and other algorithms.

The arithmetic below is written out by hand on purpose.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from . import specs
from .campaign import simulate
from .ground import Ground, carrier_view, shadow_view
from .instruments import stream
from .sky import SIGMA, smooth, sun
from .spec import Carrying, Visit, field


def test_sun_against_another_algorithm():
    """0.02 degrees: twice what the Almanac's formulae claim, around the year and the globe."""
    from pvlib.solarposition import ephemeris

    for latitude, longitude in ((45.9, 14.9), (-33.5, 18.9), (78.2, 15.6), (10.0, -150.0)):
        when = pd.date_range("2025-01-01", "2025-12-31", freq="331min", tz="UTC")
        other = ephemeris(when, latitude, longitude)
        elevation, azimuth, _ = sun(when.as_unit("s").asi8.astype(float), latitude, longitude)
        assert np.abs(np.degrees(elevation) - other["elevation"].to_numpy()).max() < 0.02
        turn = (np.degrees(azimuth) - other["azimuth"].to_numpy() + 180) % 360 - 180
        assert np.abs(turn * np.cos(elevation)).max() < 0.02


def test_constants_and_response():
    assert pytest.approx(5.670374419e-8, abs=5e-18) == SIGMA  # CODATA 2018, half the last digit
    assert smooth(np.ones(120), 0.1, 12 / np.log(20), 0.0)[-1] == pytest.approx(0.95, abs=1e-9)


def test_view_of_white_ground():
    """Along a walk the view's correlation integrates to 9 pi^2 h / 32 (closed form, white ground); 12 % for
    one drawn ground.
    """
    h = 1.5
    ground = Ground(
        stream(3, "white"), field("", "short_grass", length=1500, patch_size=0.0, patch_albedo=0.1), h
    )
    seen = ground.patches["albedo"]
    spectrum = np.mean(np.abs(np.fft.rfft(seen, axis=1)) ** 2, axis=0)
    low = (
        spectrum[1:25].mean() / seen.shape[1] * 0.25
    )  # integral of the autocovariance, from the lowest wave numbers
    assert low / seen.var() == pytest.approx(9 * np.pi**2 * h / 32, rel=0.12)


def test_carrier_against_closed_forms():
    """Upright panel 0.5 m wide, 2 m high, 3 m away: 0.008130; shadow x 1.5 to 2.5, y -0.5 to 0.5 m from 1.5
    m: 2 x 0.009600.

    Closed forms (parallel and perpendicular rectangle, Howell catalogue); half the last printed digit.
    """
    assert carrier_view(Carrying(reach=3.0, carrier_width=0.5), 2.0) == pytest.approx(0.008130, abs=5e-7)
    assert carrier_view(Carrying(), 1.5) == pytest.approx(0.04, abs=0.005)
    plate = Carrying(reach=1.5, carrier_height=1.0, carrier_width=1.0)
    towards = shadow_view(plate, 1.5, 0.0, np.radians([45.0]), np.radians([180.0]), heading=np.array([180.0]))
    assert towards[0] == pytest.approx(2 * 0.009600, abs=1e-6)
    away = shadow_view(Carrying(), 1.5, 0.0, np.radians([45.0]), np.radians([180.0]), heading=np.array([0.0]))
    aside = shadow_view(
        Carrying(), 1.5, 0.0, np.radians([45.0]), np.radians([180.0]), heading=np.array([90.0])
    )
    assert away[0] > 3 * aside[0]


def test_covers():
    spec = specs.minimal()
    dark = Visit("curlew", 420.0, "Lower meadow", "dark", lasts=120.0)
    records = simulate(spec.with_(visits=spec.visits + (dark,))).records["curlew"]
    covered = records[records["run"] == records["run"].max()].iloc[20:100]
    assert covered[["sw_in", "sw_out", "lw_in", "lw_out"]].abs().to_numpy().max() < 1e-6


def test_clouds_have_edges_and_longwave_rises():
    campaign = simulate(specs.demo())
    seen = campaign.samples["curlew"]
    dark = seen[seen["direct"] < 0.7 * seen["direct"].max()]
    assert len(dark) > 100 and dark["lw_in"].mean() > seen["lw_in"].mean() + 1
    steps = seen["sw_in"].diff()[seen["time_utc"].diff() < 1.5].abs()
    assert 20 < steps.max() < 400  # falls within a few seconds, not within one
