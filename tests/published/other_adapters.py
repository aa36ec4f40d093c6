"""Screening limits, geometry, uncertainty and instruments, by the names in the tables beside this file."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from scipy.optimize import brentq

from headland.base.flags import limits_of
from headland.chain import screen
from headland.files.own_numbers import quality_rows
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import geometry, plane, thermometers
from headland.physics.constants import SIGMA, ZERO_CELSIUS
from headland.uncertainty.distributions import NORMAL, NORMAL_95, RECTANGULAR, student
from headland.uncertainty.draws import Source, one_at_a_time
from headland.uncertainty.linear import contributions, half_width, linear_of
from headland.uncertainty.terms import of_term

CONFIG = Path(__file__).parents[2] / "config"
LIMITS = limits_of(quality_rows(CONFIG / "quality.csv"))
TERMS = uncertainty_terms(CONFIG / "uncertainty.csv")
TOP = 1361.0


# Screening: the limits as the screening applies them ---------------------------------------------------


def _passes(flag: str, channel: str, value: float, elevation: float = 50.0, **others: float) -> bool:
    sample = {"sw_in": 400.0, "sw_out": 100.0, "lw_in": 350.0, "lw_out": 400.0} | others | {channel: value}
    samples = pd.DataFrame({name: [one] for name, one in sample.items()}).assign(solar_elevation=elevation)
    air = others.get("air", 20.0)
    return not screen.flags(samples, LIMITS, np.array([air]), np.array([TOP]))[flag][0]


def end(flag: str, channel: str, side: str, **at: float) -> float:
    """The largest or smallest value that a test lets pass, found by halving."""
    good, bad = (at.pop("start", 200.0), 5000.0 if side == "high" else -5000.0)
    assert _passes(flag, channel, good, **at) and not _passes(flag, channel, bad, **at)
    for _ in range(60):
        middle = (good + bad) / 2.0
        good, bad = (middle, bad) if _passes(flag, channel, middle, **at) else (good, middle)
    return good


def part_of_limit(flag: str, part: str) -> float:
    """Scale, power or offset of an upper limit, from the limits at three heights of the sun."""
    channel = LIMITS[flag]["channel"]
    offset = end(flag, channel, "high", elevation=-5.0, start=0.0)
    full = end(flag, channel, "high", elevation=90.0) - offset
    half = end(flag, channel, "high", elevation=30.0) - offset
    return {"offset": offset, "scale": full / TOP, "power": np.log2(full / half)}[part]


def over_emission(flag: str, side: str) -> float:
    """Limit of the longwave from above over the air's emission: a share below, a difference above."""
    emission = SIGMA * (20.0 + ZERO_CELSIUS) ** 4
    limit = end(flag, "lw_in", side, start=350.0)
    return limit / emission if side == "low" else limit - emission


def beside_air(flag: str, side: str) -> float:
    """Limit of the longwave from below as a temperature minus the air's, K."""
    limit = end(flag, "lw_out", side, start=400.0)
    return (limit / SIGMA) ** 0.25 - 20.0 - ZERO_CELSIUS


def beside_out(flag: str, side: str) -> float:
    return end(flag, "lw_in", side, start=380.0) - 400.0


def reflected_limit(part: str) -> float:
    """`share`: the largest share of shortwave from above; `from`: the shortwave from above that it is tested
    from."""
    if part == "share":
        return end("sw-up-over-down", "sw_out", "high", start=100.0) / 400.0
    tested = [
        x for x in np.arange(40.0, 61.0, 0.5) if not _passes("sw-up-over-down", "sw_out", 2 * x, sw_in=x)
    ]
    return min(tested) - 0.5


# Geometry ----------------------------------------------------------------------------------------------


def rectangle_view(along, across, height):
    """A rectangle below a level element, one corner under it."""
    return geometry.polygon_view([[0, 0], [along, 0], [along, across], [0, across]], height)


def strip_view(along, across, height):
    """The mean over a strip of elements along one side of a parallel rectangle."""
    places, weights = np.polynomial.legendre.leggauss(40)
    at = across * (places + 1.0) / 2.0
    views = [float(rectangle_view(along, y, height) + rectangle_view(along, across - y, height)) for y in at]
    return np.dot(weights, views) / 2.0


def upright_strip_view(height, width, distance):
    """The mean over a strip of elements along the foot of an upright rectangle."""
    places, weights = np.polynomial.legendre.leggauss(40)
    at = width * (places + 1.0) / 2.0
    view = geometry.perpendicular_rectangle_view
    return np.dot(weights, [view(height, x, distance) + view(height, width - x, distance) for x in at]) / 2.0


def squares_view(side, distance):
    """Exchange between two equal aligned squares: the mean over one of what its elements see of the other."""
    places, weights = np.polynomial.legendre.leggauss(30)
    at = side * (places + 1.0) / 2.0
    corners = np.array([[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]])
    views = [[float(geometry.polygon_view(corners - [x, y], distance)) for x in at] for y in at]
    return weights @ np.array(views) @ weights / 4.0


def patch_view(x, y, height):
    return geometry.polygon_view([[x[0], y[0]], [x[1], y[0]], [x[1], y[1]], [x[0], y[1]]], height)


def degree_of_latitude(latitude):
    """km between half a degree south and half a degree north of a latitude."""
    north = plane.projected(0.0, np.array([latitude - 0.5, latitude + 0.5]), (0.0, latitude))[1]
    return np.ptp(north) / 1000.0


def degree_of_longitude(latitude):
    return np.ptp(plane.projected(np.array([-0.5, 0.5]), latitude, (0.0, latitude))[0]) / 1000.0


# Uncertainty -------------------------------------------------------------------------------------------


def _sources(sizes, distribution):
    return [
        Source("term", str(number), {"x": np.array([size])}, distribution=distribution)
        for number, size in enumerate(sizes)
    ]


def sum_standard(sizes):
    """Standard uncertainty of a sum of errors."""
    parts = contributions({"sum": one_at_a_time(_sources(sizes, NORMAL))["x"]})["sum"]
    return float(half_width(parts)[0]) / NORMAL_95


def sum_normal_end(sizes):
    parts = contributions({"sum": one_at_a_time(_sources(sizes, NORMAL))["x"]})["sum"]
    return float(half_width(parts)[0])


def sum_end(sizes, shape):
    """Upper end of the 95 % interval of a sum, by the distribution of its linear part."""
    sources = _sources(sizes, {"normal": NORMAL, "rectangular": RECTANGULAR}[shape])
    parts = contributions({"sum": one_at_a_time(sources)["x"]})["sum"]
    linear = linear_of(parts, sources, np.zeros((1, 1)))
    return brentq(lambda end: float(linear.below([end])[0]) - 0.975, 0.0, 6.0 * float(linear.sizes[0]))


GAUGE = {"standard": 25.0, "difference": 9.7, "temperature": 0.41, "expansion_apart": 0.58e-6, "apart": 0.029}
"""GUM H.1: standard uncertainties in nm, degC, K-1 and K."""


def gauge(of):
    """GUM H.1: what each input gives to the length of an end gauge, nm, or all together."""
    sources = [Source("gauge", name, {name: np.array([size])}) for name, size in GAUGE.items()]
    errors = one_at_a_time(sources)
    at = {name: errors[name] for name in GAUGE}
    length = (
        50000623.0
        + at["standard"]
        + 215.0
        + at["difference"]
        - 50000623.0 * (at["expansion_apart"] * (-0.1 + at["temperature"]) + 11.5e-6 * at["apart"])
    )
    parts = contributions({"length": length})["length"][:, 0]
    if of == "all":
        return float(half_width(parts[:, None])[0]) / NORMAL_95
    return abs(parts[list(GAUGE).index(of)])


READINGS = np.array(
    [
        [5.007, 19.663, 1.0456],
        [4.994, 19.639, 1.0438],
        [5.005, 19.640, 1.0468],
        [4.990, 19.685, 1.0428],
        [4.999, 19.678, 1.0433],
    ]
)
"""GUM H.2: V, mA and rad in five observations."""


def impedance(of, correlated=True):
    """GUM H.2: standard uncertainty of resistance, reactance or impedance. Inputs that vary together are one
    source that acts on several of them."""
    covariance = np.cov(READINGS.T) / len(READINGS)
    if not correlated:
        covariance = np.diag(np.diag(covariance))
    shares = np.linalg.cholesky(covariance)
    names = ("voltage", "current", "phase")
    sources = [
        Source("bridge", str(k), {name: np.array([shares[row, k]]) for row, name in enumerate(names)})
        for k in range(3)
    ]
    errors, means = one_at_a_time(sources), READINGS.mean(axis=0)
    voltage, current, phase = (mean + errors[name] for mean, name in zip(means, names, strict=True))
    ratio = 1000.0 * voltage / current
    values = {"R": ratio * np.cos(phase), "X": ratio * np.sin(phase), "Z": ratio}
    return float(half_width(contributions({"it": values[of]})["it"])[0]) / NORMAL_95


def student_factor(freedom, probability, factor_95):
    """Coverage factor of Student's t from that of 95 %: the package scales t so that 95 % are 1.96."""
    return float(student(freedom).quantiles(0.5 + probability / 2.0)) / NORMAL_95 * factor_95


# Instruments -------------------------------------------------------------------------------------------


def largest_directional(grade):
    """Largest error of a head of a class in a beam of 1000 W m-2."""
    size = of_term(TERMS[f"directional_{grade}"])
    return size.sigma * float(size.distribution.quantiles(1.0))


ADAPTERS = {
    "screen.part_of_limit": part_of_limit,
    "screen.end": end,
    "screen.over_emission": over_emission,
    "screen.beside_air": beside_air,
    "screen.beside_out": beside_out,
    "screen.reflected": reflected_limit,
    "geometry.view_within": geometry.view_within,
    "geometry.rectangle": rectangle_view,
    "geometry.strip": strip_view,
    "geometry.upright": geometry.perpendicular_rectangle_view,
    "geometry.upright.centred": lambda height, width, distance: (
        2.0 * geometry.perpendicular_rectangle_view(height, width / 2.0, distance)
    ),
    "geometry.upright.strip": upright_strip_view,
    "geometry.squares": squares_view,
    "geometry.patch": patch_view,
    "geometry.tilt_effect": geometry.tilt_effect,
    "plane.degree_of_latitude": degree_of_latitude,
    "plane.degree_of_longitude": degree_of_longitude,
    "uncertainty.sum.standard": sum_standard,
    "uncertainty.sum.normal_end": sum_normal_end,
    "uncertainty.sum.end": sum_end,
    "uncertainty.gauge": gauge,
    "uncertainty.impedance": impedance,
    "uncertainty.student": student_factor,
    "uncertainty.normal": lambda: float(NORMAL.quantiles(0.975)),
    "uncertainty.directional": largest_directional,
    "thermometers.body_celsius": lambda ohm, thermometer: float(
        thermometers.body_celsius(ohm, "ohm", thermometer)
    ),
    "instruments.pt100_resistance": thermometers.platinum_resistance,
    "instruments.pt100_temperature": thermometers.platinum_temperature,
}
"""By the name in the column `function`."""
