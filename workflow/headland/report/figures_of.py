"""All figures of the report by name, in two groups: of what was recorded, and of its numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

import pandas as pd
from matplotlib.figure import Figure

from headland.base.flags import excluding_flags, has_any
from headland.base.groups import counted_segments
from headland.chain import place
from headland.files import geojson, options, step, writing
from headland.physics import plane
from headland.report import (
    figures,
    figures_balance,
    figures_differences,
    figures_map,
    figures_recorded,
    figures_transects,
    figures_uncertainty,
    sun_path,
)
from headland.report.figures_recorded import Record

READS_OF_SAMPLES = {
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "noted": step.table("noted"),
    "segmented": step.of_sets("samples_segmented"),
    "outlines": step.PATHS,
    "places": step.frames("places"),
}
READS = {
    "classes": options.CLASSES,
    "drawn": options.PICTURES,
    "means": step.table("segment_means"),
    "tables": options.TABLES,
}


def record_of(files: step.Files) -> Record:
    """What was recorded, from the files of its step."""
    excluding, samples = excluding_flags(files["limits"]), files["segmented"]
    excluded = {name: has_any(frame["flags"], excluding) for name, frame in samples.items()}
    intervals = {name: entry["interval"] for name, entry in files.settings["sets"].items()}
    return Record(files["noted"], samples, intervals, excluded)


def write(folder: Path, pictures: Mapping[str, str | Figure]) -> None:
    """Write figures as SVG into a folder; those that are drawn already, as they are."""
    for name, picture in pictures.items():
        text = picture if isinstance(picture, str) else figures.svg(picture)
        writing.write_text(folder / f"{name}.svg", text)
    step.say(f"{len(pictures)} figures")


def numbers(
    tables: Mapping[str, pd.DataFrame], means: pd.DataFrame, surfaces: Mapping[str, Mapping]
) -> dict[str, Figure]:
    """The figures of what users get.

    Parameters
    ----------
    tables : `surfaces`, `fields`, `differences`, `measured`, `uncertainty_budget`
    means : segments of step 6
    surfaces : properties of the surface classes
    """
    groups, differences, budget = (tables[name] for name in ("surfaces", "differences", "uncertainty_budget"))
    return {
        "albedo_temperature": figures_differences.albedo_temperature(tables["fields"], surfaces),
        "passes": figures_recorded.passes(groups, counted_segments(means), surfaces),
        "balance": figures_balance.balance(groups, surfaces, tables["measured"]),
        "budget": figures_uncertainty.budget(budget, surfaces),
        "shared": figures_uncertainty.shared(groups, differences, budget, surfaces),
    }


def samples(record: Record, surfaces: Mapping[str, Mapping], settings: Mapping) -> dict[str, Figure]:
    """The figures of what was recorded; pages of a figure that may need several end in their number."""
    result = {"record": figures_recorded.record(record, surfaces, settings["zone"])}
    for name, frame in record.samples.items():
        own = record.noted[record.noted["set"] == name]
        pages = figures_transects.transects(own, frame, record.excluded[name])
        result |= {f"transects_{name}_{number:02d}": figure for number, figure in enumerate(pages, 1)}
    sets = list(record.samples)
    result["sun_path"] = sun_path.sun_path(record.noted, sets, settings["site"], settings["carrying"])
    return result


def places(
    record: Record,
    located: Sequence[pd.DataFrame],
    outline_files: Sequence[Path],
    surfaces: Mapping[str, Mapping],
    settings: Mapping,
) -> dict[str, Figure]:
    """The map, where there are tracks and outlines. located: places of the samples of each set."""
    if not located:
        return {}
    walked = figures_map.Walked(
        record.samples,
        dict(zip(record.samples, located, strict=True)),
        record.excluded,
        {
            row["segment"]: surfaces[row["surface"]]["emissivity"]["value"]
            for row in record.noted.to_dict("records")
            if row["surface"]
        },
    )
    result = {}
    for path in outline_files:
        with path.open("rb") as stream:
            outlines, _ = geojson.read_outlines(stream, path.name, settings["positions"]["field_name"])
        if outlines:
            guard = place.guard(record.noted["height"].median(), settings["positions"]["uncertainty"])
            result["map"] = figures_map.walks_map(walked, plane.on_plane(outlines)[0], guard)
    return result
