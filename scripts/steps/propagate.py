"""Step 8: the interval of every number; writes the tables that users get."""

import pandas as pd

from headland.chain import weather
from headland.files import step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs, propagate


def main() -> None:
    args = step.arguments(
        one=(
            "classes",
            "terms",
            "segments-means",
            "fields-means",
            "surfaces-means",
            "fields-balance",
            "surfaces-balance",
            "segments",
            "fields",
            "surfaces",
            "differences",
            "budget",
            "linear",
            "intercomparison",
            "clouds",
            "findings",
        ),
        many=("certificates", "weather"),
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    terms = uncertainty_terms(args.terms)
    certificates = pd.concat(
        [tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True
    )
    segments = tables.read_table(args.segments_means, "segment_means")
    means = {
        kind: tables.read_table(path, "group_means")
        for kind, path in (("fields", args.fields_means), ("surfaces", args.surfaces_means))
    }
    balances = {
        kind: tables.read_table(path, "group_balance")
        for kind, path in (("fields", args.fields_balance), ("surfaces", args.surfaces_balance))
    }
    table, _ = user_tables.read_weather(args.weather)
    air = weather.at(segments["start_utc"], table, settings["weather"])["air_temperature"]
    segments = inputs.prepare(segments, settings["carrying"], air, surfaces)
    result = propagate.propagate(
        inputs.Inputs(segments, means, balances, certificates, surfaces, terms, settings["carrying"]),
        settings["seed"],
        settings["draws"],
        settings["methods"]["set_scale"],
        settings["methods"]["one_sided"],
    )
    step.say(f"{result.sources} sources of uncertainty")
    tables.write_table(args.segments, result.segments, "segments")
    tables.write_table(args.fields, result.fields, "fields")
    tables.write_table(args.surfaces, result.surfaces, "surfaces")
    tables.write_table(args.differences, result.differences, "differences")
    tables.write_table(args.budget, result.budget, "uncertainty_budget")
    tables.write_table(args.linear, result.linear, "linear_check")
    tables.write_table(args.intercomparison, result.intercomparison, "intercomparison")
    clouds = result.clouds.melt(var_name="surface", value_name="net_radiation").assign(
        draw=lambda frame: frame.groupby("surface").cumcount() + 1
    )
    tables.write_table(args.clouds, clouds, "clouds")
    tables.write_findings(args.findings, result.findings)


if __name__ == "__main__":
    main()
