"""The day without people: site, air, clouds, fields and the energy balance of every piece of ground."""

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from .air import GRID, Air, draw_air
from .choices import Choices, draw_site, draw_surfaces, mean_warmth
from .clouds import KINDS, MEAN_COVER, Clouds
from .fields import NAMES, PARTS, Field, draw_fields
from .ground import Forcing, Ground, dry_albedo, run_day
from .materials import Material
from .seeds import stream
from .sky import KELVIN, SIGMA, Incoming, Sky, plane_normal
from .sun import Site

TERMS = ("sw_in", "sw_out", "lw_in", "lw_out", "net_radiation")
FLUXES = ("ground_heat", "sensible_heat", "latent_heat")


@dataclass
class Scene:
    """Everything that is there whether or not anybody walks."""

    seed: int
    site: Site
    season: str
    offset: float  # h, standard time minus UTC
    air: Air
    clouds: Clouds
    sky: Sky
    fields: list[Field]
    incoming: list[Incoming]  # lane 0 (common), then one for each field, on GRID
    ground: (
        Ground  # columns: pieces of all fields under their own lanes, then the parts under the common lane
    )
    common_start: int  # first column under the common lane

    def course(self, index: int, common: bool = False) -> dict[str, np.ndarray]:
        """Return the area means of one field on GRID: terms, heat fluxes and the sums they are made of."""
        field = self.fields[index]
        lane = self.incoming[0] if common else self.incoming[index + 1]
        first = self.common_start + PARTS * index if common else field.pieces[0]
        return area_means(self, field, lane, self.ground, slice(first, first + PARTS))


def area_means(
    scene: Scene, field: Field, lane: Incoming, ground: Ground, columns: slice
) -> dict[str, np.ndarray]:
    """Return the means over a field of its parts' courses."""
    share = field.mean_parts
    normal = plane_normal(field.slope, field.aspect)[:, None]
    on_slope = scene.sky.on_plane(lane, normal)
    sw_out = (ground.albedo[:, columns] @ share) * on_slope
    emissivity = float(share @ np.array([part.emissivity for part in field.parts]))
    lw_out = ground.emitted[:, columns] @ share + (1.0 - emissivity) * lane.longwave
    kelvin = (np.maximum(lw_out - (1.0 - emissivity) * lane.longwave, 1.0) / (emissivity * SIGMA)) ** 0.25
    return {
        "sw_in": lane.level,
        "sw_out": sw_out,
        "lw_in": lane.longwave,
        "lw_out": lw_out,
        "net_radiation": lane.level - sw_out + lane.longwave - lw_out,
        "net_radiation_slope": ground.net[:, columns] @ share,
        "surface_temperature": kelvin - KELVIN,
        "ground_heat": ground.ground[:, columns] @ share,
        "sensible_heat": ground.sensible[:, columns] @ share,
        "latent_heat": ground.latent[:, columns] @ share,
    }


def force(sky: Sky, lanes: list[tuple[Material, Field, Incoming]], air: Air) -> Forcing:
    """Return the forcing of pieces, each with its field's slope and a lane of the sky."""
    shortwave, longwave, albedo = [], [], []
    planes: dict[tuple[int, int], np.ndarray] = {}
    for material, field, lane in lanes:
        key = (id(field), id(lane))
        if key not in planes:
            planes[key] = sky.on_plane(lane, plane_normal(field.slope, field.aspect)[:, None])
        shortwave.append(planes[key])
        longwave.append(lane.longwave)
        albedo.append(dry_albedo(material, lane))
    return Forcing(np.stack(shortwave, 1), np.stack(longwave, 1), np.stack(albedo, 1), air)


def build_scene(seed: int, choices: Choices) -> Scene:
    """Draw the day; run_ground adds the course of the ground."""
    site, season, offset = draw_site(seed, choices)
    kind = choices.sky or str(stream(seed, "sky").choice(KINDS, p=[0.25, 0.1, 0.12, 0.2, 0.2, 0.13]))
    warmth = mean_warmth(seed, site, season)
    air = draw_air(seed, site, MEAN_COVER[kind], warmth)
    clouds = Clouds(seed, kind)
    sky = Sky(seed, site, air, clouds)
    fields = draw_fields(seed, draw_surfaces(seed, choices, season, warmth))
    if choices.identical or choices.difference is not None:
        fields[1] = twin(fields[0], fields[1], [field.name for field in fields])
    if isinstance(choices.difference, dict):
        fields[1] = changed(fields[1], choices.difference)
    for index, field in enumerate(fields):
        sky.add_lane(field.east, field.north)
        field.lane = index + 1
    places = [(0.0, 0.0), *((field.east, field.north) for field in fields)]
    incoming = [sky.incoming(lane, GRID, clouds.delay(*place)) for lane, place in enumerate(places)]
    return Scene(seed, site, season, offset, air, clouds, sky, fields, incoming, None, 0)


def run_ground(scene: Scene) -> Scene:
    """Run all pieces under their own lanes and the fields' parts under the common lane."""
    incoming = scene.incoming
    columns = []
    for index, field in enumerate(scene.fields):
        level = replace(field, slope=0.0)  # the ground beyond the edges is taken as level
        field.pieces = list(range(len(columns), len(columns) + PARTS + len(field.margins)))
        columns += [(part, field, incoming[index + 1]) for part in field.parts]
        columns += [(margin, level, incoming[index + 1]) for margin in field.margins]
    common_start = len(columns)
    for field in scene.fields:
        columns += [(part, field, incoming[0]) for part in field.parts]
    ground = run_day([material for material, _, _ in columns], force(scene.sky, columns, scene.air))
    return replace(scene, ground=ground, common_start=common_start)


def rerun(scene: Scene, field: Field, lane: Incoming) -> dict[str, np.ndarray]:
    """Return the course of one field under another sky, with the air as it was."""
    pieces = [(part, field, lane) for part in field.parts]
    ground = run_day(field.parts, force(scene.sky, pieces, scene.air))
    return area_means(scene, field, lane, ground, slice(0, PARTS))


def set_difference(scene: Scene, wanted: float, start: float, end: float) -> None:
    """Change the second field's albedo until its net radiation differs from the first's by an amount at a
    common moment.

    Three secant steps; the surface answers to the light it keeps, so the first guess falls short.
    """
    inside = (start <= GRID) & (end >= GRID)
    lane = scene.incoming[0]
    light = max(float(lane.level[inside].mean()), 1.0)
    base = float(rerun(scene, scene.fields[0], lane)["net_radiation"][inside].mean())
    original = scene.fields[1]
    change, factor = 0.0, 0.75
    for _ in range(4):
        there = float(rerun(scene, scene.fields[1], lane)["net_radiation"][inside].mean()) - base
        if abs(wanted - there) < 0.3:
            break
        change += (there - wanted) / (light * factor)
        scene.fields[1] = changed(original, {"albedo": change})


def twin(first: Field, second: Field, taken: list[str]) -> Field:
    """Return a field at the second's place whose ground is the first's."""
    label = next(name for name in NAMES[first.surface] if name not in taken)
    return replace(first, name=label, east=second.east, north=second.north, pieces=[])


def changed(field: Field, amounts: dict[str, float]) -> Field:
    """Return the field with properties of all its parts changed by amounts, its surface class kept."""
    parts = []
    for part in field.parts:
        values = {name: getattr(part, name) + amount for name, amount in amounts.items()}
        if "albedo" in values:
            values["albedo"] = float(np.clip(values["albedo"], 0.03, 0.92))
        parts.append(replace(part, **values))
    return replace(field, parts=parts)


def utc(scene: Scene, t: np.ndarray) -> pd.DatetimeIndex:
    """Return seconds of the day as UTC times."""
    return scene.site.midnight + pd.to_timedelta(np.asarray(t, float), unit="s")
