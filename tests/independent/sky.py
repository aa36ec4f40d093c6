"""Sun and view factors, from their own formulas and not from the libraries that the package uses.

The sun's position is the low-precision almanac (Meeus, Astronomical Algorithms, chapter 25; from memory),
good to 0.01 degrees.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

SIGMA = 5.670374419e-8
"""Stefan-Boltzmann constant, W m-2 K-4 (CODATA 2018)."""


def sun(seconds: np.ndarray, latitude: float, longitude: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Apparent elevation and azimuth in degrees, and the earth's distance in astronomical units."""
    days = seconds / 86400.0 - 10957.5  # since noon of 2000-01-01
    century = days / 36525.0
    anomaly = np.radians(357.52911 + 35999.05029 * century)
    centre = (
        (1.914602 - 0.004817 * century) * np.sin(anomaly)
        + 0.019993 * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    node = np.radians(125.04 - 1934.136 * century)
    along = np.radians(280.46646 + 36000.76983 * century + centre - 0.00569 - 0.00478 * np.sin(node))
    tilt = np.radians(23.439291 - 0.0130042 * century + 0.00256 * np.cos(node))
    ascension = np.arctan2(np.cos(tilt) * np.sin(along), np.cos(along))
    declination = np.arcsin(np.sin(tilt) * np.sin(along))
    sidereal = np.radians(280.46061837 + 360.98564736629 * days + longitude)
    hour, lat = sidereal - ascension, np.radians(latitude)
    up = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour)
    north = np.cos(lat) * np.sin(declination) - np.sin(lat) * np.cos(declination) * np.cos(hour)
    east = -np.cos(declination) * np.sin(hour)
    true = np.degrees(np.arcsin(up))
    refraction = 1.02 / 60 / np.tan(np.radians(true + 10.3 / (true + 5.11)))
    distance = 1.000001018 * (1 - 0.016708634**2) / (1 + 0.016708634 * np.cos(anomaly + np.radians(centre)))
    return true + refraction, np.degrees(np.arctan2(east, north)) % 360.0, distance


def of_polygon(corners: np.ndarray) -> float:
    """View factor of a polygon from a level element that looks down from the origin; corners (n, 3), m."""
    total = 0.0
    for one, two in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        normal = np.cross(one, two)
        size = np.linalg.norm(normal)
        total += np.arctan2(size, one @ two) * normal[2] / size
    return abs(total) / (2 * np.pi)


@dataclass(frozen=True)
class Light:
    """Heading of the walk, elevation and azimuth of the sun, degrees."""

    heading: float
    elevation: float
    azimuth: float


def of_shadow(height: float, plate: tuple[float, float], reach: float, light: Light) -> float:
    """Share of the downward view that the carrier's shadow fills.

    plate: height and width over what the head looks at, m.
    """
    length = plate[0] / np.tan(np.radians(light.elevation))
    ahead = np.array([np.sin(np.radians(light.heading)), np.cos(np.radians(light.heading))])
    away = -np.array([np.sin(np.radians(light.azimuth)), np.cos(np.radians(light.azimuth))])
    side = np.array([-away[1], away[0]]) * plate[1] / 2
    foot = -reach * ahead
    flat = [foot - side, foot + side, foot + side + length * away, foot - side + length * away]
    return of_polygon(np.array([[*corner, -height] for corner in flat]))


def of_carrier(below: float, half_width: float, reach: float) -> float:
    """Share of the downward view that the upright plate itself fills, by (8.5b)."""
    far = np.hypot(below, reach)
    inner = np.arctan(half_width / reach) - reach / far * np.arctan(half_width / far)
    return float(2 * inner / (2 * np.pi))


def diffuse(clearness: np.ndarray) -> np.ndarray:
    """Diffuse share of the shortwave by (4.4a)."""
    k = clearness
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.where(k <= 0.22, 1 - 0.09 * k, np.where(k <= 0.80, middle, 0.165))
