"""People: how they walk, hold the heads, read their watches and write notes. All sizes are in README.md."""

from dataclasses import dataclass

import numpy as np

from .seeds import log_uniform, stream

ROUNDINGS = {"second": 1, "minute": 60, "five": 300}
TITLES = (
    "Spring practical",
    "Course day",
    "Round of fields",
    "Radiation walk",
    "Field exercise",
    "Survey day",
)
SET_NAMES = ("dunlin", "godwit", "ruff", "teal", "wigeon", "pipit", "siskin", "brambling", "merlin", "dipper")


@dataclass(frozen=True)
class Carrier:
    """One person with one set."""

    height: float  # m
    shoulder: float  # m, width of the trunk
    head_height: float  # m, of the instrument
    reach: float  # m, from the person to the instrument
    side: float  # degrees from the walking direction to the pole: 0 ahead, 90 to the right
    careful: bool  # holds the pole ahead, left or right, whichever is nearest to the sun
    speed: float  # m s-1
    lean: tuple[float, float]  # degrees forward and right, the person's own
    lean_spread: float  # degrees, from pass to pass
    swing: float  # degrees, root mean square while walking
    stride: float  # Hz
    clothes_albedo: float
    clothes_warmth: float  # K over the air in sun
    cap: float  # m, width of the head and hat
    dims: float  # share by which the pole and arm darken the lower view


@dataclass(frozen=True)
class Habits:
    """How notes of a campaign are written."""

    rounding: str
    watch: float  # s, watch minus true time
    reference_is_watch: bool  # clock checks read against the watch, not against a telephone
    timezone_is_local: bool
    notes_heading: bool
    heading_off: float  # degrees, of the campaign's compass
    late: float  # s, typical delay between the noted and the real start
    per_visit: bool  # one row a visit instead of one row a pass


def draw_carrier(seed: int, name: str) -> Carrier:
    """Draw the person who carries a set."""
    rng = stream(seed, "carrier", name)
    return Carrier(
        height=float(rng.normal(1.74, 0.09)),
        shoulder=float(rng.uniform(0.38, 0.52)),
        head_height=float(rng.uniform(1.2, 2.0)),
        reach=float(rng.uniform(1.0, 1.7)),
        side=float(rng.choice([0.0, 90.0, 45.0], p=[0.5, 0.3, 0.2])),
        careful=bool(rng.uniform() < 0.7),
        speed=float(rng.uniform(0.6, 1.1)),
        lean=(float(rng.normal(0.0, 1.0)), float(rng.normal(0.0, 0.8))),
        lean_spread=float(rng.uniform(0.2, 0.7)),
        swing=float(log_uniform(rng, 0.5, 2.5)),
        stride=float(rng.uniform(0.75, 1.05)),
        clothes_albedo=float(rng.uniform(0.1, 0.5)),
        clothes_warmth=float(rng.uniform(3.0, 9.0)),
        cap=float(rng.uniform(0.18, 0.35)),
        dims=float(rng.uniform(0.001, 0.006)),
    )


def draw_habits(seed: int, rounding: str | None) -> Habits:
    """Draw the habits of a campaign."""
    rng = stream(seed, "habits")
    drawn = str(rng.choice(list(ROUNDINGS), p=[0.45, 0.4, 0.15]))
    rounding = rounding or drawn
    # Whoever notes whole minutes seldom notes each pass of a minute or two.
    per_visit = bool(rng.uniform() < {"second": 0.3, "minute": 0.8, "five": 1.0}[rounding])
    off = 20.0 * float(rng.choice([-1.0, 1.0])) if rng.uniform() < 0.15 else float(rng.normal(0.0, 4.0))
    return Habits(
        rounding=rounding,
        watch=float(np.clip(rng.normal(0.0, 20.0), -60.0, 60.0)),
        reference_is_watch=bool(rng.uniform() < 0.7),
        timezone_is_local=bool(rng.uniform() < 0.8),
        notes_heading=bool(rng.uniform() < 0.9),
        heading_off=off,
        late=float(rng.uniform(0.0, 12.0)),
        per_visit=per_visit,
    )


def draw_set_names(seed: int, count: int) -> list[str]:
    """Return names of the sets."""
    return [str(name) for name in stream(seed, "set names").choice(SET_NAMES, size=count, replace=False)]
