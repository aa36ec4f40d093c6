"""Pack the record of one run: inputs, results, settings in force, the workflow itself.

Called by the front door when the results are up to date.
Usage: python scripts/verbs/archive.py --campaign DIR --results DIR --out FILE.zip --made FILE…
       [--wheels DIR] [--settings '{"remarks": true}']
"""

import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.files import settings, step, writing
from headland.files.digests import digest
from headland.record import contents, pack
from headland.report import package

ROOT = Path(__file__).resolve().parents[2]


def main() -> int:
    args = step.arguments(one=("campaign", "results", "out"), many=("made", "wheels"))
    try:
        chosen = settings.load(args.campaign, ROOT / "config")
        payload, tags, info = contents.record(
            args.campaign,
            args.results,
            contents.made(args.results, args.made),
            wheels=args.wheels,
            chosen=chosen,
            remarks=args.settings.get("remarks", True),
        )
        with writing.whole(args.out) as part, part.open("wb") as stream:
            pack.pack(stream, package.name_of(args.campaign.name), payload, tags, info)
    except UserErrors as problem:
        print(*problem.errors, sep="\n")
        return 2
    except pack.Refused as problem:
        print(*(f"can't be archived: {fault}; rename the file" for fault in problem.faults), sep="\n")
        return 2
    except OSError as problem:
        print(f"{args.out}: can't be written ({problem.strerror})")
        return 2
    print(f"{digest(args.out)}  {args.out.name}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
