"""Step 6: means of every segment, field and surface."""

from pathlib import Path

import pandas as pd

from headland.base import findings
from headland.base.flags import excluding_flags, limits_of
from headland.base.groups import GROUPINGS
from headland.chain import segment, summarise
from headland.files import config_tables, step, tables, user_tables
from headland.files.surfaces import surface_classes


def in_segments(calibrated: Path, segmented: Path, excluding: set[str]) -> pd.DataFrame:
    """A set's samples that lie in a segment, with what `summarise.segments` needs. Of the others only their sun matters, which a surface remembers."""
    record = summarise.with_sky_memory(
        tables.read_table(
            segmented, "samples_segmented", ["sw_in", "flags", "segment", "middle_utc"], "category"
        ),
        excluding,
    )
    inside = (record["segment"] != "").to_numpy()
    own = tables.read_table(segmented, "samples_segmented", texts="category", rows=inside)
    sensed = tables.read_table(calibrated, "samples_calibrated", ["lw_in_net", "lw_out_net"], rows=inside)
    return own.assign(**sensed, sw_in_memory=record["sw_in_memory"].to_numpy()[inside])


def main() -> None:
    args = step.arguments(
        one=("classes", "noted", "limits", "segments", "fields", "surfaces", "findings"),
        many=("calibrated", "segmented", "found", "station"),
    )
    settings = args.settings
    surfaces = surface_classes(args.classes, settings["overrides"])
    noted = tables.read_table(args.noted, "noted")
    excluding = excluding_flags(limits_of(config_tables.read_config_table(args.limits)))
    samples = {
        name: in_segments(*paths, excluding)
        for name, *paths in zip(settings["sets"], args.calibrated, args.segmented)
    }
    withheld = findings.withheld([finding for path in args.found for finding in tables.read_findings(path)])
    fixed, _ = user_tables.read_station(args.station) if args.station else (None, [])
    segments, found = summarise.segments(
        noted, samples, settings["sets"], excluding, surfaces, withheld, fixed, settings.get("stamp", "end")
    )
    found = segment.in_file(found, settings["notes"])
    sky = summarise.reference_sky(segments)
    groups = {kind: summarise.groups(segments, by, surfaces, sky) for kind, by in GROUPINGS.items()}
    segments = summarise.with_common_sky(segments, surfaces, sky)
    step.say(f"{len(segments)} segments; common sky: shortwave {sky[0]:.1f}, longwave {sky[1]:.1f} W m-2")
    tables.write_table(args.segments, segments, "segment_means")
    tables.write_table(args.fields, groups["fields"], "group_means")
    tables.write_table(args.surfaces, groups["surfaces"], "group_means")
    tables.write_findings(args.findings, found + summarise.found(groups["surfaces"], sky))


if __name__ == "__main__":
    main()
