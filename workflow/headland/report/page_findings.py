"""Page 7: the instruments, what was found wrong or doubtful, and what this day can't show."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pandas as pd

from headland.physics.constants import RADIATION
from headland.report.cells import cell, column, table, words_table
from headland.report.given import Given
from headland.report.wording import ALIKE, SHOWN, count, listed, number, units, with_ends

CONCERNED = {
    "sw_in": "incoming shortwave, albedo, net radiation and what is estimated from it",
    "sw_out": "reflected shortwave, albedo, net radiation and what is estimated from it",
    "lw_in": (
        "incoming longwave, net radiation, what is estimated from it, and a little of the surface temperature"
    ),
    "lw_out": "outgoing longwave, surface temperature, net radiation and what is estimated from it",
    "body_temperature": "both longwave terms and the surface temperature",
}
"""The numbers that an error of a channel makes wrong."""
CLEAR_FOR_LONGER = {"no-beam", "no-clear-sky", "no-clear-witness", "no-clear-walks"}
"""Reasons of checks that need a clear sky for longer than a segment, or over the whole record."""
MOST_LINES = 50
"""Lines of a file that one row names."""
CORRECTED = {
    "temperature_coefficient": "temperature",
    "window_coefficient": "the sun on the window",
}
"""What a coefficient of a certificate corrects, by its column."""
MOST_ROWS = 14
"""Findings that the page prints at most; all are in checks.csv."""


def context(given: Given) -> dict:
    """What the seventh page prints."""
    checks = given.tables["checks"]
    return {
        "certificates": certificates_table(given.certificates, given.settings["sets"]),
        "certificate_words": certificate_words(given.settings["certificate"], given.certificates),
        "intercomparison": intercomparison_table(given.intercomparison),
        "against_station": against_station_table(given.against_station),
        "scale_words": scale_words(given.settings["set_scale"]),
        "findings": findings_table(checks),
        "findings_words": findings_words(checks),
        "untold": untold_table(given.untold, list(given.settings["sets"])),
        "clear_words": clear_words(given.tables["segments"]["sky"], given.untold),
    }


def certificate_words(method: str, certificates: pd.DataFrame) -> str:
    """Which certificate is used, and which of their coefficients correct the values."""
    words = {"interpolate": "Between two certificates the factor changes linearly with time."}
    chosen = words.get(method, "The latest certificate dated on or before the day is used.")
    heads = {effect: int(certificates[name].notna().sum()) for name, effect in CORRECTED.items()}
    parts = [f"{count(number_of, 'head')} for {effect}" for effect, number_of in heads.items() if number_of]
    return f"{chosen} Coefficients of certificates correct {' and '.join(parts)}." if parts else chosen


def certificates_table(frame: pd.DataFrame, sets: Mapping[str, Mapping]) -> dict:
    """Sensors and certificates, one row a channel of a set."""
    columns = [
        column("set (logger)", text=True),
        column("channel", text=True),
        column("sensor", text=True),
        column("factor", "W m⁻² mV⁻¹"),
        column("in the logger", "W m⁻² mV⁻¹"),
        column("certificate of", text=True),
        column("age", "months"),
        column("U (k\u00a0=\u00a02)", "%"),
        column("response", "s, 95 %"),
        column("class", text=True),
    ]
    rows = [
        [
            cell(f"{row['set']} ({sets[row['set']]['logger_id']})"),
            cell(SHOWN[row["channel"]].title),
            cell(row["sensor_id"] or "–"),
            cell(number(row["factor"], 2)),
            cell(number(row["programmed_factor"], 2)),
            cell(row["certificate_date"] or "–"),
            cell(number(row["age_months"], 0)),
            cell(number(row["expanded_uncertainty_percent"], 1)),
            cell(number(row["response_time_95"], 0)),
            cell(row["instrument_class"] or "–"),
        ]
        for row in frame.to_dict("records")
    ]
    return table(columns, rows)


def scale_words(reference: str) -> str:
    """Whether the sets are on one scale."""
    scales = {
        "none": "Each set keeps its own scale.",
        "mean": "All sets are put on their mean by these visits, and the intervals account for it.",
    }
    other = f"All sets are put on the scale of {reference} by these visits, and the intervals account for it."
    return scales.get(reference, other)


def intercomparison_table(frame: pd.DataFrame) -> dict:
    """Sets side by side: difference, ratio and E_n of each channel."""
    rows = []
    for row in frame.to_dict("records"):
        shortwave = row["channel"].startswith("sw")
        rows.append(
            (
                f"{row['set_a']} − {row['set_b']}",
                f"{row['field']}, {row['start_utc']:%H:%M}",
                SHOWN[row["channel"]].title,
                with_ends(row["difference"], row["difference_low"], row["difference_high"], 1),
                with_ends(row["ratio"], row["ratio_low"], row["ratio_high"], 3) if shortwave else "–",
                number(row["e_n"], 2),
            )
        )
    titles = ("sets", "where, when (UTC)", "channel", "difference, W m⁻²", "ratio", "Eₙ")
    return words_table(titles, rows, numeric=(3, 4, 5))


def against_station_table(frame: pd.DataFrame) -> dict:
    """Sets against the fixed station: ratio and E_n of each incoming term."""
    rows = [
        (
            row["set"],
            SHOWN[row["channel"]].title,
            f"{row['start_utc']:%H:%M} to {row['end_utc']:%H:%M}",
            number(row["records"], 0),
            with_ends(row["ratio"], row["ratio_low"], row["ratio_high"], 3),
            number(row["e_n"], 2),
        )
        for row in frame.to_dict("records")
    ]
    titles = ("set", "channel", "from, to (UTC)", "records", "set over station", "Eₙ")
    return words_table(titles, rows, numeric=(3, 4, 5))


def findings_words(checks: pd.DataFrame) -> str:
    """How many findings there are, and how many the page leaves out."""
    if not len(checks):
        return "Nothing was found wrong or doubtful."
    parts = [count(int((checks["severity"] == kind).sum()), kind) for kind in ("error", "warning", "note")]
    groups = len(_alike(checks))
    shared = " Findings of one kind share a row." if groups < len(checks) else ""
    more = (
        f" The {MOST_ROWS} gravest kinds are shown; checks.csv, attached, has all."
        if groups > MOST_ROWS
        else ""
    )
    return f"Found: {listed(parts)}.{shared}{more}"


def _alike(checks: pd.DataFrame) -> list[list[dict]]:
    """Findings of one kind together, in the order of the table."""
    groups: dict[tuple, list[dict]] = {}
    for row in checks.to_dict("records"):
        groups.setdefault(tuple(row[key] for key in ("severity", "code", "step", "remedy")), []).append(row)
    return list(groups.values())


def findings_table(checks: pd.DataFrame) -> dict:
    """What was found, gravest first; findings of one kind share a row where they say the same of several
    places.
    """
    rows = []
    for alike in _alike(checks)[:MOST_ROWS]:
        first = alike[0]
        kept = alike if len(alike) <= ALIKE else alike[: ALIKE - 1]
        what = [f"{places}: {words}" for words, places in _by_words(kept).items()]
        if len(kept) < len(alike):
            what.append(f"{len(alike) - len(kept)} more like these in checks.csv.")
        when = list(dict.fromkeys(filter(None, (moments(row) for row in kept))))
        rows.append(
            [
                cell(first["severity"], severity=f"severity-{first['severity']}"),
                cell(first["code"], first["step"]),
                cell("\n".join(what), "; ".join(when)),
                cell(first["remedy"]),
            ]
        )
    columns = [
        column("severity", text=True),
        column("code", text=True, second="step"),
        column("where and what", text=True, second="when, UTC"),
        column("remedy", text=True),
    ]
    return table(columns, rows)


def _by_words(rows: Sequence[Mapping]) -> dict[str, str]:
    """What findings say, each once, with all its places."""
    places: dict[str, list[str]] = {}
    for row in rows:
        places.setdefault(row["what"], []).append(place(row))
    return {words: "; ".join(dict.fromkeys(own)) for words, own in places.items()}


def clear_words(skies: pd.Series, untold: pd.DataFrame) -> str:
    """Why page 1 may call segments clear that these checks do not. skies: of the segments."""
    clear = int((skies == "clear").sum())
    if not clear or not CLEAR_FOR_LONGER & set(untold["reason"]):
        return ""
    return (
        f"Page 1 calls {clear} of {count(len(skies), 'segment')} clear, each by its own samples. Some of "
        "these checks need a sky that is clear for longer, or over the whole record."
    )


def untold_table(untold: pd.DataFrame, sets: Sequence[str]) -> dict:
    """The checks that could not be made, one row a reason; channels and sets where only some are meant."""
    rows = []
    for (why, settles), part in untold.groupby(["why", "settles"], sort=False):
        checks = [_which(str(code), own, sets) for code, own in part.groupby("code", sort=False)]
        rows.append((units(str(why)), "; ".join(checks), units(str(settles))))
    return words_table(("why", "checks that could not be made", "what would settle it"), rows)


def _which(code: str, rows: pd.DataFrame, sets: Sequence[str]) -> str:
    channels = list(dict.fromkeys(" ".join(rows["channel"]).split()))
    names = list(dict.fromkeys(rows["set"]))
    of = f" of {', '.join(channels)}" if 0 < len(channels) < len(RADIATION) else ""
    every = "" in names or set(sets) <= set(names)
    return code + of + ("" if every else f" (set {listed(names)})")


def place(row: Mapping) -> str:
    """Where a finding is: file and line, set and channel."""
    line = f", line {int(row['line'])}" if row["line"] == row["line"] else ""
    parts = [row["file"] + line if row["file"] else "", row["set"], row["channel"]]
    return ", ".join(part for part in parts if part) or "–"


def moments(row: Mapping) -> str:
    """When a finding is, where it has a time."""
    known = [row[key] for key in ("start_utc", "end_utc") if pd.notna(row[key])]
    return " to ".join(f"{moment:%Y-%m-%d %H:%M:%S}" for moment in known)


def concerned(row: Mapping) -> str:
    """Which numbers an error makes wrong or withholds."""
    of = f" of set {row['set']}" if row["set"] else ""
    if row["code"] == "no-segment":
        return "every number: there is none"
    if row["step"] == "segment" and row["line"] > 1:
        return f"the segment of this row of the notes{of}, its field and its surface"
    return CONCERNED.get(row["channel"], "every number") + of


def errors(checks: pd.DataFrame) -> list[dict]:
    """The errors, each with its place and the numbers concerned; of many of one kind the first ones and the
    lines of the others.

    Returns
    -------
    `where`, `what`, `remedy`, `concerns`, and `count`, how many errors a row stands for.
    """
    rows: list[dict] = []
    kinds = ["code", "file", "set", "channel", "remedy"]
    for _, alike in checks[checks["severity"] == "error"].groupby(kinds, sort=False, dropna=False):
        own = alike.to_dict("records")
        kept = len(own) if len(own) <= ALIKE else ALIKE - 1
        rows += [
            {
                "where": place(r),
                "what": r["what"],
                "remedy": r["remedy"],
                "concerns": concerned(r),
                "count": 1,
            }
            for r in own[:kept]
        ]
        if others := own[kept:]:
            rows.append(_others(others))
    return rows


def _others(rows: Sequence[Mapping]) -> dict:
    """One row for more errors of one kind, with their lines."""
    first = rows[0]
    known = [f"{row['line']:.0f}" for row in rows if row["line"] == row["line"]]
    more = [f"and {len(known) - MOST_LINES} more"] if len(known) > MOST_LINES else []
    lines = ", ".join([*known[:MOST_LINES], *more])
    where = {**first, "line": math.nan, "file": first["file"] + (f", lines {lines}" if lines else "")}
    return {
        "where": place(where),
        "what": f"{len(rows)} more like these; the findings give each.",
        "remedy": first["remedy"],
        "concerns": "the same numbers, of each",
        "count": len(rows),
    }
