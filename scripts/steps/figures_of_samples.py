"""Step 9, second part: the figures of what was recorded, which need no number of the later steps."""

from headland.base.flags import excluding_flags, has_any, limits_of
from headland.chain import place
from headland.files import config_tables, geojson, step, tables, writing
from headland.files.surfaces import surface_classes
from headland.physics import plane
from headland.report import figures, sun_path


def main() -> None:
    args = step.arguments(
        one=("classes", "limits", "noted", "figures"), many=("segmented", "outlines", "places")
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    samples = {
        name: tables.read_table(path, "samples_segmented")
        for name, path in zip(settings["sets"], args.segmented)
    }
    excluded = {name: has_any(frame["flags"], excluding) for name, frame in samples.items()}
    noted = tables.read_table(args.noted, "noted")
    drawn = figures.of_samples(
        noted,
        samples,
        {name: entry["interval"] for name, entry in settings["sets"].items()},
        excluded,
        surfaces,
    )
    drawn["sun_path"] = sun_path.sun_path(
        noted, list(settings["sets"]), settings["site"], settings["carrying"]
    )
    for path in args.outlines if args.places else ():
        with path.open("rb") as stream:
            outlines, _ = geojson.read_outlines(stream, path.name, settings["positions"]["field_name"])
        if outlines:
            drawn["map"] = figures.walks_map(
                samples,
                {name: tables.read_table(one, "places") for name, one in zip(settings["sets"], args.places)},
                excluded,
                {
                    row["segment"]: surfaces[row["surface"]]["emissivity"]["value"]
                    for row in noted.to_dict("records")
                    if row["surface"]
                },
                plane.on_plane(outlines)[0],
                place.guard(noted["height"].median(), settings["positions"]["uncertainty"]),
            )
    for name, figure in drawn.items():
        writing.write_text(args.figures / f"{name}.svg", figures.svg(figure))
    step.say(f"{len(drawn)} figures")


if __name__ == "__main__":
    main()
