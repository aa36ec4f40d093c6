"""Fields: where they lie, what they are made of from place to place, and what a level head over them sees."""

from dataclasses import dataclass, field

import numpy as np

from .materials import CLASSES, HEDGE, Material, draw_material, variant
from .seeds import log_uniform, stream

TILE = 256  # cells of a patch map, periodic
CELL = 0.25  # m
PATCHES = (0.3, 15.0)  # m, world.md
VIEW_POINTS = 64
PARTS = 3  # kinds of ground in one field: main, patches, weeds or bare spots


def view_points(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return points of equal weight in the view of a level head at height 1: right and forward, in heights.

    The share of the view within radius r is r**2 / (1 + r**2) (configuration factor of a disc).
    """
    k = np.arange(count) + 0.5
    share = k / count
    radius = np.sqrt(share / (1.0 - share))
    angle = k * np.pi * (3.0 - np.sqrt(5.0))
    return radius * np.cos(angle), radius * np.sin(angle)


def beyond(distance: np.ndarray, height: float) -> np.ndarray:
    """Return the share of the view beyond a straight edge at a distance (negative: the head is already
    beyond)."""
    return 0.5 * (1.0 - distance / np.hypot(distance, height))


def patch_map(rng: np.random.Generator) -> np.ndarray:
    """Return a periodic map with zero mean and unit variance, with patches of all sizes between PATCHES."""
    k = np.hypot(np.fft.fftfreq(TILE, CELL)[:, None], np.fft.rfftfreq(TILE, CELL))
    k[0, 0] = 1.0
    inside = (k > 0.5 / PATCHES[1]) & (k < 0.5 / PATCHES[0])
    amplitude = np.where(inside, k ** -rng.uniform(1.2, 2.2), 0.0)
    noise = rng.standard_normal(k.shape) + 1j * rng.standard_normal(k.shape)
    values = np.fft.irfft2(noise * amplitude, s=(TILE, TILE))
    return (values - values.mean()) / values.std()


@dataclass
class Field:
    """A rectangle of ground. Own coordinates: x along `heading` (m from the middle), y to the right of it."""

    name: str
    surface: str
    east: float
    north: float
    heading: float
    length: float
    width: float
    slope: float
    aspect: float
    parts: list[Material]
    margins: list[Material]  # beyond the left, the right and both ends
    second: np.ndarray  # patch maps, as thresholds are applied to them
    third: np.ndarray
    levels: tuple[float, float]  # thresholds of the two maps
    sharp: float
    gradient: float  # change of the first map from end to end
    lane: int = 0
    pieces: list[int] = field(default_factory=list)  # of ground: parts, then margins
    mean_parts: np.ndarray = field(default_factory=lambda: np.array([1.0, 0.0, 0.0]))

    def weights_at(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return the share of each part at places, shape (3, ...)."""
        column = np.floor(x / CELL).astype(int) % TILE
        row = np.floor(y / CELL).astype(int) % TILE
        tilted = self.second[row, column] + self.gradient * x / self.length
        patch = 1.0 / (1.0 + np.exp(np.clip((self.levels[0] - tilted) * self.sharp, -30, 30)))
        weeds = 1.0 / (
            1.0 + np.exp(np.clip((self.levels[1] - self.third[row, column]) * self.sharp, -30, 30))
        )
        return np.stack([(1.0 - patch) * (1.0 - weeds), patch * (1.0 - weeds), weeds])

    def measure_means(self) -> None:
        """Set the shares of the parts over the whole field."""
        x, y = np.meshgrid(np.linspace(-0.5, 0.5, 161) * self.length, np.linspace(-0.5, 0.5, 61) * self.width)
        self.mean_parts = self.weights_at(x, y).reshape(PARTS, -1).mean(axis=1)

    def place(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return east and north of places in the field."""
        along = np.radians(self.heading)
        return (
            self.east + x * np.sin(along) + y * np.cos(along),
            self.north + x * np.cos(along) - y * np.sin(along),
        )

    def seen(self, x: np.ndarray, y: np.ndarray, height: float) -> np.ndarray:
        """Return the share of each piece (parts, then margins) in the view of level heads, shape (6, n)."""
        right, forward = view_points(VIEW_POINTS)
        local = self.weights_at(x[:, None] + height * forward, y[:, None] + height * right).mean(axis=2)
        left_side = beyond(y + 0.5 * self.width, height)
        right_side = beyond(0.5 * self.width - y, height)
        ends = beyond(x + 0.5 * self.length, height) + beyond(0.5 * self.length - x, height)
        ends = np.minimum(ends, 1.0)
        sides = np.minimum(left_side + right_side, 1.0)
        inside = (1.0 - sides) * (1.0 - ends)
        return np.concatenate([local * inside, [left_side * (1.0 - ends), right_side * (1.0 - ends), ends]])


def draw_size(rng: np.random.Generator, surface: str) -> tuple[float, float]:
    """Return length and width of a field, m. One in six is a strip 3 to 8 m wide; so are most paved ways."""
    strip = rng.uniform() < (0.5 if surface in ("paving", "gravel") else 0.12)
    width = rng.uniform(3.0, 8.0) if strip else rng.uniform(15.0, 70.0)
    return float(rng.uniform(45.0, 140.0)), float(width)


def draw_field(seed: int, index: int, name: str, surface: str) -> Field:
    """Draw one field; its margins are drawn too, hedges among them."""
    rng = stream(seed, "field", index)
    main = draw_material(seed, surface, index)
    patch = variant(seed, main, index, "patch")
    weeds = third_part(seed, main, index)
    length, width = draw_size(rng, surface)
    angle = rng.uniform(0.0, 2.0 * np.pi)
    reach = log_uniform(rng, 40.0, 350.0)
    water = CLASSES[surface].kind == "water"
    even = log_uniform(rng, 0.3, 3.0)
    made = Field(
        name=name,
        surface=surface,
        east=float(reach * np.cos(angle)),
        north=float(reach * np.sin(angle)),
        heading=float(np.round(rng.uniform(0.0, 180.0) / 5.0) * 5.0),
        length=length,
        width=width,
        slope=0.0 if water else float(rng.uniform(0.0, 4.0) * (rng.uniform() < 0.6)),
        aspect=float(rng.uniform(0.0, 360.0)),
        parts=[main, patch, weeds],
        margins=draw_margins(seed, index),
        second=patch_map(stream(seed, "patches", index, 2)),
        third=patch_map(stream(seed, "patches", index, 3)),
        levels=(float(rng.uniform(-0.3, 1.5)), float(rng.uniform(1.3, 2.6))),
        sharp=float(log_uniform(rng, 2.0, 30.0)),
        gradient=float(rng.normal(0.0, 0.7)) / even**0.5,
    )
    made.measure_means()
    return made


def third_part(seed: int, main: Material, index: int) -> Material:
    """Return weeds on bare ground and paving, bare spots in canopies, and another patch on snow and water."""
    if main.kind == "canopy":
        return draw_material(seed, "bare_dry_soil", index, "spots")
    if main.kind == "ground":
        return draw_material(seed, "short_grass", index, "weeds")
    return variant(seed, main, index, "other")


def draw_margins(seed: int, index: int) -> list[Material]:
    """Return the ground beyond the edges: grass, a hedge, a ditch, a way or a crop."""
    rng = stream(seed, "margins", index)
    choices = ["short_grass", HEDGE, "bare_wet_soil", "gravel", "stubble"]
    names = rng.choice(choices, size=3, p=[0.4, 0.25, 0.1, 0.15, 0.1])
    return [draw_material(seed, str(surface), index, "margin", k) for k, surface in enumerate(names)]


NAMES = {
    "short_grass": ["Heron meadow", "Mill lawn", "Upper pasture", "Orchard grass", "Pump house lawn"],
    "tall_crop": ["Maize block", "Long wheat", "Beet piece", "Barley piece", "Bean rows"],
    "bare_dry_soil": ["Sandy piece", "Harrowed plot", "Seed bed", "Dry corner", "Ridge plot"],
    "bare_wet_soil": ["Flooded corner", "Watered bed", "Fen edge", "Dark plot", "Rill plot"],
    "stubble": ["Rye stubble", "Oat stubble", "Cut barley", "Swath piece", "Wheat stubble"],
    "paving": ["Barn yard", "Old lane", "Loading place", "Silo yard", "Tar road"],
    "gravel": ["Pit floor", "Cart track", "Gravel yard", "Rail bed", "Stone track"],
    "shallow_water": ["Duck pond edge", "Flood meadow", "Paddy", "Reed shallows", "Ford"],
    "deep_water": ["Mill pond", "Quarry lake", "Basin", "Weir pool", "Harbour"],
    "snow": ["Snow meadow", "Drift field", "North slope", "White piece", "Sledge field"],
}


def draw_fields(seed: int, surfaces: list[str]) -> list[Field]:
    """Draw fields of the given classes, each with a name of its own."""
    fields = []
    for index, surface in enumerate(surfaces):
        turn = surfaces[:index].count(surface)
        names = NAMES[surface]
        offset = int(stream(seed, "names", surface).integers(len(names)))
        label = names[(offset + turn) % len(names)]
        if turn >= len(names):
            label = f"{label} {turn + 1}"
        fields.append(draw_field(seed, index, label, surface))
    return fields
