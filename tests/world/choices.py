"""What can be chosen about a day; everything that is not chosen is drawn."""

from dataclasses import dataclass, field, fields

import numpy as np
import pandas as pd

from .clouds import KINDS
from .materials import CLASSES
from .seeds import stream
from .sun import Site, sun_vector

ORDERS = ("once", "a_then_b", "a_b_a", "rounds", "two_at_a_time")
SEASONS = ("spring", "summer", "autumn", "winter")
LOGGERS = ("comma-clock", "semicolon-day", "inline")
PLACES = (  # invented names; the zones are real so that local times can be read
    ("Linden slope", 46.4, 7.6, 540.0, "Europe/Zurich"),
    ("Kestrel field station", 52.6, 10.1, 80.0, "Europe/Berlin"),
    ("Stone pine terrace", 39.4, -7.9, 220.0, "Europe/Lisbon"),
    ("Birch landing", 60.2, 16.4, 60.0, "Europe/Stockholm"),
    ("Two rivers plot", 40.6, -105.2, 1550.0, "America/Denver"),
    ("Red gum paddock", -36.4, 145.2, 130.0, "Australia/Melbourne"),
    ("Tussock flat", -43.6, 171.9, 320.0, "Pacific/Auckland"),
    ("Marula veld", -25.9, 28.4, 1400.0, "Africa/Johannesburg"),
    ("Terrace above the bay", 35.2, 136.6, 30.0, "Asia/Tokyo"),
    ("Coigue clearing", -39.8, -73.1, 90.0, "America/Santiago"),
)


@dataclass(frozen=True)
class Choices:
    """Choices of one day; None is drawn."""

    order: str | None = None  # one of ORDERS
    heads: str | None = None  # A, B, C or unknown
    sky: str | None = None  # one of KINDS
    season: str | None = None
    latitude: float | None = None
    hemisphere: str | None = None  # north or south
    fields: int | tuple | list | None = None  # how many, or their surface classes
    sets: int | None = None  # 1 or 2
    identical: bool = False  # the first two fields have the same ground
    difference: float | dict | None = (
        None  # of the second field from the first: W m-2 of net radiation, or properties
    )
    logger: str | None = None  # one of LOGGERS
    sound: bool = True  # False leaves room for slips beyond the normal ones; see README
    side_by_side: bool | None = None
    night: bool = False
    start_hour: float | None = None  # local, of the first visit
    rounds: int | None = None
    rounding: str | None = None  # second, minute or five
    station: bool | None = None
    continuous: bool | None = None  # loggers run through, or are switched by hand
    monitor: bool | None = None  # the second set stands and watches the sky
    extra: dict = field(default_factory=dict)


def read_choices(given: dict) -> Choices:
    """Return the choices, or a plain error about a name that is not known."""
    known = {item.name for item in fields(Choices)}
    unknown = set(given) - known
    if unknown:
        raise ValueError(f"unknown choice {sorted(unknown)}; known are {sorted(known)}")
    choices = Choices(**given)
    checks = (("order", ORDERS), ("sky", KINDS), ("season", SEASONS), ("logger", LOGGERS))
    for name, allowed in (*checks, ("heads", ("A", "B", "C", "unknown"))):
        value = getattr(choices, name)
        if value is not None and value not in allowed:
            raise ValueError(f"{name}: {value!r} is not one of {allowed}")
    return choices


def draw_site(seed: int, choices: Choices) -> tuple[Site, str, float]:
    """Return the site with its date, the local season and the standard offset in hours."""
    rng = stream(seed, "site")
    wanted = choices.hemisphere
    if choices.latitude is not None:
        wanted = "south" if choices.latitude < 0 else "north"
    places = [p for p in PLACES if wanted is None or (p[1] < 0) == (wanted == "south")]
    name, latitude, longitude, elevation, zone = places[int(rng.integers(len(places)))]
    latitude += float(rng.uniform(-1.5, 1.5))
    if choices.latitude is not None:
        latitude = choices.latitude
    southern = latitude < 0
    season = choices.season or str(rng.choice(SEASONS, p=[0.3, 0.4, 0.2, 0.1]))
    first_month = {"spring": 3, "summer": 6, "autumn": 9, "winter": 12}[season]
    month = (first_month + int(rng.integers(3)) - 1 + (6 if southern else 0)) % 12 + 1
    date = pd.Timestamp(year=int(rng.integers(2021, 2027)), month=month, day=int(rng.integers(1, 29)))
    standard = round(
        pd.Timestamp(date.year, 7 if southern else 1, 15, tz=zone).utcoffset().total_seconds() / 3600
    )
    midnight = date.tz_localize("UTC") - pd.Timedelta(hours=standard)
    longitude += float(rng.uniform(-1.0, 1.0))
    site = Site(name, round(latitude, 3), round(longitude, 3), elevation, zone, midnight, southern)
    return site, season, float(standard)


def noon_height(site: Site) -> float:
    """Return the greatest height of the sun on the day, degrees."""
    t = np.arange(0.0, 86400.0, 300.0)
    return float(np.degrees(np.arcsin(sun_vector(site, t)[2].max())))


def mean_warmth(seed: int, site: Site, season: str) -> float:
    """Return the day's mean air temperature, degC: round figures by latitude and season (common practice,
    no source)."""
    rng = stream(seed, "warmth")
    yearly = 27.5 - 0.0062 * abs(site.latitude) ** 2 - 0.005 * site.elevation
    swing = 0.2 * abs(site.latitude)
    part = {"spring": 0.1, "summer": 0.9, "autumn": 0.1, "winter": -0.9}[season]
    return float(yearly + swing * part + rng.normal(0.0, 3.0))


def draw_surfaces(seed: int, choices: Choices, season: str, warmth: float) -> list[str]:
    """Return the surface class of each field."""
    rng = stream(seed, "surfaces")
    if isinstance(choices.fields, list | tuple):
        unknown = [name for name in choices.fields if name not in CLASSES]
        if unknown:
            raise ValueError(f"fields: unknown surface classes {unknown}")
        return list(choices.fields)
    count = choices.fields or int(rng.integers(2, 8))
    if choices.order in ("a_then_b", "a_b_a") and choices.fields is None:
        count = 2
    weights = {
        "short_grass": 5,
        "tall_crop": 4,
        "bare_dry_soil": 3,
        "bare_wet_soil": 2,
        "stubble": 3,
        "paving": 2,
        "gravel": 2,
        "shallow_water": 0.6,
        "deep_water": 0.5,
        "snow": 0.0,
    }
    if season == "winter" and warmth < 2.0:
        weights = {"snow": 4, "short_grass": 2, "bare_wet_soil": 1, "paving": 2, "gravel": 1, "stubble": 2}
    names = list(weights)
    share = np.array([weights[name] for name in names], float)
    return [str(name) for name in rng.choice(names, size=count, p=share / share.sum())]
