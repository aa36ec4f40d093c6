"""Step 5, all sets at once, because the notes are one file: samples to noted intervals."""

from headland.base.flags import limits_of
from headland.chain import place, segment
from headland.chain.recording import Screened
from headland.files import config_tables, step, user_tables

KINDS = {"segmented": "samples_segmented", "noted": "noted", "places": "places"}


def main() -> None:
    args = step.arguments(
        one=("notes", "limits", "noted", "findings", "untold"),
        many=("corrected", "screened", "certificates", "segmented", "outlines", "tracks", "places"),
    )
    settings = args.settings | {"notes_file": args.notes.name}
    notes, found = user_tables.read_user_table(args.notes, "notes")
    naming = settings.get("positions", {}).get("field_name", "")
    ground, more = place.read(args.outlines, args.tracks, settings.get("tracks", {}), naming)
    sets = {
        name: Screened(*one)
        for name, *one in zip(
            settings["sets"],
            step.stored(args.corrected, "samples_corrected"),
            step.stored(args.screened, "samples_screened"),
            step.frames(args.certificates, "certificates"),
            strict=True,
        )
    }
    limits = limits_of(config_tables.read_config_table(args.limits))
    step.write(args, segment.run(notes, sets, limits, ground, settings), KINDS, found + more)


if __name__ == "__main__":
    step.run(main)
