"""Sun, clouds and air: what arrives from above, second by second.

Times are seconds since 1970-01-01 UTC, angles radians, temperatures K, fluxes W m-2.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from .spec import Site, Sky

# Planck, Boltzmann and the speed of light are exact in the SI of 2019; the Stefan-Boltzmann constant follows.
SIGMA = 2 * np.pi**5 * 1.380649e-23**4 / (15 * 6.62607015e-34**3 * 299792458.0**2)
KELVIN = 273.15
SOLAR_CONSTANT = 1361.0


def sun(time: np.ndarray, latitude: float, longitude: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Elevation, azimuth from north (rad) and distance (AU): low-precision formulae of the Astronomical
    Almanac, 0.01 degrees.

    After Michalsky (1988), Solar Energy 40, 227; without refraction. From memory, checked against another
    algorithm in the tests.
    """
    n = np.asarray(time, float) / 86400.0 - 10957.5  # days from J2000
    g = np.radians((357.528 + 0.9856003 * n) % 360)
    ecliptic = np.radians((280.460 + 0.9856474 * n + 1.915 * np.sin(g) + 0.020 * np.sin(2 * g)) % 360)
    obliquity = np.radians(23.439 - 4e-7 * n)
    right_ascension = np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    declination = np.arcsin(np.sin(obliquity) * np.sin(ecliptic))
    sidereal = np.radians((18.697374558 + 24.06570982441908 * n) % 24 * 15 + longitude)
    hour = sidereal - right_ascension
    lat = np.radians(latitude)
    elevation = np.arcsin(
        np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(hour)
    )
    azimuth = np.arctan2(-np.sin(hour), np.tan(declination) * np.cos(lat) - np.sin(lat) * np.cos(hour)) % (
        2 * np.pi
    )
    return elevation, azimuth, 1.00014 - 0.01671 * np.cos(g) - 0.00014 * np.cos(2 * g)


def clear_sky(
    elevation: np.ndarray, distance: np.ndarray, altitude: float, transmittance: float
) -> tuple[np.ndarray, np.ndarray]:
    """Direct normal and diffuse without clouds: S t^m and 0.3 (1 - t^m) S sin(elevation).

    Campbell & Norman (1998), ch. 11, with the relative air mass of Rozenberg (1966), finite at the horizon.
    From memory.
    """
    up = np.maximum(np.sin(elevation), 0)
    mass = np.exp(-altitude / 8400.0) / (up + 0.025 * np.exp(-11 * up))
    beam = np.where(up > 0, SOLAR_CONSTANT / distance**2 * transmittance**mass, 0.0)
    diffuse = 0.3 * (1 - transmittance**mass) * SOLAR_CONSTANT / distance**2 * up
    return beam, diffuse


def smooth(x: np.ndarray, step: float, tau: float, start: float | None = None) -> np.ndarray:
    """First-order response with time constant tau to a series that is constant within steps; exact."""
    a = np.exp(-step / tau)
    return lfilter([1 - a], [1, -a], x, zi=[a * (x[0] if start is None else start)])[0]


def wander(rng: np.random.Generator, n: int, step: float, tau: float) -> np.ndarray:
    """Noise of unit variance with exponential memory."""
    a = np.exp(-step / tau)
    first = rng.standard_normal()
    return lfilter([np.sqrt(1 - a * a)], [1, -a], rng.standard_normal(n), zi=[a * first])[0]


def cloud_cover(rng: np.random.Generator, n: int, step: float, sky: Sky) -> tuple[np.ndarray, np.ndarray]:
    """Cloud before the sun (0 or 1, with soft edges) and the share of the beam that it lets pass."""
    present, through = np.zeros(n), np.ones(n)
    gap = sky.cloud_length * (1 - sky.cloud_share) / sky.cloud_share
    t = -rng.uniform(0, gap + sky.cloud_length)
    while t < n * step:
        t += 10 + rng.exponential(max(gap - 10, 1.0))
        stop = t + 10 + rng.exponential(max(sky.cloud_length - 10, 1.0))
        here = slice(max(int(np.ceil(t / step)), 0), max(int(np.ceil(stop / step)), 0))
        present[here] = 1.0
        through[here] = rng.uniform(*sky.beam_through)
        t = stop
    for _ in range(2):  # two running means give an edge without corners
        width = max(int(round(sky.edge / 2 / step)), 1)
        kernel = np.ones(width) / width
        present, through = (
            np.convolve(np.pad(x, width, mode="edge"), kernel, "same")[width:-width]
            for x in (present, through)
        )
    return present, through


@dataclass
class Overhead:
    """A sky as it happened, on an even time grid; `at` reads it at any time, later by `lag` for a field
    downwind.
    """

    site: Site
    time: np.ndarray
    beam_share: np.ndarray  # direct normal over its clear-sky value
    diffuse_factor: np.ndarray  # diffuse over its clear-sky value
    diffuse_gain: np.ndarray  # share of the clear-sky beam on the flat that comes as diffuse instead
    air: np.ndarray  # air temperature, K
    lw_in: np.ndarray
    transmittance: float

    def at(self, time: np.ndarray, lag: float = 0.0) -> dict[str, np.ndarray]:
        def read(series):
            return np.interp(time - lag, self.time, series)

        elevation, azimuth, distance = sun(time, self.site.latitude, self.site.longitude)
        beam, diffuse = clear_sky(elevation, distance, self.site.elevation, self.transmittance)
        flat = beam * np.maximum(np.sin(elevation), 0)
        direct = read(self.beam_share) * flat
        scattered = read(self.diffuse_factor) * diffuse + read(self.diffuse_gain) * flat
        return {
            "elevation": elevation,
            "azimuth": azimuth,
            "beam": read(self.beam_share) * beam,
            "direct": direct,
            "diffuse": scattered,
            "sw_in": direct + scattered,
            "lw_in": read(self.lw_in),
            "air": read(self.air),
        }


def make_sky(
    rng: Callable[[str], np.random.Generator],
    site: Site,
    sky: Sky,
    *,
    begin: float,
    end: float,
    step: float,
) -> Overhead:
    """Draw the sky between two times. Broken: on and off; overcast: diffuse only, slowly changing. Longwave
    rises with the cloud.

    `rng` gives a generator for a name: one for each part, so that a later end changes nothing before it.
    """
    time = np.arange(begin, end + step, step)
    n = time.size
    solar_hour = (time / 3600 + site.longitude / 15) % 24
    air = KELVIN + sky.air_temperature + sky.air_amplitude * np.cos(2 * np.pi * (solar_hour - 15) / 24)
    gain = np.zeros(n)
    if sky.kind == "clear":
        beam, diffuse, overhead = np.ones(n), np.ones(n), np.zeros(n)
    elif sky.kind == "broken":
        present, through = cloud_cover(rng("clouds"), n, step, sky)
        beam = through ** (1 + 0.15 * sky.flicker * wander(rng("within clouds"), n, step, 20.0))
        overhead = smooth(
            present, step, 240.0, sky.cloud_share
        )  # what the whole sky holds changes slower than the sun's spot
        diffuse = 1 + 0.7 * overhead
        gain = 0.15 * (1 - beam) + 0.05 * overhead
    elif sky.kind == "overcast":
        beam, overhead = np.full(n, 0.0), np.ones(n)
        slow, quick = wander(rng("layer"), n, step, 600.0), wander(rng("within the layer"), n, step, 30.0)
        dimming = 0.30 * np.exp(sky.flicker * (0.15 * slow + 0.02 * quick))
        diffuse, gain = dimming, dimming
    else:
        raise ValueError(f"sky {sky.kind}: clear, broken or overcast")
    # Clear-sky longwave: Dilley & O'Brien (1998), from memory. The cloud fills three quarters of what is
    # missing to a
    # black sky at the temperature of its base.
    water = 465.0 * sky.vapour_pressure / air  # kg m-2; vapour pressure in hPa
    clear = 59.38 + 113.7 * (air / 273.16) ** 6 + 96.96 * np.sqrt(water / 25)
    base = air - (5.0 if sky.kind == "overcast" else 9.0)
    lw_in = (
        clear
        + 0.75 * overhead * (SIGMA * base**4 - clear)
        + sky.flicker * wander(rng("longwave"), n, step, 300.0)
    )
    return Overhead(site, time, beam, diffuse, gain, air, lw_in, sky.transmittance)
