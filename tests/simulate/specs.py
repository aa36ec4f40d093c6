"""Ready campaigns. All places and names are invented."""

from __future__ import annotations

import dataclasses

import yaml

from .spec import (
    LAYOUTS,
    Carrying,
    Certificate,
    Errors,
    Field,
    Site,
    Sky,
    Spec,
    Visit,
    duration,
    field,
    make_set,
    rounds,
    two_sets,
    walks,
)
from .specs_sets import inline_layout, many_sets
from .specs_sound import sound

__all__ = [
    "clock_change",
    "demo",
    "exact",
    "fast",
    "inline_layout",
    "many_sets",
    "minimal",
    "over_midnight",
    "polar_day",
    "polar_night",
    "sound",
    "southern",
    "station",
    "two_days",
]


def minimal(**changes) -> Spec:
    """One set, one field without patches, two passes, clear sky, nothing wrong: the chain must give the
    truth.
    """
    f = field("Lower meadow", "short_grass", patch_albedo=0.0, patch_temperature=0.0)
    visits, _ = walks("curlew", f, 60.0, turn=68.0)
    return Spec(
        "One meadow, two passes",
        "2025-08-20 12:30:00",
        (f,),
        (make_set("curlew", "C-11"),),
        tuple(visits),
        errors=Errors.none(),
        declare_emissivity=True,
    ).with_(**changes)


def demo() -> Spec:
    """Two sets, eight fields of seven classes, one partly cloudy afternoon: the campaign in demo_inputs/."""
    edge = dict(surround_albedo=0.21, surround_warmer=-2.0)
    fields = (
        field(
            "Lower meadow",
            "short_grass",
            length=85,
            heading=85,
            albedo=0.168,
            patch_albedo=0.006,
            sky_lag=0,
            **edge,
        ),
        field("Beet block", "tall_crop", length=90, heading=95, albedo=0.195, sky_lag=9, **edge),
        field("Barley stubble", "stubble", length=95, heading=90, sky_lag=16, **edge),
        field("Dry tilth", "bare_dry_soil", length=80, heading=80, albedo=0.255, sky_lag=21, **edge),
        field("Irrigated bed", "bare_wet_soil", length=75, heading=80, albedo=0.105, sky_lag=24, **edge),
        field("Farm track", "gravel", length=70, heading=100, sky_lag=30, **edge),
        field("Threshing yard", "paving", length=60, heading=100, sky_lag=34, **edge),
        field(
            "Upper meadow",
            "short_grass",
            length=80,
            heading=75,
            albedo=0.175,
            patch_albedo=0.006,
            patch_size=4.0,
            sky_lag=40,
            **edge,
        ),
    )
    curlew = make_set(
        "curlew",
        "C-11",
        "2025-03-11",
        factor_unit="W m-2 per mV",
        layout="comma-clock",
        utc_offset="+01:00",
        digits=4,
        body_digits=2,
        clock_error=6.4,
        clock_drift=5.0,
    )
    lapwing = make_set(
        "lapwing",
        "L-24",
        "2025-03-11",
        layout="semicolon-day",
        utc_offset="+00:00",
        digits=2,
        body_digits=2,
        clock_error=-3.3,
        clock_drift=-4.0,
    )
    # Lapwing's lower shortwave head was calibrated again in spring; its logger still multiplies by the factor
    # before.
    head = lapwing.sensors["sw_out"]
    old = Certificate("2023-02-20", round(head.certificates[0].factor * 1.012, 2), "uV per W m-2", 3.0)
    head = dataclasses.replace(head, certificates=(old, *head.certificates), programmed_factor=old.factor)
    lapwing = dataclasses.replace(lapwing, sensors={**lapwing.sensors, "sw_out": head})

    visits = [
        Visit("curlew", 0, activity="clock_check"),
        Visit("lapwing", 60, activity="clock_check"),
        Visit(
            "curlew",
            240,
            "Lower meadow",
            "side_by_side",
            lasts=300,
            heading=180.0,
            remark="heads 1.5 m apart, both towards the south",
        ),
        Visit("lapwing", 240, "Lower meadow", "side_by_side", lasts=300, heading=180.0, position=44.0),
    ]
    # The two sets go round in opposite directions; each field has two or three passes of each set.
    for name, order, speed, at in (
        ("curlew", (0, 1, 2, 3, 4, 5, 6, 7), 0.85, 720.0),
        ("lapwing", (0, 7, 6, 5, 4, 3, 2, 1), 0.90, 750.0),
    ):
        for k in order:
            f, passes = fields[k], 3 if fields[k].length <= 80 else 2
            transects = dict(transect=1 if name == "curlew" else 2, before=5.0 if name == "curlew" else 3.0)
            some, at = walks(name, f, at, passes, speed, turn=35.0, **transects)
            if (name, k) == (
                "curlew",
                2,
            ):  # a stop half-way through the second pass, the storage off meanwhile
                some[1] = dataclasses.replace(
                    some[1],
                    pauses=((52.0, 64.0),),
                    remark="stopped half-way, storage off: a tractor had to pass",
                )
                at += 64
            if (name, k) == ("lapwing", 4):
                some[0] = dataclasses.replace(
                    some[0], remark="sprinklers off since the morning, soil still dark"
                )
            visits += some
            at += 700 if name == "curlew" else 730
    last = (
        max(v.at + duration(v, next((f for f in fields if f.name == v.field), None), 0.85) for v in visits)
        + 180
    )
    visits += [
        Visit("curlew", last, activity="clock_check"),
        Visit("lapwing", last + 60, activity="clock_check"),
    ]
    sky = Sky(
        "broken",
        transmittance=0.735,
        cloud_share=0.2,
        cloud_length=75.0,
        beam_through=(0.35, 0.7),
        edge=5.0,
        air_temperature=17.2,
        air_amplitude=5.0,
        vapour_pressure=12.5,
        wind_speed=2.6,
    )
    return Spec(
        "Meadow to farmyard, late-summer practical",
        "2025-08-20 11:44:00",
        fields,
        (curlew, lapwing),
        tuple(visits),
        sky=sky,
        carrying=Carrying(
            sensor_height=1.5, reach=1.2, carrier_height=1.75, carrier_width=0.45, walking_speed=0.85
        ),
        seed=20250820,
        workflow_seed=20250820,
        comment="A campaign of our own invention, made by tests/simulate: `python -m simulate.demo`.\n"
        "What was really there stands in truth/, which the workflow never reads.",
        plan={"date": "2025-08-21", "start": "10:00", "end": "15:00", "rounds": 1},
        to_plan=tuple(f"{f.name},{f.surface},{f.length:g},{_free(f)}," for f in fields),
    )


def _free(one: Field) -> str:
    """Directions for a transect of the demo's plan: along the field, or any way over the soils."""
    return "" if one.surface.startswith("bare") else f"{one.heading:g}"


def exact(spec: Spec) -> Spec:
    """The same campaign with nothing wrong: the chain must give truth/segments.csv to its last digit."""
    fields = tuple(dataclasses.replace(f, surround_albedo=None) for f in spec.fields)
    sets = tuple(
        dataclasses.replace(
            s, clock_error=0.0, clock_drift=0.0, digits=None, body_digits=None, warm_start=0.0
        )
        for s in spec.sets
    )
    return spec.with_(fields=fields, sets=sets, errors=Errors.none(), declare_emissivity=True)


def station(interval: float = 1800.0, kind: str = "clear", **changes) -> Spec:
    """A fixed station through a day, in three noted stands; nobody walks."""
    f = field("Station lawn", "short_grass", patch_albedo=0.0, patch_temperature=0.0)
    s = make_set(
        "wheatear",
        "S-1",
        layout="comma-clock",
        interval=interval,
        utc_offset="+00:00",
        digits=5,
        body_digits=2,
    )
    visits = tuple(
        Visit("wheatear", 3600.0 * hour, f.name, "stand", lasts=3600.0 * 6, before=0, after=0)
        for hour in (0, 6, 12)
    )
    return Spec(
        "A station through a day",
        "2025-06-11 05:00:00",
        (f,),
        (s,),
        visits,
        sky=Sky(kind),
        errors=Errors(carrier=False, swing=0),
        carrying=Carrying(2.0, 0.0, 0.0, 0.0, 0.0),
        notes_to_minute=True,
        seed=5,
    ).with_(**changes)


def southern(**changes) -> Spec:
    """South of the equator: the sun is in the north and goes from right to left."""
    fields = (field("Vlei edge", "bare_wet_soil"), field("Koppie path", "gravel", sky_lag=12))
    return Spec(
        "Summer practical in the south",
        "2025-01-15 11:00:00",
        fields,
        two_sets(),
        rounds(two_sets(), fields),
        site=Site("Vlei practice ground", -33.52, 18.94, 120.0, "Africa/Johannesburg"),
        sky=Sky(air_temperature=22.0),
        seed=3,
    ).with_(**changes)


def polar_day(**changes) -> Spec:
    """A sun that doesn't set, walked around midnight: low, and from the north."""
    fields = (field("Moss flat", "short_grass", warming=0.008), field("Drift", "snow"))
    return Spec(
        "Midnight sun practical",
        "2025-06-21 23:20:00",
        fields,
        two_sets(),
        rounds(two_sets(), fields),
        site=Site("Fjord head", 78.2, 15.6, 20.0, "Arctic/Longyearbyen"),
        sky=Sky(air_temperature=4.0, air_amplitude=1.0, vapour_pressure=6.5),
        seed=4,
    ).with_(**changes)


def polar_night(**changes) -> Spec:
    """No sun at all, over snow."""
    fields = (field("Drift", "snow"), field("Sea ice margin", "snow", night_offset=-1.0, albedo=0.75))
    return Spec(
        "Polar night practical",
        "2025-12-12 11:00:00",
        fields,
        two_sets(),
        rounds(two_sets(), fields),
        site=Site("Fjord head", 78.2, 15.6, 20.0, "Arctic/Longyearbyen"),
        sky=Sky(air_temperature=-16.0, air_amplitude=0.5, vapour_pressure=1.4),
        seed=6,
    ).with_(**changes)


def over_midnight(**changes) -> Spec:
    """A night practical with an interval that begins on one day and ends on the next."""
    fields = (field("Lower meadow", "short_grass"), field("Threshing yard", "paving", night_offset=2.5))
    visits = rounds(two_sets(), fields, at=2340.0)
    return Spec("Night practical", "2025-08-20 23:20:00", fields, two_sets(), visits, seed=7).with_(**changes)


def clock_change(season: str = "spring", ambiguous: bool = False, **changes) -> Spec:
    """The notes' zone changes its clock while the sets record. `ambiguous` (autumn) puts noted times into the
    hour that comes twice: that can't be decided from the notes and is an error.
    """
    f = field("Lower meadow", "short_grass")
    sets = two_sets()
    start = {"spring": "2025-03-30 01:40:00", "autumn": "2025-10-26 01:40:00"}[season]
    clear_of_it = 1500.0 + (
        7200.0 if season == "autumn" else 0.0
    )  # the next wall time after the change that comes only once
    before, _ = walks("curlew", f, 120.0)
    after, end = walks("curlew", f, 2100.0 if ambiguous else clear_of_it)
    across = Visit("lapwing", 300.0, f.name, "stand", lasts=clear_of_it)
    checks = [
        Visit(s.name, t, activity="clock_check") for s in sets for t in (0.0, max(end, clear_of_it) + 900.0)
    ]
    return Spec(
        "Night of the change of clocks",
        start,
        (f,),
        sets,
        (*before, *after, across, *checks),
        sky=Sky(air_temperature=7.0, vapour_pressure=7.0),
        seed=8,
    ).with_(**changes)


def fast(fraction: bool = True, **changes) -> Spec:
    """Ten records a second; stamps with the fraction of the second, or cut to whole seconds."""
    spec = minimal(errors=Errors(), declare_emissivity=False, title="Ten a second")
    layout = yaml.safe_load((LAYOUTS / "comma-clock.yaml").read_text(encoding="utf-8"))
    if fraction:
        layout["time"]["format"] += ".%f"
    s = dataclasses.replace(
        spec.sets[0], layout=layout, interval=0.1, digits=4, body_digits=2, whole_second_stamps=not fraction
    )
    return spec.with_(sets=(s,)).with_(**changes)


def two_days(**changes) -> Spec:
    """The same round on two days, a file a day."""
    fields = (field("Lower meadow", "short_grass"), field("Dry tilth", "bare_dry_soil", sky_lag=10))
    sets = tuple(dataclasses.replace(s, split="day") for s in two_sets())
    first = rounds(sets, fields)
    second = tuple(dataclasses.replace(v, at=v.at + 86400.0) for v in first)
    return Spec(
        "Two afternoons", "2025-08-20 13:00:00", fields, sets, first + second, sky=Sky("broken"), seed=10
    ).with_(**changes)
