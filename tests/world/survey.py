"""The walk: which set is where and when, in each order of visits, and the legs that people note."""

from dataclasses import dataclass, field

import numpy as np

from .choices import ORDERS, Choices
from .fields import Field
from .people import Carrier, Habits
from .scene import Scene
from .seeds import stream

LATEST = 85500.0  # s of the day by which campaigns end


@dataclass
class Leg:
    """One walk from end to end, or one stand; true times in s of the day."""

    set: str
    field: int
    start: float
    end: float
    y: float
    direction: int  # 1 along the field's heading, -1 back, 0 stands
    activity: str
    transect: int
    number: int  # of the pass
    visit: int
    stops: list[tuple[float, float]] = field(default_factory=list)  # start, seconds
    x: float = 0.0  # of a stand
    face: float | None = None  # degrees, of a stand


@dataclass
class Survey:
    """All legs of the day."""

    order: str
    sets: list[str]
    carriers: dict[str, Carrier]
    habits: Habits
    legs: list[Leg]
    side_by_side: bool
    monitor: bool
    continuous: dict[str, bool]
    start: float
    end: float

    def of(self, name: str) -> list[Leg]:
        """Return the legs of one set in time order."""
        return sorted((leg for leg in self.legs if leg.set == name), key=lambda leg: leg.start)


def sequence(order: str, count: int, rounds: int) -> list[int]:
    """Return the fields in the order in which the first set visits them."""
    every = list(range(count))
    if order in ("once", "two_at_a_time"):
        return every
    if order == "a_then_b":
        return [0, 1] + every[2:]
    if order == "a_b_a":
        return [0, 1, 0] + [index for index in every[2:] for _ in (0,)]
    return every * rounds


class Walker:
    """Lays legs of one set one after the other."""

    def __init__(self, scene: Scene, name: str, carrier: Carrier, rng: np.random.Generator):
        self.scene, self.name, self.carrier, self.rng = scene, name, carrier, rng
        self.legs: list[Leg] = []
        self.visits = 0

    def visit(self, index: int, start: float, *, passes: int, part: int, parts: int) -> float:
        """Walk passes over a field from a start; return the end."""
        ground = self.scene.fields[index]
        y = transect_offset(self.rng, ground, part, parts)
        t = start
        direction = 1 if self.rng.uniform() < 0.5 else -1
        for number in range(1, passes + 1):
            walked = walked_length(ground)
            seconds = walked / self.carrier.speed
            stops = []
            if self.rng.uniform() < 0.12:
                stops.append((t + self.rng.uniform(0.2, 0.8) * seconds, float(self.rng.uniform(8.0, 40.0))))
            end = t + seconds + sum(pause for _, pause in stops)
            self.legs.append(
                Leg(self.name, index, t, end, y, direction, "walk", part + 1, number, self.visits, stops)
            )
            direction = -direction
            t = end + self.rng.uniform(8.0, 40.0)
        self.visits += 1
        return self.legs[-1].end

    def stand(self, index: int, start: float, seconds: float, *, activity: str, y: float) -> float:
        """Stand in the middle of a field; return the end."""
        leg = Leg(self.name, index, start, start + seconds, y, 0, activity, 1, 1, self.visits)
        leg.face = float(self.rng.choice([180.0, 0.0]) + self.rng.normal(0.0, 15.0))
        self.legs.append(leg)
        self.visits += 1
        return leg.end

    def way(self, first: int, second: int) -> float:
        """Return the seconds from one field to another."""
        one, two = self.scene.fields[first], self.scene.fields[second]
        distance = np.hypot(one.east - two.east, one.north - two.north)
        return float(distance / self.rng.uniform(1.0, 1.4) + self.rng.uniform(40.0, 200.0))


def walked_length(ground: Field) -> float:
    """Return the length that is walked: a few metres short of both ends."""
    return ground.length - 2.0 * min(4.0, 0.08 * ground.length)


def transect_offset(rng: np.random.Generator, ground: Field, part: int, parts: int) -> float:
    """Return the place of a transect across the field; two sets side by side share the width."""
    free = max(0.5 * ground.width - 3.0, 0.1 * ground.width)
    middle = 0.0 if parts == 1 else (part - 0.5) * min(free, 12.0)
    return float(np.clip(middle + rng.normal(0.0, 0.15) * free, -free, free))


def passes_for(ground: Field, speed: float, wanted: float, even: bool) -> int:
    """Return how many passes fill the wanted seconds."""
    one = walked_length(ground) / speed + 20.0
    count = int(np.clip(round(wanted / one), 2, 8))
    return count + count % 2 if even else count


def start_of_day(seed: int, scene: Scene, choices: Choices) -> float:
    """Return the start in seconds of the day: with the sun well up, or at night when asked."""
    rng = stream(seed, "start")
    if choices.start_hour is not None:
        return float(choices.start_hour) * 3600.0
    if choices.night:
        return float(rng.uniform(0.5, 2.0) * 3600.0)
    height = np.degrees(np.arcsin(scene.incoming[0].sun[2]))
    up = np.flatnonzero(height > min(18.0, 0.6 * height.max())) * 10.0
    if len(up) == 0:
        return 10.0 * 3600.0
    return float(up[0] + rng.uniform(0.0, 0.55) * (up[-1] - up[0]))


def draw_survey(
    seed: int,
    scene: Scene,
    choices: Choices,
    *,
    sets: list[str],
    carriers: dict[str, Carrier],
    habits: Habits,
) -> Survey:
    """Draw the day's walks."""
    rng = stream(seed, "survey")
    count = len(scene.fields)
    drawn = str(rng.choice(ORDERS, p=[0.25, 0.15, 0.15, 0.25, 0.20]))
    order = choices.order or drawn
    if order == "two_at_a_time" and len(sets) == 1:
        order = "once"
    side = bool(rng.uniform() < 0.5) if choices.side_by_side is None else choices.side_by_side
    monitor = bool(rng.uniform() < 0.08) if choices.monitor is None else choices.monitor
    side, monitor = side and len(sets) == 2, monitor and len(sets) == 2 and order != "two_at_a_time"
    rounds = choices.rounds or int(rng.choice([2, 3, 4], p=[0.6, 0.3, 0.1]))
    visits = sequence(order, count, rounds)
    wanted = {"second": 240.0, "minute": 330.0, "five": 660.0}[habits.rounding] * rng.uniform(0.8, 1.3)
    walkers = [Walker(scene, name, carriers[name], stream(seed, "walker", name)) for name in sets]
    begin = start_of_day(seed, scene, choices)
    t = begin + 180.0
    if side:
        t = lay_side_by_side(scene, walkers, visits[0], t, float(rng.uniform(240.0, 420.0)))
    together = order != "two_at_a_time"
    lay_visits(walkers[:1] if monitor else walkers, visits, t, wanted=wanted, together=together)
    if monitor:
        last = max(leg.end for leg in walkers[0].legs)
        walkers[1].stand(visits[0], t, last - t, activity="sky_monitor", y=0.0)
    legs = [leg for walker in walkers for leg in walker.legs]
    end = max(leg.end for leg in legs)
    if end > LATEST:
        shift = end - LATEST
        begin, end = begin - shift, end - shift
        for leg in legs:
            move(leg, -shift)
    continuous = {name: bool(stream(seed, "switch", name).uniform() < 0.6) for name in sets}
    if choices.continuous is not None:
        continuous = dict.fromkeys(sets, choices.continuous)
    return Survey(order, sets, carriers, habits, legs, side, monitor, continuous, begin, end + 120.0)


def move(leg: Leg, seconds: float) -> None:
    """Move a leg in time."""
    leg.start, leg.end = leg.start + seconds, leg.end + seconds
    leg.stops = [(at + seconds, pause) for at, pause in leg.stops]


def lay_side_by_side(scene: Scene, walkers: list[Walker], index: int, start: float, seconds: float) -> float:
    """Let all sets stand over one surface, 1.2 to 2.5 m apart; return the time at which they go on."""
    gap = walkers[0].rng.uniform(1.2, 2.5)
    face = float(180.0 + walkers[0].rng.normal(0.0, 20.0)) if scene.site.latitude > 0 else 0.0
    for number, walker in enumerate(walkers):
        walker.stand(index, start, seconds, activity="side_by_side", y=(number - 0.5) * gap)
        walker.legs[-1].face = face
    return start + seconds + 120.0


def lay_visits(
    walkers: list[Walker], visits: list[int], start: float, *, wanted: float, together: bool
) -> None:
    """Lay all visits: sets together in each field, or each at another field at the same time."""
    t = start
    previous: dict[str, int] = {}
    half = max(len(set(visits)) // 2, 1)
    every = sorted(set(visits))
    for index in visits:
        ends = []
        for number, walker in enumerate(walkers):
            here = index if together else every[(every.index(index) + number * half) % len(every)]
            ready = t
            if walker.name in previous and previous[walker.name] != here:
                ready = t + walker.way(previous[walker.name], here)
            elif walker.name in previous:
                ready = t + 60.0
            parts = len(walkers) if together else 1
            ground = walker.scene.fields[here]
            passes = passes_for(ground, walker.carrier.speed, wanted, even=parts == 1)
            ready += number * walker.rng.uniform(5.0, 30.0)
            ends.append(walker.visit(here, ready, passes=passes, part=number if together else 0, parts=parts))
            previous[walker.name] = here
        t = max(ends)
