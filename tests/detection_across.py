"""How often mistakes that show across sources are named, and how often sound campaigns are silent: a study over simulated campaigns.

    PYTHONPATH=workflow:tests python tests/detection_across.py [seeds a row] [sound campaigns]

writes the section "Across sources" of docs/detection.md. A campaign in which a mistake can't be told by what was recorded (stated beside each row)
is counted apart: there silence or "Can't be decided" is the right answer.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from zoneinfo import ZoneInfo

import chain
import numpy as np
import pandas as pd
from headland import findings
from simulate import mistakes_across as mistakes
from simulate import sky as skies
from simulate import specs
from simulate.campaign import Campaign, simulate
from simulate.ground import shadow_view
from simulate.spec import Sky, Spec, field, make_set, walks

ROOT = Path(__file__).parents[1]
SKIES = ("clear", "broken", "overcast")
IN_TURN = ("in turn",)
"""For what no sky has a part in: the three in turn."""
Made = tuple[Campaign, "pd.DataFrame | None", bool]
"""A damaged campaign, a station's table or nothing, and whether the mistake can be decided by what was recorded."""


def told(campaign: Campaign, station: pd.DataFrame | None = None, to: str = "propagate") -> list[tuple[str, str, str]]:
    """Severity, code and sentence of every error and warning that the chain raises."""
    with tempfile.TemporaryDirectory() as folder:
        campaign.write(folder)
        if station is not None:
            station.to_csv(Path(folder) / "station.csv", index=False)
        outcome = chain.run(Path(folder), draws=256, to=to)
    rows = [findings.describe(finding, step, chain.SENTENCES) for step, finding in findings.folded(outcome.found)]
    return [(row["severity"], row["code"], row["what"]) for row in rows if row["severity"] != "note"]


# Campaigns that can show a mistake -------------------------------------------------------------------------------


def high_sun(campaign: Campaign, least: float = 20.0, most: float = 70.0) -> bool:
    elevation = np.degrees(np.concatenate([frame["elevation"] for frame in campaign.samples.values()]))
    return bool(least < elevation.min() and elevation.max() < most)


def under_sun(spec: Spec, low: float, high: float, lasts: float = 3600.0) -> Spec:
    """The same campaign at an hour, another one for each seed, at which the sun is between two elevations all the while; as it was where there is none."""
    for k in range(10):
        start = f"{spec.start[:10]} {7 + (3 * spec.seed + k) % 10:02d}:{spec.start[14:]}"
        first = dt.datetime.strptime(start, "%Y-%m-%d %H:%M:%S").replace(tzinfo=ZoneInfo(spec.site.timezone)).timestamp()
        elevation = np.degrees(skies.sun(first + np.linspace(0.0, lasts, 9), spec.site.latitude, spec.site.longitude)[0])
        if low < elevation.min() and elevation.max() < high:
            return spec.with_(start=start)
    return spec


def by_day(seed: int, kind: str, sets: int = 1, passes: int = 2) -> Spec:
    """A sound campaign of at least so many sets and passes a field, with the sun between 22 and 58 degrees where it gets there."""
    spec = specs.sound(seed, kind)
    owned = spec.sets if len(spec.sets) >= sets else specs.two_sets()
    spec = spec.with_(sets=owned, visits=specs.rounds(owned, spec.fields, passes=passes))
    return under_sun(spec, 22.0, 58.0, max(visit.at for visit in spec.visits) + 200.0)


def common_seconds(campaign: Campaign) -> float:
    """How long both sets of a campaign recorded at once."""
    parts = [set(np.floor(frame["time_utc"] / 5.0).astype(int)) for frame in campaign.samples.values()]
    return 5.0 * len(set.intersection(*parts))


def late(seconds: float, checks: bool) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        campaign = simulate(specs.sound(seed, kind))
        damaged = mistakes.notes_late(campaign, seconds)
        runs = sum(frame["run"].nunique() for frame in campaign.records.values())
        return (damaged if checks else mistakes.without_checks(damaged)), None, checks or runs >= 8
    return make


def regular(seed: int, kind: str) -> Made:
    """Twenty equal walks at equal times: one walk more or less is no worse a fit."""
    one = make_set("curlew", "C-11")
    ground = field("Lower meadow", "short_grass", length=60.0 + seed)
    visits, _ = walks("curlew", ground, 60.0, passes=20, turn=60.0)
    spec = specs.minimal(fields=(ground,), sets=(one,), visits=tuple(visits), sky=Sky(kind), seed=seed)
    return mistakes.notes_late(simulate(spec), 3600.0), None, False


def swapped(checks: bool) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        campaign = simulate(by_day(seed, kind, 2, 2 + seed % 2))
        names = [s.name for s in campaign.spec.sets]
        damaged = mistakes.sets_swapped(campaign, *names)
        apart = _apart(campaign, names)
        zones = campaign.spec.sets[0].utc_offset != campaign.spec.sets[1].utc_offset
        return (damaged if checks else mistakes.without_checks(damaged)), None, apart > (0.06 if checks and zones else 0.35)
    return make


def _apart(campaign: Campaign, names: list[str]) -> float:
    """1 less the share of their recorded time that two sets have in common."""
    times = [set(np.round(campaign.samples[name]["time_utc"] / 5).astype(int)) for name in names]
    return 1.0 - len(times[0] & times[1]) / len(times[0] | times[1])


def one_forgotten(what: str) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        spec = specs.sound(seed, kind)
        campaign = simulate(spec.with_(visits=specs.rounds(spec.sets, spec.fields * 2)))
        rows = np.flatnonzero((campaign.notes["activity"] != "clock_check").to_numpy())
        if what == "note":
            return mistakes.note_forgotten(campaign, int(rows[seed % len(rows)])), None, True
        name = campaign.spec.sets[0].name
        return mistakes.storage_forgotten(campaign, name, seed % campaign.records[name]["run"].nunique()), None, True
    return make


def slip(kind_of: str) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        campaign = simulate(by_day(seed, kind))
        rows = np.flatnonzero((campaign.notes["activity"] != "clock_check").to_numpy())
        index = int(rows[seed % len(rows)])
        row = campaign.notes.iloc[index]
        changes = {"reversed": {"start": row["end"], "end": row["start"]}, "incomplete": {"end": ""},
                   "unknown": {"surface": row["surface"][:-2] + row["surface"][-1]}}
        damaged = mistakes.overlapping(campaign, index) if kind_of == "overlap" else mistakes.note_changed(campaign, index, **changes[kind_of])
        return damaged, None, True
    return make


def clock(minutes: float) -> Callable[[int, str], Made]:
    """A set that walks for five hours, its logger's clock wrong; it can be decided where the sun's course shows it."""
    def make(seed: int, kind: str) -> Made:
        spec = specs.sound(seed, kind)
        visits = specs.rounds(spec.sets, spec.fields, passes=2, between=18000.0 / len(spec.fields) - 300.0)
        campaign = simulate(under_sun(spec.with_(visits=visits), 12.0, 90.0, 18000.0))
        name = campaign.spec.sets[0].name
        time = campaign.samples[name]["time_utc"].to_numpy()[::60]
        shown = []
        for moment in (time, time + 60.0 * minutes):
            high, _, distance = skies.sun(moment, spec.site.latitude, spec.site.longitude)
            beam, diffuse = skies.clear_sky(high, distance, spec.site.elevation, 0.75)
            shown.append(np.log(np.maximum(beam * np.sin(np.maximum(high, 0)) + diffuse, 1.0)))
        change, mass = shown[1] - shown[0], 1.0 / np.sin(np.maximum(skies.sun(time, spec.site.latitude, spec.site.longitude)[0], 0.1))
        change, mass = change - change.mean(), mass - mass.mean()
        hazy = np.clip(np.dot(change, mass) / np.dot(mass, mass), -0.06, 0.06)
        seen = high_sun(campaign, 8.0, 90.0) and np.std(change - hazy * mass) > 0.055
        return mistakes.logger_late(campaign, name, 60.0 * minutes), None, bool(kind == "clear" and seen)
    return make


def shaded(seed: int, kind: str) -> Made:
    campaign = simulate(by_day(seed, kind, 2))
    one, other = (s.name for s in campaign.spec.sets)
    runs = campaign.records[one]["run"]
    run = sorted(runs.unique())[seed % runs.nunique()]
    times = campaign.samples[one]["time_utc"].to_numpy()[(runs == run).to_numpy()]
    begin = times[0] + 30.0
    seen = campaign.samples[other]["time_utc"].between(begin, begin + 20.0).sum() * campaign.spec.sets[1].interval
    damaged = mistakes.head_shaded(campaign, one, run, 30.0, 20.0, 0.25)
    return damaged, None, bool(kind == "clear" and seen >= 18 and high_sun(campaign, 18.0, 90.0) and common_seconds(campaign) > 240)


def leaning(seed: int, kind: str) -> Made:
    spec = by_day(seed, kind, passes=4)
    campaign = simulate(spec)
    name = spec.sets[0].name
    # towards the sun or away from it at the first walk: across the sun no heading of a walk there and back shows a lean
    first = next(visit for visit in spec.visits if visit.set == name and visit.field)
    way = next(f.heading for f in spec.fields if f.name == first.field)
    towards = float(np.degrees(campaign.samples[name]["azimuth"].iloc[0])) - way + 180.0 * (seed % 2)
    return mistakes.tilted(campaign, name, 8.0, towards), None, kind == "clear" and high_sun(campaign, 20.0, 60.0)


def broad(seed: int, kind: str) -> Made:
    """A cart behind the head, 1.2 m broad, and the sun behind the cart."""
    spec = by_day(seed, kind)
    spec = spec.with_(carrying=dataclasses.replace(spec.carrying, carrier_width=1.2))
    campaign = simulate(spec)
    sun = campaign.samples[spec.sets[0].name]
    azimuth = float(np.degrees(np.arctan2(np.sin(sun["azimuth"]).mean(), np.cos(sun["azimuth"]).mean())) % 360)
    spec = spec.with_(fields=tuple(dataclasses.replace(f, heading=float(round((azimuth + 180.0) % 360))) for f in spec.fields))
    campaign = simulate(spec)
    sun = campaign.samples[spec.sets[0].name]
    height = spec.carrying.sensor_height - min(f.canopy_height for f in spec.fields)
    share = (sun["direct"] / sun["sw_in"].clip(lower=1.0)).to_numpy()
    view = shadow_view(spec.carrying, height, 0.0, sun["elevation"].to_numpy(), sun["azimuth"].to_numpy(), np.full(len(sun), azimuth + 180.0))
    return campaign, None, bool(kind == "clear" and np.mean(share * view) > 0.19)


def mislabelled(seed: int, kind: str) -> Made:
    """One field noted as snow, or snow noted as wet soil: far outside either class."""
    spec = by_day(seed, kind)
    campaign = simulate(spec)
    chosen = spec.fields[seed % len(spec.fields)]
    return mistakes.mislabelled(campaign, chosen.name, "bare_wet_soil" if chosen.surface == "snow" else "snow"), None, high_sun(campaign, 21.0, 90.0)


def scaled(channel: str, by: float) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        campaign = simulate(by_day(seed, kind, 2))
        seen = common_seconds(campaign) > 180 and (channel == "lw_in" or high_sun(campaign, 20.0, 90.0))
        name = campaign.spec.sets[seed % 2].name
        if channel == "lw_in":
            own = next(s for s in campaign.spec.sets if s.name == name)
            true = campaign.samples[name]
            if own.longwave == "corrected":
                by_now = 1.0 + (by - 1.0) * (1.0 - true["body"] ** 4 * skies.SIGMA / true["lw_in"]).mean()
                return mistakes.scaled(campaign, name, channel, by_now), None, False
            seen = seen and abs(by - 1.0) * np.abs(true["lw_in"] - skies.SIGMA * true["body"] ** 4).mean() > 0.13 * true["lw_in"].mean()
        return mistakes.scaled(campaign, name, channel, by), None, bool(seen and (kind == "clear" or channel == "lw_in"))
    return make


def with_station(by_set: float, by_station: float) -> Callable[[int, str], Made]:
    def make(seed: int, kind: str) -> Made:
        campaign = simulate(by_day(seed, kind, 2))
        name = campaign.spec.sets[seed % 2].name
        station = mistakes.station(campaign, name, by_station)
        return mistakes.scaled(campaign, name, "sw_in", by_set), station, bool((kind == "clear" or by_station != 1.0) and high_sun(campaign, 20.0, 90.0))
    return make


ROWS: dict[str, tuple[str, Callable[[int, str], Made], tuple[str, ...], str, str]] = {
    "notes an hour late, clocks read": ("notes-shifted", late(3600.0, True), IN_TURN, "segment", "always"),
    "notes an hour early, clocks not read": ("notes-shifted", late(-3600.0, False), IN_TURN, "segment", "8 runs or more"),
    "a watch 4 min slow, clocks not read": ("notes-shifted", late(-240.0, False), IN_TURN, "segment", "8 runs or more"),
    "the wrong day, clocks not read": ("notes-shifted", late(86400.0, False), IN_TURN, "segment", "8 runs or more"),
    "an hour late, twenty equal walks at equal times": ("notes-shifted", regular, IN_TURN, "segment", "never"),
    "sets exchanged, clocks read": ("notes-sets-swapped", swapped(True), IN_TURN, "segment", "6 % of the time not in step, where the loggers' zones differ; else 35 %"),
    "sets exchanged, clocks not read": ("notes-sets-swapped", swapped(False), IN_TURN, "segment", "35 % of the time not in step"),
    "a walk not noted": ("data-without-note", one_forgotten("note"), IN_TURN, "segment", "always"),
    "a walk not stored": ("note-without-data", one_forgotten("storage"), IN_TURN, "segment", "always"),
    "a walk begins before the last one ended": ("notes-overlap", slip("overlap"), IN_TURN, "segment", "always"),
    "start and end exchanged": ("notes-reversed", slip("reversed"), IN_TURN, "segment", "always"),
    "an end missing": ("notes-incomplete", slip("incomplete"), IN_TURN, "segment", "always"),
    "a surface misspelt": ("notes-unknown-name", slip("unknown"), IN_TURN, "segment", "always"),
    "a logger's clock 90 min ahead": ("clock-against-sun", clock(90.0), ("clear",), "propagate", "clear; the sun's course over the walks changes by 5.5 % more than haze can do"),
    "a logger's clock 45 min ahead": ("clock-against-sun", clock(45.0), ("clear",), "propagate", "clear; the sun's course over the walks changes by 5.5 % more than haze can do"),
    "a tree over the head for 20 s": ("upward-shaded", shaded, ("clear",), "segment", "clear, sun over 18 degrees, the other set records meanwhile"),
    "a head leaning by 8 degrees": ("head-tilted", leaning, ("clear",), "propagate", "clear, sun between 20 and 60 degrees, four passes a field, the lean along the sun"),
    "a broad cart with the sun behind it": ("own-shade", broad, ("clear",), "propagate", "clear, the shadow takes 19 % of the light"),
    "a field noted as another class": ("surface-mislabelled", mislabelled, IN_TURN, "propagate", "sun over 21 degrees"),
    "one set's SW_in 40 % too high": ("sets-disagree", scaled("sw_in", 1.4), ("clear",), "propagate", "clear, sun over 20 degrees, 3 min in common"),
    "one set's LW_in signal 80 % too high": ("sets-disagree", scaled("lw_in", 1.8), IN_TURN, "propagate", "13 % of LW_in, 3 min in common"),
    "one set's SW_in 40 % over the station's": ("station-disagrees", with_station(1.4, 1.0), ("clear",), "propagate", "clear, sun over 20 degrees"),
    "the station's radiation 30 % too low": ("station-disagrees", with_station(1.0, 0.7), IN_TURN, "propagate", "sun over 20 degrees"),
}
"""What happened: the code that names it, how it is made, the skies, how far the chain is run, and when it can be decided."""

BESIDE = {
    "clock-against-sun": {"notes-shifted"}, "station-disagrees": {"sets-disagree"}, "notes-overlap": {"note-without-data", "data-without-note", "segment-unused"},
    "notes-reversed": {"data-without-note"}, "notes-incomplete": {"data-without-note"}, "notes-unknown-name": {"data-without-note"},
    "sets-disagree": {"beyond-possible"}, "notes-sets-swapped": {"segment-unused", "note-without-data", "data-without-note", "clock-check-far-off"},
    "surface-mislabelled": {"heat-against-wind"},
}
"""Codes that may rightly stand beside one: they say the same from another side, or follow from it."""


def rate(row: str, seeds: int) -> dict[str, object]:
    """How a row fared at so many seeds a sky."""
    code, make, kinds, to, _ = ROWS[row]
    count = dict.fromkeys(("decidable", "named", "undecided", "open", "open_named", "open_undecided", "wrong"), 0)
    others: list[str] = []
    missed: list[str] = []
    for kind in kinds:
        for seed in range(seeds):
            campaign, station, decidable = make(seed, SKIES[seed % 3] if kind == "in turn" else kind)
            found = told(campaign, station, to)
            mine = [what for _, c, what in found if c == code]
            sure = any(not what.startswith("Can't be decided") for what in mine)
            strange = [f"{c} ({kind} {seed})" for _, c, _ in found if c != code and c not in BESIDE.get(code, ())]
            if decidable:
                count["decidable"] += 1
                count["named"] += sure
                count["undecided"] += bool(mine) and not sure
                missed += [] if sure else [f"{kind} {seed}"]
            else:
                count["open"] += 1
                count["open_named"] += sure
                count["open_undecided"] += bool(mine) and not sure
            count["wrong"] += bool(strange)
            others += strange
    return {"row": row, "code": code, **count, "others": others, "missed": missed}


def sound_rate(campaigns: int, part: int = 0, parts: int = 1) -> list[str]:
    """Errors and warnings in sound campaigns of all kinds: of so many, every `parts`-th from `part` on."""
    named = {"a demo": specs.demo(), "nine sets": specs.many_sets(), "the south": specs.southern(), "polar day": specs.polar_day(), "polar night": specs.polar_night(),
             "over midnight": specs.over_midnight(), "two days": specs.two_days(), "a station": specs.station(), "change of clocks": specs.clock_change()}
    cases = {**named, **{f"seed {seed}": specs.sound(seed) for seed in range(campaigns - len(named))}}
    return [f"{name}: {code}" for name, spec in list(cases.items())[part::parts] for _, code, _ in told(simulate(spec))]


def section(rates: list[dict], sound: int, alarms: list[str]) -> str:
    """The section of the page, in Markdown."""
    lines = ["## Across sources", "", "Made by `PYTHONPATH=workflow:tests python tests/detection_across.py`. Each mistake is put into sound simulated campaigns, at every "
             "seed under each sky that its row allows. *Decidable*: campaigns in which what was recorded can show it (last column); *named* is their share in "
             "which the code stands without \"Can't be decided\". *Open*: the others, with how often it was named all the same, or called undecided. *Other "
             "codes*: campaigns with an error or warning that neither names the mistake nor follows from it.", "",
             "| mistake | code | decidable | named | open | named / undecided there | other codes | decidable where |", "|---|---|---|---|---|---|---|---|"]
    for r in rates:
        share = f"{100 * r['named'] / r['decidable']:.0f} %" if r["decidable"] else "-"
        lines.append(f"| {r['row']} | {r['code']} | {r['decidable']} | {share} | {r['open']} | {r['open_named']} / {r['open_undecided']} | {r['wrong']} | {ROWS[r['row']][4]} |")
    lines += ["", f"{sound} sound campaigns (clear, broken, overcast; one to nine sets; night, snow, polar day and night, two days, a fixed station): "
              + (f"{len(alarms)} errors or warnings: {'; '.join(alarms)}." if alarms else "not one error or warning."), ""]
    odd = [f"{r['row']}: {', '.join(r['others'])}" for r in rates if r["others"]]
    missed = [f"{r['row']}: {', '.join(r['missed'])}" for r in rates if r["missed"]]
    lines += ["Decidable, but not named (sky and seed): " + "; ".join(missed) + ".", ""] if missed else []
    return "\n".join(lines + (["Other codes in full: " + "; ".join(odd) + ".", ""] if odd else []))


def put(page: Path, text: str) -> None:
    """Put a section into a page, in place of the one of the same title."""
    title = text.splitlines()[0]
    before = page.read_text(encoding="utf-8") if page.is_file() else "# How well mistakes are told\n"
    rest = re.sub(rf"{re.escape(title)}\n.*?(?=\n## |\Z)", "", before, flags=re.S).rstrip("\n")
    page.write_text(f"{rest}\n\n{text}", encoding="utf-8")


def main() -> None:
    seeds, sound = (int(text) for text in (sys.argv[1:] + ["20", "300"][len(sys.argv) - 1:]))
    with ProcessPoolExecutor(2) as pool:
        waiting = [pool.submit(rate, row, seeds) for row in ROWS]
        silent = [pool.submit(sound_rate, sound, part, 10) for part in range(10)]
        for one in (*waiting, *silent):
            print(one.result(), flush=True)
    put(ROOT / "docs" / "detection.md", section([one.result() for one in waiting], sound, [alarm for one in silent for alarm in one.result()]))


if __name__ == "__main__":
    main()
