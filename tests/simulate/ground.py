"""The ground under the head: patches, the downward view, own shade, surface temperature."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import map_coordinates
from scipy.special import k1

from .sky import Overhead, smooth
from .spec import Carrying, Field

CELL = 0.25  # m
WIDTH = 48.0  # m of ground to the sides that the patches are drawn for
MARGIN = 24.0  # m beyond the ends of the transects


class Ground:
    """Patches of one field as a head at height h sees them: albedo and temperature, minus the field's mean.

    The ground is drawn on a plane that closes upon itself, so the mean over the whole field is exactly zero.
    A level head sees it through the weight h^2 / (pi (r^2 + h^2)^2), whose transform over the plane is k h
    K1(k h): both are one product in wave numbers.
    """

    def __init__(self, rng: np.random.Generator, field: Field, height: float):
        self.field, self.height = field, height
        nx, ny = int((field.length + 2 * MARGIN) / CELL), int(WIDTH / CELL)
        kx, ky = np.meshgrid(2 * np.pi * np.fft.rfftfreq(nx, CELL), 2 * np.pi * np.fft.fftfreq(ny, CELL))
        k = np.hypot(kx, ky)
        view = np.where(k > 0, k * height * k1(np.where(k > 0, k, 1) * height), 0.0)
        colour = np.exp(-((k * field.patch_size) ** 2) / 8)  # Gaussian autocorrelation exp(-(r / size)^2)
        colour[0, 0] = 0.0
        self.patches = {}
        for name, size in (("albedo", field.patch_albedo), ("temperature", field.patch_temperature)):
            white = np.fft.rfft2(rng.standard_normal((ny, nx)))
            spread = np.sqrt(np.mean(np.fft.irfft2(white * colour, (ny, nx)) ** 2))
            self.patches[name] = size / spread * np.fft.irfft2(white * colour * view, (ny, nx))

    def seen(self, name: str, x: np.ndarray, y: float) -> np.ndarray:
        """The patches' part of what is seen above points x of a line y to the side."""
        return map_coordinates(
            self.patches[name],
            [np.full(x.shape, (y + WIDTH / 2) / CELL), (x + MARGIN) / CELL],
            order=1,
            mode="grid-wrap",
        )


def surface_excess(
    field: Field, sky: Overhead, time: np.ndarray, step: float
) -> tuple[np.ndarray, np.ndarray]:
    """Mean surface temperature (K) of a field, and the absorbed sun that it has adjusted to (W m-2), on an
    even time grid.
    """
    above = sky.at(time, field.sky_lag)
    absorbed = smooth((1 - mean_albedo(field, above["elevation"])) * above["sw_in"], step, field.lag)
    temperature = above["air"] + field.night_offset + field.warming * absorbed
    return (np.minimum(temperature, 273.15) if field.surface == "snow" else temperature), absorbed


def mean_albedo(field: Field, elevation: np.ndarray) -> np.ndarray:
    """Albedo of the whole field; it rises with the zenith angle where the field says so."""
    return field.albedo + field.albedo_slope * (50.0 - np.degrees(elevation))


def beyond(distance: np.ndarray, height: float) -> np.ndarray:
    """Share of a level head's downward view that lies beyond a straight edge at some distance: (1 - d /
    sqrt(d^2 + h^2)) / 2.
    """
    return 0.5 * (1 - distance / np.hypot(distance, height))


def carrier_view(carrying: Carrying, height: float) -> float:
    """Share of the downward view that the carrier's own body fills, an upright plate facing the head; by
    quadrature over azimuth.
    """
    u, w = np.polynomial.legendre.leggauss(24)
    widest = np.arctan2(carrying.carrier_width / 2, carrying.reach)
    foot = carrying.reach / np.cos(widest * u)
    return float(widest / (2 * np.pi) * np.sum(w * height**2 / (height**2 + foot**2)))


def shadow_view(
    carrying: Carrying,
    height: float,
    canopy: float,
    elevation: np.ndarray,
    azimuth: np.ndarray,
    *,
    heading: np.ndarray,
) -> np.ndarray:
    """Share of the downward view that the carrier's shadow fills; by quadrature over the shadow's rectangle.

    The head goes ahead of the carrier. The plate stands broadside to the sun, so its shadow on level ground
    is as wide as the plate and as long as its height over tan(elevation). Canopy tops are the ground that
    counts.
    """
    u, w = np.polynomial.legendre.leggauss(16)
    up = np.maximum(elevation, np.radians(3.0))
    length = np.minimum((carrying.carrier_height - canopy) / np.tan(up), 40.0)
    # Along the shadow the weight is concentrated near the head: several panels keep the quadrature sharp when
    # it is long.
    panels = np.linspace(0, 1, 9)
    along = np.concatenate([(a + b) / 2 + (b - a) / 2 * u for a, b in zip(panels, panels[1:], strict=False)])
    weight = np.concatenate([(b - a) / 2 * w for a, b in zip(panels, panels[1:], strict=False)])
    across = carrying.carrier_width / 2 * u
    # Place of the carrier's foot seen from below the head, in axes along and across the shadow.
    turn = azimuth - np.radians(heading)
    foot_along, foot_across = carrying.reach * np.cos(turn), carrying.reach * np.sin(turn)
    r2 = (foot_along[:, None, None] + length[:, None, None] * along[None, :, None]) ** 2 + (
        foot_across[:, None, None] + across[None, None, :]
    ) ** 2
    density = height**2 / (np.pi * (r2 + height**2) ** 2)
    share = np.einsum("tij,i,j->t", density, weight, w * carrying.carrier_width / 2) * length
    return np.where(elevation > np.radians(3.0), share, 0.0)
