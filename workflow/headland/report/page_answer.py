"""Page 1: which surface absorbed most, by how much, and how sure that is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

import pandas as pd

from headland.report import figures_answer, next_time
from headland.report.cells import printed
from headland.report.differences import COMMON, FALSE, TRUE, UNDECIDED, between, leads, of_quantity
from headland.report.given import Given
from headland.report.page import embedded
from headland.report.page_findings import errors
from headland.report.wording import (
    ESTIMATED,
    PROVISIONAL,
    WITHHELD,
    count,
    listed,
    number,
    opening,
    span,
    with_interval,
)

WEATHER = (
    ("air_temperature", "air", 1, "°C"),
    ("relative_humidity", "humidity", 0, "%"),
    ("wind_speed", "wind", 1, "m s⁻¹"),
    ("pressure", "pressure", 0, "hPa"),
)
"""Columns of weather.csv: title, decimals, unit."""
WITHOUT_ROWS, ROW, LINE, LEAST_ROOM = 131.0, 9.4, 4.4, 20
"""Millimetres of the first page: free without a surface and without what limits the numbers, taken by each
surface and by each line of the latter, and what a sentence by hand needs.
"""
LETTERS = 100
"""Letters of a line of the facts, at least."""
MOST_PAIRS = 4
"""Pairs that are not told apart and that the first page names at most."""
SIDES = {"latitude": "NS", "longitude": "EW"}
"""The sides of the equator and of Greenwich: positive, negative."""


def context(given: Given) -> dict:
    """What the first page prints."""
    checks = given.tables["checks"]
    rows = of_quantity(given.tables["differences"])
    found: list[str] = [
        count(int((checks["severity"] == kind).sum()), kind) for kind in ("error", "warning", "note")
    ]
    impossible = int(given.untold["code"].nunique())
    limiting = limits(given, rows)
    return {
        "answer_words": sentence(given, rows),
        "sure_words": sureness(given, rows),
        "status": [*found, f"{count(impossible, 'check')} not possible", *_nothing_doubtful(given)],
        "errors": errors(checks),
        "facts": [*facts(given), *limiting],
        "answer": answer(given, rows),
        "answer_notes": notes(given),
        "room": room(given, limiting),
    }


def _nothing_doubtful(given: Given) -> list[str]:
    """That no number is doubtful, where that is so."""
    return [] if given.ranked["state"].isin((PROVISIONAL, WITHHELD)).any() else ["no number is provisional"]


def room(given: Given, limiting: Sequence[tuple[str, str]]) -> int:
    """Millimetres of the first page that are left for the reader's own words; 0 where too little is.

    limiting: what limits the numbers, as `limits` gives it.
    """
    errors_found = (given.tables["checks"]["severity"] == "error").any()
    lines = sum(math.ceil(len(words) / LETTERS) for _, words in limiting)
    left = round(WITHOUT_ROWS - ROW * len(given.ranked) - LINE * lines)
    return 0 if errors_found or left < LEAST_ROOM else left


def sentence(given: Given, rows: pd.DataFrame) -> str:
    """Which surface absorbed most, and by how much more than the nearest of the others."""
    ranked = given.ranked
    known = ranked[ranked[COMMON].notna()]
    if not len(known):
        return "No surface has a net radiation under the common sky."
    first = known.iloc[0]
    text = f"{opening(given.name(first['surface']))} absorbed most: {number(first[COMMON], 0)} W m⁻²"
    text += " under the common sky"
    lead = leads(rows, first["surface"])
    # a surface that is not behind at one moment is named by the next sentence
    lead = lead[lead > 0]
    if not len(lead):
        return text + "."
    nearest = f"{number(lead.iloc[0], 0)} more than {given.name(str(lead.index[0]))}"
    if len(lead) == len(known) - 1 > 1:
        return f"{text}, {nearest}, which is nearest."
    return f"{text}, {nearest}."


def sureness(given: Given, rows: pd.DataFrame) -> str:
    """Whether the first surface is surely first, and how many pairs differ."""
    known = rows[rows["verdict"] != "none"]
    if not len(known):
        return "No two surfaces can be compared." if not len(rows) else "No difference has an interval."
    first = given.ranked["surface"].iloc[0]
    own = known[(known["surface_a"] == first) | (known["surface_b"] == first)]
    beyond = own["verdict"] == TRUE
    if beyond.all():
        lead = "That it absorbed most is sure at 95 %"
    else:
        others = [
            given.name(b if a == first else a)
            for a, b in own.loc[~beyond, ["surface_a", "surface_b"]].itertuples(index=False)
        ]
        lead = f"It can't be told apart from {listed(others)} at 95 %"
    differ, undecided = int((known["verdict"] == TRUE).sum()), int((known["verdict"] == UNDECIDED).sum())
    text = f"{lead}; {differ} of {count(len(known), 'pair')} of surfaces differ in net radiation (page 2)"
    return text + (f", {undecided} can't be decided." if undecided else ".")


def answer(given: Given, rows: pd.DataFrame) -> dict:
    """The table of the first page: one row a surface, most net radiation first."""
    ranked = given.ranked
    scale = figures_answer.scale_of(ranked)
    first = ranked["surface"].iloc[0] if len(ranked) else ""
    return {
        "first": given.name(first),
        "axis": embedded(figures_answer.axis(scale)) if scale else "",
        "axis_words": _axis_words(scale),
        "rows": [
            _row(given, row, scale, between(rows, first, row["surface"])) for row in ranked.to_dict("records")
        ],
    }


def _axis_words(scale: figures_answer.Scale | None) -> str:
    ends = f" from {number(scale.low, 0)} to {number(scale.high, 0)} W m⁻²" if scale else ""
    return f"Axis of net radiation under the common sky{ends}."


def _row(given: Given, row: Mapping, scale: figures_answer.Scale | None, lead: Mapping | None) -> dict:
    words = f"net radiation {number(row[COMMON], 0)} W m⁻²"
    if math.isfinite(row[f"{COMMON}_low"]):
        words += f", 95 % interval {span(row[f'{COMMON}_low'], row[f'{COMMON}_high'], 0)}"
    less = (
        with_interval(lead["difference"], lead["difference_low"], lead["difference_high"], 0) if lead else ""
    )
    return {
        "name": given.name(row["surface"]),
        "state": str(row.get("state") or ""),
        "common": printed(row, COMMON),
        "picture": embedded(figures_answer.row(row, scale, given.surfaces)) if scale else "",
        "picture_words": f"{opening(given.name(row['surface']))}: {words}.",
        "less": less,
        "measured": [printed(row, name) for name in ("albedo", "surface_temperature")],
        "estimated": [printed(row, name) for name in ESTIMATED],
    }


def notes(given: Given) -> list[str]:
    """What a reader of the table must know."""
    states = given.ranked["state"] if "state" in given.ranked else pd.Series("", given.ranked.index)
    result = []
    if (states == PROVISIONAL).any():
        result.append("Grey and hollow: provisional, because an error makes these numbers doubtful.")
    if (states == WITHHELD).any():
        result.append("Withheld: an error makes these numbers wrong.")
    return result


def facts(given: Given) -> list[tuple[str, str]]:
    """Where, when, with what and under which sky."""
    site, sets = given.settings["site"], given.settings["sets"]
    north, east = (f"{abs(site[name]):.4f}° {sides[site[name] < 0]}" for name, sides in SIDES.items())
    place = f"{north}, {east}, {number(site['elevation'], 0)} m"
    result = [("Where", f"{site['name']} ({place})"), ("When", when(given))]
    loggers = [f"{name} (logger {entry['logger_id']})" for name, entry in sets.items()]
    result.append(("Sets", listed(loggers)))
    sun = sun_words(given)
    skies = given.tables["segments"]["sky"]
    clear = [f"{name} in {amount}" for name, amount in sorted(skies[skies != ""].value_counts().items())]
    sky = f"{listed(clear)} of {count(len(skies), 'segment')}" if clear else ""
    result.append(("Sky", "; ".join(part for part in (sky, sun) if part) or "not known"))
    result.append(("Weather", weather_words(given) or "not known"))
    if all(map(math.isfinite, given.sky)):
        words = (
            f"{number(given.sky[0], 0)} W m⁻² shortwave and {number(given.sky[1], 0)} W m⁻² longwave "
            "from above"
        )
        result.append(("Common sky", f"{words}, the means over all segments"))
    return result


def limits(given: Given, rows: pd.DataFrame) -> list[tuple[str, str]]:
    """Which pairs are not known to differ, what limits the numbers most, and what to do next time."""
    alike = rows[rows["verdict"].isin((FALSE, UNDECIDED))]
    pairs = [
        f"{given.name(a)} and {given.name(b)}"
        for a, b in zip(alike["surface_a"], alike["surface_b"], strict=True)
    ]
    result = []
    if pairs:
        few = "; ".join(pairs) if len(pairs) <= MOST_PAIRS else f"{len(pairs)} pairs"
        result.append(("Not told apart", f"{few} (page 2)"))
    known = next_time.found(given)
    if words := next_time.limit_words(known):
        result.append(("What limits", f"{words} (page 5)"))
    if words := next_time.next_words(given, known):
        result.append(("Next time", words))
    return result


def when(given: Given) -> str:
    """Date and hours of the recording, in UTC and by the clock of the place."""
    times = [frame["time_utc"] for frame in given.samples.values() if len(frame)]
    if not times:
        return "nothing recorded"
    first, last = min(t.iloc[0] for t in times), max(t.iloc[-1] for t in times)
    zone = given.settings["zone"]
    local = [moment.tz_convert(ZoneInfo(zone)) for moment in (first, last)]
    days = first.date() == last.date() and local[0].date() == local[1].date()
    form = "%H:%M" if days else "%Y-%m-%d %H:%M"
    hours = f"{first:{form}} to {last:{form}} UTC, {local[0]:{form}} to {local[1]:{form}} local time ({zone})"
    return f"{first:%Y-%m-%d}, {hours}" if days else hours


def days(given: Given) -> str:
    """The days of the recording, in UTC."""
    found = sorted(
        {
            day
            for frame in given.samples.values()
            for day in frame["time_utc"].dt.strftime("%Y-%m-%d").unique()
        }
    )
    if not found:
        return "nothing recorded"
    return ", ".join(found) if len(found) <= 3 else f"{found[0]} to {found[-1]}"


def sun_words(given: Given) -> str:
    """How high the sun was."""
    heights = [frame["solar_elevation"] for frame in given.samples.values() if len(frame)]
    if not heights:
        return ""
    return f"sun {span(min(h.min() for h in heights), max(h.max() for h in heights), 0)}° high"


def weather_words(given: Given) -> str:
    """Weather during the recording, from weather.csv or else from campaign.yaml."""
    table, times = given.weather, [frame["time_utc"] for frame in given.samples.values() if len(frame)]
    if len(table) and times:
        hour = pd.Timedelta(hours=1)
        first, last = min(t.iloc[0] for t in times) - hour, max(t.iloc[-1] for t in times) + hour
        near = table[table["time_utc"].between(first, last)]
        parts = [
            f"{title} {span(near[key].min(), near[key].max(), decimals)} {unit}"
            for key, title, decimals, unit in WEATHER
            if near[key].notna().any()
        ]
        return f"{', '.join(parts)} (weather.csv)" if parts else ""
    fixed = given.settings["weather"]
    parts = [
        f"{title} {number(fixed[key], decimals)} {unit}"
        for key, title, decimals, unit in WEATHER
        if fixed.get(key) is not None
    ]
    return f"{', '.join(parts)} (campaign.yaml)" if parts else ""
