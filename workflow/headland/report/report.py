"""Step 9: what the report says, as plain values for its template. Numbers are only put into words here, never computed anew.

A table is a mapping: `columns` (title, second title, unit, whether text, key in quantities.csv, symbol), `rows` of cells (text, the smaller text
below it, severity) and `notes` under it.
"""

from __future__ import annotations

import base64
import math
import re
from collections.abc import Mapping, Sequence

import jinja2
import numpy as np
import pandas as pd
from markupsafe import Markup, escape

from headland.base import station
from headland.base.classes import STATION_TERMS
from headland.base.flags import has_any
from headland.base.words import word_parts
from headland.physics.constants import RADIATION
from headland.report.figures import equation, label

ESTIMATE = "G, H and LE are estimated from textbook fractions of the surface class."
SECTIONS = (
    ("where", "Where and when"),
    ("instruments", "Instruments and certificates"),
    ("recorded", "Recorded against noted"),
    ("components", "The components along the transects"),
    ("results", "Results"),
    ("balance", "Energy balance"),
    ("uncertainty", "Uncertainty"),
    ("findings", "Findings"),
    ("methods", "Methods"),
    ("appendix", "Appendix"),
)
SHOWN = {
    "sw_in": ("shortwave in", "W m⁻²", 0, "calibrate.sw_in"),
    "sw_out": ("shortwave out", "W m⁻²", 0, "calibrate.sw_out"),
    "albedo": ("albedo", "", 3, "summarise.albedo"),
    "lw_in": ("longwave in", "W m⁻²", 0, "correct_longwave.lw_in"),
    "lw_out": ("longwave out", "W m⁻²", 0, "correct_longwave.lw_out"),
    "surface_temperature": ("surface temperature", "°C", 1, "summarise.surface_temperature"),
    "net_radiation": ("net radiation", "W m⁻²", 0, "summarise.net_radiation"),
    "net_radiation_common_sky": ("net, common sky", "W m⁻²", 0, "summarise.net_radiation_common_sky"),
    "ground_heat": ("ground heat", "W m⁻²", 0, "balance.ground_heat"),
    "sensible_heat": ("sensible heat", "W m⁻²", 0, "balance.sensible_heat"),
    "latent_heat": ("latent heat", "W m⁻²", 0, "balance.latent_heat"),
    "evaporation": ("evaporation", "mm h⁻¹", 2, "balance.evaporation"),
    "bowen_ratio": ("Bowen ratio", "", 2, "balance.bowen_ratio"),
}
"""Title, unit, decimals in the report and key of each quantity."""
ANSWER = ("net_radiation", "albedo", "surface_temperature", "ground_heat", "sensible_heat", "latent_heat")
MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
WITHOUT = {
    "albedo": "no albedo with the sun under 10° or less than 50 W m⁻² from above",
    "net_radiation_common_sky": "no net radiation under the common sky where the sky was too different",
    "bowen_ratio": "no Bowen ratio where nothing evaporates or LE is not estimated",
    **{
        name: "no ground, sensible or latent heat where the textbook fractions don't hold (see the findings)"
        for name in ("ground_heat", "sensible_heat", "latent_heat", "evaporation")
    },
}
"""Why a quantity may have no value, in the words of a note under its table."""
ALIKE = 4
"""Findings of one kind that are told one by one at most, where it matters that others are seen too."""
BALANCE = ("net_radiation", "ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")
COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")
CONCERNED = {
    "sw_in": "incoming shortwave, albedo, net radiation and what is estimated from it",
    "sw_out": "reflected shortwave, albedo, net radiation and what is estimated from it",
    "lw_in": "incoming longwave, net radiation, what is estimated from it, and a little of the surface temperature",
    "lw_out": "outgoing longwave, surface temperature, net radiation and what is estimated from it",
    "body_temperature": "both longwave terms and the surface temperature",
}
"""The numbers that an error of a channel makes wrong."""
CLASS_VALUES = {
    "": (
        "emissivity",
        "ground_heat_fraction_day",
        "ground_heat_fraction_night",
        "latent_method",
        "evaporative_fraction",
        "priestley_taylor_coefficient",
        "sky_response",
    ),
    "choudhury": ("leaf_area_index",),
    "santanello": ("soil_moisture",),
    "hysteresis": ("hysteresis_a1", "hysteresis_a2", "hysteresis_a3"),
}
"""The properties of a class that numbers are made from: always, and by the method of the ground heat flux."""
WEATHER = (
    ("air_temperature", "air temperature", 1, "°C"),
    ("relative_humidity", "relative humidity", 0, "%"),
    ("pressure", "pressure", 0, "hPa"),
    ("wind_speed", "wind", 1, "m s⁻¹"),
)


# Texts -----------------------------------------------------------------------------------------------------------


def number(value: float, decimals: int) -> str:
    """A number with a real minus sign; an en dash where there is none."""
    if value is None or not math.isfinite(value):
        return "–"
    text = f"{value:.{decimals}f}"
    text = text[1:] if float(text) == 0 and text.startswith("-") else text
    return text.replace("-", "−")


def interval(low: float, high: float, decimals: int) -> str:
    """`[462, 504]`, or nothing where there is no interval."""
    return (
        f"[{number(low, decimals)}, {number(high, decimals)}]"
        if math.isfinite(low) and math.isfinite(high)
        else ""
    )


def span(low: float, high: float, decimals: int) -> str:
    """`12 to 15`, or `12` where both ends print alike."""
    ends = (number(low, decimals), number(high, decimals))
    return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]}"


def with_ends(value: float, low: float, high: float, decimals: int) -> str:
    """`0.99 (0.96 to 1.02)`."""
    return f"{number(value, decimals)} ({number(low, decimals)} to {number(high, decimals)})"


def units(text: str) -> str:
    """Our own texts with exponents as people write them: W m-2 becomes W m⁻². The unit 1, and that of a name, is not written."""
    if text in ("1", "name"):
        return ""
    raised = str.maketrans("-12345", "⁻¹²³⁴⁵")
    text = re.sub(r"(?<=\b[mshK])-[12]\b|(?<=\bkg)-1\b", lambda power: power.group().translate(raised), text)
    return text.replace("degC", "°C")


def breakable(name: str) -> Markup:
    """A name in code, with places where a line may break."""
    return Markup(str(escape(name)).replace("_", "_<wbr>").replace(".", ".<wbr>").replace("/", "/<wbr>"))


def soft(text: str) -> Markup:
    """Text, escaped, with places to break in words that would be wider than a column: after what parts a name, else every 8 letters."""
    parts = re.split(r"(\s+)", text)
    return Markup("").join(Markup("<wbr>").join(word_parts(part)) for part in parts)


def embedded(svg: str) -> str:
    """An SVG as the base64 text of a data address, so that the page is one file."""
    return base64.b64encode(svg.encode("utf-8")).decode("ascii")


def listed(words: Sequence[str]) -> str:
    """`a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else "".join(words)


# Tables ----------------------------------------------------------------------------------------------------------


def _cell(text: object, below: str = "", severity: str = "") -> dict:
    return {"text": str(text), "below": below, "severity": severity}


def _column(
    title: str, unit: str = "", text: bool = False, key: str = "", symbol: str = "", second: str = ""
) -> dict:
    return {"title": title, "unit": unit, "text": text, "key": key, "symbol": symbol, "second": second}


def _table(columns: list[dict], rows: list[list[dict]], notes: Sequence[str] = ()) -> dict:
    return {
        "columns": columns,
        "rows": rows,
        "notes": list(notes),
        "headed": any(c["title"] for c in columns),
    }


def words_table(titles: Sequence[str], rows: Sequence[Sequence[object]], numeric: Sequence[int] = ()) -> dict:
    """A table of texts; columns with the given numbers stand to the right."""
    return _table(
        [_column(t, text=i not in numeric) for i, t in enumerate(titles)],
        [[_cell(c) for c in row] for row in rows],
    )


def values_table(
    frame: pd.DataFrame,
    heads: Mapping[str, Sequence[tuple[str, str]]],
    quantities: Sequence[str],
    keys: Mapping[str, Mapping],
) -> dict:
    """A table of quantities with intervals.

    heads: titles of the columns before them, a second title after a slash, and their texts with the smaller ones below. keys: rows of quantities.csv by key.
    """
    columns = [_column(title.split("/")[0], text=True, second=title.partition("/")[2]) for title in heads]
    for name in quantities:
        title, unit, _, key = SHOWN[name]
        columns.append(_column(title, unit, key=key, symbol=keys[key]["symbol"]))
    rows, absent, bare = [], set(), False
    for index, row in enumerate(frame.to_dict("records")):
        cells = [_cell(*texts[index]) for texts in heads.values()]
        for name in quantities:
            known, below = (
                math.isfinite(row[name]),
                interval(row[f"{name}_low"], row[f"{name}_high"], SHOWN[name][2]),
            )
            bare |= known and not below
            absent |= set() if known else {name}
            cells.append(_cell(number(row[name], SHOWN[name][2]), below or ("no interval" if known else "")))
        rows.append(cells)
    notes = []
    if bare:
        notes.append(
            "No interval: too little ground was walked to say how the rest of it differs, or what the value is made from has none."
        )
    if absent:
        reasons = list(
            dict.fromkeys(
                WITHOUT.get(name, "nothing measured (see the findings)")
                for name in quantities
                if name in absent
            )
        )
        notes.append(f"–: {'; '.join(reasons)}.")
    return _table(columns, rows, notes)


def where_and_when(
    site: Mapping,
    zone: str,
    samples: Mapping[str, pd.DataFrame],
    segments: pd.DataFrame,
    weather: pd.DataFrame,
    fixed: Mapping[str, float],
) -> dict:
    """Site, time, sun, sky and weather. weather: the campaign's table, empty where it has none. fixed: what campaign.yaml gives in its place."""
    rows = [
        ("site", site["name"]),
        (
            "latitude, longitude",
            f"{number(site['latitude'], 4)}°, {number(site['longitude'], 4)}° (north and east positive)",
        ),
        ("elevation", f"{number(site['elevation'], 0)} m"),
        ("time zone of the notes", zone),
    ]
    some = [frame for frame in samples.values() if len(frame)]
    if some:
        every = pd.concat([f[["time_utc", "solar_elevation", "solar_azimuth"]] for f in some]).sort_values(
            "time_utc", kind="stable"
        )
        first, last = every.iloc[0], every.iloc[-1]
        rows += [
            ("recorded", f"{first['time_utc']:%Y-%m-%d %H:%M} to {last['time_utc']:%Y-%m-%d %H:%M} UTC"),
            (
                "elevation of the sun",
                f"{span(every['solar_elevation'].min(), every['solar_elevation'].max(), 1)}°; "
                f"{number(first['solar_elevation'], 1)}° at the start, {number(last['solar_elevation'], 1)}° at the end",
            ),
            (
                "azimuth of the sun",
                f"{number(first['solar_azimuth'], 0)}° at the start, {number(last['solar_azimuth'], 0)}° at the end (from north through east)",
            ),
        ]
        near = weather[
            weather["time_utc"].between(
                first["time_utc"] - pd.Timedelta(hours=1), last["time_utc"] + pd.Timedelta(hours=1)
            )
        ]
        parts = [
            f"{title} {span(near[key].min(), near[key].max(), decimals)} {unit}"
            for key, title, decimals, unit in WEATHER
            if near[key].notna().any()
        ]
        if parts:
            rows.append(("weather, from weather.csv", "; ".join(parts)))
    skies = segments["sky"][segments["sky"] != ""].value_counts()
    if len(skies):
        rows.append(
            (
                "sky",
                listed([f"{name} in {count}" for name, count in sorted(skies.items())])
                + " of the segments, by the clear-sky index",
            )
        )
    if not len(weather):
        parts = [
            f"{title} {number(fixed[key], decimals)} {unit}"
            for key, title, decimals, unit in WEATHER
            if fixed.get(key) is not None
        ]
        rows.append(("weather, from campaign.yaml", "; ".join(parts)) if parts else ("weather", "not known"))
    return words_table(("", ""), rows)


def sample_counts(
    samples: Mapping[str, pd.DataFrame],
    excluded: Mapping[str, np.ndarray],
    files: Mapping[str, Sequence[str]],
) -> dict:
    """From stored to used, a row a set."""
    rows = []
    for name, frame in samples.items():
        claimed, edge = (frame["segment"] != "").to_numpy(), has_any(frame["flags"], {"edge"})
        rows.append(
            (
                name,
                len(files[name]),
                len(frame),
                int(claimed.sum()),
                int((claimed & excluded[name] & edge).sum()),
                int((claimed & excluded[name] & ~edge).sum()),
                int((claimed & ~excluded[name]).sum()),
            )
        )
    return words_table(
        ("set", "files", "stored", "claimed by a note", "at an edge", "flagged", "used"),
        rows,
        numeric=(1, 2, 3, 4, 5, 6),
    )


def clock_checks(checks: pd.DataFrame) -> dict:
    """What the noted clock checks gave, word for word."""
    rows = checks[checks["code"].isin(("clock-corrected", "clock-check-far-off"))]
    return words_table(
        ("set", "noted in", "result"),
        [(r["set"], place({**r, "set": "", "channel": ""}), r["what"]) for r in rows.to_dict("records")],
    )


def certificates_table(frame: pd.DataFrame, sets: Mapping[str, Mapping]) -> dict:
    """Sensors and certificates, a row a channel of a set."""
    rows = [
        (
            row["set"],
            sets[row["set"]]["logger_id"],
            SHOWN[row["channel"]][0],
            row["sensor_id"] or "–",
            number(row["factor"], 2),
            row["certificate_date"] or "–",
            number(row["age_months"], 0),
            number(row["expanded_uncertainty_percent"], 1),
            number(row["programmed_factor"], 2),
            number(row["response_time_95"], 0),
            row["instrument_class"] or "–",
        )
        for row in frame.to_dict("records")
    ]
    table = words_table(
        (
            "set",
            "logger",
            "channel",
            "sensor",
            "factor",
            "certificate of",
            "age",
            "U (k\u00a0=\u00a02)",
            "programmed factor",
            "response",
            "class",
        ),
        rows,
        numeric=(4, 6, 7, 8, 9),
    )
    for index, unit in {4: "W m⁻² mV⁻¹", 6: "months", 7: "%", 8: "W m⁻² mV⁻¹", 9: "s, 95 %"}.items():
        table["columns"][index]["unit"] = unit
    return table


def segments_table(frame: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> dict:
    """What each segment is: everything of segments.csv but the quantities with intervals."""
    columns = [
        _column("segment", text=True, second="set"),
        _column("field", text=True, second="surface"),
        _column("activity", text=True, second="transect, pass"),
        _column("date", text=True, second="start to end, UTC"),
        _column("used", second="of samples"),
        _column("sun", second="sky"),
        _column("body", "°C"),
        _column("line of notes"),
    ]
    rows = [
        [
            _cell(r["segment"], r["set"]),
            _cell(r["field"] or "–", label(surfaces, r["surface"]) if r["surface"] else ""),
            _cell(
                r["activity"].replace("_", " "),
                ", ".join(f"{name} {r[name]}" for name in ("transect", "pass") if r[name]),
            ),
            _cell(
                f"{r['start_utc']:%Y-%m-%d}",
                f"{r['start_utc']:%H:%M:%S} to {r['end_utc']:{'' if r['end_utc'].date() == r['start_utc'].date() else '%m-%d '}%H:%M:%S}",
            ),
            _cell(number(r["samples_used"], 0), f"of {number(r['samples'], 0)}"),
            _cell(f"{number(r['solar_elevation'], 1)}°, {number(r['solar_azimuth'], 0)}°", r["sky"]),
            _cell(number(r["body_temperature"], 1)),
            _cell(number(r["notes_row"], 0)),
        ]
        for r in frame.to_dict("records")
    ]
    return _table(columns, rows)


def findings_table(checks: pd.DataFrame) -> dict:
    """checks.csv, word for word."""
    rows = [
        [
            _cell(r["severity"], severity=r["severity"]),
            _cell(r["code"], r["step"]),
            _cell(place(r), moments(r)),
            _cell(r["what"]),
            _cell(r["remedy"]),
        ]
        for r in checks.to_dict("records")
    ]
    return _table(
        [
            _column("severity", text=True),
            _column("code", text=True, second="step"),
            _column("where", text=True, second="when, UTC"),
            _column("what", text=True),
            _column("remedy", text=True),
        ],
        rows,
    )


def untold_table(untold: pd.DataFrame, sets: Sequence[str]) -> dict:
    """untold.csv, a row a reason: the checks that could not be made, with their channels where some of four are concerned, and their sets where some of several are."""
    rows = []
    for (why, settles), part in untold.groupby(["why", "settles"], sort=False):
        checks = []
        for code, own in part.groupby("code", sort=False):
            channels, names = (
                list(dict.fromkeys(" ".join(own["channel"]).split())),
                list(dict.fromkeys(own["set"])),
            )
            some = "" in names or set(sets) <= set(names)
            checks.append(
                code
                + (f" of {', '.join(channels)}" if 0 < len(channels) < len(RADIATION) else "")
                + ("" if some else f" (set {listed(names)})")
            )
        rows.append((units(why), "; ".join(checks), units(settles)))
    return words_table(("why", "checks that could not be made", "what would settle it"), rows)


def place(row: Mapping) -> str:
    """Where a finding is: file and line, set and channel."""
    line = f", line {int(row['line'])}" if row["line"] == row["line"] else ""
    parts = [row["file"] + line if row["file"] else "", row["set"], row["channel"]]
    return ", ".join(part for part in parts if part) or "–"


def moments(row: Mapping) -> str:
    """When a finding is, where it has a time."""
    return " to ".join(
        f"{row[key]:%Y-%m-%d %H:%M:%S}" for key in ("start_utc", "end_utc") if pd.notna(row[key])
    )


def concerned(row: Mapping) -> str:
    """Which numbers an error makes wrong or withholds."""
    of = f" of set {row['set']}" if row["set"] else ""
    if row["code"] == "no-segment":
        return "every number: there is none"
    if row["step"] == "segment" and row["line"] > 1:
        return f"the segment of this row of the notes{of}, its field and its surface"
    return CONCERNED.get(row["channel"], "every number") + of


def errors(checks: pd.DataFrame) -> list[dict]:
    """The errors of checks.csv, each with its place and the numbers concerned; of more than ALIKE of one kind the first ones, and the lines of the others. `count` is how many a row stands for."""
    rows = []
    for _, alike in checks[checks["severity"] == "error"].groupby(
        ["code", "file", "set", "channel", "remedy"], sort=False, dropna=False
    ):
        of = alike.to_dict("records")
        kept = len(of) if len(of) <= ALIKE else ALIKE - 1
        rows += [
            {
                "where": place(r),
                "what": r["what"],
                "remedy": r["remedy"],
                "concerns": concerned(r),
                "count": 1,
            }
            for r in of[:kept]
        ]
        if others := of[kept:]:
            lines = ", ".join(f"{r['line']:.0f}" for r in others if r["line"] == r["line"])
            where = place(
                {
                    **others[0],
                    "line": math.nan,
                    "file": others[0]["file"] + (f", lines {lines}" if lines else ""),
                }
            )
            rows.append(
                {
                    "where": where,
                    "what": f"{len(others)} more like these; the findings give each.",
                    "remedy": others[0]["remedy"],
                    "concerns": "the same numbers, of each",
                    "count": len(others),
                }
            )
    return rows


def differences_table(frame: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> dict:
    """Differences of pairs, a row a pair, the compared quantities side by side."""
    columns = (
        [_column("surfaces", text=True)]
        + [_column(SHOWN[q][0], SHOWN[q][1]) for q in COMPARED]
        + [_column("told apart by", text=True)]
    )
    rows = []
    for (a, b), part in frame.groupby(["surface_a", "surface_b"], sort=False):
        own = part.set_index("quantity")
        cells = [_cell(f"{label(surfaces, a)} less {label(surfaces, b)}")]
        for q in COMPARED:
            known, below = (
                math.isfinite(own.loc[q, "difference"]),
                interval(own.loc[q, "difference_low"], own.loc[q, "difference_high"], SHOWN[q][2]),
            )
            cells.append(
                _cell(
                    number(own.loc[q, "difference"], SHOWN[q][2]), below or ("no interval" if known else "")
                )
            )
        known = [q for q in COMPARED if pd.notna(own.loc[q, "distinguishable"])]
        told = [SHOWN[q][0] for q in known if own.loc[q, "distinguishable"]]
        rows.append(
            [
                *cells,
                _cell(
                    ("all" if len(told) == len(COMPARED) else ", ".join(told))
                    if told
                    else "nothing"
                    if known
                    else "no interval"
                ),
            ]
        )
    return _table(columns, rows)


def budget_table(frame: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> dict:
    """The two largest sources for each surface and quantity."""
    quantities = ("net_radiation", "albedo", "surface_temperature")
    rows = []
    for surface, part in frame[frame["surface"].isin(surfaces)].groupby("surface", sort=False):
        cells = [_cell(label(surfaces, surface))]
        for name in quantities:
            own = part[part["quantity"] == name].sort_values("share", ascending=False, kind="stable").head(2)
            texts = [
                f"{r['source']} ±\u00a0{number(r['half_width_95'], SHOWN[name][2] + 1)} ({number(100 * r['share'], 0)}\u00a0%)"
                for r in own.to_dict("records")
            ]
            cells.append(_cell(*texts) if texts else _cell("–"))
        rows.append(cells)
    return _table(
        [_column("surface", text=True), *(_column(SHOWN[q][0], SHOWN[q][1], text=True) for q in quantities)],
        rows,
    )


def sourced(row: Mapping) -> str:
    """Where a value is from, and whether that was read or is recalled."""
    if row["how"] == "override":
        return f"OVERRIDE of this campaign: {row['source']}"
    return (
        row["source"]
        if row["how"] in ("", row["source"])
        else f"{row['source']} ({row['how']})"
        if row["source"]
        else row["how"]
    )


def terms_in_use(terms: pd.DataFrame, means: pd.DataFrame) -> pd.DataFrame:
    """The rows of uncertainty.csv without those of a fixed station, unless the incoming terms of a segment are the station's."""
    return (
        terms if (means["incoming_set"] == station.NAME).any() else terms[~terms["term"].isin(STATION_TERMS)]
    )


def terms_table(terms: pd.DataFrame) -> dict:
    """The errors that are drawn: config/uncertainty.csv."""
    rows = []
    for row in terms[terms["enabled"] == "true"].to_dict("records"):
        ends = (
            f"± {row['high']}"
            if row["low"] and row["low"] == f"-{row['high']}"
            else f"{row['low']} to {row['high']}"
            if row["low"]
            else f"σ = {row['sigma']}"
            if row["sigma"]
            else ""
        )
        rows.append(
            (
                row["label"],
                row["shared_by"],
                row["distribution"],
                f"{ends} {units(row['unit'])}".strip(),
                sourced(row),
            )
        )
    return words_table(("error", "shared by", "distribution", "size", "source"), rows)


def classes_table(surfaces: Mapping[str, Mapping], used: Sequence[str], ground_heat: str) -> dict:
    """The values behind the surface classes used. ground_heat: the campaign's method."""
    rows = []
    for name in used:
        for key in (*CLASS_VALUES[""], *CLASS_VALUES.get(ground_heat, ())):
            entry = surfaces.get(name, {}).get(key)
            if entry:
                ends = (
                    f"{entry['low']:g} to {entry['high']:g}"
                    if isinstance(entry["low"], float) and isinstance(entry["high"], float)
                    else ""
                )
                value = (
                    f"{entry['value']:g}"
                    if isinstance(entry["value"], (int, float))
                    else str(entry["value"]).replace("_", " ")
                )
                rows.append(
                    (
                        label(surfaces, name),
                        key.replace("_", " "),
                        f"{value} {units(entry['unit'])}".strip(),
                        ends,
                        sourced(entry),
                    )
                )
    return words_table(("surface", "property", "value", "range", "source"), rows)


def quantities_table(quantities: Sequence[Mapping]) -> list[dict]:
    """quantities.csv with units as people write them."""
    return [{**row, "unit": units(row["unit"])} for row in quantities]


def worked_parts(frame: pd.DataFrame, keys: Mapping[str, Mapping]) -> list[dict]:
    """One number, all the way: a table for each sample and segment that is followed. keys: rows of quantities.csv by key."""
    parts = []
    for (set_, part, item), rows in frame.groupby(["set", "part", "item"], sort=False):
        path = (
            "from the raw signal to net radiation"
            if part == "sample"
            else "from its samples to its energy balance"
        )
        of = [
            {
                **row,
                "shown": worked_number(row["value"], row["unit"]),
                "unit": units(row["unit"]),
                "working": units(row["working"]),
                **{
                    name: keys[row["key"]][name] if row["key"] else ""
                    for name in ("symbol", "equation", "function", "source")
                },
            }
            for row in rows.to_dict("records")
        ]
        parts.append(
            {
                "id": f"worked-{set_}-{part}",
                "caption": f"Set {set_}: the {part} {'of ' if part == 'sample' else ''}{item}, {path}.",
                "rows": of,
            }
        )
    return parts


def worked_number(value: float, unit: str) -> str:
    """A value with the digits that a check by hand needs: whole counts bare, others with two decimals, small ones with four."""
    whole = unit == "1" and value == int(value) if math.isfinite(value) else False
    return number(value, 0 if whole else 4 if abs(value) < 10 else 2)


def equations(table: pd.DataFrame, quantities: Sequence[Mapping]) -> list[dict]:
    """The numbered equations with their pictures, the functions that hold them and their sources. table: rows of equations.csv."""
    result = []
    for row in table.to_dict("records"):
        picture = equation(row["mathtext"])
        size = {
            side: round(float(re.search(rf'{side}="([\d.]+)pt"', picture).group(1)), 1)
            for side in ("width", "height")
        }
        own = [q for q in quantities if q["equation"] == row["number"]]
        result.append(
            {
                **row,
                **size,
                "words": units(row["words"]),
                "image": embedded(picture),
                "functions": list(dict.fromkeys(q["function"] for q in own)),
                "source": "; ".join(dict.fromkeys(q["source"] for q in own)),
            }
        )
    return result


# Sentences -------------------------------------------------------------------------------------------------------


def pairs_words(frame: pd.DataFrame) -> str:
    """How many pairs can be told apart, and how many were compared."""
    rows = frame[frame["quantity"] == "net_radiation_common_sky"]
    known = rows[rows["distinguishable"].notna()]
    if not len(rows):
        return "There are no two surfaces to compare."
    if not len(known):
        return f"None of the {len(rows)} pairs of surfaces can be compared: there is no interval."
    told, count = int(known["distinguishable"].astype(bool).sum()), len(known)
    pairs = f"{count} pairs of surfaces were" if count > 1 else "One pair of surfaces was"
    return (
        f"{pairs} compared on net radiation under the common sky; {told} can be told apart. A verdict at 95 % is wrong in one case of twenty: "
        f"with {count} {'pairs' if count > 1 else 'pair'}, about {number(count * 0.05, 1)} would seem different by chance even if all surfaces were the same."
    )


def linear_words(frame: pd.DataFrame) -> str:
    """Where linear propagation and the draws disagree by more than a tenth, and why."""
    both = frame.dropna(subset=["half_width_linear", "half_width_draws"])
    both = both[both["half_width_linear"] > 0]
    apart = both[(both["half_width_draws"] / both["half_width_linear"] - 1.0).abs() > 0.1]
    names = [SHOWN[q][0] for q in dict.fromkeys(apart["quantity"])]
    if not len(both):
        return "there is nothing to compare it with here."
    if not names:
        return "its intervals agree with the draws to a tenth everywhere."
    return (
        f"its intervals agree with the draws to a tenth except for {listed(names)}, where errors of one sign, ranges without tails or ratios dominate, "
        "which a linear interval describes badly: the tables give the draws."
    )


def ends_words(frame: pd.DataFrame) -> str:
    """How well the number of draws settles the ends of the intervals."""
    known = frame["end_error"].dropna()
    return (
        f" By the number of draws an end is uncertain by {number(100.0 * known.median(), 1)} % of the interval's width (median; 95 of 100 by less than {number(100.0 * known.quantile(0.95), 1)} %)."
        if len(known)
        else ""
    )


ONE_SIDED = {
    "leave": "are left in the values and drawn in the intervals, which therefore reach further to one side",
    "correct": "are taken out of the values by the middle of their ranges (methods.one_sided: correct), and drawn in the intervals",
}


def scale_words(reference: str) -> str:
    """Whether the sets are on one scale."""
    scales = {
        "none": "Each set keeps its own scale (methods.set_scale: none).",
        "mean": "All sets are put on their mean by these visits (methods.set_scale: mean), and the intervals know it.",
    }
    return scales.get(
        reference,
        f"All sets are put on the scale of {reference} by these visits (methods.set_scale), and the intervals know it.",
    )


def intercomparison_table(frame: pd.DataFrame) -> dict:
    """Sets side by side: difference, ratio and E_n of each channel."""
    rows = []
    for row in frame.to_dict("records"):
        ratio = (
            with_ends(row["ratio"], row["ratio_low"], row["ratio_high"], 3)
            if row["channel"].startswith("sw")
            else "–"
        )
        rows.append(
            (
                f"{row['set_a']} less {row['set_b']}",
                f"{row['field']}, {row['start_utc']:%H:%M}",
                SHOWN[row["channel"]][0],
                number(row["mean_a"], 1),
                number(row["mean_b"], 1),
                with_ends(row["difference"], row["difference_low"], row["difference_high"], 1),
                ratio,
                number(row["e_n"], 2),
            )
        )
    table = words_table(
        ("sets", "where, when (UTC)", "channel", "first", "second", "difference", "ratio", "Eₙ"),
        rows,
        numeric=(3, 4, 7),
    )
    for column in table["columns"][3:6]:
        column["unit"] = "W m⁻²"
    return table


def against_station_table(frame: pd.DataFrame) -> dict:
    """Sets against the fixed station: ratio and E_n of each incoming term."""
    rows = [
        (
            row["set"],
            SHOWN[row["channel"]][0],
            f"{row['start_utc']:%H:%M} to {row['end_utc']:%H:%M}",
            number(row["records"], 0),
            with_ends(row["ratio"], row["ratio_low"], row["ratio_high"], 3),
            number(row["e_n"], 2),
        )
        for row in frame.to_dict("records")
    ]
    return words_table(
        ("set", "channel", "from, to (UTC)", "records", "set over station", "Eₙ"), rows, numeric=(3, 5)
    )


def sky_words(surfaces: pd.DataFrame, sky: tuple[float, float], classes: Mapping[str, Mapping]) -> str:
    """What the common sky is."""
    if not all(map(math.isfinite, sky)):
        return "none, since nothing counts."
    missing = [
        label(classes, name)
        for name, value in zip(surfaces["surface"], surfaces["net_radiation_common_sky"])
        if not math.isfinite(value)
    ]
    text = f"{number(sky[0], 0)} W m⁻² shortwave and {number(sky[1], 0)} W m⁻² longwave from above, the means of all that counts."
    return text + (f" Too far from it to be put under it: {listed(missing)}." if missing else "")


def balance_words(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> str:
    """The balance figure in words, for those who don't see it."""
    parts = [
        f"{label(surfaces, r['surface'])}: net radiation {number(r['net_radiation'], 0)}, ground {number(r['ground_heat'], 0)}, sensible {number(r['sensible_heat'], 0)}, "
        f"latent {number(r['latent_heat'], 0)}"
        for r in table.to_dict("records")
    ]
    return "Energy balance in W m⁻². " + "; ".join(parts) + "." if parts else "No energy balance."


def answer_words(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> str:
    """The figure of the first page in words."""
    parts = [
        f"{label(surfaces, r['surface'])}: albedo {number(r['albedo'], 2)}, {number(r['surface_temperature'], 0)} °C, net radiation {number(r['net_radiation'], 0)} W m⁻², "
        f"under the common sky {number(r['net_radiation_common_sky'], 0)} W m⁻²"
        for r in table.to_dict("records")
    ]
    return (
        "Points with intervals, one row a surface. " + "; ".join(parts) + "."
        if parts
        else "No surface has a value."
    )


def sun_path_words(means: pd.DataFrame) -> str:
    """The figure of the sun's path in words. means: step 6's of the segments."""
    walks = means[(means["activity"] == "walk") & means["solar_elevation"].notna()]
    rows = [
        (name, own, (own["solar_azimuth"] - own["heading"] + 180.0) % 360.0 - 180.0)
        for name, own in walks.groupby("set", sort=False)
    ]
    parts = [
        f"set {name}, {len(own)} walks: sun {span(own['solar_elevation'].min(), own['solar_elevation'].max(), 0)}° high at azimuth {span(own['solar_azimuth'].min(), own['solar_azimuth'].max(), 0)}°"
        + (
            f", {span(away.abs().min(), away.abs().max(), 0)}° to the side of the heading"
            if away.notna().any()
            else ", no heading noted"
        )
        for name, own, away in rows
    ]
    return (
        (
            "Elevation of the sun over its azimuth with a marker for each walk and arrows for the headings; below it the carrier's shadow on the ground as the head sees it, and its share of the view. "
            + "; ".join(parts)
            + "."
        )
        if parts
        else "Nobody walked."
    )


def headings_words(means: pd.DataFrame) -> str:
    """Which walks have no heading in the notes, so that nobody knows where the shadow fell."""
    walks = means[means["activity"] == "walk"]
    missing = int(walks["heading"].isna().sum())
    return (
        f"For {missing} of {len(walks)} walks no heading is noted: where the shadow fell is not known, and the interval allows for any."
        if missing
        else ""
    )


def dates(samples: Mapping[str, pd.DataFrame]) -> str:
    """The days of the recording, in UTC."""
    days = sorted(
        {day for frame in samples.values() for day in frame["time_utc"].dt.strftime("%Y-%m-%d").unique()}
    )
    return (
        ", ".join(days) if 0 < len(days) <= 3 else f"{days[0]} to {days[-1]}" if days else "nothing recorded"
    )


# The page --------------------------------------------------------------------------------------------------------


def context(
    settings: Mapping,
    samples: Mapping[str, pd.DataFrame],
    excluded: Mapping[str, np.ndarray],
    tables: Mapping[str, pd.DataFrame],
    certificates: pd.DataFrame,
    linear: pd.DataFrame,
    intercomparison: pd.DataFrame,
    against_station: pd.DataFrame,
    sky: tuple[float, float],
    weather: pd.DataFrame,
    surfaces: Mapping[str, Mapping],
    terms: pd.DataFrame,
    equation_rows: pd.DataFrame,
    quantities: Sequence[Mapping],
    figures: Mapping[str, str],
    worked: pd.DataFrame,
    explore: Markup,
    means: pd.DataFrame,
    untold: pd.DataFrame,
) -> dict:
    """Everything that the template prints.

    settings: title, site, zone, weather, draws, certificate, ground_heat, sets, inputs (name, bytes, SHA-256), versions. samples, excluded: by set.
    tables: what users get, by name. sky: the common one. figures: SVG text by name. worked: rows of worked.csv. explore: what the page's own program draws.
    means: step 6's of the segments. untold: rows of untold.csv.
    """
    sets = settings["sets"]
    segments, fields, classes, checks = (
        tables[name] for name in ("segments", "fields", "surfaces", "checks")
    )
    keys = {row["key"]: row for row in quantities}
    of_surfaces = {"surface": [(label(surfaces, name), "") for name in classes["surface"]]}
    of_fields = {
        "field/surface": [
            (field or "–", label(surfaces, surface))
            for field, surface in zip(fields["field"], fields["surface"])
        ]
    }
    used = lambda frame: {
        "samples/segments": [
            (number(a, 0), f"in {number(b, 0)}") for a, b in zip(frame["samples_used"], frame["segments"])
        ]
    }
    return {
        "title": settings["title"],
        "site": settings["site"],
        "dates": dates(samples),
        "sets_line": f"{'sets' if len(sets) > 1 else 'set'} {listed(list(sets))}",
        "figures": {name: embedded(text) for name, text in figures.items()},
        "sections": SECTIONS,
        "names": dict(SECTIONS),
        "errors": errors(checks),
        "estimate_words": ESTIMATE,
        "draws": f"{settings['draws']:,}".replace(",", "\u202f"),
        "answer": values_table(classes, of_surfaces, ANSWER, keys),
        "answer_alt": answer_words(classes, surfaces),
        "where": where_and_when(
            settings["site"], settings["zone"], samples, segments, weather, settings["weather"]
        ),
        "sun_path_alt": sun_path_words(means),
        "headings_words": headings_words(means),
        "certificates": certificates_table(certificates, sets),
        "certificate_words": ", the factor running linearly between two certificates"
        if settings["certificate"] == "interpolate"
        else ": the newest not later than it",
        "counts": sample_counts(samples, excluded, {name: entry["raw"] for name, entry in sets.items()}),
        "clocks": clock_checks(checks),
        "timelines": [name for name in figures if name.startswith("timeline_")],
        "component_pages": [
            (name, own)
            for own in sets
            for name in figures
            if name.startswith("components_") and name.removeprefix("components_").rsplit("_", 1)[0] == own
        ],
        "segments": segments_table(segments, surfaces),
        "segment_values": values_table(
            segments, {"segment/field": list(zip(segments["segment"], segments["field"]))}, MEASURED, keys
        ),
        "surfaces": values_table(
            classes, {**of_surfaces, **used(classes)}, (*MEASURED, "net_radiation_common_sky"), keys
        ),
        "fields": values_table(
            fields, {**of_fields, **used(fields)}, (*MEASURED, "net_radiation_common_sky"), keys
        ),
        "sky_words": sky_words(classes, sky, surfaces),
        "differences": differences_table(tables["differences"], surfaces),
        "pairs_words": pairs_words(tables["differences"]),
        "balance": values_table(classes, of_surfaces, BALANCE, keys),
        "balance_alt": balance_words(classes, surfaces),
        "fields_balance": values_table(fields, of_fields, BALANCE, keys),
        "budget": budget_table(tables["uncertainty_budget"], surfaces),
        "linear_words": linear_words(linear),
        "ends_words": ends_words(linear),
        "one_sided_words": ONE_SIDED[settings["one_sided"]],
        "intercomparison": intercomparison_table(intercomparison),
        "against_station": against_station_table(against_station),
        "scale_words": scale_words(settings["set_scale"]),
        "terms": terms_table(terms),
        "checks": findings_table(checks),
        "untold": untold_table(untold, list(sets)),
        "equations": equations(equation_rows, quantities),
        "quantities": quantities_table(quantities),
        "classes": classes_table(
            surfaces, [name for name in surfaces if name in set(segments["surface"])], settings["ground_heat"]
        ),
        "explored": [name for name in sets if len(samples[name])],
        "explore_data": explore,
        "worked": worked_parts(worked, keys),
        "versions": words_table(("", ""), settings["versions"]),
        "inputs": words_table(("file", "bytes", "SHA-256"), settings["inputs"], numeric=(1,)),
        "changed": words_table(("setting", "here", "default"), settings["changed"]),
        "seed": settings["seed"],
    }


def page(template: str, styles: Sequence[str], values: Mapping, program: str = "") -> str:
    """The report as one page: the template with its values, everything escaped, and its figures and tables numbered.

    styles: the style sheet and the one for screens only. program: what makes figures zoom and read out. They are ours and go in as they are.
    """
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {"breakable": breakable, "soft": soft}
    style, screen_style = (Markup(text) for text in styles)
    return numbered(
        environment.from_string(template).render(
            {**values, "style": style, "screen_style": screen_style, "explore_program": Markup(program)}
        )
        + "\n"
    )


def numbered(text: str) -> str:
    """The page with its figures and tables numbered in their order, in their captions and wherever the text refers to them."""
    names: dict[str, str] = {}
    for kind, word in (("figure", "Figure"), ("table", "Table")):
        names |= {
            name: f"{word} {count}"
            for count, name in enumerate(re.findall(rf'<{kind} id="([^"]+)"', text), 1)
        }
    text = re.sub(
        r'<b class="number" data-of="([^"]+)"></b>', lambda m: f'<b class="number">{names[m[1]]}.</b>', text
    )
    return re.sub(
        r'<a class="ref" href="#([^"]+)"></a>',
        lambda m: f'<a class="ref" href="#{m[1]}">{names[m[1]]}</a>',
        text,
    )
