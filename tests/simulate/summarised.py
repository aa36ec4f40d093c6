"""Campaigns as step 6 leaves them, a few numbers a segment instead of thousands of samples, with known truth:
for studies of thousands.

Truth and errors are drawn here from the sizes of `spec.Errors`; the heads read through `instruments.sense`,
as in whole campaigns. What the ground scatters is drawn as so many looks at it, of which each walk sees the
mean.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import pandas as pd

from . import ground, instruments, sky
from .classes import GROUNDS
from .sky import KELVIN, SIGMA
from .spec import Carrying, Errors, make_set

DAY = dt.date(2025, 8, 20)
CLASSES = ("short_grass", "tall_crop", "stubble", "bare_dry_soil", "bare_wet_soil", "gravel")
CARRYING = Carrying()
SITE = (45.93, 14.87, 310.0)
SECONDS = 80.0  # recorded and used, a segment
MOVING = 25.0  # W m-2, standard deviation of the sun that a surface has adjusted to about that of its visit
LOOKS = 7  # independent looks at the ground, a transect
FIELD = (
    "sw_in",
    "sw_out",
    "albedo",
    "lw_in",
    "lw_out",
    "surface_temperature",
    "net_radiation",
    "net_radiation_common_sky",
)


@dataclass(frozen=True)
class Summarised:
    """What was read, and what was there: `segments` as the chain's step 6 has them; truth of segments and of
    whole surfaces by quantity; of pairs of surfaces at a common moment, by (first, second) and quantity; the
    register; the air, degC.
    """

    segments: pd.DataFrame
    truth_segments: pd.DataFrame
    truth_surfaces: pd.DataFrame
    truth_pairs: pd.DataFrame
    certificates: pd.DataFrame
    air: float


DRAWN = ("emissivity", "sky_response", "sun_height_strength")
"""Properties of classes whose truth is anywhere in the table's ranges: emissivity, warming with the sun,
albedo against the sun's height."""
LEFT = 0.5  # of the sun before a visit, what the loggers do not tell


def true_classes(rng: np.random.Generator, ranges: dict[str, dict]) -> dict[str, tuple[float, ...]]:
    """True values of `DRAWN` for each class."""
    return {
        c: tuple(float(rng.uniform(ranges[c][key]["low"], ranges[c][key]["high"])) for key in DRAWN)
        for c in CLASSES
    }


def spectrum(seed: int, head, errors: Errors, surface: np.ndarray) -> np.ndarray:
    """What the lower head makes of what each surface reflects, over what is there: another for each surface,
    up to half of its class's limit.
    """
    if not errors.by_class:
        return np.ones(len(surface))
    limit = instruments.LIMITS[head.sensors["sw_out"].instrument_class or "C"]["spectral"] / 200.0
    own = {
        name: instruments.stream(seed, "spectrum", head.name, name).uniform(-limit, limit) for name in CLASSES
    }
    return np.array([1.0 - own[name] for name in surface])


def over_that_at_30_degrees(sine: np.ndarray, diffuse: np.ndarray, strength: np.ndarray) -> np.ndarray:
    """Albedo over that with the sun at 30 degrees (Briegleb et al. 1986, from memory); diffuse light has
    that one.
    """
    return diffuse + (1.0 - diffuse) * (1.0 + strength) / (1.0 + 2.0 * strength * sine)


def erbs(clearness: np.ndarray) -> np.ndarray:
    """Diffuse share of the sun after Erbs et al. 1982, from memory."""
    k = clearness
    between = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    return np.select([k <= 0.22, k <= 0.8], [1 - 0.09 * k, between], 0.165)


STEADY = Errors(swing=0.0, response=False, by_class=True)


def simulate(
    seed: int,
    ranges: dict[str, dict],
    errors: Errors = STEADY,
) -> Summarised:
    """One campaign of one or two sets over six fields of six classes.

    ranges: for each class the properties in `DRAWN`, with low and high, from which the truth is drawn.
    """
    rng = instruments.stream(seed, "summarised")
    heads = [
        make_set("curlew", "C-11", "2024-10-08"),
        make_set("lapwing", "L-24", "2025-03-11", factor_unit="W m-2 per mV"),
    ]
    plan = rng.integers(
        3
    )  # 0: one set goes everywhere; 1: two sets go everywhere; 2: each set takes half of the fields
    heads = heads[:1] if plan == 0 else heads
    begin = dt.datetime(2025, 8, 20, 8, 30, tzinfo=dt.UTC).timestamp() + 3600.0 * rng.uniform(0, 3)
    air, water = KELVIN + rng.uniform(15, 26), rng.uniform(0.75, 0.9)
    true_class = true_classes(rng, ranges)
    rows = []
    for number, head in enumerate(heads):
        chosen = CLASSES if plan < 2 else CLASSES[number::2]
        turn = int(rng.integers(len(chosen)))
        now = begin + 30.0 * number
        for name in (*chosen[turn:], *chosen[:turn]):
            for number_of_pass in (1, 2):
                rows.append(
                    {
                        "set": head.name,
                        "surface": name,
                        "field": f"Field of {name}",
                        "transect": str(number + 1),
                        "pass": str(number_of_pass),
                        "start": now,
                        "heading": (80.0 + 180.0 * (number_of_pass - 1)) % 360,
                    }
                )
                now += SECONDS + 40.0
            now += 200.0
    frame = pd.DataFrame(rows)
    n, middle = len(frame), frame["start"].to_numpy() + SECONDS / 2
    surface, heading = frame["surface"].to_numpy(), frame["heading"].to_numpy()
    up, azimuth, distance = sky.sun(middle, *SITE[:2])
    beam, scattered = sky.clear_sky(up, distance, SITE[2], 0.75)

    def of(key):
        return np.array([GROUNDS[s][key] for s in surface])

    sw_in = (beam * np.sin(up) + scattered) * rng.uniform(0.80, 1.0, n)
    diffuse = np.clip(
        erbs(sw_in / (1361.0 / distance**2 * np.sin(up))) + 0.10 * rng.standard_normal(n), 0.0, 1.0
    )
    shift = {c: rng.normal(0, 0.01) for c in CLASSES}
    emissivity, response, strength = (np.array([true_class[s][i] for s in surface]) for i in (0, 1, 2))
    at_30_degrees = of("albedo") + np.array([shift[s] for s in surface])
    whole_albedo = at_30_degrees * over_that_at_30_degrees(np.sin(up), diffuse, strength)
    lw_in = water * SIGMA * air**4 + rng.normal(0, 3.0, n)
    whole_kelvin = air - 2.0 + of("warming") * (1 - whole_albedo) * sw_in
    # Each transect sees so many places of its field; both passes see the same ones.
    looks = {}
    for key in dict.fromkeys(zip(surface, frame["transect"], strict=False)):
        a, b = rng.standard_normal((2, LOOKS))
        looks[key] = (
            GROUNDS[key[0]]["patch_albedo"] * a,
            GROUNDS[key[0]]["patch_temperature"] * (-0.5 * a + 0.75**0.5 * b),
        )
    seen = [looks[key] for key in zip(surface, frame["transect"], strict=False)]
    real = {}
    for suffix, albedo, kelvin in (
        ("", whole_albedo + [s[0].mean() for s in seen], whole_kelvin + [s[1].mean() for s in seen]),
        ("_whole", whole_albedo, whole_kelvin),
    ):
        real[f"sw_out{suffix}"], real[f"t4{suffix}"] = albedo * sw_in, kelvin**4
        real[f"lw_out{suffix}"] = emissivity * SIGMA * kelvin**4 + (1 - emissivity) * lw_in
    # What the surface has adjusted to is not the sun of its visit: off by so much, of which the loggers tell
    # a part.
    visit = list(zip(frame["set"], surface, strict=False))
    adjusted = {key: rng.normal(0, MOVING) for key in dict.fromkeys(visit)}
    told = {key: off + LEFT * rng.normal(0, MOVING) for key, off in adjusted.items()}
    unsettled = np.array([adjusted[key] for key in visit])
    body = air + 0.8 + 0.0025 * sw_in
    real |= {
        "elevation": up,
        "azimuth": azimuth,
        "beam": (1 - diffuse) * sw_in / np.sin(up),
        "direct": (1 - diffuse) * sw_in,
        "diffuse": diffuse * sw_in,
        "sw_in": sw_in,
        "lw_in": lw_in,
        "air": np.full(n, air),
        "body": body,
    }
    shade = np.array(
        [
            ground.shadow_view(
                CARRYING,
                CARRYING.sensor_height,
                0.0,
                up[i : i + 1],
                azimuth[i : i + 1],
                heading=heading[i : i + 1],
            )[0]
            for i in range(n)
        ]
    )
    blocked = np.full(n, ground.carrier_view(CARRYING, CARRYING.sensor_height))
    read = {name: np.zeros(n) for name in ("sw_in", "sw_out", "lw_in_net", "lw_out_net", "body")}
    for head in heads:
        mine = (frame["set"] == head.name).to_numpy()
        flux = instruments.sense(
            instruments.Maker(seed, head, errors, instruments.draw_errors(seed, head, errors, DAY)),
            SECONDS,
            {k: v[mine] for k, v in real.items()}
            | {"sw_out": (real["sw_out"] * spectrum(seed, head, errors, surface))[mine]},
            instruments.Carried(heading[mine], shade[mine], blocked[mine], np.zeros(mine.sum())),
        )
        for name, channel in (
            ("sw_in", "sw_in"),
            ("sw_out", "sw_out"),
            ("lw_in_net", "lw_in"),
            ("lw_out_net", "lw_out"),
            ("body", "body_temperature_lw_out"),
        ):
            read[name][mine] = flux[channel]
    start = pd.DatetimeIndex(
        (frame["start"].to_numpy() * 1e6).astype("int64").astype("datetime64[us]"), tz="UTC"
    )
    scatter = [
        (s[0] * i, SIGMA * (k + s[1]) ** 4 * e)
        for s, i, k, e in zip(seen, sw_in, whole_kelvin, emissivity, strict=False)
    ]
    table_emissivity = np.array([ranges[s]["emissivity"]["value"] for s in surface])
    lw_in_read, lw_out_read = (read[f"{c}_net"] + SIGMA * read["body"] ** 4 for c in ("lw_in", "lw_out"))
    temperature = (
        (lw_out_read - (1 - table_emissivity) * lw_in_read) / (table_emissivity * SIGMA)
    ) ** 0.25 - KELVIN
    segments = frame.drop(columns="start").assign(
        segment=[f"{s}-{i}" for i, s in enumerate(frame["set"])],
        activity="walk",
        start_utc=start,
        end_utc=start + pd.Timedelta(seconds=SECONDS),
        notes_row=np.arange(n) + 2,
        samples=int(SECONDS),
        samples_used=int(SECONDS),
        weight=SECONDS,
        sw_in=read["sw_in"],
        sw_out=read["sw_out"],
        lw_in=lw_in_read,
        lw_out=lw_out_read,
        lw_in_net=read["lw_in_net"],
        lw_out_net=read["lw_out_net"],
        body_temperature=read["body"] - KELVIN,
        solar_elevation=np.degrees(up),
        solar_azimuth=np.degrees(azimuth),
        albedo_sw_in=read["sw_in"] * SECONDS,
        albedo_sw_out=read["sw_out"] * SECONDS,
        albedo=read["sw_out"] / read["sw_in"],
        net_radiation=read["sw_in"] - read["sw_out"] + lw_in_read - lw_out_read,
        surface_temperature=temperature,
        sky="clear",
        **{f"noise_{c}": errors.noise for c in ("sw_in", "sw_out", "lw_in", "lw_out")},
        ground_sw_out=[s[0].std(ddof=1) for s in scatter],
        ground_lw_out=[s[1].std(ddof=1) for s in scatter],
        **{f"rate_{c}": 0.0 for c in ("sw_in", "sw_out", "lw_in", "lw_out")},
        sw_in_memory=read["sw_in"] + [told[key] for key in visit],
        incoming_set=frame["set"],
        incoming_heading=frame["heading"],
        incoming_body_temperature=read["body"] - KELVIN,
        ground_correlation=[np.corrcoef(*s)[0, 1] for s in scatter],
        independent=float(LOOKS),
        thermal_shock=0.0,
        left_out=0.0,
        left_out_sw_out=0.0,
        left_out_lw_out=0.0,
    )
    visited = real | {"unsettled": unsettled, "diffuse_share": diffuse}
    return Summarised(
        segments,
        _truth(real, "", segments["segment"], {}),
        _truth_of_surfaces(visited, surface, emissivity, response),
        _truth_of_pairs(visited, surface, [emissivity, response, at_30_degrees, strength]),
        _register(heads),
        air - KELVIN,
    )


def _truth(real: dict, suffix: str, keys, more: dict) -> pd.DataFrame:
    value = {
        "sw_in": real["sw_in"],
        "sw_out": real[f"sw_out{suffix}"],
        "lw_in": real["lw_in"],
        "lw_out": real[f"lw_out{suffix}"],
        "surface_temperature": real[f"t4{suffix}"] ** 0.25 - KELVIN,
    }
    value["albedo"] = value["sw_out"] / value["sw_in"]
    value["net_radiation"] = value["sw_in"] - value["sw_out"] + value["lw_in"] - value["lw_out"]
    return pd.DataFrame(value | more, index=list(keys))


def _truth_of_surfaces(
    real: dict, surface: np.ndarray, emissivity: np.ndarray, response: np.ndarray
) -> pd.DataFrame:
    """Whole surfaces over the times at which they were visited, and under the sky of all visits once they
    have warmed or cooled to it.
    """
    names = list(dict.fromkeys(surface))

    def mean(name):
        return np.array([real[name][surface == s].mean() for s in names])

    pooled = {
        name: mean(name)
        for name in ("sw_in", "lw_in", "sw_out_whole", "lw_out_whole", "t4_whole", "unsettled")
    }
    eps, warms = (np.array([x[surface == s][0] for s in names]) for x in (emissivity, response))
    absorbing, more_sun, more_sky = (
        1 - pooled["sw_out_whole"] / pooled["sw_in"],
        real["sw_in"].mean() - pooled["sw_in"],
        real["lw_in"].mean() - pooled["lw_in"],
    )
    lw_out = (
        pooled["lw_out_whole"] + (1 - eps) * more_sky + warms * absorbing * (more_sun - pooled["unsettled"])
    )
    common = absorbing * real["sw_in"].mean() + real["lw_in"].mean() - lw_out
    return _truth(pooled, "_whole", names, {"net_radiation_common_sky": common})


def _truth_of_pairs(real: dict, surface: np.ndarray, of_class: list[np.ndarray]) -> pd.DataFrame:
    """Differences of whole surfaces at a common moment: one index (first, second), one column a quantity.

    of_class: emissivity, warming with the sun, albedo with the sun at 30 degrees and its strength, a segment.
    The moment has the mean sun and sky of all segments of the two, and `net_radiation_common_sky` those of
    the campaign. Both surfaces have warmed or cooled to it.
    """
    sine = np.sin(real["elevation"])
    names = list(dict.fromkeys(surface))

    def under(name: str, chosen: np.ndarray) -> dict[str, float]:
        """One surface at the mean moment of some segments."""
        mine = surface == name
        eps, warms, albedo_30, d = (x[mine][0] for x in of_class)
        sw_in, lw_in, mu, diffuse = (
            x[chosen].mean() for x in (real["sw_in"], real["lw_in"], sine, real["diffuse_share"])
        )
        albedo = albedo_30 * over_that_at_30_degrees(mu, diffuse, d)
        absorbing = 1.0 - real["sw_out_whole"][mine].mean() / real["sw_in"][mine].mean()
        more_sun = sw_in - real["sw_in"][mine].mean() - real["unsettled"][mine].mean()
        more_sky = lw_in - real["lw_in"][mine].mean()
        emitted = eps * SIGMA * real["t4_whole"][mine].mean()
        emitted += warms * (absorbing * more_sun + eps * more_sky)
        return {
            "albedo": albedo,
            "surface_temperature": (emitted / (eps * SIGMA)) ** 0.25,
            "net_radiation": (1.0 - albedo) * sw_in + eps * lw_in - emitted,
        }

    rows = {}
    for first in names:
        for second in names:
            both = (surface == first) | (surface == second)
            a, b = under(first, both), under(second, both)
            row = {name: a[name] - b[name] for name in a}
            a, b = (under(name, np.ones(len(surface), bool)) for name in (first, second))
            rows[first, second] = row | {"net_radiation_common_sky": a["net_radiation"] - b["net_radiation"]}
    return pd.DataFrame.from_dict(rows, orient="index")


COEFFICIENTS = ("calibration_temperature", "temperature_coefficient", "window_coefficient")
"""Figures that these certificates do not state."""


def _register(heads) -> pd.DataFrame:
    rows = []
    for head in heads:
        for channel, sensor in head.sensors.items():
            if channel == "body_temperature":
                continue
            own = instruments.in_force(sensor, DAY)
            percent = own.expanded_uncertainty_percent
            rows.append(
                {
                    "set": head.name,
                    "channel": channel,
                    "sensor_id": sensor.sensor_id,
                    "instrument_class": sensor.instrument_class,
                    "expanded_uncertainty_percent": np.nan if percent is None else percent,
                    "age_months": (DAY - dt.date.fromisoformat(own.date)).days / 365.25 * 12,
                    "response_time_95": sensor.response_time_95,
                    "factor": own.factor if own.unit == "W m-2 per mV" else 1000.0 / own.factor,
                    "reference": "",
                    "body_channel": "body_temperature",
                    **dict.fromkeys(COEFFICIENTS, np.nan),
                }
            )
    return pd.DataFrame(rows)
