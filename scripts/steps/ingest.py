"""Step 1, for one set: raw logger files to one table of samples as stored."""

from headland.base.findings import Finding
from headland.base.time_text import time_decimals
from headland.chain import ingest, notes
from headland.files import logger_files, step, tables


def main() -> None:
    args = step.arguments(one=("samples", "findings"), many=("raw",))
    name, layout = args.settings["set"], args.settings["layout"]
    frames, findings = [], []
    if not args.raw:
        findings.append(
            Finding(
                "set-without-files", set=name, file="campaign.yaml", facts={"pattern": args.settings["files"]}
            )
        )
    for path, shown in zip(args.raw, args.settings["raw"]):
        with path.open("rb") as stream:
            frame, found = logger_files.read_logger_file(
                stream,
                shown,
                name,
                layout,
                utc_offset=notes.offset_of(args.settings["utc_offset"]),
                logger_id=args.settings["logger_id"],
            )
        step.say(f"{shown}: {len(frame)} rows")
        frames.append(frame)
        findings += found
    if not frames:
        frames.append(logger_files.read_nothing(layout))
    places, found = ingest.in_order(frames, layout["interval"], name)
    step.say(f"{sum(map(len, frames))} rows read, {len(places)} samples kept")
    pieces = (
        ingest.rows_at(frames, places[piece]).rename(columns={"time": "time_utc"})
        for piece in tables.pieces_of(len(places))
    )
    tables.write_pieces(
        args.samples,
        pieces,
        "samples_raw",
        {"time_utc": max(time_decimals(frame["time"]) for frame in frames)},
    )
    tables.write_findings(args.findings, findings + found)


if __name__ == "__main__":
    main()
