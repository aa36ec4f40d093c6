"""Step 7: the energy balance of every visit, field and surface, estimated and measured."""

from headland.chain import balance, measured
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
            "visits-estimated",
            "measured-fluxes",
            "weather-station",
            "fields-balance",
            "surfaces-balance",
            "findings",
        ),
        many=("weather", "station", "ground", "levels"),
    )
    segments = tables.read_table(args.segments, "segment_means")
    means = {kind: tables.read_table(getattr(args, kind), "group_means") for kind in ("fields", "surfaces")}
    surfaces = surface_classes(args.classes, args.settings["overrides"])
    air, found = user_tables.read_weather(args.weather)
    ground, of_ground = user_tables.read_ground(args.ground)
    levels, of_levels = user_tables.read_levels(args.levels)
    station, _ = user_tables.read_station(args.station)
    outside = measured.Outside(air, ground, levels, station)
    made = balance.run(segments, means, surfaces, outside, args.settings)
    kinds = dict.fromkeys(("fields_balance", "surfaces_balance"), "group_balance")
    kinds |= dict.fromkeys(("visits_balance", "visits_estimated"), "visit_balance")
    kinds |= {name: name for name in ("measured_fluxes", "weather_station")}
    step.write(args, made, kinds, [*found, *of_ground, *of_levels])


if __name__ == "__main__":
    step.run(main)
