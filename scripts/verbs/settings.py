"""Check the settings of campaign folders before anything runs.

Prints plain errors, each after its campaign's number from 0, and ends with status 2; or nothing, and 0.

Usage: python scripts/verbs/settings.py CAMPAIGN...
"""

import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.files import settings


def main(*campaigns: str) -> int:
    status = 0
    for number, campaign in enumerate(campaigns):
        try:
            settings.load(Path(campaign), Path(__file__).resolve().parents[2] / "config")
        except UserErrors as problem:
            for error in problem.errors:
                print(number, error, file=sys.stderr)
            status = 2
    return status


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
