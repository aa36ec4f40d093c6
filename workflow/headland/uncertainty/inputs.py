"""What the measurement model works on: the segments with the sun, the air and the carrier around them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.times import since_1970
from headland.physics import geometry, instruments, sun
from headland.physics.constants import RADIATION
from headland.uncertainty.course import CourseSizes

INCOMING = ("sw_in", "lw_in")
"""The incoming terms, which may be another set's: where one stood as sky monitor."""

BODY_FILLS = 0.75
"""Part of the plate, carrier's height times width, that a standing person fills: 0.6 m2 from the front before
1.75 m by 0.45 m (common practice, no source)."""

NIGHT, LONGEST_DAY = 4.0 * 3600.0, 18.0 * 3600.0
"""s: a break that ends a day of work, and the longest one without such a break (common practice, no
source)."""

FASTEST_BODY = 10.0
"""K h-1 beyond which the change of the body temperature counts no further: a head that warms so fast has the
finding `thermal-shock` (common practice, no source)."""

UNDISTURBED = dict.fromkeys(
    (
        "thermal_shock",
        "left_out",
        "left_out_sw_out",
        "left_out_lw_out",
        *(f"{kind}_{channel}" for kind in ("noise", "rate") for channel in RADIATION),
    ),
    0.0,
)
"""What step 6 says of a segment that nothing disturbed, for means from elsewhere."""

LEVEL = 1.0
"""Degrees that a field may fall whose slope nobody noted (common practice, no source)."""

LIT = 20.0
"""W m-2 of SW_in below which the ground is taken as dark (common practice, no source)."""

SHADE_STEP = 5.0
"""Degrees of azimuth between which the shadow's view is interpolated."""

Carrying = Mapping[str, float]
"""How the set is carried: sensor_height, reach, carrier_height, carrier_width (m), walking_speed (m s-1)."""

Surfaces = Mapping[str, Mapping]
"""Properties of each surface class by name, each with value, low and high (surfaces.csv)."""


@dataclass(frozen=True)
class Inputs:
    """What step 8 reads.

    segments: step 6's, with what `prepare` adds. means, balances: steps 6 and 7's tables of `fields` and
    `surfaces`; balances has `visits` as well. certificates: those in force, all sets. surfaces: properties of
    the classes. terms: rows of uncertainty.csv by term. carrying: how the sets were carried. course: sizes of
    the course between visits, by quantity.
    """

    segments: pd.DataFrame
    means: Mapping[str, pd.DataFrame]
    balances: Mapping[str, pd.DataFrame]
    certificates: pd.DataFrame
    surfaces: Surfaces
    terms: Mapping[str, Mapping[str, str]]
    carrying: Carrying
    course: Mapping[str, CourseSizes]


def prepare(
    segments: pd.DataFrame, carrying: Carrying, air_temperature, surfaces: Surfaces, wind_speed=np.nan
) -> pd.DataFrame:
    """Segments with what the model needs beside their means.

    segments: as step 6 leaves them. air_temperature: degC, one a segment; where unknown, the head's own is
    taken. wind_speed: m s-1, NaN where unknown. Adds emissivity, diffuse_fraction, carrier_view, neighbours
    (the share of the downward view beside a strip over that of the strip), air_temperature, window_heating
    (over that in calm air), heading, incoming_heading (degrees), day, and body_rate (K h-1). Where nobody
    walks there is no carrier, and the heading is a constant. What `lie_of` says of the fields comes with it.
    """
    middle = segments["start_utc"] + (segments["end_utc"] - segments["start_utc"]) / 2
    air = np.asarray(air_temperature, dtype=float)
    walks = carrying["walking_speed"] > 0
    return segments.assign(
        emissivity=np.array([_emissivity(surfaces, name) for name in segments["surface"]], dtype=float),
        diffuse_fraction=sun.diffuse_fraction(np.clip(_clearness(segments, middle), 0.0, 1.0)),
        carrier_view=_carrier_view(segments, carrying) if walks else 0.0,
        neighbours=_neighbours(segments),
        air_temperature=np.where(np.isfinite(air), air, segments["body_temperature"].to_numpy(float)),
        window_heating=instruments.heating_in_wind(wind_speed),
        heading=segments["heading"].astype(float) if walks else 0.0,
        incoming_heading=segments["incoming_heading"].astype(float) if walks else 0.0,
        day=day_of(segments),
        body_rate=body_rate(segments, middle),
        **lie_of(segments),
    )


def lie_of(segments: pd.DataFrame) -> dict[str, np.ndarray]:
    """How the field of each segment lies, as far as the notes say.

    slope_east, slope_north: tangents of its slope towards east and north. slope_unknown: degrees that the
    notes leave open; 0 where they have the slope and the way it falls. rows_cos, rows_sin: 0, since nobody
    notes rows.
    """
    empty = pd.Series(np.nan, segments.index)
    slope, aspect = (segments.get(name, empty).to_numpy(float) for name in ("slope", "aspect"))
    noted = np.isfinite(slope) & np.isfinite(aspect)
    steep = np.tan(np.radians(np.where(noted, slope, 0.0)))
    falls = np.radians(np.where(noted, aspect, 0.0))
    return {
        "slope_east": steep * np.sin(falls),
        "slope_north": steep * np.cos(falls),
        "slope_unknown": np.where(noted, 0.0, np.fmax(slope, LEVEL)),
        "rows_cos": np.zeros(len(segments)),
        "rows_sin": np.zeros(len(segments)),
    }


def day_of(segments: pd.DataFrame) -> np.ndarray:
    """The day of each segment, by the date in UTC at which its day of work began.

    Midnight in UTC may fall in the middle of a day of work. So a day ends with a break of `NIGHT` or more;
    only where there is none for `LONGEST_DAY`, as at a station, it ends at midnight.
    """
    start, end = since_1970(segments["start_utc"]), since_1970(segments["end_utc"])
    date = segments["start_utc"].dt.strftime("%Y-%m-%d").to_numpy(object)
    day = date.copy()
    order = np.argsort(start, kind="stable")
    until = np.maximum.accumulate(end[order]) if len(order) else end
    breaks = np.flatnonzero(start[order][1:] - until[:-1] >= NIGHT) + 1
    for places in np.split(order, breaks):
        if len(places) and end[places].max() - start[places].min() <= LONGEST_DAY:
            day[places] = date[places[0]]
    return day


def body_rate(segments: pd.DataFrame, middle: pd.Series) -> np.ndarray:
    """How fast the body temperature of each set changes at its segments, K h-1, from one to the next."""
    rate = np.zeros(len(segments))
    hours = since_1970(middle) / 3600.0
    body = segments["body_temperature"].to_numpy(float)
    owner = (segments["set"] + "/" + middle.dt.strftime("%Y-%m-%d")).to_numpy(str)
    for name in np.unique(owner):
        order = np.argsort(hours, kind="stable")
        known = order[(owner[order] == name) & np.isfinite(body[order])]
        known = known[np.diff(hours[known], prepend=-np.inf) > 0]
        if len(known) > 1:
            rate[known] = np.gradient(body[known], hours[known])
    return np.clip(rate, -FASTEST_BODY, FASTEST_BODY)


def _emissivity(surfaces: Surfaces, name: str) -> float:
    return surfaces[name]["emissivity"]["value"] if name else 1.0


def _clearness(segments: pd.DataFrame, middle: pd.Series) -> np.ndarray:
    """SW_in over what arrives on the level at the top of the atmosphere; 0 with the sun down."""
    up = np.clip(np.sin(np.radians(segments["solar_elevation"].to_numpy(float))), 0.0, None)
    outside = sun.top_of_atmosphere(middle) * up
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(outside > 0, segments["sw_in"].to_numpy(float) / outside, 0.0)


def _heights(segments: pd.DataFrame, carrying: Carrying) -> np.ndarray:
    """Height of the head over what it looks at, m (segments)."""
    above_ground = carrying["sensor_height"]
    height = segments.get("height", pd.Series(above_ground, segments.index)).fillna(above_ground)
    return np.clip(height.to_numpy(float), geometry.SMALLEST_HEIGHT, None)


def _seen_of_carrier(height: np.ndarray, carrying: Carrying) -> geometry.Carrier:
    """The carrier over what the head looks at from a height (m): a canopy hides the legs."""
    return geometry.carrier_of(carrying).over(carrying["sensor_height"] - height)


def _carrier_view(segments: pd.DataFrame, carrying: Carrying) -> np.ndarray:
    """Fraction of the downward view that the carrier's body fills (segments)."""
    height = _heights(segments, carrying)
    return BODY_FILLS * geometry.carrier_view(height, _seen_of_carrier(height, carrying))


def _neighbours(segments: pd.DataFrame) -> np.ndarray:
    """(1 - F) / F with the strip's share F of the downward view (5.5a); 0 where no width is noted."""
    if "width" not in segments or "height" not in segments:
        return np.zeros(len(segments))
    width, height = (segments[name].to_numpy(float) for name in ("width", "height"))
    strip = (width > 0) & (height > 0)
    inside = geometry.view_within_strip(np.where(strip, width, 1.0) / 2.0, np.where(strip, height, 1.0))
    return np.where(strip, (1.0 - inside) / inside, 0.0)


def reflected_share(segments: pd.DataFrame) -> np.ndarray:
    """SW_out over SW_in of each segment as read; NaN in the dark, with SW_in under `LIT`."""
    sw_in, sw_out = (segments[name].to_numpy(float) for name in ("sw_in", "sw_out"))
    lit = sw_in > LIT
    return np.where(lit, sw_out / np.where(lit, sw_in, 1.0), np.nan)


def no_shade(phi: np.ndarray) -> np.ndarray:
    """The shadow's view where nobody carries the set."""
    return np.zeros_like(phi)


def shade_of(segments: pd.DataFrame, carrying: Carrying) -> Callable[[np.ndarray], np.ndarray]:
    """The fraction of the downward view that the carrier's shadow fills, as a function.

    The function takes phi, the sun's azimuth minus the heading in degrees, and returns the fraction, both
    (draws x segments). It is computed every 5 degrees and interpolated, since an unknown heading is drawn.
    """
    if not carrying["walking_speed"] > 0 or not carrying["reach"] > 0:
        return no_shade
    nodes = np.arange(-180.0, 181.0, SHADE_STEP)
    elevation = segments["solar_elevation"].fillna(0.0).to_numpy(float)
    height = _heights(segments, carrying)[:, None]
    carrier = _seen_of_carrier(height, carrying)
    table = geometry.shadow_view(nodes[None, :], elevation[:, None], height, carrier)
    rows = np.arange(len(elevation))

    def view(phi: np.ndarray) -> np.ndarray:
        place = (phi + 180.0) % 360.0 / SHADE_STEP
        left = np.minimum(place.astype(int), len(nodes) - 2)
        at_left, at_right = table[rows, left], table[rows, left + 1]
        return at_left + (place - left) * (at_right - at_left)

    return view
