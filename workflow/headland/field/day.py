"""The day of a plan: sun, clear sky, the carrier's shadow, what a degree of tilt costs, and the best heading
of a transect.

The geometry is the chain's own, used the other way round. Sizes without another source are common practice.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.physics import evaporation, geometry, plane, sun
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.geometry import GUARD_RADIUS
from headland.physics.instruments import RESPONSE_TIME
from headland.physics.longwave import own_emission
from headland.uncertainty.model import LOWEST_SUN

STEP = 300.0
"""s between the moments of the day that are computed."""
AIR, HUMIDITY = 20.0, 60.0
"""degC and %: used where campaign.yaml gives no weather."""
CHEAP_TILT = 1.25
"""Times the least cost of the day's tilt up to which an hour counts as cheap."""
LITTLE_SHADOW = 1.25
"""Times the least loss around the compass up to which a heading counts as keeping the shadow out.

Even behind the carrier the shadow is a little in the view.
"""
MOST_DIRECTIONS = 80
"""Of a field: all around in steps of 5 degrees are 73."""
LONG_ENOUGH = 0.7
"""Share of the longest line across a field that a transect must reach to be chosen for little shadow (common
practice, no source)."""


def headings_of(text: str) -> list[float]:
    """Directions in which a transect can lie, degrees from north.

    text: directions such as `80`, or ranges such as `60-120`, taken in steps of 5; all directions where it is
    empty or `any`. Raises ValueError with the part that can't be read.
    """
    found: list[float] = []
    for part in re.split(r"[\s;,]+", text.strip()):
        if part in ("", "any"):
            continue
        match = re.fullmatch(r"(\d{1,3}(?:\.\d+)?)(?:-(\d{1,3}(?:\.\d+)?))?", part)
        if not match or any(float(angle) > 360 for angle in match.groups() if angle):
            raise ValueError(part)
        start = float(match[1])
        end = float(match[2]) if match[2] else start
        end = end if end >= start else end + 360.0
        found += [start] if not match[2] else [x % 360.0 for x in np.arange(start, end + 0.1, 5.0)]
    if len(found) > MOST_DIRECTIONS:
        raise ValueError(f"{len(found)} directions")
    return found or [float(x) for x in np.arange(0.0, 180.0, 5.0)]


def sky(times, site: Mapping[str, float], air: float, humidity: float) -> pd.DataFrame:
    """Sun and clear sky at times in UTC.

    Parameters
    ----------
    site : latitude, longitude, elevation.
    air : degC.
    humidity : %.

    Returns
    -------
    A row a time: elevation and azimuth (degrees), sw_in, beam on a plane normal to it and lw_in (W m-2),
    diffuse_fraction. Longwave by Prata 1996.
    """
    times = pd.DatetimeIndex(times)
    elevation, azimuth = sun.position(times, site["latitude"], site["longitude"], site["elevation"])
    sw_in = sun.clear_sky_global(elevation, times, site["elevation"])
    up = np.clip(np.sin(np.radians(elevation)), 0.0, None)
    with np.errstate(divide="ignore", invalid="ignore"):
        clearness = np.where(up > 0, sw_in / (sun.top_of_atmosphere(times) * up), 0.0)
        diffuse = sun.diffuse_fraction(np.clip(clearness, 0.0, 1.0))
        beam = np.where(elevation > LOWEST_SUN, (1.0 - diffuse) * sw_in / up, 0.0)
    vapour = 10.0 * float(evaporation.saturation_vapour_pressure(air)) * humidity / 100.0
    lw_in = float(
        sun.clear_sky_emissivity_prata(vapour, air + ZERO_CELSIUS) * own_emission(air + ZERO_CELSIUS)
    )
    return pd.DataFrame(
        {
            "time_utc": times,
            "elevation": elevation,
            "azimuth": azimuth,
            "sw_in": sw_in,
            "diffuse_fraction": diffuse,
            "beam": beam,
            "lw_in": lw_in,
        }
    )


def shade_loss(heading, day: pd.DataFrame, carrying: Mapping[str, float]):
    """Share of the reflected light that the carrier's shadow takes when walking towards a heading.

    It is the beam fraction times the view factor of the shadow. heading: degrees, one a row of the result.
    day: as `sky` gives it, one column of the result a row.
    """
    heading = np.atleast_1d(np.asarray(heading, float))[:, None]
    phi = day["azimuth"].to_numpy()[None, :] - heading
    view = geometry.shadow_view(
        phi,
        day["elevation"].to_numpy()[None, :] + 0.0 * phi,
        carrying["sensor_height"],
        geometry.carrier_of(carrying),
    )
    return (1.0 - day["diffuse_fraction"].to_numpy()[None, :]) * view


def tilt_cost(day: pd.DataFrame):
    """What a degree of tilt towards the sun adds to the incoming shortwave, W m-2.

    It is the beam on the level times `geometry.tilt_effect`.
    """
    level = day["beam"] * np.clip(np.sin(np.radians(day["elevation"])), 0.0, None)
    return np.where(
        level > 0, level * geometry.tilt_effect(1.0, 90.0 - day["elevation"].to_numpy(), 0.0), 0.0
    )


def along_outline(
    rings: Sequence[np.ndarray], free: Sequence[float], most: float
) -> tuple[list[float], list[float]]:
    """The free directions in which a field is long, and its length in each, m: those of LONG_ENOUGH of the
    longest at least.

    rings: of its outline, m. most: m that can be walked in any direction, NaN where nothing limits it.
    """
    lengths = np.fmin([plane.longest_chord(rings, heading) for heading in free], most)
    kept = lengths >= LONG_ENOUGH * lengths.max()
    return np.asarray(free, float)[kept].tolist(), lengths[kept].tolist()


def best_heading(
    free: Sequence[float], day: pd.DataFrame, carrying: Mapping[str, float]
) -> tuple[float, float, float]:
    """The direction of a transect whose two ways lose least to the carrier's shadow over the given hours.

    Returns heading (degrees), mean loss there and mean loss back (shares).
    """
    angles = np.asarray(free, float)
    there, back = (
        shade_loss(angles, day, carrying).mean(axis=1),
        shade_loss(angles + 180.0, day, carrying).mean(axis=1),
    )
    best = int(np.argmin(np.round(np.maximum(there, back), 6)))
    return float(angles[best]), float(there[best]), float(back[best])


def too_short(fields: pd.DataFrame, carrying: Mapping[str, float]) -> list[str]:
    """Fields on which no sample is left between the guards at both ends."""
    least = 2 * GUARD_RADIUS * carrying["sensor_height"] + RESPONSE_TIME * carrying["walking_speed"]
    return [
        f"{row['field']} ({row['length']:.0f} m)"
        for row in fields.to_dict("records")
        if row["length"] <= least
    ]
