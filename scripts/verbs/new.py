"""Make a campaign folder to fill in, preview how a folder's files are read, or make packs for groups.

Usage: python scripts/verbs/new.py --folder DIR --shown NAME [--from-file FILE_OR_FOLDER …]
     | --folder CAMPAIGN --shown NAME --preview yes
     | --folder DIR --shown NAME --source CAMPAIGN --groups FILE [--results DIR]
"""

import sys
from pathlib import Path
from types import SimpleNamespace

from headland.base.errors import UserErrors
from headland.course import packs
from headland.field import new_folder, preview
from headland.files import settings, step
from headland.files.surfaces import surface_classes

CONFIG = Path(__file__).resolve().parents[2] / "config"


def lines_of(args: SimpleNamespace) -> list[str]:
    """Do what the command line asks for, and what to say of it. Raises UserErrors."""
    shown = str(args.shown)
    if args.preview:
        return preview.of_campaign(args.folder, settings.load(args.folder, CONFIG, needs=()))
    new_folder.refuse_full(args.folder, shown)
    if not args.source:
        classes = surface_classes(CONFIG / "surfaces.csv", {})
        labels = {name: entry["label"]["value"] for name, entry in classes.items()}
        return new_folder.made(args.folder, args.from_file, shown, labels)
    S = settings.load(args.source[0], CONFIG)
    classes = surface_classes(CONFIG / "surfaces.csv", S["overrides"]["surfaces"])
    sky = packs.common_sky(args.results[0] if args.results else None)
    return packs.made(args.folder, packs.Source(args.source[0], S, classes, sky), args.groups[0], shown)


def main() -> int:
    many = ("from-file", "source", "groups", "results", "preview")
    args = step.arguments(one=("folder", "shown"), many=many)
    try:
        print(*lines_of(args), sep="\n")
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
