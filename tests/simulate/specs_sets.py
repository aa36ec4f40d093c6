"""Ready campaigns of sets that differ in everything a set can differ in."""

from __future__ import annotations

from .spec import CHANNELS, Set, Sky, Spec, field, make_set, rounds

BIRDS = (
    "curlew",
    "lapwing",
    "godwit",
    "dunlin",
    "snipe",
    "bittern",
    "teal",
    "pipit",
    "wagtail",
    "dipper",
    "linnet",
    "whinchat",
)

# What sets can differ in; many_sets deals them out in turn.
VARIANTS = (
    dict(layout="comma-clock", utc_offset="+01:00", digits=4, body_digits=2),
    dict(layout="semicolon-day", utc_offset="+00:00", digits=2, body_digits=2),
    dict(layout="comma-clock", unit="uV", utc_offset="+02:00", digits=1, body_digits=2, body_thermometers=2),
    dict(
        layout="semicolon-day",
        longwave="corrected",
        utc_offset="+00:00",
        digits=2,
        body_digits=2,
        body_unit="K",
        body_thermometers=2,
    ),
    dict(layout="comma-clock", utc_offset="+01:00", digits=4, body_digits=3, body_unit="ohm", split="run"),
    dict(layout="semicolon-day", longwave="corrected", utc_offset="-03:30", digits=2, body_digits=2),
    dict(layout="by position", unit="mV", utc_offset="+05:45", digits=4, body_digits=2),
    dict(layout="seconds", unit="uV", utc_offset="+00:00", digits=1, body_digits=2),
    dict(layout="comma-clock", interval=5.0, utc_offset="+01:00", digits=4, body_digits=2),
)


def other_layout(name: str) -> dict:
    """Two more ways to write the same file: columns by position with the parts of the time, and seconds since
    a day.
    """
    channels = ("sw_in", "sw_out", "lw_in", "lw_out", "body_temperature")
    units = ("mV", "mV", "mV", "mV", "degC")
    common = {"decimal": ".", "encoding": "utf-8", "skip_lines": 0, "missing": ["NaN"], "interval": 1.0}
    if name == "by position":
        return {
            "delimiter": "whitespace",
            **common,
            "names": False,
            "lines_after_names": 0,
            "time": {"year": 2, "day_of_year": 3, "hhmm": 4, "second": 5},
            "stamp": "start",
            "channels": {
                c: {"column": 6 + i, "unit": u} for i, (c, u) in enumerate(zip(channels, units, strict=False))
            },
        }
    return {
        "delimiter": ",",
        **common,
        "names": True,
        "lines_after_names": 0,
        "time": {"column": "t", "unit": "s", "since": "2025-01-01"},
        "stamp": "instant",
        "channels": {
            c: {"column": f"v{i}", "unit": u} for i, (c, u) in enumerate(zip(channels, units, strict=False))
        },
    }


def variant(i: int) -> Set:
    """The i-th set of many, unlike its neighbours in units, clock, file and thermometers."""
    name = BIRDS[i % len(BIRDS)] + ("" if i < len(BIRDS) else f"-{1 + i // len(BIRDS)}")
    options = dict(VARIANTS[i % len(VARIANTS)])
    if options["layout"] in ("by position", "seconds"):
        options["layout"] = other_layout(options["layout"])
    factor = ("uV per W m-2", "W m-2 per mV")[i % 2]
    return make_set(name, f"M-{i + 1:02d}", factor_unit=factor, clock_error=(i * 7) % 11 - 5.0, **options)


def many_sets(n: int = 9, **changes) -> Spec:
    """n sets that differ in everything a set can differ in, going round three fields."""
    fields = (
        field("Ridge pasture", "short_grass"),
        field("Long ley", "tall_crop"),
        field("Sandpit floor", "bare_dry_soil", sky_lag=15),
    )
    sets = tuple(variant(i) for i in range(n))
    return Spec(
        f"{n} sets at once",
        "2025-07-03 11:00:00",
        fields,
        sets,
        rounds(sets, fields),
        sky=Sky("broken", cloud_share=0.2),
        seed=9,
    ).with_(**changes)


def inline_layout(**changes) -> Spec:
    """A layout in campaign.yaml, microvolts, a thermometer for each longwave head (ohm above, K
    below), notes in a workbook.
    """
    channels = {
        c: {"column": name, "unit": "uV"}
        for c, name in zip(CHANNELS, ("s_top", "s_base", "l_top", "l_base"), strict=False)
    }
    channels |= {
        "body_temperature_lw_in": {"column": "r_top", "unit": "ohm"},
        "body_temperature_lw_out": {"column": "t_base", "unit": "K"},
    }
    layout = {
        "delimiter": "\t",
        "decimal": ".",
        "encoding": "utf-8",
        "skip_lines": 1,
        "names": True,
        "lines_after_names": 0,
        "missing": ["NaN"],
        "interval": 1.0,
        "stamp": "start",
        "channels": channels,
        "time": {name: name for name in ("year", "month", "day", "hour", "minute", "second")},
    }
    fields = (field("Lower meadow", "short_grass"), field("Dry tilth", "bare_dry_soil", sky_lag=10))
    s = make_set(
        "pipit",
        "P-07",
        layout=layout,
        utc_offset="+00:00",
        body_thermometers=2,
        digits=2,
        body_digits=3,
        clock_error=3.0,
    )
    return Spec(
        "A layout of one's own",
        "2025-08-20 12:30:00",
        fields,
        (s,),
        rounds((s,), fields),
        sky=Sky("broken", cloud_share=0.2),
        notes_xlsx=True,
        seed=11,
    ).with_(**changes)
