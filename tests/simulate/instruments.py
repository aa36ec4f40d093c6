"""From what is there to what the logger stores: errors of sensors, thermometers and carrying, then units.

The signal model is the one of section 8 of the methods page, written here from the side of the instrument.
Every draw comes from a stream that is named after what it belongs to, so that a further set changes nothing
for the others.
"""

from __future__ import annotations

import datetime as dt
import zlib
from dataclasses import dataclass

import numpy as np

from .sky import KELVIN, SIGMA, smooth, wander
from .spec import CHANNELS, Certificate, Errors, Sensor, Set

DIRECTIONAL = {"A": 10.0, "B": 20.0, "C": 30.0, "": 20.0}  # W m-2, ISO 9060:2018, from memory
LIMITS = {  # ISO 9060:2018, table 1, from memory
    "A": {"drift": 0.8, "temperature": 1.0, "linearity": 0.5, "spectral": 0.5, "tilt": 0.5, "cooling": 7.0},
    "B": {"drift": 1.5, "temperature": 2.0, "linearity": 1.0, "spectral": 1.0, "tilt": 2.0, "cooling": 15.0},
    "C": {"drift": 3.0, "temperature": 4.0, "linearity": 3.0, "spectral": 5.0, "tilt": 5.0, "cooling": 30.0},
}
CALIBRATED_AT = KELVIN + 20.0


def stream(seed: int, *names: str) -> np.random.Generator:
    """An independent generator for a name."""
    return np.random.default_rng([seed, *(zlib.crc32(str(n).encode()) for n in names)])


def in_force(sensor: Sensor, day: dt.date) -> Certificate:
    """The newest certificate that is not later than a day."""
    usable = [c for c in sensor.certificates if c.date <= day.isoformat()]
    if not usable:
        raise ValueError(f"sensor {sensor.sensor_id} has no certificate before {day}")
    return max(usable, key=lambda c: c.date)


def flux_per_millivolt(value: float, unit: str) -> float:
    """W m-2 per mV, from a factor or a responsivity."""
    return value if unit == "W m-2 per mV" else 1000.0 / value


def draw_errors(seed: int, s: Set, errors: Errors, day: dt.date) -> dict[str, float]:
    """What is wrong with one set in this campaign; the factor's shared part depends on the seed and the band
    alone.
    """
    e, out = errors, {}

    def rng(*names):
        return stream(seed, "instrument", *names)

    for channel in CHANNELS:
        band, i = channel[:2], 0 if channel[:2] == "sw" else 1
        cert = in_force(s.sensors[channel], day)
        percent, shared = cert.expanded_uncertainty_percent, e.factor_shared
        sizes = (
            e.factor_default[i]
            if percent is None
            else (percent / 2 * shared**0.5, percent / 2 * (1 - shared) ** 0.5)
        )
        years = max((day - dt.date.fromisoformat(cert.date)).days / 365.25, 0.0)
        own = rng(s.name, channel)
        out[f"factor_shared.{channel}"] = e.factor * sizes[0] / 100 * rng(band).standard_normal()
        out[f"factor.{channel}"] = e.factor * sizes[1] / 100 * own.standard_normal()
        out[f"drift.{channel}"] = e.drift[i] / 100 * own.uniform(-1, 1) * years
        out[f"temperature.{channel}"] = e.temperature[i] / 100 * own.uniform(-1, 1)
        if band == "sw":
            out[f"zero.{channel}"] = e.zero * own.standard_normal()
    own = rng(s.name)
    out["directional"] = e.directional * DIRECTIONAL[s.sensors["sw_in"].instrument_class] * own.uniform(-1, 1)
    out["level_along"], out["level_across"] = (e.levelling * x for x in own.standard_normal(2))
    out["body"] = e.body * own.standard_normal()
    out["body_gradient"] = e.body_gradient * own.uniform(-1, 1)
    out["cooling"] = e.cooling * own.uniform()
    out["window"] = e.window * own.uniform() / (1.0 + 4.0 / 11.1 * 2.0)  # in a wind of 2 m/s
    out["shade_size"] = own.uniform(0.7, 1.3) if e.carrier else 0.0  # own shade, times the plate's
    out["body_reflects"] = own.uniform(0.5, 1.5)  # the carrier's albedo over the ground's
    out["carrier_warmer"] = own.uniform(3.0, 13.0)  # K above the air
    out["body_fills"] = 1.0  # of the plate
    if e.by_class:
        grade = s.sensors["sw_in"].instrument_class or "C"
        out["body"] = {"A": 0.2, "B": 0.4, "C": 0.6}[grade] * rng(s.name, "body").uniform(-1, 1)
        out["shade_size"] = (out["shade_size"] - 0.7) / 0.6 if e.carrier else 0.0
        out["body_light"] = 0.05 + (out["body_reflects"] - 0.5) * 0.45  # the carrier's light over SW_in
        out["body_fills"] = 0.75
    if e.by_class:
        out["gain"] = 0.1 / 100 * rng(s.name, "logger").uniform(-1, 1)
        for channel in CHANNELS:
            own, cert = rng(s.name, channel, "logger"), in_force(s.sensors[channel], day)
            factor = cert.factor if cert.unit == "W m-2 per mV" else 1000 / cert.factor
            out.setdefault(f"zero.{channel}", e.zero * own.standard_normal())
            out[f"zero.{channel}"] += 0.003 * factor * own.uniform(-1, 1)
    for channel in ("sw_in", "sw_out"):
        out[f"cooling.{channel}"] = out["cooling"] if channel == "sw_in" else 0.0
        out[f"linearity.{channel}"] = out[f"spectral.{channel}"] = out[f"tilt.{channel}"] = 0.0
        if e.by_class:
            grade, years = s.sensors[channel].instrument_class, years_of(s, channel, day)
            out |= of_class(grade, channel, years, rng(s.name, channel, "class"))
    return out


def years_of(s: Set, channel: str, day: dt.date) -> float:
    """Age of the certificate in force."""
    return max((day - dt.date.fromisoformat(in_force(s.sensors[channel], day).date)).days / 365.25, 0.0)


def of_class(grade: str, channel: str, years: float, rng: np.random.Generator) -> dict[str, float]:
    """Errors of one shortwave head, evenly up to the limits of its class; C where that is unknown."""
    limit = LIMITS[grade or "C"]
    return {
        f"drift.{channel}": limit["drift"] / 100 * rng.uniform(-1, 1) * years,
        f"temperature.{channel}": limit["temperature"] / 100 * rng.uniform(-1, 1),
        f"linearity.{channel}": limit["linearity"] / 100 * rng.uniform(-1, 1),
        f"spectral.{channel}": limit["spectral"] / 100 * rng.uniform(-1, 1),
        f"tilt.{channel}": limit["tilt"] / 100 * rng.uniform(-1, 1) * (channel == "sw_out"),
        f"cooling.{channel}": limit["cooling"] / 200 * rng.uniform(),
    }


def directional_shape(
    seed: int, name: str, shape: str, elevation: np.ndarray, azimuth: np.ndarray
) -> np.ndarray:
    """A smooth function over the sky with a correlation length of 20 degrees and a size of about one;
    `ripple` is another.
    """
    rng = stream(seed, "directional", name)
    if shape == "ripple":
        return np.sqrt(2) * np.cos(
            2 * np.pi * np.degrees(np.pi / 2 - elevation) / 35.0 + rng.uniform(0, 2 * np.pi)
        )
    sky = np.stack(
        [np.cos(elevation) * np.sin(azimuth), np.cos(elevation) * np.cos(azimuth), np.sin(elevation)]
    )
    waves = rng.standard_normal((64, 3)) / np.radians(20.0)
    return np.sqrt(2 / 64) * np.cos(waves @ sky + rng.uniform(0, 2 * np.pi, (64, 1))).sum(axis=0)


def beam_on_tilted(
    elevation: np.ndarray, azimuth: np.ndarray, heading: np.ndarray, along: float, across: float
) -> np.ndarray:
    """Cosine of the angle between the sun and the normal of a head tipped `along` its heading and `across` to
    the right (rad).
    """
    turn = azimuth - np.radians(heading)
    nx, ny = np.sin(along), np.sin(across)  # the normal leans by these towards the heading and to the right
    nz = np.sqrt(np.maximum(1 - nx**2 - ny**2, 0))
    return np.maximum(np.cos(elevation) * (nx * np.cos(turn) + ny * np.sin(turn)) + nz * np.sin(elevation), 0)


@dataclass(frozen=True)
class Maker:
    """A set with its errors: what they may be, and what was drawn of them (`draw_errors`)."""

    seed: int
    set: Set
    errors: Errors
    wrong: dict[str, float]


@dataclass(frozen=True)
class Carried:
    """How a set is carried, sample by sample: heading (degrees), shares of the downward view that the
    carrier's shadow and body fill, and whether it moves (0 or 1).
    """

    heading: np.ndarray
    shade: np.ndarray
    blocked: np.ndarray
    moving: np.ndarray


def sense(maker: Maker, step: float, real: dict[str, np.ndarray], carried: Carried) -> dict[str, np.ndarray]:
    """Fluxes as the four sensors feel them, in W m-2 by their certificates, and the body temperature as it is
    read (K).

    `step` is the time between samples, s. `real` holds elevation, azimuth, beam, direct, diffuse, sw_in,
    sw_out, lw_in, lw_out (as the heads see them), air and body.
    """
    seed, s, errors, wrong = maker.seed, maker.set, maker.errors, maker.wrong
    heading, shade, blocked, moving = carried.heading, carried.shade, carried.blocked, carried.moving
    rng = stream(seed, "noise", s.name)
    n = real["body"].size
    ratio = {
        c: wrong[f"factor_shared.{c}"]
        + wrong[f"factor.{c}"]
        + wrong[f"drift.{c}"]
        + wrong[f"temperature.{c}"] * (real["body"] - CALIBRATED_AT) / 25.0
        for c in CHANNELS
    }
    for c in ("sw_in", "sw_out"):
        bent = np.clip((real[c] - 500.0) / 500.0, -1.0, 1.0)
        ratio[c] = ratio[c] + wrong[f"spectral.{c}"] + wrong[f"tilt.{c}"] + wrong[f"linearity.{c}"] * bent
    tau = {c: (s.sensors[c].response_time_95 or 0.0) / np.log(20.0) for c in CHANNELS}
    # Swing: about one a second, damped by the thermopile; its mean effect is of second order in the angle.
    swing = np.radians(errors.swing) * moving
    phase = 2 * np.pi * np.cumsum(step * (1 + 0.07 * rng.standard_normal(n))) + rng.uniform(0, 2 * np.pi)
    damping = 1 / np.hypot(1, 2 * np.pi * tau["sw_in"]) if errors.response else 1.0
    level = [np.radians(wrong["level_along"]), np.radians(wrong["level_across"])]
    facing = beam_on_tilted(real["elevation"], real["azimuth"], heading, level[0], level[1])
    beam = real["beam"] * (facing - swing**2 / 4 * np.sin(np.maximum(real["elevation"], 0)))
    ripple = (
        real["beam"]
        * swing
        * damping
        * np.sin(phase)
        * np.cos(real["elevation"])
        * np.cos(real["azimuth"] - np.radians(heading))
    )
    own_body = real["body"]
    net_in, net_out = (real[c] - SIGMA * own_body**4 for c in ("lw_in", "lw_out"))
    shape = directional_shape(seed, s.name, errors.directional_shape, real["elevation"], real["azimuth"])
    flux = {}
    flux["sw_in"] = (
        np.where(real["elevation"] > 0, beam, 0)
        + real["diffuse"]
        - np.minimum(real["beam"] / 1000, 1) * wrong["directional"] * shape
        + wrong["cooling.sw_in"] * net_in
        - wrong["zero.sw_in"]
    )
    blocked = blocked * wrong["body_fills"]
    share_direct = real["direct"] / np.maximum(real["sw_in"], 1e-9)
    over_ground = wrong["body_reflects"]
    if "body_light" in wrong:
        over_ground = wrong["body_light"] * real["sw_in"] / np.maximum(real["sw_out"], 1e-9)
    lost = share_direct * shade * wrong["shade_size"] + blocked * (1 - over_ground)
    flux["sw_out"] = real["sw_out"] * (1 - lost) - wrong["zero.sw_out"] + wrong["cooling.sw_out"] * net_out
    carrier = SIGMA * (real["air"] + wrong["carrier_warmer"]) ** 4
    warm_in = own_body + wrong["body_gradient"]
    flux["lw_in"] = (
        real["lw_in"] - SIGMA * warm_in**4 + wrong["window"] * real["sw_in"] - wrong.get("zero.lw_in", 0.0)
    )
    flux["lw_out"] = (
        real["lw_out"]
        + blocked * (carrier - real["lw_out"])
        - SIGMA * own_body**4
        + wrong["window"] * real["sw_out"]
        - wrong.get("zero.lw_out", 0.0)
    )
    for c in CHANNELS:
        if errors.response and tau[c] > 0:
            flux[c] = smooth(flux[c], step, tau[c])
        if c == "sw_in":
            flux[c] = flux[c] + ripple
        noise = wander(rng, n, step, errors.noise_memory) if errors.noise_memory else rng.standard_normal(n)
        flux[c] = (flux[c] + errors.noise * noise) / (1 + ratio[c])
    flux["body_temperature_lw_out"] = own_body - wrong["body"]
    flux["body_temperature_lw_in"] = (warm_in if s.body_thermometers == 2 else own_body) - wrong["body"]
    return flux


def pt100(kelvin: np.ndarray) -> np.ndarray:
    """Resistance in ohm of a Pt100, IEC 60751."""
    t = kelvin - KELVIN
    return 100 * (1 + 3.9083e-3 * t - 5.775e-7 * t**2 - np.where(t < 0, 4.183e-12 * (t - 100) * t**3, 0))


def store(s: Set, day: dt.date, layout: dict, mean: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """What the logger writes: sample means of `sense` in the units of the layout, rounded as the logger
    rounds.
    """
    two = "body_temperature_lw_in" in layout["channels"]
    out = {}
    for c in CHANNELS:
        cert, unit = in_force(s.sensors[c], day), layout["channels"][c]["unit"]
        factor = flux_per_millivolt(cert.factor, cert.unit)
        millivolt = mean[c] / factor
        if unit == "W m-2":
            programmed = s.sensors[c].programmed_factor
            value = millivolt * (factor if programmed is None else flux_per_millivolt(programmed, cert.unit))
            if c.startswith("lw") and s.longwave == "corrected":
                value = value + SIGMA * mean[f"body_temperature_{c}"] ** 4
        else:
            if s.longwave == "corrected":
                raise ValueError(f"set {s.name}: a corrected longwave needs the unit W m-2")
            value = millivolt * (1000.0 if unit == "uV" else 1.0)
        out[c] = value if s.digits is None else np.round(value, s.digits)
    for c in ("body_temperature_lw_in", "body_temperature_lw_out") if two else ("body_temperature",):
        kelvin = mean[c if two else "body_temperature_lw_out"]
        unit = layout["channels"][c]["unit"]
        value = pt100(kelvin) if unit == "ohm" else kelvin if unit == "K" else kelvin - KELVIN
        out[c] = value if s.body_digits is None else np.round(value, s.body_digits)
    return out
