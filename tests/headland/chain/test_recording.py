"""The sun of a set whose clock was checked."""

import numpy as np
import pandas as pd
import pytest

from headland.base.frames import Held
from headland.chain.recording import SKY, Recording, Screened
from headland.physics import sun

SITE = {"latitude": 46.0, "longitude": 14.8, "elevation": 300.0}


def recorded(times: pd.Series) -> Recording:
    corrected = pd.DataFrame({"time_utc": times, "sw_in": 600.0})
    screened = pd.DataFrame({"solar_elevation": 1.0, "solar_azimuth": 2.0, "sw_clear": 3.0}, corrected.index)
    tables = Screened(Held(corrected), Held(screened), pd.DataFrame())
    return Recording(tables, corrected.assign(flags=""), "instant", 1.0)


@pytest.mark.parametrize("ahead", [0.0, 0.2, 300.0])
def test_the_sun_is_that_of_the_corrected_clock(ahead):
    """A clock 5 min ahead shows a sun some 2 degrees too far west; a clock that is right keeps step 4's."""
    times = pd.Series(pd.date_range("2026-05-21T09:00:00Z", periods=120, freq="s"))
    found = pd.DataFrame({"middle_utc": times - pd.Timedelta(ahead, "s"), "segment": "", "position": np.nan})
    rows = pd.concat(recorded(times).rows(found, SITE))
    if ahead < 0.5:
        assert (rows[SKY] == [1.0, 2.0, 3.0]).all(axis=None)
        return
    elevation, azimuth = sun.position(found["middle_utc"], *SITE.values())
    assert rows["solar_elevation"].to_numpy() == pytest.approx(elevation, abs=1e-6)
    assert rows["solar_azimuth"].to_numpy() == pytest.approx(azimuth, abs=1e-6)
    clear = sun.clear_sky_global(elevation, found["middle_utc"], SITE["elevation"])
    assert rows["sw_clear"].to_numpy() == pytest.approx(np.asarray(clear))
    as_stamped = sun.position(times, *SITE.values())[1]
    assert (as_stamped - rows["solar_azimuth"] > 1.5).all()
