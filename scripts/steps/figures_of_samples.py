"""Step 9, second part: the figures of what was recorded, which need no number of the later steps."""

from headland.base.flags import excluding_flags, has_any, limits_of
from headland.files import config_tables, step, tables, writing
from headland.files.surfaces import surface_classes
from headland.report import figures, figures_of
from headland.report.figures_recorded import Record


def main() -> None:
    args = step.arguments(
        one=("classes", "limits", "noted", "figures"), many=("segmented", "outlines", "places")
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    paths = dict(zip(settings["sets"], args.segmented, strict=True))
    samples = {name: tables.read_table(path, "samples_segmented") for name, path in paths.items()}
    excluded = {name: has_any(frame["flags"], excluding) for name, frame in samples.items()}
    intervals = {name: entry["interval"] for name, entry in settings["sets"].items()}
    record = Record(tables.read_table(args.noted, "noted"), samples, intervals, excluded)
    located = [tables.read_table(path, "places") for path in args.places]
    drawn = figures_of.samples(record, surfaces, settings)
    drawn |= figures_of.places(record, located, args.outlines, surfaces, settings)
    for name, figure in drawn.items():
        writing.write_text(args.figures / f"{name}.svg", figures.svg(figure))
    step.say(f"{len(drawn)} figures")


if __name__ == "__main__":
    main()
