"""What a simulated campaign is made of: plain descriptions, nothing computed.

Lengths in m, times in s, angles in degrees, temperatures in degC, fluxes in W m-2. Moments are seconds after
`Spec.start`.
"""

from __future__ import annotations

import copy
import dataclasses
import zlib
from dataclasses import dataclass
from dataclasses import field as default
from pathlib import Path

import numpy as np
import yaml

from .classes import GROUNDS

CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out")
LAYOUTS = Path(__file__).resolve().parents[2] / "config" / "layouts"


@dataclass(frozen=True)
class Site:
    name: str = "Aldermead practice ground"
    latitude: float = 45.93
    longitude: float = 14.87
    elevation: float = 310.0
    timezone: str = "Europe/Ljubljana"


@dataclass(frozen=True)
class Sky:
    """Sky and air of the whole campaign.

    `kind` is clear, broken or overcast. Clouds of a broken sky cover the sun for `cloud_share` of the time,
    each for `cloud_length` s on average, let a fraction between the two of `beam_through` pass, and have
    edges of `edge` s.
    """

    kind: str = "clear"
    transmittance: float = 0.75  # of the beam, for one atmosphere overhead
    cloud_share: float = 0.35
    cloud_length: float = 120.0
    beam_through: tuple[float, float] = (0.05, 0.4)
    edge: float = 4.0
    flicker: float = 1.0  # size of fast changes within clouds; 0: none
    air_temperature: float = 20.0  # mean of the day
    air_amplitude: float = 6.0
    vapour_pressure: float = 13.0  # hPa
    wind_speed: float = 2.4  # m s-1


@dataclass(frozen=True)
class Field:
    """A field and its ground.

    The surface is `warming` K above its night value per W m-2 of absorbed sun, after `lag` s.
    """

    name: str
    surface: str
    length: float = 90.0
    heading: float = 90.0  # of the transects, from their start
    albedo: float = 0.20
    emissivity: float = 0.97
    warming: float = 0.012  # K per W m-2
    lag: float = 600.0  # s
    night_offset: float = -2.0  # K, surface minus air without sun
    albedo_slope: float = 0.0  # per degree of solar zenith, from 40 degrees
    canopy_height: float = 0.0
    patch_albedo: float = 0.0  # standard deviation of the ground's albedo
    patch_temperature: float = 0.0  # standard deviation of its temperature under a high sun, K
    patch_size: float = 3.0  # correlation length of both; 0: white ground
    surround_albedo: float | None = None  # of what lies beyond the two ends; None: the same ground goes on
    surround_warmer: float = 0.0  # K
    sky_lag: float = 0.0  # s by which clouds reach this field later than the first
    ground_fraction: float | None = None  # of net radiation, into the ground
    evaporative_fraction: float | None = None  # of what is left


@dataclass(frozen=True)
class Certificate:
    date: str  # YYYY-MM-DD
    factor: float
    unit: str = "uV per W m-2"  # or "W m-2 per mV"
    expanded_uncertainty_percent: float | None = None


@dataclass(frozen=True)
class Sensor:
    sensor_id: str
    certificates: tuple[Certificate, ...]
    programmed_factor: float | None = None  # in the unit of the certificates; None: the one in force
    response_time_95: float | None = 12.0
    instrument_class: str = "B"


@dataclass(frozen=True)
class Set:
    """A set of sensors with its logger. `unit` and `body_unit` override what the layout says; the layout is
    then written into campaign.yaml. `clock_error` is logger minus true time at the start of the campaign.
    """

    name: str
    logger_id: str
    sensors: dict[str, Sensor]
    utc_offset: str = "+01:00"
    interval: float = 1.0
    layout: str | dict = "comma-clock"
    unit: str | None = None
    body_unit: str | None = None
    body_thermometers: int = 1
    longwave: str = "net"
    clock_error: float = 0.0
    clock_drift: float = 0.0  # s per day
    digits: int | None = None  # decimals of the radiation channels as stored; None: as many as a float has
    body_digits: int | None = None
    split: str = "one"  # one file | day | run
    whole_second_stamps: bool = False  # the logger cuts the fraction of its stamps off
    warm_start: float = 0.0  # K by which the body is warmer at first, fading within 10 min


@dataclass(frozen=True)
class Visit:
    """One line of the notes. `at` s after the campaign's start. A walk lasts length / speed plus its pauses,
    unless `lasts` says otherwise; pauses are (s after `at`, s): the carrier stands and the storage is off.
    """

    set: str
    at: float
    field: str = ""
    activity: str = "walk"
    lasts: float | None = None
    speed: float | None = None  # m s-1; None: the campaign's
    backwards: bool = False  # from the far end, heading turned round
    heading: float | None = None  # of one who stands; None: the field's
    transect: int = 1
    pass_number: int = 1
    pauses: tuple[tuple[float, float], ...] = ()
    before: float = 4.0  # s that the storage is on before and after the noted interval
    after: float = 3.0
    position: float | None = None  # of one who stands; None: the middle
    store: bool = True  # False: noted, not stored
    note: bool = True  # False: stored, not noted
    heading_noted: bool = True
    remark: str = ""


@dataclass(frozen=True)
class Carrying:
    sensor_height: float = 1.5
    reach: float = 1.2
    carrier_height: float = 1.8
    carrier_width: float = 0.5
    walking_speed: float = 0.8


@dataclass(frozen=True)
class Errors:
    """Sizes of what instruments and people get wrong. Pairs are (shortwave, longwave). 0, or False, switches
    one off.

    The defaults are the sizes of section 8 of the methods page.
    """

    factor: float = 1.0  # times the certificate's own uncertainty
    factor_shared: float = 0.2  # share of its variance that all sensors of a band have in common
    # %, shared and own, of a sensor without a certificate's figure
    factor_default: tuple[tuple[float, float], tuple[float, float]] = ((0.7, 1.5), (1.5, 2.5))
    drift: tuple[float, float] = (3.0, 1.0)  # % a year, half-width
    temperature: tuple[float, float] = (2.0, 3.0)  # % at 25 K from the calibration's 20 degC, half-width
    directional: float = 1.0  # times 10, 20, 30 W m-2 (classes A, B, C), half-width
    directional_shape: str = "smooth"  # | "ripple": another shape, for stress
    levelling: float = 1.0  # degrees
    zero: float = 1.0  # W m-2
    body: float = 0.2  # K
    body_gradient: float = 0.3  # K, half-width
    cooling: float = 0.08  # largest share of the net longwave that the upper shortwave head loses
    window: float = 0.012  # largest share of the sun that the longwave heads gain
    carrier: bool = True  # own shade and own body in the downward view
    swing: float = 1.5  # amplitude in degrees, at about 1 Hz
    response: bool = True  # first-order response of the sensors
    noise: float = 0.1  # W m-2 a sample
    noise_memory: float = 0.0  # s over which the noise remembers itself; 0: white
    by_class: bool = (
        False  # shortwave heads err up to the limits of their class instead (`instruments.LIMITS`)
    )
    clock_reading: bool = True  # a clock that is read shows its last whole second

    @classmethod
    def none(cls) -> Errors:
        return cls(
            factor=0,
            drift=(0, 0),
            temperature=(0, 0),
            directional=0,
            levelling=0,
            zero=0,
            body=0,
            body_gradient=0,
            cooling=0,
            window=0,
            carrier=False,
            swing=0,
            response=False,
            noise=0,
        )


@dataclass(frozen=True)
class Spec:
    title: str
    start: str  # local wall time, YYYY-MM-DD HH:MM:SS
    fields: tuple[Field, ...]
    sets: tuple[Set, ...]
    visits: tuple[Visit, ...]
    site: Site = Site()
    sky: Sky = Sky()
    carrying: Carrying = Carrying()
    errors: Errors = Errors()
    seed: int = 1
    notes_timezone: str | None = None  # None: the site's
    notes_shift: float = 0.0  # s that whoever noted was late: campaign.yaml declares minus that
    notes_to_minute: bool = False  # times noted as HH:MM; the visits must then start and end on a minute
    notes_xlsx: bool = False  # the notebook is a workbook: notes.xlsx instead of notes.csv
    fold: int = 0  # which of two equal wall times `start` is
    weather_step: float | None = 600.0  # None: no weather.csv, one value in campaign.yaml
    methods: dict = default(default_factory=dict)
    workflow_seed: int | None = None  # `seed` of campaign.yaml: the workflow's own draws
    declare_emissivity: bool = False  # write the true emissivities into campaign.yaml
    comment: str = ""  # first lines of campaign.yaml
    plan: dict = default(default_factory=dict)  # `plan` of campaign.yaml
    to_plan: tuple[str, ...] = ()  # lines of plan.csv under its names; none: no such file

    def with_(self, **changes) -> Spec:
        """The same campaign with something changed."""
        return dataclasses.replace(self, **changes)


# Typical grounds, chosen from memory to look like a late-summer day. Albedo and emissivity are of the size
# that Oke (1987)
# prints in Tables 1.1 and 8.3, with these outside: water and short grass emit more, as thermal remote sensing
# and
# Brutsaert (1982) have it, and gravel reflects more than the gravel roof printed there.
def field(name: str, surface: str, **changes) -> Field:
    """A field of a class with typical ground, and whatever else is said."""
    return Field(name, surface, **{**GROUNDS[surface], **changes})


def make_set(
    name: str,
    logger_id: str,
    date: str = "2024-10-08",
    *,
    factor_unit: str = "uV per W m-2",
    percent: tuple = (3.0, 5.0),
    **changes,
) -> Set:
    """A set with sensors of one make: responsivities near 15 (shortwave) and 11 (longwave) uV per W m-2, 1 to
    2 % apart.

    The numbers follow from the name alone, so a set keeps its sensors whatever else the campaign holds.
    """
    rng = np.random.default_rng(zlib.crc32(name.encode()))
    sensors = {}
    for band, responsivity, u in (("sw", 14.8, percent[0]), ("lw", 11.2, percent[1])):
        middle, apart = (
            responsivity * (1 + 0.03 * rng.standard_normal()),
            rng.uniform(0.005, 0.01) * rng.choice([-1, 1]),
        )
        for channel, sign in ((f"{band}_in", 1), (f"{band}_out", -1)):
            s = round(float(middle * (1 + sign * apart)), 2)
            factor = s if factor_unit == "uV per W m-2" else round(1000 / s, 2)
            sensors[channel] = Sensor(
                f"{band.upper()}-{rng.integers(1000, 9999)}", (Certificate(date, factor, factor_unit, u),)
            )
    sensors["body_temperature"] = Sensor(
        f"PT-{rng.integers(1000, 9999)}", (), response_time_95=None, instrument_class=""
    )
    return Set(name, logger_id, sensors, **changes)


def walks(
    set: str,
    field: Field,
    at: float,
    passes: int = 2,
    speed: float = 0.8,
    *,
    turn: float = 40.0,
    first: int = 1,
    **changes,
) -> tuple[list[Visit], float]:
    """Passes over one field, there and back in turn; with the moment at which the last one ends."""
    visits = []
    for k in range(passes):
        visits.append(
            Visit(set, at, field.name, speed=speed, backwards=bool(k % 2), pass_number=first + k, **changes)
        )
        at += duration(visits[-1], field, speed) + turn
    return visits, at - turn


def rounds(
    sets: tuple[Set, ...],
    fields: tuple[Field, ...],
    *,
    at: float = 120.0,
    passes: int = 2,
    speed: float = 0.8,
    between: float = 240.0,
    checks: bool = True,
) -> tuple[Visit, ...]:
    """Every set goes round all fields, each from another one on; clocks are read at the start and the end."""
    visits, ends = [], []
    for i, s in enumerate(sets):
        now = at + 15.0 * i
        for k in range(len(fields)):
            some, now = walks(s.name, fields[(i + k) % len(fields)], now, passes, speed, transect=1 + i % 2)
            visits += some
            now += between
        ends.append(now)
    if checks:
        visits += [
            Visit(s.name, t + 5.0 * i, activity="clock_check")
            for i, s in enumerate(sets)
            for t in (0.0, max(ends))
        ]
    return tuple(visits)


def two_sets() -> tuple[Set, ...]:
    return (
        make_set("curlew", "C-11", utc_offset="+01:00", digits=4, body_digits=2, clock_error=2.0),
        make_set(
            "lapwing",
            "L-24",
            layout="semicolon-day",
            utc_offset="+00:00",
            digits=2,
            body_digits=2,
            clock_error=-1.0,
        ),
    )


def duration(visit: Visit, field: Field | None, walking_speed: float) -> float:
    """How long a visit is noted to last, in whole seconds, pauses included."""
    if visit.lasts is not None:
        return visit.lasts
    if visit.activity == "clock_check":
        return 0.0
    if visit.activity != "walk" or field is None:
        raise ValueError(f"a visit with activity {visit.activity} needs `lasts`")
    return float(round(field.length / (visit.speed or walking_speed)) + sum(p[1] for p in visit.pauses))


def layout_of(s: Set) -> tuple[dict, bool]:
    """The layout of a set as a mapping, and whether it is just the named one."""
    named = isinstance(s.layout, str)
    base = yaml.safe_load((LAYOUTS / f"{s.layout}.yaml").read_text(encoding="utf-8")) if named else s.layout
    layout = copy.deepcopy(base)
    layout["interval"] = s.interval
    for channel in CHANNELS:
        layout["channels"][channel]["unit"] = s.unit or layout["channels"][channel]["unit"]
    if s.body_thermometers == 2 and "body_temperature" in layout["channels"]:
        one = layout["channels"].pop("body_temperature")
        for channel in ("body_temperature_lw_in", "body_temperature_lw_out"):
            layout["channels"][channel] = {**one, "column": f"{channel.rsplit('_', 1)[1]}_{one['column']}"}
    for channel, entry in layout["channels"].items():
        if channel.startswith("body") and s.body_unit:
            entry["unit"] = s.body_unit
    return layout, named and layout == base
