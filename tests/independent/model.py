"""What each interval would have been measured as with some errors: sections 8.1 to 8.4 of docs/method.md."""

from __future__ import annotations

import numpy as np

from independent import sky
from independent.errors import Draws, Sizes
from independent.recorded import CHANNELS, KELVIN, Campaign, Head, Segment

LAG = np.log(20.0)
PERCENT = 0.01


def relative(campaign: Campaign, one: Segment, channel: str, sizes: Sizes, of: Draws) -> np.ndarray:
    """The error r of a head's factor for an interval."""
    head = campaign.register[one.set, channel]
    band = channel[:2]
    sensor = (one.set, channel)
    standard = head.expanded / 2 * PERCENT
    warm = (one.body - 20.0) / 25.0
    r = standard * np.sqrt(sizes.sigma("certificate_band")) * of.normal("band", band)
    r = r + standard * np.sqrt(sizes.sigma("certificate_sensor")) * of.normal("sensor", *sensor)

    def limit(term: str, *more: object) -> np.ndarray:
        return PERCENT * of.between(sizes.ends(term, head.grade), term, *sensor, *more)

    gain = PERCENT * of.between(sizes.ends("logger_gain"), "logger_gain", one.set)
    r = r + gain + head.age * limit(f"drift_{band}") + warm * limit(f"temperature_{band}")
    if band == "sw":
        r = r + min(one.mean[channel] / 500.0 - 1, 1) * limit("linearity") + limit("spectral")
    else:
        r = r + limit("spectral_lw")
    if channel == "sw_out":
        r = r + limit("tilt") + limit("spectral_reflected") + limit("spectral_ground", one.surface)
    return r


def zero(head: Head, one: Segment, channel: str, sizes: Sizes, of: Draws) -> np.ndarray:
    """Zero offsets, noise and the samples left out, W m-2."""
    z = one.noise[channel] * of.normal("noise", one.name, channel)
    logger = of.between(sizes.ends("logger_zero"), "logger_zero", one.set, channel)
    z = z + head.factor / 1000.0 * logger
    name = "zero_lw" if channel.startswith("lw") else "zero"
    z = z + sizes.sigma(name) * of.normal(name, one.set, channel)
    if channel.startswith("lw"):
        return z
    change = of.between(sizes.ends("temperature_change", head.grade), "temperature_change", one.set, channel)
    share = 1.0 if channel == "sw_in" else one.mean["sw_out"] / one.mean["sw_in"]
    return z + change * one.body_rate / 5.0 + share * one.left_out * of.normal("left_out", one.name)


def cooling(head: Head, one: Segment, channel: str, sizes: Sizes, of: Draws) -> np.ndarray:
    """Thermal zero offset per net longwave, 1."""
    all_day = of.between(sizes.ends("cooling", head.grade), "cooling", one.set, channel)
    new = of.between(
        sizes.ends("cooling_visit", head.grade), "cooling_visit", one.set, channel, one.set_visit
    )
    return (all_day + new) / 200.0


def directional(
    segments: list[Segment], sizes: Sizes, of: Draws, campaign: Campaign
) -> dict[str, np.ndarray]:
    """The error in a beam of 1000 W m-2 of each interval, by (8.6c)."""
    found = {}
    for name in sorted({one.set for one in segments}):
        mine = [one for one in segments if one.set == name]
        up = np.radians([one.elevation for one in mine])
        around = np.radians([one.azimuth - one.heading for one in mine])
        way = np.column_stack([np.cos(up) * np.sin(around), np.cos(up) * np.cos(around), np.sin(up)])
        apart = np.degrees(np.arccos(np.clip(way @ way.T, -1, 1)))
        limit = sizes.ends(f"directional_{campaign.register[name, 'sw_in'].grade}")[1]
        drawn = limit * of.smooth(np.exp(-0.5 * (apart / 20.0) ** 2), f"directional {name}")
        found.update({one.name: row for one, row in zip(mine, drawn, strict=True)})
    return found


def on_carrier(one: Segment, share: np.ndarray, sizes: Sizes, of: Draws) -> np.ndarray:
    """The carrier's light over the ground's, q of (8.5d), to first order in both of its errors."""
    albedo = one.mean["sw_out"] / one.mean["sw_in"]
    ends = sizes.ends("carrier_reflection")
    clothes, usual = of.between(ends, "carrier_reflection", one.set), sum(ends) / 2
    half = sum(sizes.ends("carrier_lit")) / 2
    lit = of.between(sizes.ends("carrier_lit"), "carrier_lit", one.set)
    lit = lit + of.between(sizes.ends("carrier_lit_visit"), "carrier_lit_visit", one.set, one.set_visit)
    beam = (1 - share) / np.tan(np.radians(max(one.elevation, 10.0)))
    return (clothes * ((share + albedo) / 2 + half * beam) + usual * (lit - half) * beam) / albedo


def measured(
    campaign: Campaign, one: Segment, facing: np.ndarray, sizes: Sizes, of: Draws
) -> dict[str, np.ndarray]:
    """The four terms of an interval with its errors, a number for each draw, W m-2."""
    carrying, name = campaign.told["carrying"], one.set
    head = {channel: campaign.register[name, channel] for channel in CHANNELS}
    r = {channel: relative(campaign, one, channel, sizes, of) for channel in CHANNELS}
    z = {channel: zero(head[channel], one, channel, sizes, of) for channel in CHANNELS}
    lag = {
        c: one.rate[c] * head[c].response / LAG * of.between(sizes.ends("response"), "response", name, c)
        for c in CHANNELS
    }
    height, up = np.sin(np.radians(one.elevation)), np.radians(90 - one.elevation)
    clearness = one.mean["sw_in"] * one.distance**2 / (1361.0 * height)
    share = sky.diffuse(np.array([clearness]))
    expected = share
    share = np.clip(share + sizes.sigma("diffuse_fraction") * of.normal("diffuse", one.name), 0, 1)
    beam = (1 - share) * one.mean["sw_in"]
    turned = np.radians(one.azimuth - one.heading)
    level = np.radians(sizes.sigma("levelling"))
    lean = level * (of.normal("along", name) * np.cos(turned) + of.normal("across", name) * np.sin(turned))
    anew = np.radians(sizes.sigma("levelling_pass"))
    lean = lean + anew * of.normal("along anew", one.name) * np.cos(turned)
    lean = lean + anew * of.normal("across anew", one.name) * np.sin(turned)
    kappa = {c: cooling(head[c], one, c, sizes, of) for c in ("sw_in", "sw_out")}
    sw_in = (
        one.mean["sw_in"] * (1 + r["sw_in"])
        + np.minimum(beam / (1000.0 * np.cos(up)), 1) * facing
        + beam * lean * np.tan(up)
        - kappa["sw_in"] * one.net["lw_in"]
        + lag["sw_in"]
        + z["sw_in"]
    )
    plate = (carrying["carrier_height"] - one.canopy, carrying["carrier_width"])
    sides = np.arange(-90.0, 91.0, 3.0)
    lights = [sky.Light(one.heading + side, one.elevation, one.azimuth) for side in sides]
    shades = [sky.of_shadow(one.height, plate, carrying["reach"], light) for light in lights]
    shade = np.interp(of.between(sizes.ends("stick_side"), "stick_side", name), sides, shades)
    body = 0.75 * sky.of_carrier(one.height, carrying["carrier_width"] / 2, carrying["reach"])
    dark = 1 - on_carrier(one, expected, sizes, of)
    shadow = of.between(sizes.ends("own_shade"), "own_shade", name)
    above = one.mean["sw_out"] * (1 + r["sw_out"]) - kappa["sw_out"] * one.net["lw_out"]
    above = above + lag["sw_out"] + z["sw_out"]
    sw_out = above / (1 - (1 - share) * shade * shadow - body * dark)
    found = {"sw_in": sw_in, "sw_out": sw_out}
    window = of.between(sizes.ends("window"), "window", name)
    window = window + of.between(sizes.ends("window_visit"), "window_visit", name, one.set_visit)
    window = window / (1 + 0.36 * one.wind)
    off = of.between(sizes.ends("body_temperature", head["lw_in"].grade), "body_temperature", name)
    apart = of.between(sizes.ends("body_gradient"), "body_gradient", name)
    apart = apart + of.between(sizes.ends("body_gradient_visit"), "body_gradient_visit", name, one.set_visit)
    warm = one.body + KELVIN
    for c, theta, lit in (("lw_in", off + apart, sw_in), ("lw_out", off, sw_out)):
        own = sky.SIGMA * ((warm + theta) ** 4 - warm**4)
        found[c] = one.mean[c] + one.net[c] * r[c] + own - window * lit + lag[c] + z[c]
    warmth = of.between(sizes.ends("carrier_warmth"), "carrier_warmth", name)
    warmth = warmth + of.between(
        sizes.ends("carrier_warmth_visit"), "carrier_warmth_visit", name, one.set_visit
    )
    carrier = body * sky.SIGMA * (one.air + KELVIN + warmth) ** 4
    found["lw_out"] = (found["lw_out"] - carrier) / (1 - body)
    found["diffuse"] = expected
    return found


def of_whole_walk(one: Segment, found: dict[str, np.ndarray], of: Draws) -> dict[str, np.ndarray]:
    """A segment with the ground under the samples left out, (8.6i)."""
    short, long = (of.between((-1, 1), "left_out_ground", one.name, part) for part in ("sw", "lw"))
    limits = one.ground_left_out
    return found | {
        "sw_out": found["sw_out"] + limits[0] * short,
        "lw_out": found["lw_out"] + limits[1] * long,
    }


def temperature(found: dict[str, np.ndarray], emissivity: np.ndarray) -> np.ndarray:
    """Surface temperature in K, (13)."""
    emitted = found["lw_out"] - (1 - emissivity) * found["lw_in"]
    return (emitted / (emissivity * sky.SIGMA)) ** 0.25


def derived(found: dict[str, np.ndarray], surface: str, sizes: Sizes, of: Draws) -> dict[str, np.ndarray]:
    """Albedo, surface temperature in °C and net radiation beside the four terms."""
    emissivity = of.of_range(sizes.of_class(surface, "emissivity"), "emissivity", surface)
    return found | {
        "albedo": found["sw_out"] / found["sw_in"],
        "surface_temperature": temperature(found, emissivity) - KELVIN,
        "net_radiation": found["sw_in"] - found["sw_out"] + found["lw_in"] - found["lw_out"],
    }


def group_ground(group: list[Segment], name: tuple, of: Draws) -> dict[str, np.ndarray]:
    """Ground not walked, (8.6d): the parts of SW_out and L_out."""
    best: dict[tuple[str, str], float] = {}
    for one in group:
        key = (one.field, one.transect)
        best[key] = max(best.get(key, 0.0), one.looks)
    looks = sum(best.values())
    weight = np.array([float(one.used) for one in group])
    short, long, both = (
        np.array([one.scatter[k] for one in group]) @ weight / weight.sum() for k in range(3)
    )
    go = both / np.sqrt(short * long)
    first, second = (of.student(looks - 1, "ground", *name, part) for part in ("sw", "lw"))
    second = go * first + np.sqrt(1 - go**2) * second
    return {"sw_out": np.sqrt(short / looks) * first, "lw_out": np.sqrt(long / looks) * second}


def grouped(
    group: list[Segment], each: dict[str, dict[str, np.ndarray]], name: tuple, of: Draws
) -> dict[str, np.ndarray]:
    """Means of a field or a surface, (6.1a) and (8.4a)."""
    weight = np.array([float(one.used) for one in group])
    weight = weight / weight.sum()
    found = {
        channel: sum(w * each[one.name][channel] for w, one in zip(weight, group, strict=True))
        for channel in CHANNELS
    }
    ground = group_ground(group, name, of)
    return found | {channel: found[channel] + ground[channel] for channel in ground}
