"""Where each set is at every second, also between the legs."""

from dataclasses import dataclass

import numpy as np

from .fields import Field
from .people import Carrier
from .scene import Scene
from .survey import Leg, Survey, walked_length

ASIDE = 10.0  # m beyond the edge, where people walk from field to field


@dataclass
class Path:
    """One set on a grid of seconds; times name the middle of each second."""

    t: np.ndarray
    field: np.ndarray  # index
    x: np.ndarray
    y: np.ndarray
    heading: np.ndarray  # degrees, of the person
    moving: np.ndarray  # bool
    leg: np.ndarray  # index into the set's legs, -1 between them
    pole: np.ndarray  # degrees, direction from the person to the instrument
    east: np.ndarray
    north: np.ndarray

    def on_field(self, fields: list[Field]) -> np.ndarray:
        """Return whether the set is within the field's own edges."""
        wide = np.array([ground.width for ground in fields])[self.field]
        return np.abs(self.y) < 0.5 * wide


def trace(scene: Scene, survey: Survey, name: str) -> Path:
    """Return the path of one set from the survey's start to its end."""
    t = np.arange(np.floor(survey.start), np.ceil(survey.end)) + 0.5
    n = len(t)
    legs = survey.of(name)
    path = Path(
        t,
        np.zeros(n, int),
        *(np.zeros(n) for _ in range(3)),
        np.zeros(n, bool),
        np.full(n, -1),
        np.zeros(n),
        np.zeros(n),
        np.zeros(n),
    )
    for number, leg in enumerate(legs):
        inside = slice(*np.searchsorted(t, [leg.start, leg.end]))
        walk_leg(path, inside, leg, scene.fields[leg.field])
        path.leg[inside] = number
    fill_between(path, legs, scene)
    hold_pole(path, survey.carriers[name], scene.sky.incoming(0, t, 0.0).sun)
    for index, ground in enumerate(scene.fields):
        here = path.field == index
        path.east[here], path.north[here] = ground.place(path.x[here], path.y[here])
    return path


def hold_pole(path: Path, carrier: Carrier, sun: np.ndarray) -> None:
    """Set the direction of the pole: the person's own side, or for careful people the side nearest to the
    sun."""
    path.pole[:] = path.heading + carrier.side
    if not carrier.careful:
        return
    toward = np.degrees(np.arctan2(sun[0], sun[1]))
    for number in range(path.leg.max() + 1):
        inside = path.leg == number
        if not inside.any():
            continue
        turn = (toward[inside][0] - path.heading[inside].mean() + 180.0) % 360.0 - 180.0
        sides = np.array([0.0, 90.0, -90.0])
        gaps = np.abs((turn - sides + 180.0) % 360.0 - 180.0)
        path.pole[inside] = path.heading[inside] + sides[int(np.argmin(gaps))]


def walk_leg(path: Path, inside: slice, leg: Leg, ground: Field) -> None:
    """Fill one leg: even pace, stops, a path that is not quite straight."""
    t = path.t[inside]
    path.field[inside] = leg.field
    path.y[inside] = leg.y
    if leg.direction == 0:
        path.x[inside] = leg.x
        path.heading[inside] = leg.face or 0.0
        return
    moving = np.ones(len(t), bool)
    for at, pause in leg.stops:
        moving &= ~((t >= at) & (t < at + pause))
    done = np.cumsum(moving) / max(moving.sum(), 1)
    path.x[inside] = leg.direction * (done - 0.5) * walked_length(ground)
    weave = 4.0 * np.sin(2 * np.pi * (t - leg.start) / 17.0 + leg.visit) * moving
    path.heading[inside] = ground.heading + (180.0 if leg.direction < 0 else 0.0) + weave
    path.moving[inside] = moving


def fill_between(path: Path, legs: list[Leg], scene: Scene) -> None:
    """Fill the time before, between and after the legs: turns in the field, ways beside the fields."""
    for number in range(len(legs) + 1):
        before = legs[number - 1] if number > 0 else legs[0]
        after = legs[number] if number < len(legs) else legs[-1]
        low = before.end if number > 0 else -np.inf
        high = after.start if number < len(legs) else np.inf
        gap = slice(*np.searchsorted(path.t, [low, high]))
        t = path.t[gap]
        if len(t) == 0:
            continue
        same_visit = before.visit == after.visit and 0 < number < len(legs)
        half = 0.5 * (low + high) if np.isfinite(low + high) else (np.inf if np.isfinite(low) else -np.inf)
        late = t > half
        path.field[gap] = np.where(late, after.field, before.field)
        path.x[gap] = np.where(late, end_of(after, scene, False), end_of(before, scene, True))
        path.y[gap] = np.where(late, after.y, before.y)
        turn = np.linspace(0.0, 1.0, len(t))
        first, second = (course(leg, scene.fields[leg.field]) for leg in (before, after))
        path.heading[gap] = first + turn * ((second - first + 180.0) % 360.0 - 180.0)
        if not same_visit:
            aside = (t - low > 8.0) & (high - t > 8.0)
            wide = np.array([ground.width for ground in scene.fields])[path.field[gap]]
            path.y[gap] = np.where(aside, 0.5 * wide + ASIDE, path.y[gap])
            path.moving[gap] = aside


def end_of(leg: Leg, scene: Scene, last: bool) -> float:
    """Return x at the first or last moment of a leg."""
    sign = 1.0 if last else -1.0
    return (
        leg.x if leg.direction == 0 else sign * leg.direction * 0.5 * walked_length(scene.fields[leg.field])
    )


def course(leg: Leg, ground: Field) -> float:
    """Return the direction in which a person looks during a leg, degrees."""
    if leg.direction == 0:
        return leg.face or 0.0
    return ground.heading + (180.0 if leg.direction < 0 else 0.0)
