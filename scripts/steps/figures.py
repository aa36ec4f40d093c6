"""Step 9, third part: the report's figures, those of what was recorded and those of its numbers."""

from headland.files import step, tables, writing
from headland.files.surfaces import surface_classes
from headland.report import figures, figures_of


def main() -> None:
    args = step.arguments(one=("classes", "drawn", "figures", "means"), many=("tables",))
    surfaces = surface_classes(args.classes, args.settings["overrides"])
    given = {path.stem: tables.read_table(path, path.stem) for path in args.tables}
    means = tables.read_table(args.means, "segment_means")
    pictures = {path.name: path.read_text(encoding="utf-8") for path in sorted(args.drawn.glob("*.svg"))}
    for name, figure in figures_of.numbers(given, means, surfaces).items():
        pictures[f"{name}.svg"] = figures.svg(figure)
    for name, picture in pictures.items():
        writing.write_text(args.figures / name, picture)
    step.say(f"{len(pictures)} figures")


if __name__ == "__main__":
    main()
