"""Step 6: means of every segment, field and surface."""

from headland.base.flags import limits_of
from headland.chain import summarise
from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes

KINDS = {"segments": "segment_means", "fields": "group_means", "surfaces": "group_means"}


def main() -> None:
    args = step.arguments(
        one=("classes", "noted", "limits", "segments", "fields", "surfaces", "findings"),
        many=("calibrated", "segmented", "found", "station"),
    )
    names = args.settings["sets"]
    calibrated = step.stored(args.calibrated, "samples_calibrated")
    segmented = step.stored(args.segmented, "samples_segmented")
    made = summarise.run(
        tables.read_table(args.noted, "noted"),
        dict(zip(names, map(summarise.Segmented, calibrated, segmented), strict=True)),
        args.settings,
        surfaces=surface_classes(args.classes, args.settings["overrides"]),
        limits=limits_of(config_tables.read_config_table(args.limits)),
        found_before=[finding for path in args.found for finding in tables.read_findings(path)],
        fixed=user_tables.read_station(args.station)[0] if args.station else None,
    )
    step.write(args, made, KINDS)


if __name__ == "__main__":
    step.run(main)
