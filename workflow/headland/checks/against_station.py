"""Each set checked against a fixed station."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.station import records
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Tell, unheard
from headland.checks.campaign import Campaign
from headland.checks.same_sky import (
    FALSE_ALARM,
    INCOMING,
    MEANS,
    Modelled,
    modelled,
    ratio,
    records_of,
    tell_uncompared,
)
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.intercompare import normalised_error

AGAINST_STATION = (
    "set",
    "channel",
    "records",
    "start_utc",
    "end_utc",
    "ratio",
    "ratio_low",
    "ratio_high",
    "e_n",
)
LARGEST_E_N = 1.8
"""E_n, with expanded uncertainties of k = 2, at 3.6 standard uncertainties (ISO/IEC 17043, from memory)."""
COVERED = 0.5
"""Share of a station's interval that a set must have recorded (common practice, no source)."""


@dataclass(frozen=True)
class Station:
    """A fixed station's record. rows: time_utc, sw_in, lw_in (W m-2). stamp: what its times name, `start`,
    `middle` or `end`."""

    rows: pd.DataFrame
    stamp: str


def against_station(campaign: Campaign, station: Station) -> pd.DataFrame:
    """The ratio of each set's incoming terms to a fixed station's: a row a set and term that can be compared.

    Outgoing terms are not compared: the station has other ground. Columns: AGAINST_STATION. The ratio's
    ends are those of its 95 % interval. `e_n` is its distance from 1 over the expanded uncertainty (k = 2)
    of both records and of the sky's difference between them (ISO/IEC 17043, from memory)."""
    known, ends, step = records(station.rows, station.stamp)
    if len(known) < 2:
        return pd.DataFrame(columns=AGAINST_STATION)
    found = []
    for name, record in records_of(campaign, campaign.samples, 1.0).items():
        seconds = since_1970(record.index)
        number = np.searchsorted(ends, seconds)
        inside = (number < len(ends)) & (ends[np.minimum(number, len(ends) - 1)] - step < seconds)
        record = record[inside].assign(record=number[inside])
        frame = _station_windows(name, record, known, step, max(campaign.intervals[name], 1.0))
        if len(frame):
            found += _compared(name, frame, campaign)
    return pd.DataFrame(found, columns=AGAINST_STATION)


def _station_windows(
    name: str, record: pd.DataFrame, known: pd.DataFrame, step: float, interval: float
) -> pd.DataFrame:
    """Means of a set over each of the station's intervals, with the station's values as `sw_in_b`, `lw_in_b`.

    Parameters
    ----------
    record : a set's windows with the number of the station's `record`.
    known : the station's rows.
    step : s, the station's interval.
    interval : s, the set's.
    """
    rows = []
    sw_in, lw_in = (known[term].to_numpy(float) for term in ("sw_in", "lw_in"))
    for (_, segment), part in record.groupby(["record", "segment"], sort=False):
        if len(part) * interval < COVERED * step:
            continue
        number = int(part["record"].iloc[0])
        window = {
            "set": name,
            "segment": segment,
            "start_utc": part.index[0],
            "end_utc": part.index[-1],
            "seconds_sw_in": step * bool(part["calm"].all()),
            "seconds_lw_in": step,
            "sw_in_b": sw_in[number],
            "lw_in_b": lw_in[number],
        }
        rows.append(window | {column: part[column].mean() for column in MEANS})
    return pd.DataFrame(rows)


def _compared(name: str, frame: pd.DataFrame, campaign: Campaign) -> list[tuple]:
    """The rows of one set. frame: as `_station_windows` gives it."""
    model = modelled(frame, campaign)
    station = Modelled({term: frame[f"{term}_b"].to_numpy(float) for term in INCOMING}, {})
    start, end = pd.DatetimeIndex([frame["start_utc"].min(), frame["end_utc"].max()]).round("s")
    rows = []
    for term in INCOMING:
        weights = frame[f"seconds_{term}"].to_numpy(float)
        sigma = float(campaign.terms[f"station_{term[:2]}"]["sigma"]) / 100.0
        found = ratio(term, weights, model, station, FALSE_ALARM, also=sigma)
        if not found:
            continue
        value, u = found
        half = NORMAL_95 * u * value
        e_n = normalised_error(value - 1.0, 2.0 * u)
        rows.append((name, term, len(frame), start, end, value, value - half, value + half, e_n))
    return rows


def station_disagrees(
    compared: pd.DataFrame, station: Station, names: Iterable[str], tell: Tell = unheard
) -> list[Finding]:
    """Sets whose incoming terms are off a fixed station's by E_n over 1.8, that is 3.6 standard
    uncertainties.

    Parameters
    ----------
    compared : as `against_station` gives it.
    names : of all sets.
    tell : called with each check that could not be made.
    """
    findings = [
        _finding(row, station.stamp) for row in compared[compared["e_n"] > LARGEST_E_N].to_dict("records")
    ]
    sets = {term: set(compared.loc[compared["channel"] == term, "set"]) for term in INCOMING}
    there = len(records(station.rows, station.stamp)[0]) > 1
    tell_uncompared("station-disagrees", "station-apart" if there else "no-station", names, sets, tell)
    by_term = {term: [f for f in findings if f.channel == term] for term in INCOMING}
    return [finding for term in INCOMING for finding in _off_station(by_term[term], len(sets[term]))]


def _finding(row: dict, stamp: str) -> Finding:
    start, end = time_text(pd.DatetimeIndex([row["start_utc"], row["end_utc"]]))
    return Finding(
        "station-disagrees",
        "",
        row["set"],
        "station.csv",
        start_utc=start,
        end_utc=end,
        channel=row["channel"],
        facts={
            "percent": f"{100 * abs(row['ratio'] - 1.0):.1f}",
            "direction": "more" if row["ratio"] > 1.0 else "less",
            "band": INCOMING[row["channel"]],
            "normalised": f"{row['e_n']:.1f}",
            "records": row["records"],
            "stamp": stamp,
        },
    )


def _off_station(findings: list[Finding], compared: int) -> list[Finding]:
    """One finding about the station where all of several sets are off it to the same side: then it is most
    likely wrong."""
    directions = {finding.facts["direction"] for finding in findings}
    if len(findings) < 2 or len(findings) < compared or len(directions) > 1:
        return findings
    first = findings[0]
    return [
        Finding(
            "station-disagrees",
            "all-sets",
            "",
            first.file,
            start_utc=first.start_utc,
            end_utc=first.end_utc,
            channel=first.channel,
            facts={**first.facts, "sets": ", ".join(finding.set for finding in findings)},
        )
    ]
