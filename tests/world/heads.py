"""Radiometer heads: certificates, ISO 9060 limits, true errors and response. Limits and sources are in
README.md."""

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter

from .seeds import log_uniform, stream

CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out")


@dataclass(frozen=True)
class Limits:
    """Limits of a class; shortwave after ISO 9060:2018 (from memory), longwave common practice."""

    zero_a: float  # W m-2 at 200 W m-2 net thermal loss
    zero_b: float  # W m-2 at 5 K an hour
    stability: float  # % a year
    linearity: float  # % between 100 and 1000 W m-2
    directional: float  # W m-2 at 1000 W m-2 of beam
    spectral: float  # %
    temperature: float  # % between -10 and 40 degC
    tilt: float  # %
    certificate: tuple[float, float]  # %, k = 2
    response: tuple[float, float]  # s, 95 %
    lw_certificate: tuple[float, float]  # %, k = 2
    window: float  # W m-2 at 1000 W m-2 of light and calm
    case: float  # W m-2 for a body that changes by 1 K a minute
    thermometer: float  # K
    lw_spectral: float  # %, of the net signal


LIMITS = {
    "A": Limits(7, 2, 0.8, 0.5, 10, 0.5, 1, 0.5, (1.2, 2.2), (4, 10), (3, 5), 4, 0.5, 0.15, 1.0),
    "B": Limits(15, 4, 1.5, 1.0, 20, 1.0, 2, 2.0, (2.0, 3.5), (8, 20), (4, 7), 9, 1.0, 0.30, 2.0),
    "C": Limits(30, 8, 3.0, 3.0, 30, 5.0, 4, 5.0, (3.0, 5.5), (12, 30), (5, 10), 15, 2.0, 0.50, 4.0),
}
ZENITHS = np.arange(0.0, 91.0, 5.0)
AZIMUTHS = np.arange(0.0, 361.0, 10.0)


@dataclass
class Head:
    """One head: what its certificate says and what is true of it."""

    channel: str
    sensor: str
    grade: str
    sensitivity: float  # uV per W m-2, true on the day of the certificate
    certified: float  # uV per W m-2
    expanded: float  # %
    age: float  # years since the certificate
    stated_response: float  # s
    gain: float  # true gain today over the gain on the day of the certificate
    linearity: tuple[float, float]  # share at +-500 W m-2 around 500: slope and bow
    temperature: tuple[float, float]  # share per 30 K: slope and bow, around 20 degC
    zero_a: float  # W m-2 per W m-2 of net longwave
    zero_b: float  # W m-2 per K h-1
    window: float  # W m-2 per W m-2 of light, calm
    case: float  # W m-2 per K min-1
    directional: np.ndarray | None  # W m-2 per 1000 W m-2 of beam, (zenith, azimuth)
    response: tuple[float, float, float]  # s, s, share of the first
    logger_zero: float  # uV
    turned: float  # degrees, direction of the head's mark from the pole

    def beam_error(self, zenith: np.ndarray, azimuth: np.ndarray) -> np.ndarray:
        """Return the directional error as a share of the beam at normal incidence; azimuth from the head's
        mark."""
        if self.directional is None:
            return np.zeros_like(zenith)
        row = np.clip(zenith, 0.0, 89.99) / 5.0
        column = np.clip(azimuth % 360.0, 0.0, 359.99) / 10.0
        i, j = row.astype(int), column.astype(int)
        a, b = row - i, column - j
        table = self.directional
        low = table[i, j] * (1 - b) + table[i, j + 1] * b
        high = table[i + 1, j] * (1 - b) + table[i + 1, j + 1] * b
        return (low * (1 - a) + high * a) / 1000.0

    def slow(self, values: np.ndarray, step: float) -> np.ndarray:
        """Return values after the response with two time constants."""
        first, second, share = self.response
        return share * relax(values, first, step) + (1.0 - share) * relax(values, second, step)


def relax(values: np.ndarray, constant: float, step: float) -> np.ndarray:
    """Return the first-order response to values, settled at the first of them."""
    keep = float(np.exp(-step / constant))
    return lfilter([1.0 - keep], [1.0, -keep], values, zi=[keep * values[0]])[0]


def directional_table(rng: np.random.Generator, limit: float) -> np.ndarray:
    """Return errors over zenith and azimuth, another shape in each head, zero at the zenith, within the
    limit."""
    z, az = np.radians(ZENITHS)[:, None], np.radians(AZIMUTHS)[None, :]
    table = np.zeros((len(ZENITHS), len(AZIMUTHS)))
    for order, strength in ((0, 1.2), (1, 1.0), (2, 0.5), (3, 0.3)):
        shape = sum(rng.normal() * np.sin(k * z) / k for k in (1, 2, 4))
        table += strength * rng.normal() * shape * np.cos(order * az - rng.uniform(0, 2 * np.pi))
    table *= np.cos(z) ** 0.3
    return table / np.abs(table).max() * limit * rng.uniform(0.35, 1.0)


def share_of(rng: np.random.Generator, percent: float) -> float:
    """Return a share drawn evenly within plus or minus a limit in per cent."""
    return float(rng.uniform(-percent, percent)) / 100.0


def draw_head(seed: int, set_name: str, channel: str, grade: str) -> Head:
    """Draw one head of a class."""
    rng = stream(seed, "head", set_name, channel)
    limits = LIMITS[grade]
    shortwave = channel.startswith("sw")
    expanded = float(np.round(rng.uniform(*(limits.certificate if shortwave else limits.lw_certificate)), 1))
    sensitivity = float(rng.uniform(6.0, 18.0))
    age = float(log_uniform(rng, 0.05, 2.5))
    inverted = channel.endswith("out")
    drift = share_of(rng, limits.stability) * age
    spectral = share_of(rng, limits.spectral * (1.5 if inverted else 1.0)) if shortwave else 0.0
    tilt = share_of(rng, limits.tilt) if inverted and shortwave else 0.0
    window_spectral = 0.0 if shortwave else share_of(rng, limits.lw_spectral)
    quick = float(rng.uniform(*limits.response))
    fast_share = float(rng.uniform(0.82, 0.96))
    fast = quick / 3.0 * float(rng.uniform(0.55, 0.95))
    return Head(
        channel=channel,
        sensor=f"{'K' if shortwave else 'E'}{int(rng.integers(1000, 9999))}",
        grade=grade,
        sensitivity=sensitivity,
        certified=sensitivity * (1.0 + float(rng.normal(0.0, expanded / 200.0))),
        expanded=expanded,
        age=age,
        stated_response=float(np.ceil(quick)),
        gain=(1.0 + drift) * (1.0 + spectral) * (1.0 + tilt) * (1.0 + window_spectral),
        linearity=split(rng, limits.linearity if shortwave else 0.0),
        temperature=split(rng, limits.temperature),
        zero_a=float(rng.uniform(0.2, 1.0)) * limits.zero_a / 200.0 if shortwave else 0.0,
        zero_b=float(rng.uniform(-1.0, 1.0)) * limits.zero_b / 5.0 if shortwave else 0.0,
        window=0.0 if shortwave else float(rng.uniform(0.1, 1.0)) * limits.window / 1000.0,
        case=0.0 if shortwave else float(rng.uniform(-1.0, 1.0)) * limits.case,
        directional=directional_table(rng, limits.directional) if channel == "sw_in" else None,
        response=(fast, fast * float(rng.uniform(3.0, 9.0)), fast_share),
        logger_zero=float(rng.normal(0.0, 1.5)),
        turned=float(rng.uniform(0.0, 360.0)),
    )


def split(rng: np.random.Generator, percent: float) -> tuple[float, float]:
    """Return slope and bow of a curve that stays within plus or minus a limit in per cent at +-1."""
    total = share_of(rng, percent)
    part = float(rng.uniform(0.0, 1.0))
    return total * part, total * (1.0 - part) * float(rng.choice([-1.0, 1.0]))


@dataclass(frozen=True)
class Body:
    """The metal body of a set with its thermometer or two."""

    constant: float  # s
    gain: float  # K over the air at 900 W m-2 and 2 m s-1
    night: float  # K under the air per 100 W m-2 of net longwave loss
    start: float  # K over the air at the first moment
    two: bool
    thermometers: tuple[
        tuple[float, float], tuple[float, float]
    ]  # error in K, and K per 1000 W m-2 at 2 m s-1
    lw_case: tuple[float, float]  # K of each longwave head's case over the body in sun


def draw_body(seed: int, set_name: str, grade: str) -> Body:
    """Draw the body of a set."""
    rng = stream(seed, "body", set_name)
    limit = LIMITS[grade].thermometer
    pairs = [(float(rng.uniform(-limit, limit)), float(rng.uniform(-1.0, 1.0)) * limit) for _ in range(2)]
    return Body(
        constant=float(log_uniform(rng, 100.0, 900.0)),
        gain=float(rng.uniform(2.0, 7.0)),
        night=float(rng.uniform(0.3, 1.2)),
        start=float(rng.uniform(-0.5, 2.0)),
        two=bool(rng.uniform() < 0.25),
        thermometers=(pairs[0], pairs[1]),
        lw_case=(float(rng.uniform(-0.3, 0.3)) * limit, float(rng.uniform(-0.3, 0.3)) * limit),
    )


def body_course(
    body: Body, *, air: np.ndarray, wind: np.ndarray, light: np.ndarray, net: np.ndarray
) -> np.ndarray:
    """Return the body's temperature at each second, degC; net is longwave in minus black body at the air's
    warmth."""
    cooling = np.clip((2.0 / np.maximum(wind, 0.3)) ** 0.5, 0.5, 2.0)
    target = air + cooling * (body.gain * light / 900.0 + body.night * net / 100.0)
    shifted = target.copy()
    shifted[0] = air[0] + body.start + 0.5 * (target[0] - air[0])
    keep = float(np.exp(-1.0 / body.constant))
    out = lfilter([1.0 - keep], [1.0, -keep], target, zi=[keep * shifted[0]])[0]
    return out
