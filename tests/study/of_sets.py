"""Mistakes of sets, their clocks and their carrying as rows of the study of detection."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable
from zoneinfo import ZoneInfo

import numpy as np

from simulate import mistakes_across as mistakes
from simulate import mistakes_instruments as heads
from simulate import sky as skies
from simulate import specs
from simulate.campaign import Campaign
from simulate.files import table
from simulate.ground import shadow_view
from simulate.spec import Spec
from study.bases import by_day, common_seconds, high_sun, under_sun, with_two
from study.trial import Row

CLEAR = ("clear",)


def five_hours(seed: int, kind: str) -> Spec:
    """Walks over five hours of day."""
    spec = specs.sound(seed, kind)
    visits = specs.rounds(spec.sets, spec.fields, passes=2, between=18000.0 / len(spec.fields) - 300.0)
    return under_sun(spec.with_(visits=visits), 12.0, 90.0, 18000.0)


def ahead(minutes: float) -> Callable[[Campaign, str, int], Campaign]:
    return lambda campaign, name, seed: mistakes.logger_late(campaign, name, 60.0 * minutes)


def course_shows(minutes: float) -> Callable[[Campaign, str, int], bool]:
    """Whether the sun's course over the walks is so much another one at the wrong time that no haze
    explains it."""

    def can(campaign: Campaign, name: str, seed: int) -> bool:
        spec, time = campaign.spec, campaign.samples[name]["time_utc"].to_numpy()[::60]
        shown = []
        for moment in (time, time + 60.0 * minutes):
            high, _, distance = skies.sun(moment, spec.site.latitude, spec.site.longitude)
            beam, diffuse = skies.clear_sky(high, distance, spec.site.elevation, 0.75)
            shown.append(np.log(np.maximum(beam * np.sin(np.maximum(high, 0)) + diffuse, 1.0)))
        change, mass = (
            shown[1] - shown[0],
            1.0 / np.sin(np.maximum(skies.sun(time, spec.site.latitude, spec.site.longitude)[0], 0.1)),
        )
        change, mass = change - change.mean(), mass - mass.mean()
        hazy = np.clip(np.dot(change, mass) / np.dot(mass, mass), -0.06, 0.06)
        return bool(
            spec.sky.kind == "clear"
            and high_sun(campaign, 8.0, 90.0)
            and np.std(change - hazy * mass) > 0.055
        )

    return can


def _shaded_run(campaign: Campaign, name: str, seed: int) -> tuple[int, float]:
    """A run of a set, and the moment 30 s after its start."""
    runs = campaign.records[name]["run"]
    run = int(sorted(runs.unique())[seed % runs.nunique()])
    return run, float(campaign.samples[name]["time_utc"].to_numpy()[(runs == run).to_numpy()][0]) + 30.0


def shaded(campaign: Campaign, name: str, seed: int) -> Campaign:
    return mistakes.head_shaded(campaign, name, _shaded_run(campaign, name, seed)[0], 30.0, 20.0, share=0.25)


def another_sees(campaign: Campaign, name: str, seed: int) -> bool:
    other = next(s for s in campaign.spec.sets if s.name != name)
    begin = _shaded_run(campaign, name, seed)[1]
    seen = campaign.samples[other.name]["time_utc"].between(begin, begin + 20.0).sum() * other.interval
    return bool(
        campaign.spec.sky.kind == "clear"
        and seen >= 18
        and high_sun(campaign, 18.0, 90.0)
        and common_seconds(campaign) > 240
    )


def four_passes(seed: int, kind: str) -> Spec:
    return by_day(seed, kind, passes=4)


def leaning(campaign: Campaign, name: str, seed: int, degrees: float = 8.0) -> Campaign:
    """Towards the sun or away from it at the first walk: across the sun no heading of a walk there and back
    shows a lean."""
    spec = campaign.spec
    first = next(visit for visit in spec.visits if visit.set == name and visit.field)
    way = next(f.heading for f in spec.fields if f.name == first.field)
    return mistakes.tilted(
        campaign,
        name,
        degrees,
        float(np.degrees(campaign.samples[name]["azimuth"].iloc[0])) - way + 180.0 * (seed % 2),
    )


def broad(spec: Spec, name: str) -> Spec:
    """A cart behind the head, 1.2 m broad, and the sun behind the cart."""
    begin = (
        dt.datetime.strptime(spec.start, "%Y-%m-%d %H:%M:%S")
        .replace(tzinfo=ZoneInfo(spec.site.timezone))
        .timestamp()
    )
    azimuth = np.degrees(
        skies.sun(
            np.array([begin + max(v.at for v in spec.visits) / 2.0]), spec.site.latitude, spec.site.longitude
        )[1][0]
    )
    return spec.with_(
        carrying=dataclasses.replace(spec.carrying, carrier_width=1.2),
        fields=tuple(
            dataclasses.replace(f, heading=float(round((azimuth + 180.0) % 360))) for f in spec.fields
        ),
    )


def in_shadow(campaign: Campaign, name: str, seed: int) -> bool:
    """Whether on the walks away from the sun the shadow takes 19 % of the light."""
    spec, sun = campaign.spec, campaign.samples[name]
    away = np.isin(sun["visit"], [number for number, visit in enumerate(spec.visits) if not visit.backwards])
    sun = sun[away]
    height = spec.carrying.sensor_height - min(f.canopy_height for f in spec.fields)
    share = (sun["direct"] / sun["sw_in"].clip(lower=1.0)).to_numpy()
    view = shadow_view(
        spec.carrying,
        height,
        0.0,
        sun["elevation"].to_numpy(),
        sun["azimuth"].to_numpy(),
        heading=np.full(len(sun), spec.fields[0].heading),
    )
    return bool(spec.sky.kind == "clear" and np.mean(share * view) > 0.19)


def mislabelled(campaign: Campaign, name: str, seed: int) -> Campaign:
    """One field noted as snow, or snow noted as wet soil: far outside either class."""
    chosen = campaign.spec.fields[seed % len(campaign.spec.fields)]
    return mistakes.mislabelled(
        campaign, chosen.name, "bare_wet_soil" if chosen.surface == "snow" else "snow"
    )


def scaled(channel: str, by: float) -> Callable[[Campaign, str, int], Campaign]:
    """Of a longwave head the net signal, of which a corrected channel is only a part."""

    def damage(campaign: Campaign, name: str, seed: int) -> Campaign:
        share, true = 1.0, campaign.samples[name]
        if channel == "lw_in" and heads.set_of(campaign, name).longwave == "corrected":
            share = (1.0 - true["body"] ** 4 * skies.SIGMA / true["lw_in"]).mean()
        return mistakes.scaled(campaign, name, channel, 1.0 + (by - 1.0) * share)

    return damage


def off_in_shortwave(campaign: Campaign, name: str, seed: int) -> bool:
    return bool(
        campaign.spec.sky.kind == "clear"
        and common_seconds(campaign) > 180
        and high_sun(campaign, 20.0, 90.0)
    )


def off_in_longwave(campaign: Campaign, name: str, seed: int) -> bool:
    true = campaign.samples[name]
    off = 0.8 * np.abs(true["lw_in"] - skies.SIGMA * true["body"] ** 4).mean() > 0.13 * true["lw_in"].mean()
    return bool(
        off and heads.set_of(campaign, name).longwave != "corrected" and common_seconds(campaign) > 180
    )


def beside_station(campaign: Campaign, name: str, by: float = 1.0) -> Campaign:
    """The campaign with a station beside one set's way."""
    content = table(mistakes.station(campaign, name, by))
    return heads.in_files(campaign, lambda files: {**files, "station.csv": content})


def off_station(campaign: Campaign, name: str, seed: int) -> Campaign:
    return mistakes.scaled(beside_station(campaign, name), name, "sw_in", 1.4)


def station_low(campaign: Campaign, name: str, seed: int) -> Campaign:
    return beside_station(campaign, name, 0.7)


OF_NOTES = frozenset({"notes-shifted"})

ROWS = (
    Row(
        "a logger's clock 90 min ahead",
        "clock-against-sun",
        ahead(90.0),
        "clock",
        five_hours,
        "clear; the sun's course over the walks changes by 5.5 % more than haze can do",
        course_shows(90.0),
        CLEAR,
        beside=OF_NOTES,
    ),
    Row(
        "a logger's clock 45 min ahead",
        "clock-against-sun",
        ahead(45.0),
        "clock",
        five_hours,
        "clear; the sun's course over the walks changes by 5.5 % more than haze can do",
        course_shows(45.0),
        CLEAR,
        beside=OF_NOTES,
    ),
    Row(
        "a tree over the head for 20 s",
        "upward-shaded",
        shaded,
        "sw_in pair",
        with_two,
        "clear, sun over 18 degrees, the other set records meanwhile",
        another_sees,
        CLEAR,
    ),
    Row(
        "a head leaning by 8 degrees",
        "head-tilted",
        leaning,
        "sw_in fields",
        four_passes,
        "clear, sun between 20 and 60 degrees, four passes a field, the lean along the sun",
        lambda campaign, name, seed: campaign.spec.sky.kind == "clear" and high_sun(campaign, 20.0, 60.0),
        CLEAR,
        to="diagnose",
    ),
    Row(
        "a broad cart with the sun behind it",
        "own-shade",
        lambda campaign, name, seed: campaign,
        "carrying fields",
        by_day,
        "clear, the shadow takes 19 % of the light",
        in_shadow,
        CLEAR,
        severity="note",
        to="diagnose",
        needs=broad,
    ),
    Row(
        "a field noted as another class",
        "surface-mislabelled",
        mislabelled,
        "lines",
        by_day,
        "sun over 21 degrees",
        lambda campaign, name, seed: high_sun(campaign, 21.0, 90.0),
        to="diagnose",
        beside=frozenset({"heat-against-wind"}),
    ),
    Row(
        "one set's SW_in 40 % too high",
        "sets-disagree",
        scaled("sw_in", 1.4),
        "sw_in pair",
        with_two,
        "clear, sun over 20 degrees, 3 min in common",
        off_in_shortwave,
        CLEAR,
        to="diagnose",
    ),
    Row(
        "one set's LW_in signal 80 % too high",
        "sets-disagree",
        scaled("lw_in", 1.8),
        "lw_in pair",
        with_two,
        "13 % of LW_in, 3 min in common",
        off_in_longwave,
        to="diagnose",
    ),
    Row(
        "one set's SW_in 40 % over the station's",
        "station-disagrees",
        off_station,
        "sw_in station pair",
        with_two,
        "clear, sun over 20 degrees",
        lambda campaign, name, seed: campaign.spec.sky.kind == "clear" and high_sun(campaign, 20.0, 90.0),
        CLEAR,
        to="diagnose",
        beside=frozenset({"sets-disagree"}),
    ),
    Row(
        "the station's radiation 30 % too low",
        "station-disagrees",
        station_low,
        "sw_in lw_in station pair",
        with_two,
        "sun over 20 degrees",
        lambda campaign, name, seed: high_sun(campaign, 20.0, 90.0),
        to="diagnose",
    ),
)
