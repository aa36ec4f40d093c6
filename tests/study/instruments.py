"""Mistakes of instruments, loggers and samples as rows of the study of detection: a campaign in which what
was recorded can't show one is counted apart."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable

import numpy as np

from simulate import mistakes_files, specs
from simulate import mistakes_instruments as mistakes
from simulate.campaign import Campaign
from simulate.spec import CHANNELS, Sensor, Spec
from study.seen import Seen, alone, volts, watts
from study.trial import SKIES, WHOLE, Row


def of(function: Callable, *args, **options) -> Callable[[Campaign, str], Campaign]:
    return lambda campaign, name: function(campaign, name, *args, **options)


def unhurt(campaign: Campaign, name: str) -> Campaign:
    return campaign


Shows = tuple[str, Callable[[Seen], bool]]
"""Where a mistake can be decided: in words, and by what the set could show."""


def always(seen: Seen) -> bool:
    """For mistakes that can be decided in every campaign."""
    return True


ALWAYS: Shows = ("always", always)


def row(
    title: str,
    code: str,
    touches: str,
    damage: Callable[[Campaign, str], Campaign],
    shows: Shows = ALWAYS,
    *,
    prepare: Callable[[Spec], Spec] = volts,
    severity: str = "error",
    **options,
) -> Row:
    """A row whose mistake concerns one set, tried in a campaign of that set alone."""
    when, can = shows
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


def often(spec):
    """Five records a second: a mean of a second hides a swing of once a second."""
    return spec.with_(sets=tuple(dataclasses.replace(s, interval=0.2) for s in spec.sets))


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
        WHILE,
    ),
    row(
        "factor inverted: sw_out",
        "factor-inverted",
        "sw_out register",
        of(mistakes.factor_inverted, ("sw_out",)),
        NO_SNOW,
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
        BEAM,
        skies=SKIES,
    ),
    row(
        "factors inverted: both longwave",
        "factor-inverted",
        "lw_in lw_out register",
        of(mistakes.factor_inverted, ("lw_in", "lw_out")),
        BEAM,
        skies=SKIES,
    ),
    row(
        "factors inverted: all four",
        "factor-inverted",
        "sw_in sw_out lw_in lw_out register",
        of(mistakes.factor_inverted, CHANNELS),
        BEAM,
        skies=SKIES,
    ),
    row(
        "factors exchanged between the bands",
        "factors-exchanged",
        "sw_in lw_in register",
        of(mistakes.factors_exchanged, "sw_in", "lw_in"),
        BEAM,
        skies=SKIES,
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
        DAY,
    ),
    row(
        "all covers for 75 s",
        "cover-left-on",
        "sw_in sw_out lw_in lw_out",
        of(mistakes.cover_left_on, lasts=75.0),
        (
            "by day, in a longer segment",
            lambda seen: seen.day and mistakes.during(seen.campaign, seen.name, 0).sum() > 90,
        ),
        severity="warning",
    ),
    row("cover on sw_in", "cover-left-on", "sw_in", of(mistakes.cover_left_on, ("sw_in",)), DAY),
    row(
        "cover on sw_out",
        "cover-left-on",
        "sw_out",
        of(mistakes.cover_left_on, ("sw_out",)),
        ("by day, sw_in over 110 W m-2", lambda seen: seen.day and seen.true["sw_in"].min() > 110.0),
    ),
    row(
        "set upside down",
        "head-inverted",
        "sw_in sw_out lw_in lw_out",
        mistakes.head_inverted,
        NO_SNOW,
        prepare=alone,
    ),
    row(
        "shortwave exchanged",
        "channels-exchanged",
        "sw_in sw_out",
        of(mistakes.exchanged, ("sw",)),
        NO_SNOW,
        prepare=alone,
    ),
    row(
        "longwave exchanged",
        "channels-exchanged",
        "lw_in lw_out",
        of(mistakes.exchanged, ("lw",)),
        DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: sw_in",
        "sign-reversed",
        "sw_in",
        of(mistakes.sign_reversed, "sw_in"),
        DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: sw_out",
        "sign-reversed",
        "sw_out",
        of(mistakes.sign_reversed, "sw_out"),
        DAY,
        prepare=alone,
    ),
    row(
        "sign reversed: lw_in",
        "sign-reversed",
        "lw_in",
        of(mistakes.sign_reversed, "lw_in"),
        ("its net signal beyond 30 W m-2", lambda seen: np.median(seen.net("lw_in")) < -30.0),
        prepare=alone,
    ),
    row(
        "sign reversed: lw_out",
        "sign-reversed",
        "lw_out",
        of(mistakes.sign_reversed, "lw_out"),
        ("reversed leads make the ground 9 K colder than the air under a strong sun", Seen.ground_hot),
        prepare=alone,
        skies=SKIES,
    ),
    *(
        row(
            f"frozen: {c}",
            "channel-frozen",
            c,
            of(mistakes.channel_frozen, c),
            (
                "for 150 s" + ", by day" * c.startswith("sw"),
                lambda seen, c=c: 0.8 * seen.recorded > 150.0 and (seen.day or c.startswith("lw")),
            ),
        )
        for c in CHANNELS
    ),
    row(
        "swing of 15 degrees, five records a second",
        "swing-strong",
        "carrying",
        unhurt,
        (
            "in the sun twice for 95 s on end, mostly along its direction",
            lambda seen: seen.beam and seen.swing_shows(),
        ),
        severity="warning",
        skies=SKIES,
        needs=lambda spec, name: mistakes.swinging(often(spec)),
    ),
    row(
        "window wet",
        "dome-wet",
        "lw_in",
        mistakes.dome_wet,
        ("in the sun", lambda seen: seen.beam_first(400.0) and seen.recorded > 200.0),
        severity="warning",
        skies=SKIES,
    ),
    row(
        "8 K warmer at first",
        "thermal-shock",
        "body",
        unhurt,
        ("recorded for more than 6 minutes, pauses included", lambda seen: seen.span() > 400.0),
        severity="warning",
        needs=mistakes.out_of_a_warm_car,
    ),
    row("supply sags", "battery-low", "battery", mistakes.battery_low, LONG, severity="warning"),
    row(
        "supply sags, lw_in with it",
        "battery-low",
        "battery lw_in",
        of(mistakes.battery_low, ("lw_in",)),
        LONG,
    ),
    row("clock at its default date", "clock-reset", WHOLE, mistakes_files.clock_reset, beside=OF_CLOCK),
    row(
        "clock set back",
        "clock-backwards",
        WHOLE,
        mistakes_files.clock_backwards,
        prepare=watts,
        beside=OF_CLOCK,
    ),
    row(
        "block twice",
        "rows-duplicated",
        "file",
        mistakes_files.rows_duplicated,
        prepare=watts,
        severity="note",
    ),
    row(
        "block twice, values differ",
        "rows-duplicated",
        "file",
        of(mistakes_files.rows_duplicated, True),
        beside=frozenset({"clock-backwards"}),
    ),
    row("files overlap", "rows-duplicated", "file", mistakes_files.overlapping_files, severity="note"),
    row("last line cut", "file-truncated", "file", mistakes_files.file_truncated, severity="warning"),
    row(
        "lines garbled", "row-damaged", "file", mistakes_files.row_damaged, prepare=watts, severity="warning"
    ),
    row(
        "a line in another encoding",
        "row-damaged",
        "file",
        mistakes_files.mixed_encodings,
        severity="warning",
    ),
    row(
        "head of the file repeated",
        "lines-skipped",
        "file",
        mistakes_files.header_repeated,
        prepare=watts,
        severity="note",
    ),
    row("0 bytes", "file-empty", WHOLE, mistakes_files.empty_file, prepare=watts),
    row(
        "decimal mark: comma",
        "decimal-comma",
        WHOLE,
        mistakes_files.other_decimal,
        beside=frozenset({"wrong-delimiter"}),
    ),
    row("decimal mark: point", "decimal-comma", WHOLE, mistakes_files.other_decimal, prepare=watts),
    row("tabs between the fields", "wrong-delimiter", WHOLE, mistakes_files.other_delimiter),
    row("UTF-16", "wrong-encoding", WHOLE, mistakes_files.other_encoding, prepare=watts),
    row("every second record", "sampling-interval", "rows file", mistakes_files.sampling_interval),
)
