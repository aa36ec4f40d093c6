"""Copy a campaign folder's inputs, leaving out the remarks, and columns that Headland does not use, in notes and register.

Usage: python scripts/verbs/without_remarks.py CAMPAIGN COPY
"""

import shutil
import sys
from pathlib import Path

from archive import inputs

from headland.base.errors import UserErrors
from headland.files import remarks, settings
from headland.report import workbook

ROOT = Path(__file__).resolve().parents[2]


def main(campaign: Path, copy: Path) -> int:
    try:
        for name, path in inputs(campaign, settings.load(campaign, ROOT / "config")).items():
            target = copy / name
            target.parent.mkdir(parents=True, exist_ok=True)
            kind = Path(name).stem
            if kind not in ("notes", "instruments"):
                shutil.copyfile(path, target)
            elif path.suffix == ".xlsx":
                target.write_bytes(workbook.saved(remarks.workbook_without_remarks(path, kind)))
            else:
                target.write_bytes(remarks.csv_without_remarks(path, kind))
    except UserErrors as problem:
        print(*problem.errors, sep="\n")
        return 2
    print(
        "Left out: remarks, and columns that Headland does not use, of notes and register. Comments in campaign.yaml stay."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
