"""Diagnosis across sources, after all numbers are there: set against set and station, ground against its class, carrying against the sun."""

import pandas as pd

from headland.base import untold
from headland.base.flags import excluding_flags, limits_of
from headland.chain import ingest, notes, segment, weather
from headland.checks.against_station import Station
from headland.checks.campaign import Campaign
from headland.checks.surfaces import Means
from headland.checks.together import checked_together
from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs


def main() -> None:
    args = step.arguments(
        one=(
            "classes",
            "terms",
            "limits",
            "notes",
            "means",
            "segments",
            "fields",
            "against-station",
            "findings",
            "untold",
        ),
        many=("segmented", "certificates", "weather", "station"),
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    terms = uncertainty_terms(args.terms)
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    middles, inside, unknown = {}, {}, []
    for name, path in zip(settings["sets"], args.segmented):
        record = tables.read_table(path, "samples_segmented", ["time_utc", "segment"], "category")
        middles[name] = ingest.middle_of_interval(
            record["time_utc"], settings["sets"][name]["stamp"], settings["sets"][name]["interval"]
        )
        inside[name] = (record["segment"] != "").to_numpy()
    table, _ = user_tables.read_user_table(args.notes, "notes")
    noted, _ = notes.intervals(
        table,
        args.notes.name,
        settings["timezone"],
        settings["shift"],
        segment.span(middles.values()),
        list(middles),
        list(surfaces),
        {name: entry["utc_offset"] for name, entry in settings["sets"].items()},
    )
    checks = noted[noted["activity"] == "clock_check"]
    moments = {
        name: segment.corrected_moments(middles[name], checks[checks["set"] == name])[inside[name]]
        for name in middles
    }
    samples = {
        name: tables.read_table(path, "samples_segmented", texts="category", rows=inside[name])
        for name, path in zip(inside, args.segmented)
    }
    certificates = pd.concat(
        [tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True
    )
    means = tables.read_table(args.means, "segment_means")
    air, _ = user_tables.read_weather(args.weather)
    temperature = weather.at(means["start_utc"], air, settings["weather"])["air_temperature"]
    station, findings = user_tables.read_station(args.station)
    campaign = Campaign(
        samples=samples,
        moments=moments,
        intervals={name: entry["interval"] for name, entry in settings["sets"].items()},
        excluding=excluding,
        segments=inputs.prepare(means, settings["carrying"], temperature, surfaces),
        certificates=certificates,
        terms=terms,
        carrying=settings["carrying"],
    )
    found, compared = checked_together(
        campaign,
        Means(
            tables.read_table(args.segments, "segments"),
            tables.read_table(args.fields, "fields"),
            temperature,
            args.notes.name,
        ),
        Station(station, settings["stamp"]),
        surfaces,
        unknown.append,
    )
    findings += found
    step.say(f"{len(findings)} findings")
    tables.write_table(args.against_station, compared, "against_station")
    tables.write_findings(args.findings, findings)
    tables.write_table(args.untold, untold.frame(unknown), "untold")


if __name__ == "__main__":
    main()
