"""Diagnosis across sources, after all numbers are there: set against set and station, ground against its class, carrying against the sun."""

import package_path  # noqa: F401
import pandas as pd
from headland import compare, ingest, notes, propagate, screen, segment, step, tables, untold, weather
from headland.settings import surface_classes, uncertainty_terms


def main() -> None:
    args = step.arguments(one=("classes", "terms", "limits", "notes", "means", "segments", "fields", "findings", "untold"),
                          many=("segmented", "certificates", "weather", "station"))
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    terms = uncertainty_terms(args.terms)
    excluding = screen.excluding(screen.limits_of(tables.read_config_table(args.limits)))
    samples, middles, unknown = {}, {}, []
    for name, path in zip(settings["sets"], args.segmented):
        samples[name] = tables.read_table(path, "samples_segmented")
        middles[name] = ingest.middle_of_interval(samples[name]["time_utc"], settings["sets"][name]["stamp"], settings["sets"][name]["interval"])
    table, _ = tables.read_user_table(args.notes, "notes")
    noted, _ = notes.intervals(table, args.notes.name, settings["timezone"], settings["shift"], segment.span(middles.values()), list(samples),
                               list(surfaces), {name: entry["utc_offset"] for name, entry in settings["sets"].items()})
    certificates = pd.concat([tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True)
    means = tables.read_table(args.means, "segment_means")
    air, _ = tables.read_weather(args.weather)
    temperature = weather.at(means["start_utc"], air, settings["weather"])["air_temperature"]
    station, findings = tables.read_station(args.station)
    findings += compare.diagnose(
        samples, middles, {name: entry["interval"] for name, entry in settings["sets"].items()}, noted[noted["activity"] == "clock_check"], excluding,
        propagate.prepare(means, settings["carrying"], temperature, surfaces), tables.read_table(args.segments, "segments"),
        tables.read_table(args.fields, "fields"), temperature, station, settings["stamp"], certificates, surfaces, terms, settings["carrying"], args.notes.name, unknown.append)
    step.say(f"{len(findings)} findings")
    tables.write_findings(args.findings, findings)
    tables.write_table(args.untold, untold.frame(unknown), "untold")


if __name__ == "__main__":
    main()
