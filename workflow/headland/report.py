"""Step 9: what the report says, as plain values for its template. Numbers are only put into words here, never computed anew."""

from __future__ import annotations

import base64
import math
import re
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from markupsafe import Markup, escape

from headland.figures import equation, label

ESTIMATE = "Ground, sensible and latent heat are estimated from textbook fractions of the surface class."
SECTIONS = (("where", "Where and when"), ("instruments", "Instruments and certificates"), ("recorded", "Recorded against noted"),
            ("components", "The components along the transects"), ("results", "Results"), ("balance", "Energy balance"),
            ("uncertainty", "Uncertainty"), ("findings", "Findings"), ("methods", "Methods"), ("appendix", "Appendix"))
SHOWN = {
    "sw_in": ("SW in", "W m⁻²", 0, "calibrate.sw_in"), "sw_out": ("SW out", "W m⁻²", 0, "calibrate.sw_out"), "albedo": ("albedo", "", 3, "summarise.albedo"),
    "lw_in": ("LW in", "W m⁻²", 0, "correct_longwave.lw_in"), "lw_out": ("LW out", "W m⁻²", 0, "correct_longwave.lw_out"),
    "surface_temperature": ("surface temp.", "°C", 1, "summarise.surface_temperature"), "net_radiation": ("net radiation", "W m⁻²", 0, "summarise.net_radiation"),
    "net_radiation_common_sky": ("net, common sky", "W m⁻²", 0, "summarise.net_radiation_common_sky"),
    "ground_heat": ("ground heat", "W m⁻²", 0, "balance.ground_heat"), "sensible_heat": ("sensible heat", "W m⁻²", 0, "balance.sensible_heat"),
    "latent_heat": ("latent heat", "W m⁻²", 0, "balance.latent_heat"), "evaporation": ("evaporation", "mm h⁻¹", 2, "balance.evaporation"),
    "bowen_ratio": ("Bowen ratio", "", 2, "balance.bowen_ratio"),
}
"""Title, unit, decimals in the report and key of each quantity."""
MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
BALANCE = ("net_radiation", "ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")


def number(value: float, decimals: int) -> str:
    """A number with a real minus sign; an en dash where there is none."""
    if value is None or not math.isfinite(value):
        return "–"
    text = f"{value:.{decimals}f}"
    text = text[1:] if float(text) == 0 and text.startswith("-") else text
    return text.replace("-", "−")


def interval(low: float, high: float, decimals: int) -> str:
    """`[462, 504]`, or nothing where there is no interval."""
    return f"[{number(low, decimals)}, {number(high, decimals)}]" if math.isfinite(low) and math.isfinite(high) else ""


def _cell(text: object, interval_: str = "", severity: str = "") -> dict:
    return {"text": str(text), "interval": interval_, "severity": severity}


def _column(title: str, unit: str = "", text: bool = False, key: str = "", symbol: str = "") -> dict:
    return {"title": title, "unit": unit, "text": text, "key": key, "symbol": symbol}


def words_table(titles: Sequence[str], rows: Sequence[Sequence[object]], numeric: Sequence[int] = ()) -> dict:
    """A table of texts; columns with the given numbers stand to the right."""
    return {"columns": [_column(t, text=i not in numeric) for i, t in enumerate(titles)], "rows": [[_cell(c) for c in row] for row in rows]}


def values_table(frame: pd.DataFrame, heads: Sequence[tuple[str, Sequence[str]]], quantities: Sequence[str], keys: Mapping[str, Mapping]) -> dict:
    """A table of quantities with intervals. heads: title and texts of the columns before them. keys: rows of quantities.csv by key."""
    columns = [_column(title, text=True) for title, _ in heads]
    for name in quantities:
        title, unit, _, key = SHOWN[name]
        columns.append(_column(title, unit, key=key, symbol=keys[key]["symbol"]))
    rows = []
    for index, row in enumerate(frame.to_dict("records")):
        cells = [_cell(texts[index]) for _, texts in heads]
        cells += [_cell(number(row[q], SHOWN[q][2]), interval(row[f"{q}_low"], row[f"{q}_high"], SHOWN[q][2])) for q in quantities]
        rows.append(cells)
    return {"columns": columns, "rows": rows}


def breakable(name: str) -> Markup:
    """A name in code, with places where a line may break."""
    return Markup(str(escape(name)).replace("_", "_<wbr>").replace(".", ".<wbr>"))


def embedded(svg: str) -> str:
    """An SVG as the base64 text of a data address, so that the page is one file."""
    return base64.b64encode(svg.encode("utf-8")).decode("ascii")


def equations(table: pd.DataFrame) -> list[dict]:
    """The numbered equations with their pictures. table: rows of equations.csv."""
    result = []
    for row in table.to_dict("records"):
        picture = equation(row["mathtext"])
        width = float(re.search(r'width="([\d.]+)pt"', picture).group(1))
        result.append({**row, "image": embedded(picture), "width": round(width / 11.0, 2)})
    return result


def where_and_when(site: Mapping, zone: str, samples: Mapping[str, pd.DataFrame], segments: pd.DataFrame, weather: str) -> dict:
    """Site, time, sun and sky over the recording."""
    some = [frame for frame in samples.values() if len(frame)]
    rows = [("site", site["name"]), ("latitude, longitude", f"{number(site['latitude'], 4)}°, {number(site['longitude'], 4)}° (north and east positive)"),
            ("elevation", f"{number(site['elevation'], 0)} m"), ("time zone of the notes", zone)]
    if some:
        first, last = min(f["time_utc"].min() for f in some), max(f["time_utc"].max() for f in some)
        up = pd.concat([f["solar_elevation"] for f in some])
        rows += [("recorded", f"{first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M} UTC"),
                 ("elevation of the sun", f"{number(up.min(), 1)}° to {number(up.max(), 1)}°")]
    skies = segments["sky"][segments["sky"] != ""].value_counts()
    if len(skies):
        rows.append(("sky, by segments", ", ".join(f"{name} in {count}" for name, count in sorted(skies.items()))))
    rows.append(("air", weather))
    return words_table(("", ""), rows)


def sample_counts(samples: Mapping[str, pd.DataFrame], excluded: Mapping[str, np.ndarray], files: Mapping[str, Sequence[str]]) -> dict:
    """From stored to used, a row a set."""
    rows = []
    for name, frame in samples.items():
        claimed = (frame["segment"] != "").to_numpy()
        rows.append((name, len(files[name]), len(frame), int(claimed.sum()), int((claimed & excluded[name]).sum()), int((claimed & ~excluded[name]).sum())))
    return words_table(("set", "files", "stored", "in a noted interval", "kept apart", "count"), rows, numeric=(1, 2, 3, 4, 5))


def certificates_table(frame: pd.DataFrame, sets: Mapping[str, Mapping]) -> dict:
    """Sensors and certificates, a row a channel of a set."""
    rows = []
    for row in frame.to_dict("records"):
        text = lambda key, decimals: number(row[key], decimals) if row[key] == row[key] else "–"
        rows.append((row["set"], sets[row["set"]]["logger_id"], row["channel"], row["sensor_id"] or "–", text("factor", 2), row["certificate_date"] or "–",
                     text("expanded_uncertainty_percent", 1), text("programmed_factor", 2), text("response_time_95", 0), row["instrument_class"] or "–"))
    return words_table(("set", "logger", "channel", "sensor", "factor, W m⁻² per mV", "certificate of", "U (k = 2), %", "programmed factor", "response, s", "class"), rows, numeric=(4, 6, 7, 8))


def findings_table(checks: pd.DataFrame) -> dict:
    """checks.csv, word for word."""
    rows = [[_cell(r["severity"], severity=r["severity"]), _cell(r["code"]), _cell(place(r)), _cell(r["what"]), _cell(r["remedy"])] for r in checks.to_dict("records")]
    return {"columns": [_column(t, text=True) for t in ("severity", "code", "where", "what", "remedy")], "rows": rows}


def place(row: Mapping) -> str:
    """Where a finding is: file and line, set and channel."""
    line = f", line {int(row['line'])}" if row["line"] == row["line"] else ""
    parts = [row["file"] + line if row["file"] else "", row["set"], row["channel"]]
    return ", ".join(part for part in parts if part) or "–"


def differences_table(frame: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> dict:
    """Differences of pairs, a row a pair, the compared quantities side by side."""
    quantities = ("albedo", "surface_temperature", "net_radiation_common_sky")
    columns = [_column("surfaces", text=True)] + [_column(SHOWN[q][0], SHOWN[q][1]) for q in quantities] + [_column("told apart by", text=True)]
    rows = []
    for (a, b), part in frame.groupby(["surface_a", "surface_b"], sort=False):
        own = part.set_index("quantity")
        cells = [_cell(f"{label(surfaces, a)} less {label(surfaces, b)}")]
        cells += [_cell(number(own.loc[q, "difference"], SHOWN[q][2]), interval(own.loc[q, "difference_low"], own.loc[q, "difference_high"], SHOWN[q][2])) for q in quantities]
        known = [q for q in quantities if pd.notna(own.loc[q, "distinguishable"])]
        told = [SHOWN[q][0] for q in known if own.loc[q, "distinguishable"]]
        rows.append([*cells, _cell(", ".join(told) if told else "nothing" if known else "no interval")])
    return {"columns": columns, "rows": rows}


def pairs_words(frame: pd.DataFrame) -> str:
    """How many pairs can be told apart, and how many were compared."""
    rows = frame[frame["quantity"] == "net_radiation_common_sky"]
    known = rows[rows["distinguishable"].notna()]
    if not len(known):
        return "No pair of surfaces can be compared with an interval."
    told = int(known["distinguishable"].astype(bool).sum())
    chance = len(known) * 0.05
    return (f"{len(known)} pairs of surfaces were compared on net radiation under the common sky; {told} can be told apart. "
            f"Each verdict is wrong in 5 % of cases, so with {len(known)} pairs about {number(chance, 1)} would seem different by chance if all were the same.")


def budget_table(frame: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> dict:
    """The two largest sources for each surface and quantity."""
    rows = []
    for name in ("albedo", "surface_temperature", "net_radiation"):
        for surface, part in frame[frame["quantity"] == name].groupby("surface", sort=False):
            for row in part.sort_values("share", ascending=False, kind="stable").head(2).to_dict("records"):
                decimals = SHOWN[name][2] + 1
                rows.append((SHOWN[name][0], label(surfaces, surface), row["source"], f"± {number(row['half_width_95'], decimals)} {SHOWN[name][1]}", f"{number(100 * row['share'], 0)} %"))
    return words_table(("quantity", "surface", "source", "half width", "share"), rows, numeric=(3, 4))


def linear_words(frame: pd.DataFrame) -> str:
    """Where linear propagation and the draws disagree by more than a tenth, and why."""
    both = frame.dropna()
    both = both[both["half_width_linear"] > 0]
    apart = both[(both["half_width_draws"] / both["half_width_linear"] - 1.0).abs() > 0.1]
    if not len(both):
        return "there is nothing to compare it with here."
    names = [SHOWN[q][0] for q in dict.fromkeys(apart["quantity"])]
    if not names:
        return "its intervals agree with the draws to a tenth everywhere."
    return (f"its intervals agree with the draws to a tenth except for {', '.join(names)}, where ranges without tails (rectangular distributions) "
            "or ratios dominate, which a linear interval describes badly: the tables give the draws.")


CLASS_VALUES = {
    "": ("emissivity", "ground_heat_fraction_day", "ground_heat_fraction_night", "latent_method", "evaporative_fraction", "priestley_taylor_coefficient", "sky_response"),
    "choudhury": ("leaf_area_index",), "santanello": ("soil_moisture",), "hysteresis": ("hysteresis_a1", "hysteresis_a2", "hysteresis_a3"),
}
"""The properties of a class that numbers are made from: always, and by the method of the ground heat flux."""


def classes_table(surfaces: Mapping[str, Mapping], used: Sequence[str], ground_heat: str) -> dict:
    """The values behind the surface classes used. ground_heat: the campaign's method."""
    rows = []
    for name in used:
        for key in (*CLASS_VALUES[""], *CLASS_VALUES.get(ground_heat, ())):
            if key not in surfaces[name]:
                continue
            entry = surfaces[name][key]
            span = f"{entry['low']:g} to {entry['high']:g}" if isinstance(entry["low"], float) else ""
            value = f"{entry['value']:g}" if isinstance(entry["value"], float) else str(entry["value"]).replace("_", " ")
            rows.append((label(surfaces, name), key.replace("_", " "), f"{value} {entry['unit']}".replace(" 1", "") if entry["unit"] == "1" else f"{value} {entry['unit']}", span, entry["source"], entry["how"]))
    return words_table(("surface", "property", "value", "range", "source", "how known"), rows)


def sky_words(surfaces: pd.DataFrame, sky: tuple[float, float]) -> str:
    """What the common sky is."""
    if not all(map(math.isfinite, sky)):
        return "none, since nothing counts."
    missing = [name for name, value in zip(surfaces["surface"], surfaces["net_radiation_common_sky"]) if not math.isfinite(value)]
    text = f"{number(sky[0], 0)} W m⁻² shortwave and {number(sky[1], 0)} W m⁻² longwave from above, the means of all that counts."
    return text + (f" Too far from it to be put under it: {', '.join(missing)}." if missing else "")


def balance_words(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> str:
    """The balance figure in words, for those who don't see it."""
    parts = [f"{label(surfaces, r['surface'])}: net radiation {number(r['net_radiation'], 0)}, ground {number(r['ground_heat'], 0)}, sensible {number(r['sensible_heat'], 0)}, "
             f"latent {number(r['latent_heat'], 0)}" for r in table.to_dict("records")]
    return "Energy balance in W m⁻². " + "; ".join(parts) + "." if parts else "No energy balance."


def answer_words(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> str:
    """The figure of the first page in words."""
    parts = [f"{label(surfaces, r['surface'])}: albedo {number(r['albedo'], 2)}, {number(r['surface_temperature'], 0)} °C, net radiation {number(r['net_radiation'], 0)} W m⁻²"
             for r in table.to_dict("records")]
    return "Points with intervals, one row a surface. " + "; ".join(parts) + "." if parts else "No surface has a value."


def no_interval_words(table: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> str:
    """Which surfaces have no interval, and why; an empty text where all have."""
    names = [label(surfaces, r["surface"]) for r in table.to_dict("records") if math.isfinite(r["net_radiation"]) and not math.isfinite(r["net_radiation_low"])]
    return f"No interval for {', '.join(names)}: too little of its ground was walked to say how the rest differs (see the findings)." if names else ""


def dates(samples: Mapping[str, pd.DataFrame]) -> str:
    """The days of the recording, in UTC."""
    days = sorted({day for frame in samples.values() for day in frame["time_utc"].dt.strftime("%Y-%m-%d").unique()})
    return ", ".join(days) if 0 < len(days) <= 3 else f"{days[0]} to {days[-1]}" if days else "nothing recorded"
