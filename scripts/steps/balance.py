"""Step 7: the estimated energy balance of every field and surface."""

import pandas as pd

from headland.base.groups import GROUPINGS
from headland.chain import balance, weather
from headland.files import step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.physics import evaporation, sun


def main() -> None:
    args = step.arguments(
        one=("classes", "segments", "fields", "surfaces", "fields-balance", "surfaces-balance", "findings"),
        many=("weather",),
    )
    settings, site = args.settings, args.settings["site"]
    surfaces = surface_classes(args.classes, settings["overrides"])
    segments = tables.read_table(args.segments, "segment_means")
    table, findings = user_tables.read_weather(args.weather)
    fallback = {"pressure": 10.0 * float(evaporation.pressure_at(site["elevation"])), **settings["weather"]}
    for kind, source, target in (
        ("fields", args.fields, args.fields_balance),
        ("surfaces", args.surfaces, args.surfaces_balance),
    ):
        means = tables.read_table(source, "group_means")
        middle = means["start_utc"] + (means["end_utc"] - means["start_utc"]) / 2
        air = pd.DataFrame(weather.at(middle, table, fallback))
        result, found = balance.groups(
            means,
            segments,
            GROUPINGS[kind],
            surfaces,
            settings["methods"],
            air,
            sun.seconds_after_noon(middle, site["longitude"]),
        )
        findings += (
            found if kind == "surfaces" else []
        )  # each surface is spoken of once, not once more for each of its fields
        tables.write_table(target, result, "group_balance")
        step.say(f"{len(result)} {kind}")
    tables.write_findings(args.findings, findings)


if __name__ == "__main__":
    main()
