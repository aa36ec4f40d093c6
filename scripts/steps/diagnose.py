"""After the numbers: sources against each other."""

from headland.base.flags import limits_of
from headland.chain import diagnose
from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms

NUMBERS = {"means": "segment_means", "segments": "segments", "fields": "fields"}


def main() -> None:
    args = step.arguments(
        one=("classes", "terms", "limits", "notes", *NUMBERS, "against-station", "findings", "untold"),
        many=("segmented", "certificates", "weather", "station"),
    )
    surfaces = surface_classes(args.classes, args.settings["overrides"])
    limits = limits_of(config_tables.read_config_table(args.limits))
    station, found = user_tables.read_station(args.station)
    made = diagnose.run(
        dict(zip(args.settings["sets"], step.stored(args.segmented, "samples_segmented"), strict=True)),
        {name: tables.read_table(getattr(args, name), kind) for name, kind in NUMBERS.items()},
        {**args.settings, "notes_file": args.notes.name, "surfaces": list(surfaces)},
        notes=user_tables.read_user_table(args.notes, "notes")[0],
        certificates=step.together(args.certificates, "certificates"),
        lookup=diagnose.Lookup(surfaces, limits, uncertainty_terms(args.terms)),
        outside=diagnose.Outside(user_tables.read_weather(args.weather)[0], station),
    )
    step.write(args, made, {"against_station": "against_station"}, found)


if __name__ == "__main__":
    step.run(main)
