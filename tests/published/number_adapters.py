"""Uncertainty, statistics, limits of heads by class and identifiers, by the names in the tables beside this
file."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from scipy.optimize import brentq

from headland.base import times
from headland.files import credit, digests, logger_stamps
from headland.physics import evaporation, heat, series, soil_heat
from headland.physics import reference_evaporation as station
from headland.physics.constants import RADIATION
from headland.uncertainty import differences, inputs, terms
from headland.uncertainty.distributions import NORMAL, RECTANGULAR
from headland.uncertainty.draws import Source, one_at_a_time
from headland.uncertainty.linear import contributions, half_width
from headland.uncertainty.model import measured
from headland.uncertainty.sources import instrument_sources
from published import other_adapters as others

# Uncertainty -----------------------------------------------------------------------------------------------


def product_standard(values: list[float], sizes: list[float], powers: list[float]) -> float:
    """Standard uncertainty of a product of powers, by the package's linear propagation."""
    names = [str(number) for number in range(len(values))]
    sources = [
        Source("input", name, {name: np.array([size])}) for name, size in zip(names, sizes, strict=True)
    ]
    errors = one_at_a_time(sources)
    factors = [
        (value + errors[name]) ** power for name, value, power in zip(names, values, powers, strict=True)
    ]
    parts = contributions({"product": np.prod(factors, axis=0)})["product"]
    return float(half_width(parts)[0]) / others.NORMAL_95


def impedance_correlation(of: str) -> float:
    """GUM H.2: correlation of two of R, X and Z, from the contributions of shared sources."""
    readings = others.READINGS
    shares = np.linalg.cholesky(np.cov(readings.T) / len(readings))
    names = ("voltage", "current", "phase")
    sources = [
        Source("bridge", str(k), {name: np.array([shares[row, k]]) for row, name in enumerate(names)})
        for k in range(3)
    ]
    errors = one_at_a_time(sources)
    voltage, current, phase = (
        mean + errors[name] for mean, name in zip(readings.mean(axis=0), names, strict=True)
    )
    ratio = voltage / current
    parts = contributions({"R": ratio * np.cos(phase), "X": ratio * np.sin(phase), "Z": ratio})
    one, other = (parts[name][:, 0] for name in of)
    return float(one @ other / np.sqrt((one @ one) * (other @ other)))


def mass_standard() -> float:
    """JCGM 101, 9.3: a weight in air, first order; mg."""
    sizes = {"mass": 0.050, "added": 0.020, "air": 0.10 / math.sqrt(3.0), "weight": 1000.0 / math.sqrt(3.0)}
    sizes["reference"] = 50.0 / math.sqrt(3.0)
    sources = [Source("mass", name, {name: np.array([size])}) for name, size in sizes.items()]
    errors = one_at_a_time(sources)
    buoyancy = errors["air"] * (1.0 / (8000.0 + errors["weight"]) - 1.0 / (8000.0 + errors["reference"]))
    parts = contributions({"mass": (100001.234 + errors["mass"] + errors["added"]) * (1.0 + buoyancy)})
    return float(half_width(parts["mass"])[0]) / others.NORMAL_95


# Classes of ISO 9060 ---------------------------------------------------------------------------------------

MOMENTS = pd.to_datetime(["2026-05-21T09:00:00Z", "2026-05-21T10:00:00Z"])
"""An hour apart, in which the body warms by 5 K."""
CLASS_TERMS = {
    "drift": ("drift_sw", "sw_in", 10.0),
    "temperature": ("temperature_sw", "sw_in", 10.0),
    "linearity": ("linearity", "sw_in", 10.0),
    "spectral": ("spectral", "sw_in", 10.0),
    "tilt": ("tilt", "sw_out", 10.0),
    "offset_a": ("cooling", "sw_in", 1.0),
    "offset_b": ("temperature_change", "sw_in", 1.0),
}
"""The term of uncertainty.csv, the channel, and W m-2 of 1000 in one unit of the limit (% or W m-2)."""

UNSTATED = ("response_time_95", "calibration_temperature", "temperature_coefficient", "window_coefficient")
"""What a certificate may leave out; the class's limit then holds."""


def _stand(air: float) -> pd.DataFrame:
    """Two stands under 1000 W m-2 from above and below, and a net longwave of -200 W m-2."""
    flat = {"field": "", "surface": "", "activity": "stand", "heading": 0.0, "incoming_heading": 0.0}
    flat |= {"samples_used": 0, "solar_azimuth": 180.0, **inputs.UNDISTURBED}
    flat |= {"sw_in": 1000.0, "sw_out": 1000.0, "lw_in": 220.0, "lw_out": 420.0, "solar_elevation": 60.0}
    flat |= {"lw_in_net": -200.0, "lw_out_net": 0.0, "albedo_sw_in": 0.0, "albedo_sw_out": 0.0}
    frame = pd.DataFrame({**flat, "rate_sw_in": 1.0, "set": "heron", "segment": ["a", "b"]})
    frame = frame.assign(start_utc=MOMENTS, end_utc=MOMENTS, incoming_set="heron")
    frame["body_temperature"] = frame["incoming_body_temperature"] = [air - 5.0, air]
    still = {"sensor_height": 1.5, "reach": 0.0, "carrier_height": 1.8, "carrier_width": 0.5}
    return inputs.prepare(frame, {**still, "walking_speed": 0.0}, np.full(2, air), {})


def _moved(term: str, channel: str, grade: str) -> tuple[float, float]:
    """What a term does to a channel of the second stand: on average, and by its largest error beside it."""
    rows = {name: {**row, "enabled": str(name == term).lower()} for name, row in others.TERMS.items()}
    sensor = {"set": "heron", "age_months": 12.0, "expanded_uncertainty_percent": 0.0}
    sensor |= {"factor": 70.0, "instrument_class": grade, "reference": "", "body_channel": "body_temperature"}
    sensor |= dict.fromkeys(UNSTATED, math.nan)
    certificates = pd.DataFrame([{**sensor, "channel": name} for name in RADIATION])
    stand = _stand(45.0)
    sources = instrument_sources(stand, certificates, rows)
    found = measured(stand, inputs.no_shade, one_at_a_time(sources))[channel][:, 1]
    spread = half_width(contributions({"it": found[:, None]})["it"])[0] / others.NORMAL_95
    return float(found.mean() - 1000.0), float(spread * RECTANGULAR.quantiles(1.0))


def class_limit(of: str, grade: str) -> float:
    """The largest error of a head of a class, as the model of measurement makes it."""
    term, channel, unit = CLASS_TERMS[of]
    return sum(_moved(term, channel, grade)) / unit


def response_time() -> float:
    """95 % response time of a head without one, s: what it lags behind 1 W m-2 a second."""
    return _moved("response", "sw_in", "B")[0] * math.log(20.0)


# Series ----------------------------------------------------------------------------------------------------


def autocorrelation(values: list[float], lag: int) -> float:
    return float(series.autocorrelation(values)[lag - 1])


def slope(x: list[float], y: list[float]) -> float:
    return heat.net_rate(x, y)


def effective(count: float, r: float) -> float:
    """Independent samples in a long series, for `count` of its samples."""
    long = 10_000_000
    return count / long * float(series.effective_samples(long, r ** np.arange(1.0, 2000.0)))


# Ground and water ------------------------------------------------------------------------------------------


def santanello_period(soil: str) -> float:
    """B, s: four times the time from the peak, 3 h before noon, to where the fraction reaches 0."""
    form = heat.SANTANELLO[soil]
    ends = brentq(lambda t: float(heat.santanello_fraction(t, *form)) - 1e-9, -10800.0, 30000.0, xtol=1e-9)
    return 4.0 * (ends + 10800.0)


def equilibrium_share(celsius: float, elevation: float) -> float:
    pressure = evaporation.pressure_at(elevation)
    return float(evaporation.priestley_taylor(1.0, celsius, pressure, 1.0))


def priestley_taylor_water(available: float, celsius: float, pressure: float, coefficient: float) -> float:
    latent = evaporation.priestley_taylor(available, celsius, pressure, coefficient)
    return 24.0 * float(evaporation.evaporation(latent, celsius))


def deficit_of_day(highest: float, lowest: float, least: float, most: float) -> float:
    moist = station.vapour_from_humidities(highest, lowest, least, most)
    return float(station.mean_saturation(highest, lowest) - moist)


# Times and identifiers -------------------------------------------------------------------------------------


def seconds_since_1900(time: str) -> float:
    moments = pd.DatetimeIndex([time, "1900-01-01T00:00:00"])
    return float(-np.diff(times.since_1970(moments))[0])


def read_zone(text: str) -> float:
    """Seconds after midnight in UTC of a time with a zone."""
    stamps, sound = logger_stamps.formatted_stamps([text], "%Y-%m-%dT%H:%M:%S%z")
    assert sound.all()
    return float(stamps[0] % 86_400_000_000) / 1e6


def date_of_ordinal(year: int, day_of_year: int) -> float:
    """Month and day of a day of the year, as 412 for 12 April."""
    parts = {"year": np.array([float(year)]), "day_of_year": np.array([float(day_of_year)])}
    stamps, sound = logger_stamps.stamps_from_parts(parts)
    moment = pd.Timestamp(int(stamps[0]), unit="us")
    assert sound.all()
    return float(100 * moment.month + moment.day)


def digest_start(text: str, times_over: int = 1) -> float:
    """The first 12 of 64 digits of a digest, as a number that floating point holds exactly."""
    return float(int(digests.digest_of(text.encode("ascii") * times_over)[:12], 16))


def check_character(digits: str) -> float:
    found = credit.check_character(digits)
    return 10.0 if found == "X" else float(found)


ADAPTERS = {
    "uncertainty.product": product_standard,
    "uncertainty.impedance.correlation": impedance_correlation,
    "uncertainty.mass": mass_standard,
    "uncertainty.rectangle": terms.standard_uncertainty,
    "uncertainty.range": lambda low, high: terms.of_range(low, high).sigma,
    "uncertainty.normal.factor": lambda probability: float(NORMAL.quantiles(0.5 + probability / 2.0)),
    "uncertainty.p_value": lambda deviate: float(differences.p_values(np.array(deviate), np.array(1.0))),
    "uncertainty.class_limit": class_limit,
    "uncertainty.response_time": response_time,
    "series.autocorrelation": autocorrelation,
    "series.slope": slope,
    "series.effective": effective,
    "heat.santanello.peak": lambda soil: heat.santanello_fraction(-10800.0, *heat.SANTANELLO[soil]),
    "heat.santanello.period": santanello_period,
    "soil.heat_capacity.of_part": soil_heat.heat_capacity,
    "soil.heat_capacity.calories": lambda **parts: soil_heat.heat_capacity(**parts) / 4.1868,
    "water.equilibrium_share": equilibrium_share,
    "water.priestley_taylor_a_day": priestley_taylor_water,
    "station.deficit_of_day": deficit_of_day,
    "times.since_1900": seconds_since_1900,
    "times.zone": read_zone,
    "times.ordinal": date_of_ordinal,
    "digests.start": digest_start,
    "credit.check_character": check_character,
}
"""By the name in the column `function`."""
