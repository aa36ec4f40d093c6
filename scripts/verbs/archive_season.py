"""Pack the archive of a season: its tables and pages, and the archive of each of its campaigns.

Called by the front door. Usage: python scripts/verbs/archive_season.py --summary DIR --out FILE.zip
--campaigns FILE.zip…
"""

import sys

from headland.files import step, writing
from headland.files.digests import digest
from headland.record import pack, season_archive


def main() -> int:
    args = step.arguments(one=("summary", "out"), many=("campaigns",))
    payload, tags, info = season_archive.record(args.summary, args.campaigns)
    try:
        with writing.whole(args.out) as part, part.open("wb") as stream:
            pack.pack(stream, "season", payload, tags, info)
    except pack.Refused as problem:
        print(*(f"can't be archived: {fault}" for fault in problem.faults), sep="\n")
        return 2
    except OSError as problem:
        print(f"{args.out}: can't be written ({problem.strerror})")
        return 2
    print(f"{digest(args.out)}  {args.out.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
