"""The mistakes of which docs/mistakes.md has pictures, each with the campaign that shows it."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

import chain
from simulate import campaign, specs
from simulate import mistakes_across as across
from simulate import mistakes_instruments as heads
from simulate.campaign import Campaign
from simulate.spec import Sky, Spec

SHORTWAVE, LONGWAVE = ("sw_in", "sw_out"), ("lw_in", "lw_out")


@dataclass(frozen=True)
class Run:
    """A campaign and what the chain made of it."""

    made: Campaign
    outcome: chain.Outcome
    station: pd.DataFrame | None = None


@dataclass(frozen=True)
class Mistake:
    """An entry of the gallery.

    code: as the chain must name it, alone among errors and warnings. damage: of the sound campaign, or a
    spec of its own. channels: drawn, of `set`; none where runs and notes are drawn. seen, told, avoided: a
    sentence each; braces name facts of the finding or `numbers` of the two runs. beside: another set drawn
    too. base: of the sound campaign. station: its column for both runs, times the truth."""

    code: str
    title: str
    damage: Callable[[Campaign], Campaign] | Spec
    channels: tuple[str, ...]
    seen: str
    told: str
    avoided: str
    set: str = "curlew"
    beside: str = ""
    base: str = "day"
    numbers: Callable[[Run, Run], dict[str, float]] = lambda right, wrong: {}
    station: bool = False


def day(**changes) -> Spec:
    """Two sets over four fields."""
    fields = tuple(
        specs.field(name, surface)
        for name, surface in (
            ("Lower meadow", "short_grass"),
            ("Dry tilth", "bare_dry_soil"),
            ("Barley stubble", "stubble"),
            ("Farm track", "gravel"),
        )
    )
    sets = specs.two_sets()
    return Spec(
        "A day for mistakes",
        "2025-08-20 11:00:00",
        fields,
        sets,
        specs.rounds(sets, fields),
        sky=Sky("clear"),
        seed=12,
    ).with_(**changes)


def long_day() -> Spec:
    """The same until the evening, with pauses: long enough for the sun's course to show."""
    spec = day()
    return spec.with_(visits=specs.rounds(spec.sets, spec.fields, between=4200.0))


def by_turns() -> Spec:
    """The same, the second set some minutes after the first."""
    spec = day()
    return spec.with_(
        visits=tuple(
            dataclasses.replace(v, at=v.at + 270.0) if v.set == "lapwing" and v.field else v
            for v in spec.visits
        )
    )


def along_the_sun() -> Spec:
    """The same over fields that are walked towards the sun and away from it."""
    spec = day(start="2025-08-20 15:00:00")
    azimuth = campaign.simulate(spec).samples["curlew"]["azimuth"]
    way = float(np.degrees(np.arctan2(np.sin(azimuth).mean(), np.cos(azimuth).mean())) % 360.0)
    return spec.with_(
        fields=tuple(dataclasses.replace(f, heading=float(round((way + 180.0) % 360.0))) for f in spec.fields)
    )


def broad() -> Spec:
    spec = along_the_sun()
    return spec.with_(carrying=dataclasses.replace(spec.carrying, carrier_width=1.2))


BASES: dict[str, Callable[[], Spec]] = {"day": day, "long": long_day, "sun": along_the_sun, "turns": by_turns}


def apart(channel: str, name: str) -> Callable[[Run, Run], dict[str, float]]:
    """How far the mistake takes a channel's mean."""
    return lambda right, wrong: {
        "apart": abs(
            wrong.outcome.samples[name][channel].mean() - right.outcome.samples[name][channel].mean()
        )
    }


GALLERY: tuple[Mistake, ...] = (
    Mistake(
        "cover-left-on",
        "A cover left on",
        lambda c: heads.cover_left_on(c, "curlew", visit=1),
        SHORTWAVE,
        "All shortwave drops to zero at once in the middle of the day.",
        "Under 2 % of the sun's light at the top of the atmosphere for a minute, and both longwave "
        "signals next to 0.",
        "Before you switch the storage on, count the covers in your pocket.",
    ),
    Mistake(
        "head-inverted",
        "The set upside down",
        lambda c: heads.head_inverted(c, "curlew"),
        SHORTWAVE + LONGWAVE,
        "More light seems to come from the ground than from the sky, and more longwave from the sky "
        "than from the ground.",
        "Both bands are reversed nearly all the time, so the whole set was upside down; exchanged plugs "
        "would reverse one band.",
        "Look for the level or the mark on the upper side before each walk.",
    ),
    Mistake(
        "channels-exchanged",
        "Two shortwave plugs exchanged",
        lambda c: heads.exchanged(c, "curlew", ("sw",)),
        SHORTWAVE + LONGWAVE,
        "More light comes from below than from above, while the longwave is normal.",
        "Shortwave is reversed and longwave is not, so the plugs were exchanged and the set was upright.",
        "Cover one head after the other before leaving and watch which number falls.",
    ),
    Mistake(
        "sign-reversed",
        "Leads of one head reversed",
        lambda c: heads.sign_reversed(c, "curlew", "sw_in"),
        SHORTWAVE,
        "One channel goes down where it should go up.",
        "By day shortwave can't be negative.",
        "Look at the signs before the first walk: by day both shortwave channels are positive.",
    ),
    Mistake(
        "channel-frozen",
        "A broken lead",
        lambda c: heads.channel_frozen(c, "curlew", "sw_out"),
        SHORTWAVE,
        "One line becomes flat while the other goes on changing.",
        "The same value for two minutes and more, while another channel moves by many steps of its "
        "resolution.",
        "Move the plugs gently while somebody watches the numbers.",
    ),
    Mistake(
        "factor-inverted",
        "A responsivity entered as a factor",
        lambda c: heads.factor_inverted(c, "curlew"),
        ("sw_in", "sw_clear"),
        "The incoming shortwave has the right shape but the wrong size: {ratio:.2g} times what it should be.",
        "The ratio to a clear sky is the one that the factor's other unit would cause.",
        "Copy the number with its unit from the certificate, and compare the first values with what "
        "the sun can give.",
        numbers=lambda right, wrong: {
            "ratio": wrong.outcome.samples["curlew"]["sw_in"].mean()
            / right.outcome.samples["curlew"]["sw_in"].mean()
        },
    ),
    Mistake(
        "longwave-corrected-one-channel",
        "One longwave channel with its own emission, one without",
        lambda c: heads.corrected_one_channel(c, "lapwing", "lw_out"),
        LONGWAVE,
        "One longwave term is {apart:.0f} W m⁻² off, more than any weather can cause.",
        "Each channel is held against 0, 1 and 2 times the emission of its own body; here they differ.",
        "Ask who programmed the logger whether it adds σT⁴, and to which channels.",
        set="lapwing",
        numbers=apart("lw_out", "lapwing"),
    ),
    Mistake(
        "dome-wet",
        "Water on a window",
        lambda c: heads.dome_wet(c, "curlew"),
        LONGWAVE,
        "The longwave from the sky rises to the emission of the head itself, although the sun is shining.",
        "The net signal of the upper head stays next to 0 under a sky with a beam.",
        "Dry the window with a soft cloth, and look at it again after each pause.",
    ),
    Mistake(
        "thermal-shock",
        "Fresh out of a warm car",
        heads.out_of_a_warm_car(day(), "curlew"),
        ("body_temperature",),
        "The body starts too warm and cools towards the air's temperature in the first minutes, by up "
        "to {rate} K per hour.",
        "It changes by more than 12 K per hour over 5 to 10 minutes.",
        "Let the set stand outside for a quarter of an hour before the first walk.",
    ),
    Mistake(
        "battery-low",
        "A supply that sags",
        lambda c: heads.battery_low(c, "curlew"),
        ("battery",),
        "The voltage falls from {highest} V to {volts} V while the radiation still looks sound.",
        "It is under 11 V, or falls by more than 0.5 V an hour.",
        "Charge the battery the evening before and read its voltage before each walk.",
    ),
    Mistake(
        "swing-strong",
        "A swinging head",
        heads.swinging(day(), 15.0),
        ("sw_in",),
        "The incoming shortwave scatters from second to second under a steady sun.",
        "Its fast scatter is what a swing of {degrees} degrees or more makes; the slow head hides most "
        "of it.",
        "Hold the stick with both hands, and walk slower.",
    ),
    Mistake(
        "upward-shaded",
        "A tree over the upper head",
        lambda c: across.head_shaded(c, "curlew", 2, 40.0, 20.0, share=0.3),
        ("sw_in",),
        "The incoming shortwave of one set falls for some seconds and comes back.",
        "The other set stood under the same clear sky and saw nothing: a cloud would have reached both.",
        "Keep trees, walls and people out of the sun's direction.",
        beside="lapwing",
    ),
    Mistake(
        "own-shade",
        "The carrier's shadow under the head",
        broad(),
        ("albedo",),
        "The albedo is lower on the walks away from the sun than on those back over the same ground.",
        "From heading, sun and the carrier's size the shadow took up to {loss} % of the reflected light.",
        "Walk towards the sun or across it, or hold the head further out.",
        base="sun",
    ),
    Mistake(
        "sets-disagree",
        "A head that reads too much",
        lambda c: across.scaled(c, "curlew", "sw_in", 1.25),
        ("sw_in",),
        "One set sees {percent} % {direction} sunlight than the other all day long.",
        "Their ratio differs from 1 by more than the {allowed} % that their uncertainties allow; "
        "which of the two is off needs a station or a third set.",
        "Put both sets side by side for five minutes at the start.",
        beside="lapwing",
    ),
    Mistake(
        "station-disagrees",
        "A station that reads too little",
        lambda c: c,
        ("sw_in", "station"),
        "Both sets see {percent} % {direction} sunlight than the fixed station.",
        "All sets are off the station by more than 3.6 standard uncertainties, and agree with each "
        "other: so most likely it is the station.",
        "Note the station's time zone and whether its times are the start or the end of an interval.",
        station=True,
    ),
    Mistake(
        "head-tilted",
        "A head off level",
        lambda c: across.tilted(c, "curlew", 8.0),
        ("sw_in",),
        "The incoming shortwave has steps that come and go with the direction of the walk.",
        "Under a clear sky it follows the sine and cosine of the heading: a lean of {degrees} degrees "
        "or more.",
        "Level the head on its carrier; walking there and back over each field cancels most of it.",
    ),
    Mistake(
        "surface-mislabelled",
        "A field under another name",
        lambda c: across.mislabelled(c, "Lower meadow", "snow"),
        ("albedo",),
        "One field has an albedo of {value}, far from that of the surface in the notes.",
        "It is outside the {low} to {high} of that class, widened by its uncertainty.",
        "Write the surface down while standing on it, and take a photograph.",
    ),
    Mistake(
        "notes-shifted",
        "Notes by a watch in another zone",
        lambda c: across.notes_late(c, 3600.0),
        (),
        "Every note is off its run by the same time.",
        "Once {shift} their times, notes and runs share {fit} % of their time; as noted {now} %.",
        "Set the watch by the logger before the first walk and read both clocks together, at the start "
        "and at the end.",
    ),
    Mistake(
        "notes-sets-swapped",
        "Two sets exchanged in the notes",
        lambda c: across.sets_swapped(c, "curlew", "lapwing"),
        (),
        "The notes of each set cover the runs of the other.",
        "Exchanged they share {other} % of their time with the runs, as noted {own} %.",
        "Write its name on each set where the person who takes notes can read it.",
        base="turns",
    ),
    Mistake(
        "note-without-data",
        "A walk that was not stored",
        lambda c: across.storage_forgotten(c, "curlew", 2),
        (),
        "Nothing was recorded during this note.",
        "Nothing was stored between the noted start and end, while the other notes fit their runs.",
        'Say aloud "storage on" and wait for the lamp before walking off.',
    ),
    Mistake(
        "data-without-note",
        "A walk that was not noted",
        lambda c: across.note_forgotten(c, 3),
        (),
        "No note covers this run.",
        "{minutes} minutes were stored that no note claims.",
        "Write the start down before the first step, not after the walk.",
    ),
    Mistake(
        "clock-corrected",
        "A clock that is fast",
        lambda c: across.logger_late(c, "curlew", 120.0, checks=True),
        (),
        "The runs begin {ahead:.0f} s after the notes by the logger's own clock, all of them.",
        "The clock checks show it. The samples are shifted accordingly, and a note says by how much.",
        "Read the logger's clock beside a reference at the start and at the end: the second reading "
        "shows the drift.",
        numbers=lambda right, wrong: {
            "ahead": (wrong.made.records["curlew"]["stamp"] - right.made.records["curlew"]["stamp"])
            .dt.total_seconds()
            .mean()
        },
    ),
    Mistake(
        "clock-against-sun",
        "A logger on local time taken for another zone",
        lambda c: across.logger_late(c, "curlew", 7200.0),
        ("sw_in", "sw_clear"),
        "The day's curve of sunlight is shifted in time against the sun's.",
        "Under this clear sky it follows the sun of a time {minutes} minutes away ({rms} % residual "
        "there, {now} % by its own clock).",
        "Leave the logger in UTC or in winter time, and write its offset on it.",
        base="long",
    ),
)
