"""After the numbers: sets against each other and a station, ground against its class, carrying against the
sun.

The checks are in `headland.checks`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import pandas as pd

from headland.base.flags import excluding_flags
from headland.base.frames import Made, Table
from headland.base.untold import Untold
from headland.chain import clock_checks, weather
from headland.chain.ingest import middle_of_interval
from headland.chain.segment import noted_intervals
from headland.checks.against_station import Station
from headland.checks.campaign import Campaign
from headland.checks.surfaces import Means
from headland.checks.together import checked_together
from headland.files import options, step
from headland.uncertainty import inputs

NUMBERS = ("means", "segments", "fields")
READS = {
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "terms": options.TERMS,
    "notes": options.silent(options.NOTES),
    "means": step.table("segment_means"),
    "segments": step.table("segments"),
    "fields": step.table("fields"),
    "segmented": step.stored_of_sets("samples_segmented"),
    "certificates": step.together("certificates"),
    "weather": options.silent(options.WEATHER),
    "station": options.STATION,
}
WRITES = {"against_station": "against_station"}


class Lookup(NamedTuple):
    """The tables of the folder `config`: class properties, rows of quality.csv by flag, rows of
    uncertainty.csv.
    """

    surfaces: Mapping[str, Mapping]
    limits: Mapping[str, Mapping]
    terms: Mapping[str, Mapping]


class Outside(NamedTuple):
    """What was measured beside the sets: rows of the weather table and of a fixed station's."""

    air: pd.DataFrame
    station: pd.DataFrame


def run(
    sets: Mapping[str, Table],
    numbers: Mapping[str, pd.DataFrame],
    settings: Mapping,
    *,
    notes: pd.DataFrame,
    certificates: pd.DataFrame,
    lookup: Lookup,
    outside: Outside,
) -> Made:
    """What shows only once all numbers are there.

    sets: of each, its samples as step 5 leaves them. numbers: `means` (step 6's segments), `segments` and
    `fields` (step 8's). notes: rows of the notes. certificates: in force, of all sets. settings: as for
    `noted_intervals`, with `weather`, `carrying`, `stamp` of the station's times, and of each set the
    `stamp` and `interval`. Makes `against_station`.
    """
    clock = settings["sets"]
    middles, inside = {}, {}
    for name, table in sets.items():
        record = table.read(["time_utc", "segment"])
        middles[name] = middle_of_interval(record["time_utc"], clock[name]["stamp"], clock[name]["interval"])
        inside[name] = (record["segment"] != "").to_numpy()
    noted, _ = noted_intervals(notes, clock_checks.span(middles.values()), settings)
    moments = {
        name: clock_checks.corrected_moments(middle, clock_checks.checks_of(noted, name))[inside[name]]
        for name, middle in middles.items()
    }
    means, carrying = numbers["means"], settings["carrying"]
    temperature = weather.temperature_of(means, outside.air, settings)
    wind = weather.wind_of(means, outside.air, settings)
    untold: list[Untold] = []
    campaign = Campaign(
        samples={name: table.read(rows=inside[name]) for name, table in sets.items()},
        moments=moments,
        intervals={name: entry["interval"] for name, entry in clock.items()},
        excluding=excluding_flags(lookup.limits),
        segments=inputs.prepare(means, carrying, temperature, lookup.surfaces, wind),
        certificates=certificates,
        terms=lookup.terms,
        carrying=carrying,
    )
    found, compared = checked_together(
        campaign,
        Means(numbers["segments"], numbers["fields"], temperature, settings["notes_file"]),
        Station(outside.station, settings["stamp"]),
        lookup.surfaces,
        untold.append,
    )
    return Made({"against_station": compared}, found, untold)
