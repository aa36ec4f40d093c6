"""What a GPS that went along would have logged, and outlines of the fields: files beside a campaign, with
known places.

East and north become longitude and latitude through earth-centred axes, so nothing here shares a formula with
the workflow.
"""

from __future__ import annotations

import datetime as dt
import json
from zoneinfo import ZoneInfo

import numpy as np

from .campaign import Campaign
from .spec import Field
from .stays import Stay, stay_of

MARGIN, SIDE, APART = (
    14.0,
    24.0,
    260.0,
)  # m: outline beyond a transect's ends and to its sides; from field to field
A, B = 6378137.0, 6356752.314245  # m, half axes of WGS 84


def degrees(
    east: np.ndarray, north: np.ndarray, latitude: float, longitude: float
) -> tuple[np.ndarray, np.ndarray]:
    """Longitude and latitude of points on the plane that touches the ellipsoid at a place; by iteration."""
    lat, lon, e2 = np.radians(latitude), np.radians(longitude), 1 - (B / A) ** 2
    radius = A**2 / np.sqrt((A * np.cos(lat)) ** 2 + (B * np.sin(lat)) ** 2)
    x = radius * np.cos(lat) * np.cos(lon) - np.sin(lon) * east - np.sin(lat) * np.cos(lon) * north
    y = radius * np.cos(lat) * np.sin(lon) + np.cos(lon) * east - np.sin(lat) * np.sin(lon) * north
    z = radius * (1 - e2) * np.sin(lat) + np.cos(lat) * north
    axis, up = np.hypot(x, y), np.arctan2(z, np.hypot(x, y))
    for _ in range(6):
        up = np.arctan2(
            z + e2 * A**2 / np.sqrt((A * np.cos(up)) ** 2 + (B * np.sin(up)) ** 2) * np.sin(up), axis
        )
    return np.degrees(np.arctan2(y, x)), np.degrees(up)


def on_ground(
    fields: tuple[Field, ...], field: Field, along: np.ndarray, across: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """East and north of points of a field, m; the fields lie in a row."""
    turn = np.radians(field.heading)
    return APART * fields.index(field) + along * np.sin(turn) + across * np.cos(turn), along * np.cos(
        turn
    ) - across * np.sin(turn)


def outlines(campaign: Campaign, naming: str = "field", rename: dict[str, str] | None = None) -> bytes:
    """fields.geojson: a rectangle about the transects of each field. rename: fields whose outline bears
    another one's name.
    """
    spec, features, rename = campaign.spec, [], rename or {}
    for f in spec.fields:
        along = np.array([-MARGIN, f.length + MARGIN, f.length + MARGIN, -MARGIN, -MARGIN])
        across = np.array([-SIDE, -SIDE, SIDE + 16, SIDE + 16, -SIDE])
        lon, lat = degrees(*on_ground(spec.fields, f, along, across), spec.site.latitude, spec.site.longitude)
        features.append(
            {
                "type": "Feature",
                "properties": {naming: rename.get(f.name, f.name)},
                "geometry": {
                    "type": "Polygon",
                    "coordinates": [
                        [[round(float(a), 8), round(float(b), 8)] for a, b in zip(lon, lat, strict=False)]
                    ],
                },
            }
        )
    return json.dumps({"type": "FeatureCollection", "features": features}, indent=1).encode()


def stays(campaign: Campaign, set_name: str) -> list[Stay]:
    spec = campaign.spec
    start = (
        dt.datetime.strptime(spec.start, "%Y-%m-%d %H:%M:%S")
        .replace(tzinfo=ZoneInfo(spec.site.timezone), fold=spec.fold)
        .timestamp()
    )
    known = {f.name: f for f in spec.fields}
    every = [stay_of(v, known, start, spec) for v in spec.visits]
    return sorted((s for s in every if s.visit.set == set_name and s.field), key=lambda s: s.start)


def wandering(rng: np.random.Generator, n: int, step: float, size: float, memory: float = 60.0) -> np.ndarray:
    """The error of a hand-held receiver, m: a first-order process.

    size: its standard deviation, m. memory: its time constant, s.
    """
    keep = np.exp(-step / memory)
    steps, out = rng.standard_normal(n), np.empty(n)
    out[0] = steps[0]
    for i in range(1, n):
        out[i] = keep * out[i - 1] + np.sqrt(1 - keep**2) * steps[i]
    return size * out


def walked(campaign: Campaign, set_name: str, step: float = 1.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where a set truly was: s since 1970, east, north (m), from its first visit to its last."""
    times, east, north = [], [], []
    for stay in stays(campaign, set_name):
        time = np.arange(stay.start, stay.end, step)
        along = stay.walked(time)
        along = stay.field.length - along if stay.visit.backwards else along
        x, y = on_ground(
            campaign.spec.fields, stay.field, along, np.full(time.shape, (stay.visit.transect - 1) * 8.0)
        )
        times, east, north = [*times, time], [*east, x], [*north, y]
    t, x, y = map(np.concatenate, (times, east, north))
    whole = np.arange(t[0], t[-1] + step / 2, step)
    return whole, np.interp(whole, t, x), np.interp(whole, t, y)


def gpx(campaign: Campaign, set_name: str, error: float = 3.0, step: float = 2.0) -> bytes:
    """track_SET.gpx with an error of so many metres in each direction."""
    rng = np.random.default_rng([campaign.spec.seed, 77, *set_name.encode()])
    time, x, y = walked(campaign, set_name, step)
    lon, lat = degrees(
        x + wandering(rng, len(x), step, error),
        y + wandering(rng, len(y), step, error),
        campaign.spec.site.latitude,
        campaign.spec.site.longitude,
    )
    rows = [
        f'<trkpt lat="{b:.8f}" lon="{a:.8f}">'
        f"<time>{dt.datetime.fromtimestamp(float(t), dt.UTC):%Y-%m-%dT%H:%M:%S}Z</time></trkpt>"
        for t, a, b in zip(np.round(time), lon, lat, strict=False)
    ]
    head = (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="invented">\n<trk><trkseg>\n'
    )
    return (head + "\n".join(rows) + "\n</trkseg></trk>\n</gpx>\n").encode()


def write(campaign: Campaign, folder, error: float = 3.0) -> None:
    """The campaign with its outlines and a track of each set."""
    campaign.write(folder)
    (folder / "fields.geojson").write_bytes(outlines(campaign))
    for s in campaign.spec.sets:
        (folder / f"track_{s.name}.gpx").write_bytes(gpx(campaign, s.name, error))
