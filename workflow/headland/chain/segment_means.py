"""One segment: means of its samples, and what their scatter says of the ground."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.flags import has_any
from headland.chain.screen import sky_state
from headland.physics import longwave, radiation, series
from headland.physics.constants import RADIATION, ZERO_CELSIUS

LEFT_OUT = {"sw_in": "left_out", "sw_out": "left_out_sw_out", "lw_out": "left_out_lw_out"}
"""By channel: what the samples left out add to a mean."""

MEANS = (
    "sw_in",
    "sw_out",
    "lw_in",
    "lw_out",
    "lw_in_net",
    "lw_out_net",
    "body_temperature",
    "solar_elevation",
    "solar_azimuth",
    "albedo_sw_in",
    "albedo_sw_out",
    "albedo",
    "net_radiation",
    "surface_temperature",
    "sky",
    "noise_sw_in",
    "noise_sw_out",
    "noise_lw_in",
    "noise_lw_out",
    "rate_sw_in",
    "rate_sw_out",
    "rate_lw_in",
    "rate_lw_out",
    "sw_in_memory",
    "incoming_body_temperature",
    "ground_sw_out",
    "ground_lw_out",
    "ground_correlation",
    "independent",
    "thermal_shock",
    *LEFT_OUT.values(),
)
"""What `segment_means` gives beside the numbers of samples."""

AVERAGED = (
    *RADIATION,
    "lw_in_net",
    "lw_out_net",
    "body_temperature",
    "incoming_body_temperature",
    "sw_in_memory",
    *(f"rate_{name}" for name in RADIATION),
)
"""Of these the mean over the used samples is taken."""


def segment_means(
    samples: pd.DataFrame, used, *, interval: float, emissivity: float, height: float, speed: float
) -> dict:
    """One segment's means and scatter, from its samples.

    samples: sw_in, sw_out, lw_in, lw_out, lw_in_net, lw_out_net, sw_in_memory (W m-2), body_temperature,
    incoming_body_temperature (degC), solar_elevation, solar_azimuth, sw_clear, seconds. used: which samples
    count. interval: s. height: m. speed: m s-1 (0 where nobody walks). Without a used sample the means are
    NaN, and the sun is that of all samples.
    """
    used = np.asarray(used, bool)
    count = int(used.sum())
    numbers = samples.select_dtypes("number")
    every = {str(name): column.to_numpy(float) for name, column in numbers.items()}
    every |= {f"rate_{name}": series.rate_of_change(every["seconds"], every[name]) for name in RADIATION}
    value = {name: column[used] for name, column in every.items()}
    result: dict = {"samples": len(samples), "samples_used": count, "weight": count * interval}
    result |= {name: float(np.mean(value[name])) if count else math.nan for name in AVERAGED}
    result |= sun_of(value if count else every)
    result |= albedo_of(value, interval)
    result["net_radiation"] = float(radiation.net_radiation(*(result[name] for name in RADIATION)))
    kelvin = float(longwave.surface_temperature(result["lw_out"], result["lw_in"], emissivity))
    result["surface_temperature"] = kelvin - ZERO_CELSIUS
    result["sky"] = sky_state(value["sw_in"], value["sw_clear"]) if count else ""
    result["thermal_shock"] = (
        share_with(samples["flags"][used], "thermal-shock") if "flags" in samples else 0.0
    )
    result |= left_out(samples, used)
    result |= {f"noise_{name}": series.noise_of_mean(value[name], interval) for name in RADIATION}
    return result | scatter_of(value, height=height, length=count * interval * speed)


def left_out(samples: pd.DataFrame, used: np.ndarray) -> dict[str, float]:
    """Means of all samples of the interval minus those of the samples that count, W m-2.

    Near the edge of a field and after a start samples are left out, while the sky above is the same as ever.
    Under moving clouds their sun is another one, `left_out`. Their ground is another one as well:
    `left_out_sw_out`, apart from what another sun makes of SW_out, and `left_out_lw_out`.
    """
    if "flags" not in samples or not used.any():
        return dict.fromkeys(LEFT_OUT.values(), 0.0)
    value = {name: samples[name].to_numpy(float) for name in LEFT_OUT}
    every = used | has_any(samples["flags"], {"edge"})
    of_used = {name: np.mean(values[used]) for name, values in value.items()}
    off = {
        name: np.mean(values[every & np.isfinite(values)]) - of_used[name] for name, values in value.items()
    }
    if of_used["sw_in"] > 0:
        off["sw_out"] -= of_used["sw_out"] / of_used["sw_in"] * off["sw_in"]
    return {LEFT_OUT[name]: float(difference) for name, difference in off.items()}


def share_with(flags: pd.Series, name: str) -> float:
    """Share of samples with a flag; 0 without a sample."""
    return float(np.mean(has_any(flags, {name}))) if len(flags) else 0.0


def albedo_of(value: Mapping[str, np.ndarray], interval: float) -> dict[str, float]:
    """Albedo of some samples, and the sums of SW_in and SW_out (J m-2) that it is the ratio of: those with
    the sun high enough.
    """
    sunny = (value["solar_elevation"] > radiation.ALBEDO_ELEVATION) & (
        value["sw_in"] > radiation.ALBEDO_SW_IN
    )
    sw_in, sw_out = value["sw_in"][sunny], value["sw_out"][sunny]
    return {
        "albedo_sw_in": float(np.sum(sw_in)) * interval,
        "albedo_sw_out": float(np.sum(sw_out)) * interval,
        "albedo": float(radiation.albedo(sw_in, sw_out)),
    }


def scatter_of(value: Mapping[str, np.ndarray], *, height: float, length: float) -> dict[str, float]:
    """How the ground scatters under a walk, and how many independent looks it gives.

    value: used samples. height: of the head, m. length: of the walk, m (0 where nobody walks).
    """
    count, total = len(value["sw_in"]), np.sum(value["sw_in"])
    ratio = np.sum(value["sw_out"]) / total if count and total > 0 else 0.0
    reflected = value["sw_out"] - ratio * value["sw_in"]
    emitted = series.without_trend(value["lw_out"], np.arange(count), value["sw_in"])
    walked = length > 0 and count
    return {
        "ground_sw_out": float(np.std(reflected)) if count > 1 else 0.0,
        "ground_lw_out": float(np.std(emitted)) if count > 1 else 0.0,
        "ground_correlation": _correlation(reflected, emitted),
        "independent": series.independent_samples(count, length, height, reflected, emitted)
        if walked
        else min(count, 1.0),
    }


def sun_of(samples: Mapping[str, np.ndarray]) -> dict[str, float]:
    """Mean elevation and azimuth of the sun over some samples, degrees; the azimuth as the direction of the
    mean unit vector.
    """
    if not len(samples["solar_azimuth"]):
        return {"solar_elevation": math.nan, "solar_azimuth": math.nan}
    azimuth = np.radians(samples["solar_azimuth"])
    direction = math.degrees(math.atan2(np.mean(np.sin(azimuth)), np.mean(np.cos(azimuth)))) % 360.0
    return {"solar_elevation": float(np.mean(samples["solar_elevation"])), "solar_azimuth": direction}


def _correlation(a, b) -> float:
    spread = np.std(a) * np.std(b) if len(a) > 1 else 0.0
    return float(np.mean((a - np.mean(a)) * (b - np.mean(b))) / spread) if spread > 0 else 0.0
