"""Check a campaign folder's settings before anything runs: plain errors and exit status 2, or silence and 0.

Usage: python scripts/settings.py CAMPAIGN
"""

import sys
from pathlib import Path

import package_path  # noqa: F401
from headland import settings
from headland.tables import UserErrors


def main(campaign: str) -> int:
    try:
        settings.load(Path(campaign), Path(__file__).resolve().parents[1] / "config")
    except UserErrors as problem:
        for error in problem.errors:
            print(error, file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
