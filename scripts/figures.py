"""Step 9, third part: the figures of what users get."""

import package_path  # noqa: F401
from headland import figures, step, tables
from headland.settings import surface_classes


def main() -> None:
    args = step.arguments(one=("classes", "figures"), many=("tables",))
    surfaces = surface_classes(args.classes, args.settings["overrides"])
    drawn = figures.of_numbers({path.stem: tables.read_table(path, path.stem) for path in args.tables}, surfaces)
    for name, figure in drawn.items():
        tables.write_text(args.figures / f"{name}.svg", figures.svg(figure))
    step.say(f"{len(drawn)} figures")


if __name__ == "__main__":
    main()
