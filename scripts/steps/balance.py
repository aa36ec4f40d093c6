"""Step 7: the estimated energy balance of every visit, field and surface."""

from headland.chain import balance
from headland.files import step, tables, user_tables
from headland.files.surfaces import surface_classes


def main() -> None:
    args = step.arguments(
        one=(
            "classes",
            "segments",
            "fields",
            "surfaces",
            "visits-balance",
            "weather-station",
            "fields-balance",
            "surfaces-balance",
            "findings",
        ),
        many=("weather",),
    )
    segments = tables.read_table(args.segments, "segment_means")
    means = {kind: tables.read_table(getattr(args, kind), "group_means") for kind in ("fields", "surfaces")}
    surfaces = surface_classes(args.classes, args.settings["overrides"])
    air, found = user_tables.read_weather(args.weather)
    made = balance.run(segments, means, surfaces, air, args.settings)
    kinds = dict.fromkeys(("fields_balance", "surfaces_balance"), "group_balance")
    kinds |= {"visits_balance": "visit_balance", "weather_station": "weather_station"}
    step.write(args, made, kinds, found)


if __name__ == "__main__":
    step.run(main)
