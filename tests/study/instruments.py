"""Mistakes of instruments, loggers and samples as rows of the study of detection: a campaign in which what
was recorded can't show one is counted apart."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

from simulate import mistakes_instruments as mistakes
from simulate import specs
from simulate.campaign import Campaign
from simulate.spec import CHANNELS, Sensor, Spec
from study.trial import SKIES, WHOLE, Row

# What a campaign can show, by its truth --------------------------------------------------------------


class Seen:
    """What the records of one set could show: truth and records of the sound campaign, at its own
    interval."""

    def __init__(self, campaign: Campaign, name: str):
        self.campaign, self.name = campaign, name
        self.true, self.interval = campaign.samples[name], mistakes.set_of(campaign, name).interval
        self.recorded = len(self.true) * self.interval
        self.lit = ((np.degrees(self.true["elevation"]) > 11.0) & (self.true["sw_in"] > 60.0)).to_numpy()
        self.day = self.lit.mean() > 0.9
        self.beam = (
            self.day and (self.true["direct"] > 0.5 * self.true["sw_in"]).sum() * self.interval > 150.0
        )
        self.albedo = float(self.true["sw_out"].sum() / self.true["sw_in"].sum()) if self.day else np.nan

    def net(self, channel: str) -> np.ndarray:
        return mistakes.flux(self.campaign, self.name, channel)

    def beam_first(self, seconds: float) -> bool:
        """Whether the sun shines for most of the first recorded seconds."""
        here = slice(0, int(seconds / self.interval))
        return self.day and bool((self.true["direct"] > 0.5 * self.true["sw_in"])[here].mean() > 0.5)

    def ground_hot(self) -> bool:
        """Ground of land, warmer than the head by 25 W m-2 under a strong sun."""
        sunny = (self.lit & (self.true["sw_in"] > 320.0)).to_numpy()
        return (
            sunny.sum() > 20
            and 0.12 < self.albedo < 0.45
            and float(np.median(self.net("lw_out")[sunny])) > 27.0
        )

    def span(self) -> float:
        time = self.true["time_utc"].to_numpy()
        return float(time[-1] - time[0])

    def swing_shows(self) -> bool:
        """In the sun twice for 95 s on end, and most of the time in the sun along its direction, which is
        not overhead."""
        spec, sunny = (
            self.campaign.spec,
            (self.lit & (self.true["direct"] > 0.5 * self.true["sw_in"])).to_numpy(),
        )
        headings = {f.name: f.heading for f in spec.fields}
        way = np.array([headings.get(visit.field, np.nan) for visit in spec.visits] + [np.nan])[
            self.true["visit"].to_numpy()
        ]
        along = np.abs(np.cos(self.true["azimuth"].to_numpy() - np.radians(way))) > 0.6
        breaks = np.concatenate(
            [
                [0],
                np.flatnonzero(
                    (np.diff(self.true["time_utc"]) > 2.5 * self.interval) | (np.diff(sunny.astype(int)) != 0)
                )
                + 1,
                [len(sunny)],
            ]
        )
        lasts = np.array(
            [
                (end - start) * self.interval
                for start, end in zip(breaks, breaks[1:], strict=False)
                if sunny[start]
            ]
        )
        return bool(
            lasts[lasts >= 95.0].sum() >= 190.0
            and along[sunny].mean() > 0.5
            and np.degrees(self.true["elevation"]).max() < 70.0
        )


def alone(spec: Spec) -> Spec:
    """The same campaign with its first set alone: nothing here compares sets."""
    first = spec.sets[0]
    return spec.with_(sets=(first,), visits=tuple(visit for visit in spec.visits if visit.set == first.name))


def volts(spec: Spec) -> Spec:
    """The first set alone, storing mV."""
    one = alone(spec)
    return one.with_(
        sets=(
            dataclasses.replace(
                one.sets[0],
                layout="comma-clock",
                unit=None,
                digits=4,
                body_unit=None,
                longwave="net",
                interval=1.0,
            ),
        )
    )


def watts(spec: Spec) -> Spec:
    """The first set alone, storing W m-2."""
    one = alone(spec)
    return one.with_(
        sets=(
            dataclasses.replace(
                one.sets[0], layout="semicolon-day", unit=None, digits=2, body_unit=None, interval=1.0
            ),
        )
    )


def of(function: Callable, *args, **options) -> Callable[[Campaign, str], Campaign]:
    return lambda campaign, name: function(campaign, name, *args, **options)


def unhurt(campaign: Campaign, name: str) -> Campaign:
    return campaign


def row(
    title: str,
    code: str,
    touches: str,
    damage: Callable[[Campaign, str], Campaign],
    when: str = "always",
    can: Callable[[Seen], bool] = lambda seen: True,
    prepare: Callable[[Spec], Spec] = volts,
    severity: str = "error",
    **options,
) -> Row:
    """A row whose mistake befalls one set, tried in a campaign of that set alone. can: by what the set
    could show."""
    return Row(
        title,
        code,
        lambda campaign, name, seed: damage(campaign, name),
        touches,
        lambda seed, kind: prepare(specs.sound(seed, kind)),
        when,
        lambda campaign, name, seed: bool(can(Seen(campaign, name))),
        severity=severity,
        unit={volts: "mV", watts: "W m-2", alone: ""}[prepare],
        **options,
    )


def outdated(spec: Spec, name: str) -> Spec:
    """The logger multiplies SW_in by a factor 3 % off the one of the certificate in force."""

    def older(sensor: Sensor) -> Sensor:
        return dataclasses.replace(sensor, programmed_factor=round(1.03 * sensor.certificates[-1].factor, 2))

    return spec.with_(
        sets=tuple(
            dataclasses.replace(s, sensors={**s.sensors, "sw_in": older(s.sensors["sw_in"])})
            if s.name == name
            else s
            for s in spec.sets
        )
    )


DAY, BEAM = ("by day", lambda seen: seen.day), ("under a beam for 150 s", lambda seen: seen.beam)
NO_SNOW = ("by day, not over snow", lambda seen: seen.day and seen.albedo < 0.7)
WHILE = ("by day, recorded for 2.5 minutes", lambda seen: seen.day and seen.recorded > 150.0)
LONG = ("recorded for 4 minutes", lambda seen: seen.recorded > 240.0)
OF_CLOCK = frozenset({"notes-shifted", "clock-against-sun"})
"""What a clock that jumps looks like to notes and sun."""

ROWS = (
    row(
        "corrected twice",
        "longwave-corrected-twice",
        "lw_in lw_out body",
        mistakes.corrected_twice,
        prepare=watts,
    ),
    row(
        "not corrected", "longwave-not-corrected", "lw_in lw_out body", mistakes.not_corrected, prepare=watts
    ),
    row(
        "corrected: lw_out alone",
        "longwave-corrected-one-channel",
        "lw_out body",
        of(mistakes.corrected_one_channel, "lw_out"),
        prepare=watts,
    ),
    row(
        "corrected: lw_in alone",
        "longwave-corrected-one-channel",
        "lw_in body",
        of(mistakes.corrected_one_channel, "lw_in"),
        prepare=watts,
    ),
    row("body temperature in degF", "body-temperature-unit", "body", of(mistakes.body_in, "degF")),
    row("body temperature in K", "body-temperature-unit", "body", of(mistakes.body_in, "K")),
    row(
        "factor inverted: sw_in",
        "factor-inverted",
        "sw_in register",
        of(mistakes.factor_inverted, ("sw_in",)),
        *WHILE,
    ),
    row(
        "factor inverted: sw_out",
        "factor-inverted",
        "sw_out register",
        of(mistakes.factor_inverted, ("sw_out",)),
        *NO_SNOW,
    ),
    row(
        "factor inverted: lw_in",
        "factor-inverted",
        "lw_in register",
        of(mistakes.factor_inverted, ("lw_in",)),
    ),
    row(
        "factor inverted: lw_out",
        "factor-inverted",
        "lw_out register",
        of(mistakes.factor_inverted, ("lw_out",)),
    ),
    row(
        "factors inverted: both shortwave",
        "factor-inverted",
        "sw_in sw_out register",
        of(mistakes.factor_inverted, ("sw_in", "sw_out")),
        *BEAM,
        skies=SKIES,
    ),
    row(
        "factors inverted: both longwave",
        "factor-inverted",
        "lw_in lw_out register",
        of(mistakes.factor_inverted, ("lw_in", "lw_out")),
        *BEAM,
        skies=SKIES,
    ),
    row(
        "factors inverted: all four",
        "factor-inverted",
        "sw_in sw_out lw_in lw_out register",
        of(mistakes.factor_inverted, CHANNELS),
        *BEAM,
        skies=SKIES,
    ),
    row(
        "factors exchanged between the bands",
        "factors-exchanged",
        "sw_in lw_in register",
        of(mistakes.factors_exchanged, "sw_in", "lw_in"),
    ),
    row(
        "programmed factors exchanged",
        "factors-exchanged",
        "sw_in sw_out register",
        of(mistakes.factors_exchanged, "sw_in", "sw_out", "programmed_factor"),
        prepare=watts,
    ),
    row(
        "programmed factor of an older certificate",
        "factor-outdated",
        "sw_in register",
        unhurt,
        prepare=watts,
        severity="note",
        needs=outdated,
    ),
    row("pair broken: register", "pair-broken", WHOLE, mistakes.pair_broken, prepare=alone),
    row("pair broken: file", "pair-broken", WHOLE, of(mistakes.pair_broken, "file")),
    row(
        "all covers, a whole segment",
        "cover-left-on",
        "sw_in sw_out lw_in lw_out",
        mistakes.cover_left_on,
        *DAY,
    ),
    row(
        "all covers for 75 s",
        "cover-left-on",
        "sw_in sw_out lw_in lw_out",
        of(mistakes.cover_left_on, lasts=75.0),
        "by day, in a longer segment",
        lambda seen: seen.day and mistakes.during(seen.campaign, seen.name, 0).sum() > 90,
        severity="warning",
    ),
    row("cover on sw_in", "cover-left-on", "sw_in", of(mistakes.cover_left_on, ("sw_in",)), *DAY),
    row(
        "cover on sw_out",
        "cover-left-on",
        "sw_out",
        of(mistakes.cover_left_on, ("sw_out",)),
        "by day, sw_in over 110 W m-2",
        lambda seen: seen.day and seen.true["sw_in"].min() > 110.0,
    ),
    row(
        "set upside down",
        "head-inverted",
        "sw_in sw_out lw_in lw_out",
        mistakes.head_inverted,
        *NO_SNOW,
        prepare=alone,
    ),
    row(
        "shortwave exchanged",
        "channels-exchanged",
        "sw_in sw_out",
        of(mistakes.exchanged, ("sw",)),
        *NO_SNOW,
        prepare=alone,
    ),
    row(
        "longwave exchanged",
        "channels-exchanged",
        "lw_in lw_out",
        of(mistakes.exchanged, ("lw",)),
        *DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: sw_in",
        "sign-reversed",
        "sw_in",
        of(mistakes.sign_reversed, "sw_in"),
        *DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: sw_out",
        "sign-reversed",
        "sw_out",
        of(mistakes.sign_reversed, "sw_out"),
        *DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: lw_in",
        "sign-reversed",
        "lw_in",
        of(mistakes.sign_reversed, "lw_in"),
        "its net signal beyond 30 W m-2",
        lambda seen: np.median(seen.net("lw_in")) < -30.0,
        alone,
    ),
    row(
        "sign reversed: lw_out",
        "sign-reversed",
        "lw_out",
        of(mistakes.sign_reversed, "lw_out"),
        "net signal over 27 W m-2 under a strong sun",
        Seen.ground_hot,
        alone,
        skies=SKIES,
    ),
    *(
        row(
            f"frozen: {c}",
            "channel-frozen",
            c,
            of(mistakes.channel_frozen, c),
            "for 150 s" + ", by day" * c.startswith("sw"),
            lambda seen, c=c: 0.8 * seen.recorded > 150.0 and (seen.day or c.startswith("lw")),
        )
        for c in CHANNELS
    ),
    row(
        "swing of 15 degrees",
        "swing-strong",
        "carrying",
        unhurt,
        "in the sun twice for 95 s on end, mostly along its direction",
        lambda seen: seen.beam and seen.swing_shows(),
        severity="warning",
        skies=SKIES,
        needs=lambda spec, name: mistakes.swinging(spec),
    ),
    row(
        "window wet",
        "dome-wet",
        "lw_in",
        mistakes.dome_wet,
        "in the sun",
        lambda seen: seen.beam_first(400.0) and seen.recorded > 200.0,
        severity="warning",
        skies=SKIES,
    ),
    row(
        "8 K warmer at first",
        "thermal-shock",
        "body",
        unhurt,
        "recorded for more than 6 minutes, pauses included",
        lambda seen: seen.span() > 400.0,
        severity="warning",
        needs=mistakes.out_of_a_warm_car,
    ),
    row("supply sags", "battery-low", "battery", mistakes.battery_low, *LONG, severity="warning"),
    row(
        "supply sags, lw_in with it",
        "battery-low",
        "battery lw_in",
        of(mistakes.battery_low, ("lw_in",)),
        *LONG,
    ),
    row("clock at its default date", "clock-reset", WHOLE, mistakes.clock_reset, beside=OF_CLOCK),
    row("clock set back", "clock-backwards", WHOLE, mistakes.clock_backwards, prepare=watts, beside=OF_CLOCK),
    row("block twice", "rows-duplicated", "file", mistakes.rows_duplicated, prepare=watts, severity="note"),
    row(
        "block twice, values differ",
        "rows-duplicated",
        "file",
        of(mistakes.rows_duplicated, True),
        beside=frozenset({"clock-backwards"}),
    ),
    row("files overlap", "rows-duplicated", "file", mistakes.overlapping_files, severity="note"),
    row("last line cut", "file-truncated", "file", mistakes.file_truncated, severity="warning"),
    row("lines garbled", "row-damaged", "file", mistakes.row_damaged, prepare=watts, severity="warning"),
    row("a line in another encoding", "row-damaged", "file", mistakes.mixed_encodings, severity="warning"),
    row(
        "head of the file repeated",
        "lines-skipped",
        "file",
        mistakes.header_repeated,
        prepare=watts,
        severity="note",
    ),
    row("0 bytes", "file-empty", WHOLE, mistakes.empty_file, prepare=watts),
    row(
        "decimal mark: comma",
        "decimal-comma",
        WHOLE,
        mistakes.other_decimal,
        beside=frozenset({"wrong-delimiter"}),
    ),
    row("decimal mark: point", "decimal-comma", WHOLE, mistakes.other_decimal, prepare=watts),
    row("tabs between the fields", "wrong-delimiter", WHOLE, mistakes.other_delimiter),
    row("UTF-16", "wrong-encoding", WHOLE, mistakes.other_encoding, prepare=watts),
    row("every second record", "sampling-interval", "rows file", mistakes.sampling_interval),
)
