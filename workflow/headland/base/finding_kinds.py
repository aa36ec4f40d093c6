"""Which findings follow from which, and which withhold numbers or make them doubtful, by code and variant."""

from __future__ import annotations

Kind = str | tuple[str, str]
"""A code, or a code with its variant."""
FOLLOWS: dict[Kind, tuple[Kind, ...]] = {
    "value-invalid": ("certificate-missing",),
    "certificate-missing": ("channel-empty",),
    "body-temperature-unit": (
        "channel-empty",
        "sets-disagree",
        "station-disagrees",
        "head-tilted",
        "upward-shaded",
    ),
    "channel-empty": ("set-unused", "segment-unused"),
    "cover-left-on": (
        "set-unused",
        "sets-disagree",
        "station-disagrees",
        "head-tilted",
        "upward-shaded",
    ),
    "notes-unknown-name": ("set-unused", "data-without-note"),
    "clock-against-sun": (
        "set-unused",
        "notes-shifted",
        "clock-check-far-off",
        "note-without-data",
        "data-without-note",
        "segment-unused",
        "surface-mislabelled",
        "field-inconsistent",
        "sets-disagree",
        "head-tilted",
        "own-shade",
        "swing-strong",
        "factor-inverted",
        ("factors-exchanged", "bands"),
        "station-disagrees",
        "beyond-possible",
    ),
    **dict.fromkeys(
        ("notes-shifted", "notes-sets-swapped"),
        (
            "set-unused",
            "clock-check-far-off",
            "note-without-data",
            "data-without-note",
            "segment-unused",
            "surface-mislabelled",
            "field-inconsistent",
            "own-shade",
            "head-tilted",
            "interval-unknown",
        ),
    ),
    # it may be the logger's clock, whose set then measured another sun than the others
    ("notes-shifted", "one-set"): ("sets-disagree", "station-disagrees", "swing-strong"),
    **dict.fromkeys(
        ("clock-reset", "clock-backwards"),
        (
            "notes-shifted",
            "note-without-data",
            "beyond-possible",
            "certificate-later",
            "segment-unused",
            "set-unused",
            # by wrong times, beside what others saw then
            "sets-disagree",
            "station-disagrees",
            "upward-shaded",
            ("dome-wet", "beside"),
            ("dome-wet", "covered"),
        ),
    ),
    "sampling-interval": ("rows-duplicated", "segment-unused"),
    **dict.fromkeys(
        (
            "decimal-comma",
            "wrong-delimiter",
            "wrong-encoding",
            "layout-mismatch",
            "file-empty",
        ),
        ("note-without-data",),
    ),
    "sign-reversed": (
        "set-unused",
        "segment-unused",
        "sets-disagree",
        "station-disagrees",
        "head-tilted",
        "upward-shaded",
    ),
    # a file that is not used leaves no data; another sensor's factor makes a channel wrong
    **dict.fromkeys(
        (("pair-broken", "file"), ("pair-broken", "not-found"), ("pair-broken", "register")),
        ("note-without-data",),
    ),
    **dict.fromkeys(
        (("pair-broken", "programmed"), ("pair-broken", "two-sets")),
        (
            "factor-inverted",
            "factors-exchanged",
            "channels-exchanged",
            "head-inverted",
            "longwave-corrected-one-channel",
            "sign-reversed",
            "cover-left-on",
            "dome-wet",
            "beyond-possible",
            "sets-disagree",
            "station-disagrees",
            "surface-mislabelled",
            "field-inconsistent",
        ),
    ),
    # by the size of four factors, of which some are known to stand in the wrong rows
    **dict.fromkeys(
        (("factors-exchanged", "serial"), ("factors-exchanged", "programmed")),
        (("factors-exchanged", "bands"),),
    ),
    **dict.fromkeys(
        (
            "head-inverted",
            "channels-exchanged",
            "factor-inverted",
            "factors-exchanged",
            "longwave-corrected-twice",
            "longwave-not-corrected",
            "longwave-corrected-one-channel",
        ),
        ("sets-disagree", "station-disagrees", "head-tilted", "upward-shaded"),
    ),
    # an amplifier short of voltage scatters
    "battery-low": ("swing-strong",),
    # a longwave head that keeps one value is as warm as the air at times
    "channel-frozen": ("sets-disagree", "station-disagrees", "head-tilted", "upward-shaded", "dome-wet"),
}
"""What may follow from a finding: each by its code, or by code and variant. Where the cause is named and
explains them, they are not listed for the same set."""
LABELLING = frozenset({"clock-against-sun", "notes-shifted", "notes-sets-swapped"})
"""Causes that put samples under wrong notes. Their fact `left` lists what remains once they are corrected:
code, set and start (UTC) of each."""
OF_LABELS = frozenset(
    {
        "notes-shifted",
        "note-without-data",
        "data-without-note",
        "segment-unused",
        "surface-mislabelled",
        "set-unused",
    }
)
"""What a wrong clock does not explain where notes and runs fit each other: watch and logger are then wrong
by the same time (fact `labels_hold`)."""


OF_VISITS = frozenset({"part", "part-either"})
"""Sets exchanged for some visits: nothing else follows, and only these visits are doubtful."""
OF_TIMES = frozenset({"note-without-data", "data-without-note", "segment-unused", "interval-unknown"})
"""What notes that are off by a minute may explain."""


WITHHELD = frozenset(
    {
        "longwave-corrected-twice",
        "longwave-not-corrected",
        "longwave-corrected-one-channel",
        "body-temperature-unit",
        "sign-reversed",
        "channel-frozen",
        "factor-inverted",
        "factors-exchanged",
        "head-inverted",
        "channels-exchanged",
        "clock-against-sun",
        "notes-shifted",
        "notes-sets-swapped",
        "place-disagrees",
    }
)
"""Codes that, as errors, make a number wrong by more than its interval covers: those numbers are withheld."""
DOUBTS = frozenset(
    {"undecided", "one-of-two", "fits-nowhere", "against-air", "part", "part-either", "side-by-side"}
)
"""Variants of these codes that are not errors, because they can't be decided, or not surely enough."""
STAND = frozenset({("clock-against-sun", ""), ("clock-against-sun", "noted"), ("notes-shifted", "small")})
"""Clocks and notes that are off by little, or together: the means are of the noted surfaces and are kept."""


OF_CLOCKS = frozenset({"clock-reset", "clock-backwards", "clock-check-far-off"})
"""Errors of a logger's clock: they concern all its samples, not only those at the time given."""
DOUBTFUL = frozenset(
    {
        ("clock-against-sun", "noted"),
        ("clock-reset", ""),
        ("clock-reset", "files"),
        ("clock-backwards", ""),
        ("clock-check-far-off", ""),
        ("sampling-interval", ""),
        ("rows-duplicated", "different"),
        ("pair-broken", "file"),
        ("pair-broken", "register"),
        ("battery-low", "channels"),
    }
)
"""Errors by code and variant that may make a number wrong, or not: those numbers are provisional. So are
those of a code that withholds, where it can't be decided (DOUBTS)."""
