"""Errors of single sensors, and the calibration reference that all sensors of one band share.

They hold for the whole campaign, so they cancel in a difference between surfaces measured with one sensor.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.physics.instruments import COVERAGE_FACTOR, MICROVOLTS, RESPONSE_TIME
from headland.uncertainty.draws import Source
from headland.uncertainty.heads import Heads
from headland.uncertainty.terms import PERCENT, Rows, around, is_on, sources_of

CALIBRATION_TEMPERATURE, TEMPERATURE_STEP = 20.0, 25.0
"""degC and K: a temperature response is stated per 25 K, from 20 degC where the certificate names no
temperature (common practice, no source)."""

MIDDLE_FLUX = 500.0
"""W m-2: a non-linearity is stated as the distance from the sensitivity at this flux (ISO 9060)."""

NET_LONGWAVE_STEP, CHANGE_STEP = 200.0, 5.0
"""W m-2 of net longwave and K h-1 for which the zero offsets A and B are stated (ISO 9060)."""


TIME_CONSTANTS = math.log(20.0)
"""Time constants in a 95 % response time, of a first-order response."""


def sensor_sources(heads: Heads, certificates: pd.DataFrame, rows: Rows) -> list[Source]:
    """All errors of sensors. certificates: those in force, one a set and channel."""
    sources = []
    own = certificates[certificates["set"].isin(heads.lower)]
    for band in ("sw", "lw"):
        sensors = own[own["channel"].str.startswith(band)].to_dict("records")
        for sensor in sensors:
            sources += _of_sensor(heads, sensor, rows)
        for reference in dict.fromkeys(map(_reference, sensors)):
            compared = [sensor for sensor in sensors if _reference(sensor) == reference]
            sources.append(_of_reference(heads, f"{band}/{reference}".strip("/"), compared, rows))
    return sources


def _of_sensor(heads: Heads, sensor: Mapping, rows: Rows) -> list[Source]:
    """The errors of one sensor. sensor: its certificate."""
    channel = sensor["channel"]
    band, unit, mine = channel[:2], f"{sensor['set']}/{channel}", heads.of(sensor["set"], channel)
    factor, grade = f"factor_{channel}", str(sensor["instrument_class"])
    sources = _calibration(sensor, mine, rows)
    aged = {factor: mine * _years(sensor)}
    sources += sources_of(rows, f"drift_{band}", unit, aged, PERCENT, grade=grade)
    sources += temperature_response(heads, sensor, mine, rows)
    sources += sources_of(rows, "response", unit, {f"response_{channel}": mine * _time_constant(sensor)})
    sources += sources_of(rows, "zero" if band == "sw" else "zero_lw", unit, {f"zero_{channel}": mine})
    volts = mine * np.nan_to_num(sensor["factor"]) / MICROVOLTS
    sources += sources_of(rows, "logger_zero", unit, {f"zero_{channel}": volts})
    if band == "sw":
        return sources + _by_class(heads, sensor, rows)
    return sources + sources_of(rows, "spectral_lw", unit, {factor: mine}, PERCENT, grade=grade)


def temperature_response(heads: Heads, sensor: Mapping, mine: np.ndarray, rows: Rows) -> list[Source]:
    """How the sensitivity of a head changes from the temperature at which it was calibrated.

    With the certificate's coefficient it is a known effect, 1 / (1 + coefficient x) - 1 with x the distance
    in steps of 25 K, whose remaining error is a part of the limit; without one it may be anything within the
    limit of the head's class. sensor: its certificate. mine: segments that it measured.
    """
    channel, grade = sensor["channel"], str(sensor["instrument_class"])
    factor, unit = f"factor_{channel}", f"{sensor['set']}/{channel}"
    calibrated, coefficient = sensor["calibration_temperature"], sensor["temperature_coefficient"]
    at = CALIBRATION_TEMPERATURE if math.isnan(calibrated) else calibrated
    steps = np.nan_to_num(mine * (heads.body_temperature(channel) - at)) / TEMPERATURE_STEP
    if math.isnan(coefficient):
        term = f"temperature_{channel[:2]}"
        return sources_of(rows, term, unit, {factor: steps}, PERCENT, grade=grade)
    term = f"temperature_stated_{channel[:2]}"
    known = {factor: 1.0 / (1.0 + coefficient * PERCENT * steps) - 1.0}
    return around(known, sources_of(rows, term, unit, {factor: steps}, PERCENT, grade=grade))


def _by_class(heads: Heads, sensor: Mapping, rows: Rows) -> list[Source]:
    """What ISO 9060 limits for a shortwave head, apart from drift, temperature and direction.

    sensor: its certificate.
    """
    channel, grade, segments = sensor["channel"], str(sensor["instrument_class"]), heads.segments
    unit, mine, factor = f"{sensor['set']}/{channel}", heads.of(sensor["set"], channel), f"factor_{channel}"
    from_middle = np.clip((segments[channel].to_numpy(float) - MIDDLE_FLUX) / MIDDLE_FLUX, -1.0, 1.0)
    changing = segments["body_rate"].to_numpy(float) / CHANGE_STEP
    sources = [
        *sources_of(
            rows, "linearity", unit, {factor: np.nan_to_num(mine * from_middle)}, PERCENT, grade=grade
        ),
        *sources_of(rows, "spectral", unit, {factor: mine}, PERCENT, grade=grade),
        *sources_of(
            rows, "cooling", unit, {f"cooling_{channel}": mine}, 1.0 / NET_LONGWAVE_STEP, grade=grade
        ),
        *sources_of(rows, "temperature_change", unit, {f"zero_{channel}": mine * changing}, grade=grade),
    ]
    if channel == "sw_out":
        for term in ("tilt", "spectral_reflected"):
            sources += sources_of(rows, term, unit, {factor: mine}, PERCENT, grade=grade)
        for name in dict.fromkeys(segments.loc[mine > 0, "surface"]):
            here = {factor: mine * (segments["surface"] == name).to_numpy(float)}
            sources += sources_of(rows, "spectral_ground", f"{unit}/{name}", here, PERCENT, grade=grade)
    return sources


def _years(sensor: Mapping) -> float:
    """Age of a certificate; one dated after the day has no drift."""
    return sensor["age_months"] / 12.0 if sensor["age_months"] > 0 else 0.0


def _time_constant(sensor: Mapping) -> float:
    """Time constant of a head, s, from its 95 % response time: t95 / ln 20."""
    stated = sensor["response_time_95"]
    return (RESPONSE_TIME if math.isnan(stated) else stated) / TIME_CONSTANTS


def calibration_size(sensor: Mapping, kind: str, rows: Rows) -> tuple[str, float]:
    """The term and the standard uncertainty (relative) of one part of a sensor's calibration.

    kind: `band` for what the reference of the band brings, `sensor` for the rest. A certificate's expanded
    uncertainty is split by shares of its variance; without one, the table has a size for each part.
    """
    percent = sensor["expanded_uncertainty_percent"]
    if math.isnan(percent):
        term = f"default_{kind}_{sensor['channel'][:2]}"
        return term, float(rows[term]["sigma"]) / 100.0
    term = f"certificate_{kind}"
    return term, percent / (100.0 * COVERAGE_FACTOR) * math.sqrt(float(rows[term]["sigma"]))


def _calibration(sensor: Mapping, mine: np.ndarray, rows: Rows) -> list[Source]:
    """The part of a sensor's calibration that is its own."""
    term, size = calibration_size(sensor, "sensor", rows)
    if not is_on(rows, term):
        return []
    unit = f"{sensor['set']}/{sensor['channel']}"
    return [Source(term, unit, {f"factor_{sensor['channel']}": mine * size})]


def _reference(sensor: Mapping) -> str:
    """What a head was compared with, in the words of the register; empty where it says nothing."""
    return " ".join(str(sensor["reference"]).casefold().split())


def _of_reference(heads: Heads, unit: str, sensors: list[dict], rows: Rows) -> Source:
    """The part of the calibration that all sensors of a band share that were compared with one reference."""
    shift: dict[str, np.ndarray] = {}
    for sensor in sensors:
        term, size = calibration_size(sensor, "band", rows)
        name, mine = f"factor_{sensor['channel']}", heads.of(sensor["set"], sensor["channel"])
        shift[name] = shift.get(name, 0.0) + mine * size * is_on(rows, term)
    return Source("certificate_band", unit, shift)
