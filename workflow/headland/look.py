"""The quick look before driving home: what the loggers hold, as lamps with a word, and what to do while still in the field.

It needs no notes, and judges by medians and shares of one set's own samples, and by what two sets saw at the same time. A lamp is no
verdict of the report: the report's findings are finer. Limits without another source are common practice: none is published for this.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
from matplotlib import rc_context
from matplotlib.figure import Figure

from headland import figures, notes, screen, sun
from headland.constants import RADIATION, ZERO_CELSIUS
from headland.correct_longwave import own_emission
from headland.findings import Finding, describe
from headland.segment import recorded_runs

WORDS = {"green": "good", "amber": "look", "red": "act", "grey": "not tested"}
"""What each colour says, so that no colour stands alone."""
WORST = ("grey", "green", "amber", "red")
STATES = {"error": "red", "warning": "amber", "note": "green"}
"""Colour of a finding of the chain, by its severity."""
NAMES = {"sw_in": "shortwave in", "sw_out": "shortwave out", "lw_in": "longwave in", "lw_out": "longwave out"}

SUN_UP, LIT = 10.0, 50.0
"""Degrees and W m-2: with less sun, shortwave is not judged (methods of this project, section 6)."""
ENOUGH = 10
"""Samples below which nothing is judged."""
MOST = 0.9
"""Share of samples in which a reversed or exchanged lead must show."""
COVERED, COVERED_FOR = 0.02, 60.0
"""Share of the top of the atmosphere under which the sky is covered, and for how many s (mistakes of this project)."""
FROZEN_FOR, FROZEN_STEPS = 120.0, 10.0
"""s at one value while another channel moves by more than so many of its steps (mistakes of this project)."""
FASTEST_WARMING = 12.0
"""K per hour of the body over 10 min: an instrument fresh out of a warm car (mistakes of this project)."""
LOW_SUPPLY = {"amber": 11.5, "red": 11.0}
"""V under which a 12 V supply is low (common practice, no source)."""
FALLEN_SUPPLY = 0.9
"""Share of its first voltage under which any other supply is low (common practice, no source)."""
SUN_MISFIT, SUN_FALLS, SUN_SHIFT = 0.03, 3.0, 1200.0
"""A clock is against the sun where a shift of 20 min or more fits a clear sky to 3 % and three times better than none (mistakes of this project)."""
LAG_BIN, LONGEST_LAG, SMALLEST_LAG, SURE_LAG = 5.0, 900.0, 60.0, 0.8
"""s, s, s and correlation: clouds reach neighbouring fields within a minute; a larger lag between two sets is a clock's (common practice, no source)."""
SPREAD = {"sw_in": (0.09, 0.25, "relative"), "lw_in": (15.0, 40.0, "W m-2")}
"""Differences of the incoming terms that are amber and red: 3.6 times a standard uncertainty of 2.5 % and 4 W m-2 (methods of this project, section 8)."""


MOST_RUNS = 200
"""Runs that the page lists and draws one by one."""


@dataclass(frozen=True)
class Lamp:
    """One thing looked at. set: whose, or several names, or empty. state: a key of WORDS. what, remedy: sentences; no remedy where there is nothing to do."""

    set: str
    subject: str
    state: str
    what: str
    remedy: str = ""


def worst(lamps: Sequence[Lamp]) -> str:
    """The colour of the whole: the worst of its lamps."""
    return max((lamp.state for lamp in lamps), key=WORST.index, default="grey")


# Tests of series -------------------------------------------------------------------------------------------------


def longest(hit, interval: float) -> float:
    """Duration in s of the longest stretch of samples on end in which a truth value holds."""
    edges = np.flatnonzero(np.diff(np.asarray(hit, np.int8), prepend=0, append=0))
    return float((edges[1::2] - edges[::2]).max() * interval) if len(edges) else 0.0


def is_frozen(values, others: Sequence, interval: float) -> bool:
    """Whether a channel stays at one value for 2 min while another moves by more than 10 of its own steps. All as logged."""
    values = np.asarray(values, dtype=float)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(values) != 0])) if len(values) else np.zeros(0, int)
    counts = np.diff(starts, append=len(values))
    long = (counts >= 30) & (counts * interval >= FROZEN_FOR)
    for start, count in zip(starts[long], counts[long]):
        for other in others:
            part = np.asarray(other, dtype=float)[start:start + count]
            steps = np.abs(np.diff(part))
            steps = steps[steps > 0]
            if len(steps) and np.ptp(part) > FROZEN_STEPS * steps.min():
                return True
    return False


def warming(seconds, body) -> float:
    """Fastest trend of the body temperature over 10 min of recording, K per hour; 0 where less was recorded."""
    known = np.isfinite(body)
    rates = [0.0]
    for block, part in pd.DataFrame({"s": seconds[known], "body": body[known]}).groupby(np.floor(seconds[known] / 600.0)):
        if len(part) >= ENOUGH and np.ptp(part["s"]) >= 300.0:
            rates.append(float(np.polyfit(part["s"] - block * 600.0, part["body"], 1)[0]) * 3600.0)
    return max(rates, key=abs)


def shift_to_sun(seconds, sw_in, site: Mapping[str, float]) -> tuple[float, float, float]:
    """The shift in s that added to a clock brings SW_in (W m-2) best to a clear sky, and the relative misfits with it and without: a SW_clear(t + shift) fitted to minutes.

    Shifts of up to 13 h, every 5 min. NaN where the record is shorter than half an hour of sun, or longer than 10 days.
    """
    minutes = pd.Series(np.asarray(sw_in, float)).groupby(np.floor(np.asarray(seconds) / 60.0)).mean()
    minutes = minutes[minutes > LIT]
    times = (minutes.index.to_numpy() + 0.5) * 60.0
    if len(times) < 20 or not 1800.0 <= np.ptp(times) <= 864000.0:
        return math.nan, math.nan, math.nan
    nodes = np.arange(times[0] - 13.5 * 3600.0, times[-1] + 13.5 * 3600.0, 300.0)
    moments = pd.to_datetime(nodes * 1e9, unit="ns", utc=True)
    elevation, _ = sun.position(moments, site["latitude"], site["longitude"], site["elevation"])
    clear = sun.clear_sky_global(elevation, moments, site["elevation"])
    shifts = np.arange(-156, 157) * 300.0
    model = np.interp(times[None, :] + shifts[:, None], nodes, clear)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(model > 20.0, minutes.to_numpy()[None, :] / model, np.inf)
        scale = np.median(ratio, axis=1, keepdims=True)
        misfit = np.where(np.abs(scale[:, 0] - 1.0) < 0.2, np.sqrt(np.mean((ratio / scale - 1.0) ** 2, axis=1)), np.inf)
    best = int(np.nanargmin(misfit))
    return float(shifts[best]), float(misfit[best]), float(misfit[len(shifts) // 2])


def lag_between(a: pd.Series, b: pd.Series) -> tuple[float, float]:
    """The lag in s by which b runs behind a, and the correlation at that lag, from SW_in of two sets by their own clocks (series over seconds).

    In bins of 5 s, up to 15 min; NaN where they have no 5 min in common or the sky was too even to tell.
    """
    first, second = (s.groupby(np.floor(s.index.to_numpy() / LAG_BIN).astype(np.int64)).mean() for s in (a, b))
    best = (math.nan, math.nan)
    for step in sorted(range(-int(LONGEST_LAG / LAG_BIN), int(LONGEST_LAG / LAG_BIN) + 1), key=abs):
        _, of_a, of_b = np.intersect1d(first.index, second.index - step, assume_unique=True, return_indices=True)
        pair = np.stack([first.to_numpy()[of_a], second.to_numpy()[of_b]])
        if pair.shape[1] < 60 or (pair.std(axis=1) < 0.03 * pair.mean(axis=1)).any():
            continue
        found = float(np.corrcoef(pair)[0, 1])
        if not best[1] >= found:
            best = (step * LAG_BIN, found)
    return best


# Lamps of one set ------------------------------------------------------------------------------------------------


def of_set(name: str, samples: pd.DataFrame, raw: pd.DataFrame, entry: Mapping, limits: Mapping[str, Mapping], site: Mapping[str, float],
           air_temperature: float) -> list[Lamp]:
    """The lamps of a set's samples.

    samples: time_utc, seconds (middles, UTC by the logger's clock), the four components, lw_in_net, lw_out_net (W m-2; NaN without a certificate),
    body_temperature (degC), solar_elevation, sw_clear, top_of_atmosphere. raw: as logged. entry: the set's settings. limits: rows of
    quality.csv. air_temperature: degC, NaN where unknown.
    """
    if not len(samples):
        return [Lamp(name, "stored", "red", "Nothing was stored, or nothing of it can be read.",
                     "See whether the storage switch was on and the right file was downloaded, before anything is put away.")]
    interval = entry["layout"]["interval"]
    runs = recorded_runs(samples["seconds"].to_numpy(), interval)[-1] + 1
    lamps = [Lamp(name, "stored", "green", f"{len(samples)} samples in {runs} run{'s' if runs > 1 else ''}: {len(samples) * interval / 60:.0f} min in all.")]
    blind = [NAMES[c] for c in RADIATION if not np.isfinite(samples[c]).any()]
    if blind:
        lamps.append(Lamp(name, "factors", "amber", f"No certificate or no value for {', '.join(blind)}: not judged.", "Put instruments.csv into the folder; then look again."))
    covered = _covers(name, samples, interval)
    alive = samples[~covered[1]]
    signs = _signs(name, alive)
    lamps += [_ranges(name, alive, limits, air_temperature), covered[0], signs, _frozen(name, raw, samples, interval), _longwave(name, alive, entry),
              _body(name, samples, air_temperature), _supply(name, raw), _sun(name, alive, site)]
    return lamps


def _ranges(name, samples, limits, air_temperature) -> Lamp:
    flags = screen.flags(samples, limits, np.full(len(samples), air_temperature), samples["top_of_atmosphere"].to_numpy(float))
    said, state = [], "green"
    for flag, hit in flags.items():
        share = float(np.mean(hit))
        impossible = flag.endswith("-impossible")
        if (impossible and share > 0) or (flag.endswith("-rare") and share > 0.05) or (flag == "sw-up-over-down" and share > 0.05):
            state = max(state, "red" if impossible and share > 0.01 else "amber", key=WORST.index)
            said.append(f"{limits[flag]['meaning']} in {100 * share:.2g} % of samples")
    ends = "; ".join(f"{NAMES[c]} {np.nanmin(samples[c]):.0f} to {np.nanmax(samples[c]):.0f}" for c in RADIATION if np.isfinite(samples[c]).any())
    return Lamp(name, "ranges", state, (f"{'; '.join(said)}. " if said else "") + (f"{ends} W m-2." if ends else "Nothing to judge."),
                "Compare with the other set; see plugs, cable and factors." if said else "")


def _covers(name, samples, interval) -> tuple[Lamp, np.ndarray]:
    """The lamp, and where all heads or the upper one were covered."""
    high = (samples["solar_elevation"] > SUN_UP).to_numpy()
    beyond = (samples["top_of_atmosphere"] * np.sin(np.radians(samples["solar_elevation"].clip(lower=0.0)))).to_numpy()
    dark = high & (np.abs(samples["sw_in"].to_numpy(float)) < COVERED * beyond)
    if not (high & np.isfinite(samples["sw_in"].to_numpy(float))).any():
        return Lamp(name, "covers", "grey", "The sun is too low to tell."), np.zeros(len(samples), bool)
    lasted = longest(dark, interval)
    if lasted < COVERED_FOR:
        return Lamp(name, "covers", "green", "The upper shortwave head saw the sky all the time."), dark
    share = float(np.mean(dark[high]))
    what = f"The upper shortwave head was dark for up to {lasted / 60:.0f} min on end, {100 * share:.0f} % of the time by day."
    return Lamp(name, "covers", "red" if share > 0.5 else "amber", what, "Take the covers off and walk those parts again, unless they were covered on purpose."), dark


def _signs(name, samples) -> Lamp:
    lit = samples[(samples["solar_elevation"] > SUN_UP) & (samples[["sw_in", "sw_out"]].abs().max(axis=1) > LIT)]
    said = []
    if len(lit) >= ENOUGH:
        for channel in ("sw_in", "sw_out"):
            if np.mean(lit[channel] < -2.0) > MOST:
                said.append(f"{NAMES[channel]} is negative by day: its leads are reversed")
        if not said and np.mean(lit["sw_out"] > 1.2 * lit["sw_in"]) > MOST:
            said.append("more shortwave comes from below than from above: up and down are exchanged, or the set is upside down")
    known = samples[["lw_in_net", "lw_out_net"]].dropna()
    known = known[(known.abs() < 300.0).all(axis=1)]        # what holds its own emission is no matter of signs
    if len(known) >= ENOUGH:
        above, below = known.median()
        if above - below > 25.0:
            said.append("the sky seems warmer than the ground: the longwave heads are exchanged, or the leads of the upper one reversed")
        if below < -35.0 and len(lit) >= ENOUGH and lit["sw_in"].median() > 300.0:
            said.append("the ground seems far colder than the head in strong sun: the leads of longwave out are reversed, unless this is snow or water")
    if said:
        return Lamp(name, "signs", "red", "; ".join(said).capitalize() + ".", "Cover each head by hand, see which channel moves, and mend the leads now.")
    if len(lit) < ENOUGH and len(known) < ENOUGH:
        return Lamp(name, "signs", "grey", "Neither sun nor longwave to tell them by.")
    return Lamp(name, "signs", "green", "Signs and places of the channels make sense." if len(lit) >= ENOUGH else "Longwave makes sense; no sun to tell shortwave by.")


def _frozen(name, raw, samples, interval) -> Lamp:
    dead = []
    for channel in RADIATION:
        if channel.startswith("sw") and not (samples["solar_elevation"] > 3.0).any():
            continue                    # in the dark a steady zero is sound
        if is_frozen(raw[channel], [raw[other] for other in RADIATION if other != channel], interval):
            dead.append(NAMES[channel])
    if dead:
        return Lamp(name, "channels alive", "red", f"{', '.join(dead)} stayed at one value while the others moved.", "See its plug and cable; walk again what matters.")
    return Lamp(name, "channels alive", "green", "Every channel moves.")


def _longwave(name, samples, entry) -> Lamp:
    body = samples["body_temperature"].median() + ZERO_CELSIUS
    emission = own_emission(body)
    states = {}
    for channel in ("lw_in", "lw_out"):
        net = samples[f"{channel}_net"].median()
        if math.isfinite(net) and math.isfinite(emission):
            states[channel] = int(np.argmin(np.abs(net - emission * np.array([-1.0, 0.0, 1.0])))) - 1
    if not states:
        return Lamp(name, "longwave correction", "grey", "No longwave, or no body temperature, to tell it by.")
    if any(states.values()):
        said = [f"{NAMES[c]} holds the head's own emission {'once too often' if state > 0 else 'once less'} than declared" for c, state in states.items() if state]
        return Lamp(name, "longwave correction", "amber", f"{' and '.join(said)}.", f"Mend `longwave` of this set in campaign.yaml (now {entry['longwave']}), or the logger's program; nothing is lost.")
    return Lamp(name, "longwave correction", "green", f"As declared: {entry['longwave']}.")


def _body(name, samples, air_temperature) -> Lamp:
    body = samples["body_temperature"].to_numpy(float)
    if not np.isfinite(body).any():
        return Lamp(name, "body temperature", "red", "No body temperature: the longwave terms can't be had without it.", "See the thermometer's plug and the layout's unit.")
    low, high = np.nanmin(body), np.nanmax(body)
    said, state = f"{low:.1f} to {high:.1f} degC", "green"
    if low < -60.0 or high > 60.0:
        return Lamp(name, "body temperature", "red", f"{said}: impossible outdoors.", "See the unit in the layout (degC, K, ohm) and the thermometer's plug.")
    if math.isfinite(air_temperature) and abs(np.nanmedian(body) - air_temperature) > 15.0:
        return Lamp(name, "body temperature", "amber", f"{said}, while the air is said to be at {air_temperature:.0f} degC.", "See the unit in the layout, and the weather that was entered.")
    rate = warming(samples["seconds"].to_numpy(), body)
    if abs(rate) > FASTEST_WARMING:
        return Lamp(name, "body temperature", "amber", f"{said}, changing by up to {rate:+.0f} K per hour.", "Let the set stand outside for half an hour and walk the first part again.")
    return Lamp(name, "body temperature", state, f"{said}, steady enough ({rate:+.0f} K per hour at most).")


def _supply(name, raw) -> Lamp:
    volts = raw["battery"].dropna().to_numpy(float) if "battery" in raw else np.zeros(0)
    if not len(volts):
        return Lamp(name, "supply", "grey", "The layout names no supply voltage.")
    first, least = float(np.median(volts[:60])), float(np.min(volts))
    low = LOW_SUPPLY if 11.0 < first < 15.0 else {"amber": FALLEN_SUPPLY * first, "red": 0.8 * first}
    state = "red" if least < low["red"] else "amber" if least < low["amber"] else "green"
    return Lamp(name, "supply", state, f"{first:.2f} V at first, {least:.2f} V at least.", "" if state == "green" else "Change or charge the battery before going on.")


def _sun(name, samples, site) -> Lamp:
    shift, then, now = shift_to_sun(samples["seconds"].to_numpy(), samples["sw_in"].to_numpy(float), site)
    if not math.isfinite(shift):
        return Lamp(name, "clock and sun", "grey", "Less than half an hour of sun: not to be told.")
    if then > SUN_MISFIT:
        return Lamp(name, "clock and sun", "grey", "Clouds: not to be told.", "Read the logger's clock against the time and note it (clock_check).")
    if abs(shift) >= SUN_SHIFT and now >= SUN_FALLS * then:
        return Lamp(name, "clock and sun", "red", f"The sun says that this logger's clock, with its declared offset, is {abs(shift) / 60:.0f} min {'behind' if shift > 0 else 'ahead'}.",
                    "Read the logger's clock now and note it (clock_check); see utc_offset in campaign.yaml.")
    return Lamp(name, "clock and sun", "green", "The clear sky fits the logger's clock, as far as the sun can tell (some 20 min).")


# Lamps of several sets, and of the notes ---------------------------------------------------------------------------


def between_sets(samples: Mapping[str, pd.DataFrame]) -> list[Lamp]:
    """The lamps of what two sets stored at the same time: their clocks, and the spread of their incoming terms."""
    lamps = []
    for a, b in combinations([name for name, frame in samples.items() if len(frame)], 2):
        both = f"{a}, {b}"
        minutes = [samples[n].groupby(np.floor(samples[n]["seconds"].to_numpy() / 60.0))[["sw_in", "lw_in", "solar_elevation"]].agg(["mean", "std"]) for n in (a, b)]
        common = minutes[0].index.intersection(minutes[1].index)
        if not len(common):
            lamps.append(Lamp(both, "clocks", "amber", "The two sets have not one minute of storage in common.", "See both clocks and utc_offset; let both store side by side for 5 min."))
            continue
        lag, sure = lag_between(*(samples[n].set_index("seconds")["sw_in"].dropna() for n in (a, b)))
        if not sure >= SURE_LAG:
            lamps.append(Lamp(both, "clocks", "grey", "The sky was too even, or the fields too far apart, to tell the clocks against each other.", "Read both clocks against one time and note it (clock_check)."))
        elif abs(lag) >= SMALLEST_LAG:
            lamps.append(Lamp(both, "clocks", "amber", f"Clouds reach {b} {abs(lag):.0f} s {'after' if lag > 0 else 'before'} {a}: a clock is off, or the fields are far apart.",
                              "Read both clocks against one time and note it (clock_check)."))
        else:
            lamps.append(Lamp(both, "clocks", "green", f"Clouds reach both within {abs(lag):.0f} s."))
        for channel, (amber, red, kind) in SPREAD.items():
            first, second = (m.loc[common, channel] for m in minutes)
            steady = first["mean"].notna() & second["mean"].notna()
            if channel == "sw_in":
                steady &= (first["mean"] > LIT) & (second["mean"] > LIT) & (first["std"] < 0.02 * first["mean"]) & (second["std"] < 0.02 * second["mean"])
            if steady.sum() < 3:
                lamps.append(Lamp(both, f"{NAMES[channel]} of both", "grey", "No three minutes in which both saw a steady sky.", "Let both stand side by side for 5 min."))
                continue
            if kind == "relative":
                off = float(np.median(second["mean"][steady] / first["mean"][steady])) - 1.0
                said = f"{b} is {100 * off:+.1f} % off {a}"
            else:
                off = float(np.median(second["mean"][steady] - first["mean"][steady]))
                said = f"{b} is {off:+.1f} W m-2 off {a}"
            state = "red" if abs(off) > red else "amber" if abs(off) > amber else "green"
            lamps.append(Lamp(both, f"{NAMES[channel]} of both", state, f"{said} (median of {int(steady.sum())} steady minutes).",
                              "" if state == "green" else "Clean the domes, level both heads, see factors and plugs; then stand side by side for 5 min."))
    return lamps


def of_notes(file: str, noted: pd.DataFrame, sentences: Sequence[tuple[str, str, str]], samples: Mapping[str, pd.DataFrame]) -> list[Lamp]:
    """The lamps of the notes: faults in them, intervals without data, runs without a note.

    sentences: severity, sentence and remedy of what is wrong with the table. noted: intervals in UTC. samples: with `seconds`.
    """
    if not file:
        return [Lamp("", "notes", "grey", "No notes in the folder yet.", "Type them in while everybody remembers, and look again.")]
    lamps = [Lamp("", "notes", STATES[severity], what, remedy) for severity, what, remedy in sentences if severity != "note"]
    counted = noted[noted["activity"] != "clock_check"]
    missing = []
    for row in counted.to_dict("records"):
        seconds = samples[row["set"]]["seconds"].to_numpy() if len(samples.get(row["set"], ())) else np.zeros(0)
        if not ((seconds >= row["start_utc"].timestamp()) & (seconds < row["end_utc"].timestamp())).any():
            missing.append(f"row {row['notes_row']} ({row['set']}, {row['start']} to {row['end']}, {row['field'] or row['activity']})")
    if missing:
        more = f" and {len(missing) - 6} more" if len(missing) > 6 else ""
        lamps.append(Lamp("", "notes without data", "red" if len(missing) == len(counted) else "amber", f"Nothing is stored for {'; '.join(missing[:6])}{more}.",
                          "Walk them again, or see whether a file is still on the logger, or the notes' clock is another one."))
    elif len(counted):
        lamps.append(Lamp("", "notes without data", "green", f"All {len(counted)} noted intervals have samples."))
    for name, frame in samples.items():
        own = counted[counted["set"] == name]
        if not len(frame) or not len(counted):
            continue
        seconds = frame["seconds"].to_numpy()
        claimed = np.zeros(len(seconds), bool)
        for row in own.to_dict("records"):
            claimed |= (seconds >= row["start_utc"].timestamp() - 30.0) & (seconds < row["end_utc"].timestamp() + 30.0)
        share = float(np.mean(~claimed))
        if share > 0.2:
            lamps.append(Lamp(name, "data without notes", "amber", f"{100 * share:.0f} % of what was stored is in no note.", "Write down what was walked then."))
    checks = noted[noted["activity"] == "clock_check"]
    for name in samples:
        if len(noted) and not (checks["set"] == name).any():
            lamps.append(Lamp(name, "clock check", "amber", "No clock check is noted.", "Read the logger's clock against the time and note both (clock_check), before it is switched off."))
    return lamps


def of_findings(name: str, subject: str, rows: Sequence[tuple[str, str, str, str]]) -> list[Lamp]:
    """The lamps of what the chain's own reading finds. rows: severity, file, sentence and remedy; notes stay unsaid."""
    return [Lamp(name, subject, STATES[severity], f"{file}: {what}" if file else what, remedy) for severity, file, what, remedy in rows if severity != "note"]


# What the page shows -----------------------------------------------------------------------------------------------


def clock(moment: pd.Timestamp, zone: str) -> str:
    """A moment in UTC as local time of day."""
    return moment.tz_convert(ZoneInfo(zone)).strftime("%H:%M:%S")


def runs_table(samples: pd.DataFrame, interval: float, zone: str) -> list[dict[str, str]]:
    """One row a run that was stored: local start and end, UTC start, samples and what they were on average."""
    if not len(samples):
        return []
    number = recorded_runs(samples["seconds"].to_numpy(), interval)
    rows = []
    for _, part in samples[number < MOST_RUNS].groupby(number[number < MOST_RUNS]):
        first, last = part["time_utc"].iloc[[0, -1]]
        rows.append({"date": first.tz_convert(ZoneInfo(zone)).strftime("%Y-%m-%d"), "start": clock(first, zone), "end": clock(last, zone), "utc": first.strftime("%H:%M:%S"), "samples": str(len(part)),
                     **{c: "–" if part[c].isna().all() else f"{part[c].mean():.0f}" for c in RADIATION}, "body": "–" if part["body_temperature"].isna().all() else f"{part['body_temperature'].mean():.1f}"})
    return rows


def timeline(samples: Mapping[str, pd.DataFrame], intervals: Mapping[str, float], noted: pd.DataFrame, zone: str) -> Figure:
    """The four components of each set against local time, with what is noted as bars below them."""
    some = {name: frame for name, frame in samples.items() if len(frame)}
    if not some:
        return figures.nothing("Nothing is stored yet.")
    local = lambda times: pd.DatetimeIndex(times).tz_convert(ZoneInfo(zone)).tz_localize(None)
    with rc_context(figures.STYLE):
        figure = Figure(figsize=(2 * figures.WIDTH, 1.9 * len(some) + 0.5), layout="constrained")
        axes = figure.subplots(len(some), 1, sharex=True, squeeze=False)[:, 0]
        for ax, (name, frame) in zip(axes, some.items()):
            number = recorded_runs(frame["seconds"].to_numpy(), intervals[name])
            number = number if number[-1] < MOST_RUNS else np.zeros(len(number), int)
            for channel, (label, colour, style) in figures.COMPONENTS.items():
                for index, part in frame.groupby(number):
                    x, y = figures.thinned(local(part["time_utc"]), part[channel])
                    ax.plot(x, y, color=colour, linestyle=style, label=label if index == 0 else None)
            own = noted[(noted["set"] == name) & (noted["activity"] != "clock_check")]
            for row in own.to_dict("records"):
                ax.axvspan(*local([row["start_utc"], row["end_utc"]]), ymax=0.05, color="#777777")
            ax.set_ylabel("W m⁻²")
            ax.set_title(figures.shortened(name) + (" (grey bars: noted)" if len(own) else ""), loc="left")
        axes[0].legend(ncols=4, loc="lower right", bbox_to_anchor=(1.0, 1.0))
        figures._times(axes[-1], 12)
        axes[-1].set_xlabel(f"local time ({zone})")
    return figure


def faults(findings: Sequence[Finding], table: Mapping, step: str) -> list[tuple[str, str, str, str]]:
    """Severity, place, sentence and remedy of findings of the chain. table: as `describe` wants it."""
    rows = [describe(finding, step, table) for finding in findings]
    return [(row["severity"], row["file"] + (f", line {row['line']}" if row["file"] and row["line"] else ""), row["what"], row["remedy"]) for row in rows]


def noted_intervals(table: pd.DataFrame, file: str, settings: Mapping, span) -> tuple[pd.DataFrame, list[Finding]]:
    """The notes as intervals in UTC, by the campaign's settings."""
    return notes.intervals(table, file, settings["notes"]["timezone"], settings["notes"]["shift"], span, list(settings["sets"]), settings["surfaces"],
                           {name: entry["utc_offset"] for name, entry in settings["sets"].items()})
