"""Sun, emission and views in the examples of astronomy and heat transfer, by the names in the tables beside
this file."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from headland.physics import constants, geometry, longwave, plane, reference_evaporation, sun

DELTA_T = 64.0
"""s between TD and UT from 1992 to 2005: 59 to 65."""
REFERENCE_AIR = {"pressure": 101000.0, "temperature": 10.0}
"""Pa and degC, for which tables of refraction are printed."""


# Sun -------------------------------------------------------------------------------------------------------


def _moment(text: str, later: float = 0.0) -> np.datetime64:
    return np.datetime64(text.rstrip("Z"), "us") + np.timedelta64(round(later * 1e6), "us")


def _height(moment: np.datetime64, latitude: float, **air: float) -> float:
    return float(sun.position([moment], latitude, 0.0, 0.0, **air)[0][0])


def _declination(moment: np.datetime64) -> float:
    """Half of what the sun's heights over the two poles differ by; their parallax cancels."""
    north, south = (_height(moment, pole, pressure=0.0) for pole in (90.0, -90.0))
    return (north - south) / 2.0


def declination(time: str, delta_t: float = 0.0) -> float:
    return _declination(_moment(time, -delta_t))


def distance(time: str, delta_t: float = 0.0) -> float:
    top = sun.top_of_atmosphere([_moment(time, -delta_t)])[0]
    return float(np.sqrt(constants.SOLAR_CONSTANT / top))


def equinox(day: str) -> float:
    """Seconds of TD into a day at which the sun crosses the equator."""
    return DELTA_T + brentq(lambda s: _declination(_moment(day, s)), -7200.0, 86400.0 + 7200.0, xtol=0.01)


def largest_declination(first: str, days: int) -> float:
    return max(_declination(_moment(first, s)) for s in np.arange(0.0, days * 86400.0, 7200.0))


def refraction(height: float, of: str) -> float:
    """Minutes of arc by which air lifts the sun; height: degrees, `true` or `apparent`."""
    air = REFERENCE_AIR if of == "apparent" else {"pressure": 0.0}

    def off(seconds: float) -> float:
        return _height(_moment("2024-06-20T05:00:00", seconds), 52.0, **air) - height

    moment = _moment("2024-06-20T05:00:00", brentq(off, -7200.0, 22000.0, xtol=1e-3))
    return 60.0 * (_height(moment, 52.0, **REFERENCE_AIR) - _height(moment, 52.0, pressure=0.0))


def _sun_by_angles(declination: float, latitude: float, hour_angle: float) -> tuple[float, float]:
    """Zenith, and azimuth from north through east, degrees: inputs for `geometry.tilt_effect`."""
    d, p, w = np.radians([declination, latitude, hour_angle])
    up = np.sin(p) * np.sin(d) + np.cos(p) * np.cos(d) * np.cos(w)
    north = np.cos(p) * np.sin(d) - np.sin(p) * np.cos(d) * np.cos(w)
    return np.degrees(np.arccos(up)), np.degrees(np.arctan2(-np.cos(d) * np.sin(w), north)) % 360.0


def beam_ratio(slope: float, towards: float, **angles: float) -> float:
    """Beam on a slope over that on the level."""
    zenith, azimuth = _sun_by_angles(**angles)
    return 1.0 + float(geometry.tilt_effect(slope, zenith, azimuth - towards))


def beam_incidence(slope: float, towards: float, **angles: float) -> float:
    on_level = np.cos(np.radians(_sun_by_angles(**angles)[0]))
    return float(np.degrees(np.arccos(on_level * beam_ratio(slope, towards, **angles))))


# Emission --------------------------------------------------------------------------------------------------


def exchanged(warm: float, cold: float, times: float = 1.0) -> float:
    """Emission at one temperature minus that at another, K, times an area or an emissivity."""
    return times * float(longwave.own_emission(warm) - longwave.own_emission(cold))


# Views -----------------------------------------------------------------------------------------------------


def rectangles_view(width: float, length: float, distance: float) -> float:
    """Exchange between two equal aligned rectangles: the mean over one of what its elements see."""
    places, weights = np.polynomial.legendre.leggauss(30)
    corners = np.array([[0.0, 0.0], [width, 0.0], [width, length], [0.0, length]])
    across, along = width * (places + 1.0) / 2.0, length * (places + 1.0) / 2.0
    views = [[float(geometry.polygon_view(corners - [x, y], distance)) for y in along] for x in across]
    return float(weights @ np.array(views) @ weights / 4.0)


def discs_view(radius: float, distance: float) -> float:
    """Exchange between two equal discs over each other; the rim has 2000 corners."""
    places, weights = np.polynomial.legendre.leggauss(40)
    turn = np.linspace(0.0, 2.0 * np.pi, 2000, endpoint=False)
    rim = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    at = radius * (places + 1.0) / 2.0
    views = [float(geometry.polygon_view(rim - [x, 0.0], distance)) for x in at]
    return float(np.dot(weights * at, views) / radius)


def polar_radius_of_curvature() -> float:
    """m."""
    north = plane.projected(0.0, np.array([89.5, 90.5]), (0.0, 90.0))[1]
    return float(np.ptp(north) / np.radians(1.0))


ADAPTERS = {
    "sun.declination": declination,
    "sun.distance": distance,
    "sun.equinox": equinox,
    "sun.largest_declination": largest_declination,
    "sun.refraction": refraction,
    "sun.beam_ratio": beam_ratio,
    "sun.beam_incidence": beam_incidence,
    "sun.diffuse_fraction.clearest": lambda clearness: sun.diffuse_fraction(clearness),
    "longwave.emitted_by": lambda kelvin, emissivity=1.0: emissivity * longwave.own_emission(kelvin),
    "longwave.exchanged": exchanged,
    "longwave.temperature_of": lambda flux: longwave.surface_temperature(flux, 0.0, 1.0),
    "station.sunset_angle": reference_evaporation.sunset_angle,
    "station.grass_albedo": lambda: 1.0 - reference_evaporation.net_shortwave(1.0),
    "geometry.rectangles": rectangles_view,
    "geometry.discs": discs_view,
    "plane.polar_radius_of_curvature": polar_radius_of_curvature,
}
"""By the name in the column `function`."""
