"""Step 9, fourth part: the report as one self-contained page."""

import platform
from importlib.metadata import version

import pandas as pd

from headland.base.flags import excluding_flags, has_any, limits_of
from headland.chain import summarise
from headland.files import config_tables, step, tables, user_tables, writing
from headland.files.surfaces import surface_classes
from headland.report import explore, report

LIBRARIES = ("snakemake", "numpy", "pandas", "scipy", "pvlib", "pyarrow", "matplotlib")


def main() -> None:
    args = step.arguments(
        one=(
            "template",
            "style",
            "screen-style",
            "equations",
            "quantities",
            "classes",
            "limits",
            "terms",
            "means",
            "linear",
            "intercomparison",
            "against-station",
            "worked",
            "untold",
            "program",
            "figures",
            "page",
        ),
        many=("segmented", "certificates", "weather", "tables"),
    )
    settings = args.settings
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    samples = {
        name: tables.read_table(path, "samples_segmented")
        for name, path in zip(settings["sets"], args.segmented)
    }
    weather, _ = user_tables.read_weather(args.weather)
    figures = {path.stem: path.read_text(encoding="utf-8") for path in sorted(args.figures.glob("*.svg"))}
    versions = [
        ("Headland", settings["version"]),
        ("Python", platform.python_version()),
        *((name, version(name)) for name in LIBRARIES),
    ]
    got = {path.stem: tables.read_table(path, path.stem) for path in args.tables}
    surfaces = surface_classes(args.classes, settings["overrides"])
    means = tables.read_table(args.means, "segment_means")
    values = report.context(
        {**settings, "versions": versions},
        samples,
        {name: has_any(frame["flags"], excluding) for name, frame in samples.items()},
        got,
        pd.concat([tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True),
        tables.read_table(args.linear, "linear_check"),
        tables.read_table(args.intercomparison, "intercomparison"),
        tables.read_table(args.against_station, "against_station"),
        summarise.reference_sky(means),
        weather,
        surfaces,
        report.terms_in_use(config_tables.read_config_table(args.terms), means),
        config_tables.read_config_table(args.equations),
        config_tables.read_config_table(args.quantities).to_dict("records"),
        figures,
        tables.read_table(args.worked, "worked"),
        explore.data(
            samples,
            {name: entry["interval"] for name, entry in settings["sets"].items()},
            got["segments"],
            surfaces,
        ),
        means,
        tables.read_table(args.untold, "untold"),
    )
    styles = [path.read_text(encoding="utf-8") for path in (args.style, args.screen_style)]
    writing.write_text(
        args.page,
        report.page(
            args.template.read_text(encoding="utf-8"),
            styles,
            values,
            args.program.read_text(encoding="utf-8"),
        ),
    )
    step.say(f"{len(figures)} figures")


if __name__ == "__main__":
    main()
