"""Step 9, fourth part: the report as one self-contained page."""

import platform
from importlib.metadata import version
from pathlib import Path

import pandas as pd
from markupsafe import Markup

from headland.base.flags import excluding_flags, has_any, limits_of
from headland.chain import summarise
from headland.files import config_tables, step, tables, user_tables, writing
from headland.files.surfaces import surface_classes
from headland.report import explore, page, report
from headland.report.given import Given

LIBRARIES = ("snakemake", "numpy", "pandas", "scipy", "pvlib", "pyarrow", "matplotlib", "weasyprint")
FRAMES = {
    "means": "segment_means",
    "balances": "group_balance",
    "linear": "linear_check",
    "intercomparison": "intercomparison",
    "against_station": "against_station",
    "worked": "worked",
    "untold": "untold",
}
"""Tables that the steps left, with their schemas."""


def main() -> None:
    files = (
        "equations",
        "quantities",
        "classes",
        "limits",
        "terms",
        "program",
        "figures",
        "drawn-equations",
        "page",
    )
    args = step.arguments(
        one=(*files, *(name.replace("_", "-") for name in FRAMES)),
        many=("segmented", "certificates", "weather", "tables"),
    )
    settings = args.settings
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    paths = dict(zip(settings["sets"], args.segmented, strict=True))
    samples = {name: tables.read_table(path, "samples_segmented") for name, path in paths.items()}
    frames = {name: tables.read_table(getattr(args, name), kind) for name, kind in FRAMES.items()}
    given = Given(
        settings={**settings, "versions": versions(settings["version"])},
        samples=samples,
        excluded={name: has_any(frame["flags"], excluding) for name, frame in samples.items()},
        tables={path.stem: tables.read_table(path, path.stem) for path in args.tables},
        certificates=pd.concat(
            [tables.read_table(path, "certificates") for path in args.certificates], ignore_index=True
        ),
        weather=user_tables.read_weather(args.weather)[0],
        sky=summarise.reference_sky(frames["means"]),
        surfaces=surface_classes(args.classes, settings["overrides"]),
        terms=config_tables.read_config_table(args.terms),
        equations=config_tables.read_config_table(args.equations),
        quantities=config_tables.read_config_table(args.quantities).to_dict("records"),
        pictures=pictures(args.figures),
        drawn_equations=pictures(args.drawn_equations),
        **frames,
    )
    intervals = {name: entry["interval"] for name, entry in settings["sets"].items()}
    program = {
        "explore_data": explore.data(samples, intervals, given.tables["segments"], given.surfaces),
        "explore_program": Markup(args.program.read_text(encoding="utf-8")),
    }
    values = report.context(given, settings["attached"]) | program
    writing.write_text(args.page, page.page("report", values))
    step.say(f"{len(given.pictures)} figures")


def pictures(folder: Path) -> dict[str, str]:
    """The pictures of a folder as SVG text, by name."""
    return {path.stem: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.svg"))}


def versions(own: str) -> list[tuple[str, str]]:
    """What computed these numbers."""
    libraries = [(name, version(name)) for name in LIBRARIES]
    return [("Headland", own), ("Python", platform.python_version()), *libraries]


if __name__ == "__main__":
    main()
