"""Energy balance of many pieces of ground over one day: skin, film of water and eight layers of soil.

All pieces run at once. Each step is implicit in the soil and takes one Newton step for the skin; the fluxes
that are kept are those of the linearised step, so that they close exactly.
"""

from dataclasses import dataclass

import numpy as np

from .air import GRID, STEP, Air, saturation
from .materials import Material
from .sky import KELVIN, SIGMA, Incoming

LAYERS = np.array([0.008, 0.013, 0.021, 0.035, 0.06, 0.10, 0.18, 0.35])  # m
RHO_CP = 1200.0  # J m-3 K-1
GRAVITY = 9.81
KARMAN = 0.41
LATENT = 2.45e6  # J kg-1
GAMMA = 66.0  # Pa K-1
SPIN = 60  # steps of the grid in one step of the day of preparation
COARSE = 12  # and of the coarse run
PARTS_OF_DAY = 12
LEAD_IN = 96  # steps of the grid that each part begins early; whole steps of the coarse run
HEIGHT = 2.0  # m, of the wind
MELTING = 273.15
NAMES = ("skin", "emitted", "absorbed", "net", "sensible", "latent", "ground", "albedo", "soil")


@dataclass(frozen=True)
class Ground:
    """Course of all pieces on GRID, arrays (time, piece); K, and W m-2 of ground area."""

    skin: np.ndarray
    emitted: np.ndarray  # own emission without reflected longwave
    absorbed: np.ndarray  # shortwave
    net: np.ndarray  # of the ground's own plane
    sensible: np.ndarray
    latent: np.ndarray
    ground: np.ndarray  # into skin, canopy, soil, water and melting snow
    albedo: np.ndarray
    soil: np.ndarray  # heat that leaves the skin into the soil


@dataclass(frozen=True)
class Forcing:
    """What falls on each piece, arrays (time, piece) on GRID."""

    shortwave: np.ndarray  # on the piece's own plane
    longwave: np.ndarray
    dry_albedo: np.ndarray
    air: Air


def dry_albedo(material: Material, sky: Incoming) -> np.ndarray:
    """Return the albedo of dry ground under a sky: direct part by the sun's height and rows, diffuse part
    constant.

    Sources: Briegleb et al. 1986 for ground and canopies; Taylor et al. 1996 for water (both from memory).
    """
    mu = np.maximum(sky.sun[2], 0.02)
    direct_share = 1.0 - sky.diffuse_fraction
    if material.kind == "water":
        direct = 0.037 / (1.1 * mu**1.4 + 0.15) * material.albedo / 0.06
        diffuse = material.albedo
    else:
        d = material.sun_height
        azimuth = np.degrees(np.arctan2(sky.sun[0], sky.sun[1]))
        rows = 1.0 + material.row_strength * np.cos(2.0 * np.radians(azimuth - material.rows))
        direct = material.albedo * (1.0 + d) / (1.0 + 2.0 * d * mu) * rows
        diffuse = material.albedo
    return np.clip(direct_share * direct + (1.0 - direct_share) * diffuse, 0.02, 0.95)


class Soil:
    """Implicit heat conduction in LAYERS for many pieces, in the modes of the column.

    In its own modes a column takes one multiplication a mode and step; `surface` turns modes into the
    temperature
    of the uppermost layer.
    """

    def __init__(self, conductivity: np.ndarray, capacity: np.ndarray):
        n = len(LAYERS)
        link = 1.0 / (0.5 * (LAYERS[:-1] + LAYERS[1:]))
        exchange = np.zeros((n, n))
        for k in range(n - 1):
            exchange[k, k] += link[k]
            exchange[k + 1, k + 1] += link[k]
            exchange[k, k + 1] -= link[k]
            exchange[k + 1, k] -= link[k]
        root = np.sqrt(LAYERS)
        rates, modes = np.linalg.eigh(exchange / root[:, None] / root)
        self.diffusivity = conductivity / capacity
        self.rates = rates
        self.surface = modes[0] / root[0]  # K of the uppermost layer per unit of each mode
        self.even = modes.T @ root  # modes of a column at 1 K
        self.capacity = capacity

    def step(self, seconds: float) -> tuple[np.ndarray, np.ndarray]:
        """Return decay of the modes over a step and their gain per W m-2, shape (mode, piece)."""
        decay = 1.0 / (1.0 + seconds * self.rates[:, None] * self.diffusivity)
        gain = decay * self.surface[:, None] * seconds / self.capacity
        return decay, gain

    def heat(self, modes: np.ndarray) -> np.ndarray:
        """Return the heat in each column, J m-2, over 0 K."""
        return self.capacity * np.tensordot(self.even, modes, axes=(0, 0))


class Runner:
    """Properties of all pieces as arrays, and the step."""

    def __init__(self, materials: list[Material]):
        def column(name: str) -> np.ndarray:
            return np.array([getattr(material, name) for material in materials])

        kinds = np.array([material.kind for material in materials])
        self.emissivity = column("emissivity")
        self.heat_store = column("heat_store")
        self.contact = column("contact")
        self.soil = Soil(column("conductivity"), column("capacity"))
        self.film = column("film")
        self.darkening = column("darkening")
        self.wetness = column("wetness")
        self.snow = kinds == "snow"
        self.any_snow = bool(self.snow.any())
        self.least = np.where((kinds == "water") | (kinds == "snow"), self.film, 0.0)
        rough = column("roughness")
        # Heat meets more resistance than momentum: z0h = z0m / 10 (common practice; Garratt 1992).
        self.exchange = KARMAN**2 / (np.log(HEIGHT / rough) * np.log(HEIGHT / (0.1 * rough)))
        self.open = 1.0 / np.maximum(column("resistance"), 1e-3)
        self.canopy = kinds == "canopy"

    def conductance(self, shortwave: np.ndarray) -> np.ndarray:
        """Return the dry surface's conductance for vapour, m s-1; leaves close in the dark (Jarvis 1976)."""
        light = np.maximum(shortwave, 0.0) / (np.maximum(shortwave, 0.0) + 120.0)
        return self.open * np.where(self.canopy, 0.03 + 1.12 * light, 1.0)

    def first_state(self, air: Air) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return skin, modes of the soil and film to begin the day of preparation with."""
        deep = float(air.temperature.mean()) + KELVIN + 1.0
        warm = np.minimum(deep, np.where(self.snow, 272.0, 400.0))
        return warm.copy(), self.soil.even[:, None] * warm, self.film * self.wetness

    def run(self, inputs: tuple, seconds: float, state: tuple) -> tuple[np.ndarray, list]:
        """Step through inputs, each (time, ..., piece); return (name, time, ..., piece) and the states
        before each step."""
        decay, gain = self.soil.step(seconds)
        surface = self.soil.surface
        if state[0].ndim == 2:  # several parts of the day side by side
            decay, gain = decay[:, None], gain[:, None]
        surface = surface.reshape(-1, *([1] * state[0].ndim))
        soil = (decay, gain, decay * surface, surface[0] * 0.0 + (gain * surface).sum(axis=0))
        out = np.empty((len(NAMES), len(inputs[0]), *state[0].shape))
        states = []
        for i, now in enumerate(zip(*inputs, strict=True)):
            states.append(state)
            state = self._step(soil, state, seconds, now, out[:, i])
        return out, states

    def _step(self, soil: tuple, state: tuple, seconds: float, now: tuple, out: np.ndarray) -> tuple:
        decay, gain, to_surface, response = soil
        skin, modes, film = state
        shortwave, longwave, albedo, open_leaf, air, vapour, wind, buoyancy = now
        wet = film / self.film
        albedo = albedo * (1.0 - self.darkening * wet)
        absorbed = shortwave * (1.0 - albedo)
        warmer = skin - air
        # Stability by Choudhury, Reginato and Idso 1986: (1 + 5 Ri) to the power 3/4 or 2 (from memory).
        stability = np.minimum(np.maximum(1.0 + warmer * buoyancy, 0.35), 40.0)
        transfer = self.exchange * wind * np.where(warmer > 0.0, stability**0.75, stability * stability)
        celsius = skin - KELVIN
        pressure = saturation(celsius)
        slope = pressure * 4098.0 / (celsius + 237.3) ** 2
        deficit = pressure - vapour
        evaporates = deficit > 0.0
        dry = np.where(evaporates, transfer * open_leaf / (transfer + open_leaf), transfer)
        dry_share = (1.0 - wet) * dry
        wet_share = wet * transfer
        vapour_factor = (RHO_CP / GAMMA) * (dry_share + wet_share)
        emitted = self.emissivity * SIGMA * skin**4
        emitted_slope = 4.0 * emitted / skin
        soil_top = (to_surface * modes).sum(axis=0)
        link = self.contact / (1.0 + self.contact * response)
        heat = RHO_CP * transfer
        latent = vapour_factor * deficit
        into_soil = link * (skin - soil_top)
        gained = absorbed + self.emissivity * longwave
        left = gained - emitted - heat * warmer - latent - into_soil
        change = left / (emitted_slope + heat + vapour_factor * slope + link + self.heat_store / seconds)
        if self.any_snow:
            change = np.where(self.snow, np.minimum(change, MELTING - skin), change)
        latent = latent + vapour_factor * slope * change
        emitted = emitted + emitted_slope * change
        sensible = heat * (warmer + change)
        into_soil = into_soil + link * change
        net = gained - emitted
        film_flux = np.where(evaporates, wet_share / (dry_share + wet_share + 1e-12), 1.0) * latent
        film = np.minimum(np.maximum(film - film_flux * (seconds / LATENT), self.least), self.film)
        skin = skin + change
        out[0], out[1], out[2], out[3], out[4] = skin, emitted, absorbed, net, sensible
        out[5], out[6], out[7], out[8] = latent, net - sensible - latent, albedo, into_soil
        return skin, decay * modes + gain * into_soil, film


def prepare(runner: Runner, forcing: Forcing) -> tuple:
    """Return the inputs of every step on GRID, arrays (time, piece or 1)."""
    air = forcing.air
    wind = np.maximum(air.wind, 0.3)[:, None]
    kelvin = air.temperature[:, None] + KELVIN
    buoyancy = 5.0 * GRAVITY * HEIGHT / (kelvin * wind * wind)
    open_leaf = runner.conductance(forcing.shortwave)
    return (
        forcing.shortwave,
        forcing.longwave,
        forcing.dry_albedo,
        open_leaf,
        kelvin,
        air.vapour[:, None],
        wind,
        buoyancy,
    )


def means(inputs: tuple, window: int) -> tuple:
    """Return the inputs as means over windows of the grid."""
    count = len(GRID) // window
    return tuple(part[: count * window].reshape(count, window, -1).mean(axis=1) for part in inputs)


def run_day(materials: list[Material], forcing: Forcing) -> Ground:
    """Run one day of preparation, the day at a coarse step, and then the day at STEP in parts side by side.

    Each part begins from the coarse run a quarter of an hour before its time, so that its skin has its own
    course when it counts. Films begin the day with the drawn wetness or the dew of the night, whichever is
    more.
    """
    runner = Runner(materials)
    inputs = prepare(runner, forcing)
    _, states = runner.run(means(inputs, SPIN), SPIN * STEP, runner.first_state(forcing.air))
    skin, modes, film = states[-1]
    start = (skin, modes, np.maximum(film, runner.film * runner.wetness))
    _, states = runner.run(means(inputs, COARSE), COARSE * STEP, start)
    total = len(GRID) - 1
    length = total // PARTS_OF_DAY
    begins = [part * length for part in range(PARTS_OF_DAY)]
    leads = [max(begin - LEAD_IN, 0) for begin in begins]
    begin_states = [states[lead // COARSE] for lead in leads]
    state = (
        np.stack([one[0] for one in begin_states]),
        np.stack([one[1] for one in begin_states], axis=1),
        np.stack([one[2] for one in begin_states]),
    )
    steps = np.arange(length + LEAD_IN)[:, None] + np.array(leads)
    out, _ = runner.run(tuple(part[np.minimum(steps, total)] for part in inputs), STEP, state)
    pieces = []
    for part, (begin, lead) in enumerate(zip(begins, leads, strict=True)):
        skip = begin - lead
        pieces.append(out[:, skip : skip + length, part])
    pieces.append(pieces[-1][:, -1:])  # the last moment of the grid repeats the one before
    return Ground(*np.concatenate(pieces, axis=1))
