"""From what is there to what a logger stores: views, tilt, head errors, response, sampling and clock."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from .air import GRID
from .carrying import Obstacle, body_light, body_warmth, lean, normal_of, passer, sun_angles, swing
from .heads import CHANNELS, Body, Head, body_course, relax
from .loggers import Logger
from .path import Path
from .people import Carrier
from .scene import Scene
from .seeds import stream
from .sky import KELVIN, SIGMA, Incoming, plane_normal

FINE = 5  # moments a second, so that swings up to 2 Hz are kept
DOME_FOLLOWS = 300.0  # s (common practice, no source)


@dataclass
class Ideal:
    """What an ideal level head without a carrier sees along a path, at each second; emissivity is that of
    the view."""

    sky: Incoming
    sw_out: np.ndarray
    lw_out: np.ndarray
    emissivity: np.ndarray
    direct: np.ndarray  # share of the level irradiance that is beam
    backscatter: np.ndarray


@dataclass
class Disturbance:
    """What a mistake changes about a set before its signals are stored; spans in s of the day."""

    tilt: tuple[float, float] | None = None  # degrees forward and right
    swing: float = 1.0
    shade_up: list[tuple[float, float, float]] = field(
        default_factory=list
    )  # start, end, share of the sky hidden
    shade_down: list[tuple[float, float, float]] = field(
        default_factory=list
    )  # start, end, share of the view
    wet: list[tuple[float, float, float]] = field(default_factory=list)  # start, end, share of the beam lost
    shock: tuple[float, float] | None = None  # K over the air, s
    inverted: bool = False
    covered: dict[str, tuple[float, float]] = field(default_factory=dict)  # channel: start, end


@dataclass
class Kit:
    """One set: its person, heads, body and logger."""

    name: str
    carrier: Carrier
    heads: dict[str, Head]
    body: Body
    logger: Logger
    disturbance: Disturbance = field(default_factory=Disturbance)


def ideal_view(scene: Scene, path: Path, height: float) -> Ideal:
    """Return what an ideal instrument sees along a path."""
    n = len(path.t)
    parts = {
        name: np.zeros(n)
        for name in ("beam", "diffuse", "longwave", "sw_out", "lw_out", "emissivity", "back")
    }
    sun = np.zeros((3, n))
    for index in np.unique(path.field):
        here = np.flatnonzero(path.field == index)
        ground = scene.fields[index]
        t = path.t[here]
        sky = scene.sky.incoming(ground.lane, t, scene.clouds.delay(path.east[here], path.north[here]))
        seen = ground.seen(path.x[here], path.y[here], height)
        materials = ground.parts + ground.margins
        emissivities = np.array([material.emissivity for material in materials])
        sloped = scene.sky.on_plane(sky, plane_normal(ground.slope, ground.aspect)[:, None])
        lower = np.clip((t / (GRID[1] - GRID[0])).astype(int), 0, len(GRID) - 2)
        ahead = (t - GRID[lower]) / (GRID[1] - GRID[0])
        columns = slice(ground.pieces[0], ground.pieces[-1] + 1)

        def now(series: np.ndarray, lower=lower, ahead=ahead, columns=columns) -> np.ndarray:
            rows = series[:, columns]
            return (rows[lower] * (1 - ahead)[:, None] + rows[lower + 1] * ahead[:, None]).T

        albedo, emitted = now(scene.ground.albedo), now(scene.ground.emitted)
        own = len(ground.parts)
        parts["sw_out"][here] = (seen[:own] * albedo[:own]).sum(0) * sloped + (seen[own:] * albedo[own:]).sum(
            0
        ) * sky.level
        parts["emissivity"][here] = emissivities @ seen
        parts["lw_out"][here] = (seen * emitted).sum(0) + (1.0 - parts["emissivity"][here]) * sky.longwave
        parts["back"][here] = np.array([material.backscatter for material in materials]) @ seen
        parts["beam"][here], parts["diffuse"][here], parts["longwave"][here] = (
            sky.beam,
            sky.diffuse,
            sky.longwave,
        )
        sun[:, here] = sky.sun
    sky = Incoming(parts["beam"], parts["diffuse"], parts["longwave"], sun)
    direct = 1.0 - sky.diffuse_fraction
    return Ideal(sky, parts["sw_out"], parts["lw_out"], parts["emissivity"], direct, parts["back"])


def span_share(t: np.ndarray, spans: list[tuple[float, float, float]]) -> np.ndarray:
    """Return the largest share of the spans that hold at each time."""
    share = np.zeros(len(t))
    for start, end, amount in spans:
        share = np.where((t >= start) & (t < end), np.maximum(share, amount), share)
    return share


@dataclass
class Exposure:
    """What the four heads are exposed to at fine times, and the light that warms the windows."""

    sw_in: np.ndarray
    sw_out: np.ndarray
    lw_in: np.ndarray
    lw_out: np.ndarray
    beam: np.ndarray  # on the upper head, at normal incidence
    zenith: np.ndarray  # degrees, of the sun from the upper head's axis
    azimuth: np.ndarray  # degrees, of the sun from the pole


def expose(
    scene: Scene, kit: Kit, path: Path, *, ideal: Ideal, other: Path | None, fine: np.ndarray
) -> Exposure:
    """Return what the heads receive: carrier, shadows, tilt and swing included."""
    carrier, trouble = kit.carrier, kit.disturbance
    obstacle = Obstacle(carrier)
    height, azimuth = sun_angles(ideal.sky)
    pole = path.pole  # from the person to the instrument
    air = np.interp(path.t, GRID, scene.air.temperature)
    light = body_light(carrier, ideal.sky, pole, ideal.sw_out)
    warmth = body_warmth(carrier, air, ideal.sky)
    relative = azimuth - (pole + 180.0)  # of the sun, from the direction of the person
    hidden = obstacle.lower_share * np.ones(len(path.t)) + passer(path, other, carrier.head_height)
    bright_side = 1.0 + ideal.backscatter * ideal.direct * np.cos(np.radians(pole + 180.0 - azimuth - 180.0))
    shadow = np.maximum(obstacle.shadow_share(relative, height), span_share(path.t, trouble.shade_down))
    down = ideal.sw_out * (1.0 - hidden * bright_side - carrier.dims - shadow * ideal.direct) + hidden * light
    down_lw = ideal.lw_out * (1.0 - hidden) + hidden * warmth
    over = span_share(path.t, trouble.shade_up)
    wet = span_share(path.t, trouble.wet)
    beam = (
        ideal.sky.beam
        * (1.0 - obstacle.shades_beam(relative, height))
        * (1.0 - np.minimum(1.3 * over, 1.0))
        * (1.0 - wet)
    )
    upper = obstacle.upper_share
    diffuse = ideal.sky.diffuse * (1.0 - upper) * (1.0 - over) + wet * 0.6 * ideal.sky.beam * np.maximum(
        ideal.sky.sun[2], 0
    )
    diffuse = diffuse + upper * light
    up_lw = ideal.sky.longwave * (1.0 - upper) + upper * warmth
    black = SIGMA * (air + KELVIN) ** 4
    up_lw = up_lw + (black - up_lw) * np.maximum(over, np.minimum(2.5 * wet, 0.9))

    def at(series: np.ndarray) -> np.ndarray:
        return np.interp(fine, path.t, series)

    tilt = np.stack([at(row) for row in lean(scene.seed, kit.name, carrier, path)])
    moving = np.interp(fine, path.t, path.moving) > 0.5
    tilt = tilt + trouble.swing * swing(scene.seed, kit.name, carrier=carrier, times=fine, moving=moving)
    if trouble.tilt is not None:
        tilt = tilt + np.array(trouble.tilt)[:, None]
    tilt = np.clip(tilt, -40.0, 40.0)
    heading = np.degrees(np.interp(fine, path.t, np.unwrap(np.radians(path.heading))))
    pole_fine = np.degrees(np.interp(fine, path.t, np.unwrap(np.radians(pole))))
    axis = normal_of(tilt, heading)
    sky = Incoming(at(beam), at(diffuse), at(up_lw), np.stack([at(row) for row in ideal.sky.sun]))
    cosine = np.clip((sky.sun * axis).sum(axis=0), -1.0, 1.0)
    seen_sky = 0.5 * (1.0 - axis[2])  # of the lower head, when it leans
    out = at(down)
    return Exposure(
        sw_in=scene.sky.on_plane(sky, axis) + seen_sky * out,
        sw_out=out * (1.0 - seen_sky) + seen_sky * sky.level,
        lw_in=sky.longwave,
        lw_out=at(down_lw),
        beam=sky.beam * (sky.sun[2] > 0.0),
        zenith=np.degrees(np.arccos(cosine)),
        azimuth=np.degrees(np.arctan2(sky.sun[0], sky.sun[1])) - pole_fine,
    )


def shortwave_signal(
    head: Head,
    seen: np.ndarray,
    *,
    exposure: Exposure,
    net: np.ndarray,
    warm: np.ndarray,
    trend: np.ndarray,
    wind: np.ndarray,
) -> np.ndarray:
    """Return the signal in uV of a shortwave head; net longwave in W m-2, body degC and its trend K h-1."""
    if head.directional is not None:
        shown = (exposure.zenith < 90.0) * exposure.beam
        seen = seen + head.beam_error(exposure.zenith, exposure.azimuth - head.turned) * shown
    level = (seen - 500.0) / 500.0
    curve = head.linearity[0] * level + head.linearity[1] * (level**2 - 1.0) * 0.5
    warmer = (warm - 20.0) / 30.0
    curve = curve + head.temperature[0] * warmer + head.temperature[1] * warmer**2
    # Air that moves brings the dome nearer to the body (common practice, no source).
    zero = head.zero_a * net / (0.8 + 0.1 * wind) + head.zero_b * trend
    response = head.slow(seen * (1.0 + curve) * head.gain + zero, 1.0 / FINE)
    return response * head.sensitivity + head.logger_zero


def longwave_signal(
    head: Head, seen: np.ndarray, *, light: np.ndarray, case: np.ndarray, trend: np.ndarray, wind: np.ndarray
) -> np.ndarray:
    """Return the signal in uV of a longwave head, net of its case's emission; trend K h-1."""
    warmer = (case - 20.0) / 30.0
    curve = head.temperature[0] * warmer + head.temperature[1] * warmer**2
    net = (seen - SIGMA * (case + KELVIN) ** 4) * (1.0 + curve) * head.gain
    heated = head.window * light / (1.0 + 0.25 * wind)
    return (
        head.slow(net + heated + head.case * trend / 60.0, 1.0 / FINE) * head.sensitivity + head.logger_zero
    )


def signals(
    scene: Scene, kit: Kit, path: Path, *, ideal: Ideal, other: Path | None
) -> tuple[np.ndarray, dict]:
    """Return fine times and the signals (uV), with the readings of the thermometers (degC)."""
    fine = np.arange(path.t[0] * FINE, path.t[-1] * FINE) / FINE
    exposure = expose(scene, kit, path, ideal=ideal, other=other, fine=fine)
    trouble = kit.disturbance
    for channel, (start, end) in trouble.covered.items():
        dark = (fine >= start) & (fine < end)
        cover = (
            0.0
            if channel.startswith("sw")
            else SIGMA * (np.interp(fine, GRID, scene.air.temperature) + 273.65) ** 4
        )
        setattr(exposure, channel, np.where(dark, cover, getattr(exposure, channel)))
        if channel == "sw_in":
            exposure.beam = np.where(dark, 0.0, exposure.beam)
    if trouble.inverted:
        exposure.sw_in, exposure.sw_out = exposure.sw_out, exposure.sw_in
        exposure.lw_in, exposure.lw_out = exposure.lw_out, exposure.lw_in
        exposure.beam = exposure.beam * 0.0
    air, _, wind = scene.air.at(path.t)
    net = ideal.sky.longwave - SIGMA * (air + KELVIN) ** 4
    body = body_course(kit.body, air=air, wind=wind, light=ideal.sky.level, net=net)
    if trouble.shock is not None:
        extra, lasting = trouble.shock
        body = body + extra * np.exp(-(path.t - path.t[0]) / lasting)
    # Domes and windows follow the body over some minutes, so that a zero answers to the trend and not to
    # each gust.
    trend = np.gradient(body) * 3600.0
    trend[0] = 0.0
    trend = relax(trend, DOME_FOLLOWS, 1.0)
    fine_body, fine_trend, fine_wind, sun = (
        np.interp(fine, path.t, row) for row in (body, trend, wind, ideal.sky.level)
    )
    cooled = np.clip((2.0 / np.maximum(fine_wind, 0.3)) ** 0.5, 0.5, 2.0) * sun / 1000.0
    out: dict[str, np.ndarray] = {}
    black = SIGMA * (fine_body + KELVIN) ** 4
    for channel in ("sw_in", "sw_out"):
        around = exposure.lw_in if channel == "sw_in" else exposure.lw_out
        out[channel] = shortwave_signal(
            kit.heads[channel],
            getattr(exposure, channel),
            exposure=exposure,
            net=around - black,
            warm=fine_body,
            trend=fine_trend,
            wind=fine_wind,
        )
    for number, channel in enumerate(("lw_in", "lw_out")):
        light = exposure.sw_in if channel == "lw_in" else exposure.sw_out
        case = fine_body + kit.body.lw_case[number] * cooled
        out[channel] = longwave_signal(
            kit.heads[channel],
            getattr(exposure, channel),
            light=light,
            case=case,
            trend=fine_trend,
            wind=fine_wind,
        )
    for number, name in enumerate(("body_temperature", "body_temperature_2")):
        fault, in_sun = kit.body.thermometers[number]
        out[name] = fine_body + fault + in_sun * cooled
    return fine, out


def store(
    scene: Scene, kit: Kit, fine: np.ndarray, raw: dict, spans: list[tuple[float, float]]
) -> pd.DataFrame:
    """Return the stored records within spans of true time: clock, `true` (middle of each sample) and
    channels."""
    logger = kit.logger
    rng = stream(scene.seed, "store", kit.name)
    middle = 0.5 * (fine[0] + fine[-1])
    ticks = (
        np.arange(np.ceil(fine[0] / logger.interval) + 2, np.floor(fine[-1] / logger.interval) - 2)
        * logger.interval
    )
    ticks = ticks - ticks[0] + np.ceil(ticks[0] + logger.offset)
    ticks = np.round(ticks / logger.interval) * logger.interval
    ends = ticks - logger.offset - logger.drift * (ticks - middle)
    keep = (ends > fine[0] + logger.interval + 1) & (ends < fine[-1] - 1)
    inside = np.zeros(len(ends), bool)
    for start, end in spans:
        inside |= (ends > start) & (ends <= end)
    keep &= inside & (rng.uniform(size=len(ends)) >= logger.missed)
    ticks, ends = ticks[keep], ends[keep]
    lasting = logger.interval if logger.averages and logger.stamp != "instant" else 0.0
    names = {"start": ticks - logger.interval, "end": ticks, "instant": ticks}[logger.stamp]
    clock = scene.site.midnight.tz_localize(None) + pd.to_timedelta(
        names + 3600.0 * logger.utc_offset, unit="s"
    )
    table = {"clock": clock, "true": ends - 0.5 * (0.0 if logger.stamp == "instant" else logger.interval)}
    table["shift"] = ticks - ends
    values = {}
    for name, series in raw.items():
        values[name] = sample(fine, series, ends, lasting)
    celsius = np.round(values["body_temperature"] / logger.thermometer_step) * logger.thermometer_step
    celsius_2 = values["body_temperature_2"] if kit.body.two else values["body_temperature"]
    for channel in CHANNELS:
        table[channel] = as_stored(rng, logger, channel, values[channel], celsius)
    quiet = 0.3 * logger.thermometer_step
    table["body_temperature"] = celsius
    table["body_temperature_2"] = celsius_2 + quiet * rng.standard_normal(len(ends)) * kit.body.two
    run_down = 0.05 * (ends - fine[0]) / 3600.0
    table["battery"] = logger.battery - run_down + 0.01 * rng.standard_normal(len(ends))
    return pd.DataFrame(table)


def sample(fine: np.ndarray, series: np.ndarray, ends: np.ndarray, lasting: float) -> np.ndarray:
    """Return means over the seconds before `ends`, or the value there where the sampling takes no time."""
    if lasting == 0.0:
        return np.interp(ends, fine, series)
    total = np.concatenate([[0.0], np.cumsum(series)]) / FINE
    edges = np.append(fine, fine[-1] + 1.0 / FINE)
    return (np.interp(ends, edges, total) - np.interp(ends - lasting, edges, total)) / lasting


def as_stored(
    rng: np.random.Generator, logger: Logger, channel: str, microvolt: np.ndarray, celsius: np.ndarray
) -> np.ndarray:
    """Return one channel in the logger's unit, with noise and steps."""
    values = microvolt
    if logger.unit == "mV":
        values = microvolt / 1000.0
    if logger.unit == "W m-2":
        values = microvolt / logger.programmed[channel]
        if logger.longwave == "corrected" and channel.startswith("lw"):
            values = values + SIGMA * (celsius + KELVIN) ** 4
    step = logger.step
    electric = {"mV": 0.0005, "uV": 0.5, "W m-2": 0.04}[logger.unit]
    noise = np.hypot(min(logger.noise * step, 8 * electric), electric)
    return np.round((values + noise * rng.standard_normal(len(values))) / step) * step
