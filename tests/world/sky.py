"""The sky over each field: beam, diffuse and longwave, from the sun, the clear air and the clouds."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from .air import GRID, Air
from .clouds import LEAD, PATTERN_STEP, Clouds, Lane
from .seeds import stream
from .sun import Site, Turbidity, clear_sky, extraterrestrial, sun_vector

SIGMA = 5.670374e-8  # W m-2 K-4, CODATA 2018
KELVIN = 273.15


@dataclass(frozen=True)
class Incoming:
    """Incoming terms at some times: W m-2, and the unit vector to the sun (east, north, up)."""

    beam: np.ndarray  # at normal incidence
    diffuse: np.ndarray
    longwave: np.ndarray
    sun: np.ndarray

    @property
    def level(self) -> np.ndarray:
        """Global irradiance on a level plane."""
        return self.beam * np.maximum(self.sun[2], 0.0) + self.diffuse

    @property
    def diffuse_fraction(self) -> np.ndarray:
        """Diffuse over global, 1 where there is no light."""
        return self.diffuse / np.maximum(self.level, 1e-6) * (self.level > 1e-6) + (self.level <= 1e-6)


class Sky:
    """Sky of one day; lane 0 is the origin, lane k + 1 is field k."""

    def __init__(self, seed: int, site: Site, air: Air, clouds: Clouds):
        rng = stream(seed, "turbidity")
        # Aerosol optical depth at 500 nm: clean 0.04-0.2, haze 0.3-0.7 (AERONET climatologies, from memory).
        depth = rng.uniform(0.3, 0.7) if clouds.kind == "haze" else rng.uniform(0.04, 0.20)
        dew_point_pa = float(air.vapour.mean())
        # Precipitable water in cm = 0.00493 times vapour pressure over temperature (Prata 1996: 46.5 e/T,
        # hPa).
        water = 46.5 * dew_point_pa / 100.0 / (air.temperature.mean() + KELVIN)
        self.turbidity = Turbidity(depth, depth * 1.4, float(np.clip(water, 0.2, 5.0)))
        self.site, self.air, self.clouds = site, air, clouds
        self.outside = extraterrestrial(site)
        self.minute = np.arange(0.0, 86460.0, 60.0)
        self.sun_minute = sun_vector(site, self.minute)
        self.beam_clear, self.diffuse_clear = clear_sky(self.sun_minute[2], site, self.turbidity)
        self.lanes: list[Lane] = [clouds.lane(0.0)]
        # The air that radiates is the layer above, which does not follow the minutes: a mean over half an
        # hour.
        kelvin = uniform_filter1d(air.temperature, 180, mode="nearest") + KELVIN
        vapour = uniform_filter1d(air.vapour, 180, mode="nearest")
        # Brutsaert 1975 with the coefficient 1.24 spread by 2.5 % from day to day.
        clear = 1.24 * (1.0 + 0.025 * rng.standard_normal()) * (vapour / 100.0 / kelvin) ** (1.0 / 7.0)
        self.clear_emissivity = np.clip(clear, 0.55, 0.97)
        self.clear_longwave = self.clear_emissivity * SIGMA * kelvin**4
        lapse = 0.0065 if clouds.kind == "cirrus" else 0.0085  # K m-1 below the base (from memory)
        base = np.maximum(kelvin - lapse * clouds.base, 215.0)
        emissivity = 0.5 if clouds.kind == "cirrus" else 0.98
        self.cloud_gain = (1.0 - self.clear_emissivity) * emissivity * SIGMA * base**4

    def add_lane(self, east: float, north: float) -> None:
        """Add the lane of a field whose centre is there."""
        self.lanes.append(self.clouds.lane(self.clouds.across(east, north)))

    def incoming(self, lane: int, t: np.ndarray, delay: np.ndarray | float) -> Incoming:
        """Return the incoming terms of a lane at times t, at places that see the pattern later by `delay`."""
        seen = self.lanes[lane]
        place = (np.asarray(t) - delay + LEAD) / PATTERN_STEP
        lower = np.clip(place.astype(int), 0, len(seen.beam) - 2)
        part = place - lower
        sun = np.stack([np.interp(t, self.minute, row) for row in self.sun_minute])
        beam = np.interp(t, self.minute, self.beam_clear)
        diffuse = np.interp(t, self.minute, self.diffuse_clear)
        total = beam * np.maximum(sun[2], 0.0) + diffuse

        def along(series: np.ndarray) -> np.ndarray:
            return series[lower] * (1.0 - part) + series[lower + 1] * part

        longwave = np.interp(t, GRID, self.clear_longwave) + along(seen.cover) * np.interp(
            t, GRID, self.cloud_gain
        )
        return Incoming(
            beam * along(seen.beam),
            diffuse * along(seen.clear_part) + total * along(seen.added),
            longwave,
            sun,
        )

    def on_plane(self, incoming: Incoming, normal: np.ndarray) -> np.ndarray:
        """Return the irradiance on a plane with the given normal (east, north, up), W m-2.

        Diffuse: a circumsolar part as large as the beam's transmittance, the rest even (Hay and Davies 1980).
        """
        cosine = np.maximum((incoming.sun * normal).sum(axis=0), 0.0)
        up = np.maximum(incoming.sun[2], 0.05)
        circumsolar = np.clip(incoming.beam / self.outside, 0.0, 1.0)
        even = (1.0 - circumsolar) * 0.5 * (1.0 + normal[2])
        return incoming.beam * cosine + incoming.diffuse * (even + circumsolar * np.minimum(cosine / up, 3.0))


def plane_normal(slope: np.ndarray | float, aspect: np.ndarray | float) -> np.ndarray:
    """Return the normal of a plane that falls by `slope` towards `aspect`, both in degrees."""
    steep, toward = np.radians(slope), np.radians(aspect)
    return np.stack(
        [np.sin(steep) * np.sin(toward), np.sin(steep) * np.cos(toward), np.cos(steep) + 0.0 * toward]
    )
