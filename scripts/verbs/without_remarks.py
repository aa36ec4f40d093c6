"""Copy a campaign folder's inputs without what could name people or devices, and say what was left out.

Usage: python scripts/verbs/without_remarks.py CAMPAIGN COPY
"""

import shutil
import sys
from pathlib import Path

from headland.base.errors import UserErrors
from headland.files import private, remarks, settings
from headland.files.campaign_files import TIMED
from headland.files.saved_workbook import saved
from headland.record.contents import inputs

ROOT = Path(__file__).resolve().parents[2]
TABLES = ("notes", "instruments", *TIMED)
LEFT_OUT = (
    "Left out: remarks and columns that Headland does not use, in notes, register and tables of records;",
    "  authors, devices, names and heights in tracks; other properties than the field's name in outlines;",
    "  comments in campaign.yaml.",
    "Not changed: title, site and authors in campaign.yaml, and logger files with their header lines.",
    "  Read them.",
)


def main(campaign: Path, copy: Path) -> int:
    try:
        chosen = settings.load(campaign, ROOT / "config")
        for name, path in inputs(campaign, chosen).items():
            target = copy / name
            target.parent.mkdir(parents=True, exist_ok=True)
            content = without_private(name, path, chosen["positions"]["field_name"])
            if content is None:
                shutil.copyfile(path, target)
            else:
                target.write_bytes(content)
    except UserErrors as problem:
        print(*problem.errors, sep="\n")
        return 2
    print(*LEFT_OUT, sep="\n")
    return 0


def without_private(name: str, path: Path, naming: str) -> bytes | None:
    """A file's content without what is private; None where it stays as it is.

    naming: the property of the outlines that names the field.
    """
    kind, ending = Path(name).stem, Path(name).suffix
    if name == "campaign.yaml":
        return private.without_comments(path)
    if name == "fields.geojson":
        return private.outlines_alone(path, naming)
    if ending == ".gpx" and "/" not in name:
        return private.track_alone(path)
    if kind not in TABLES or "/" in name:
        return None
    if ending == ".xlsx":
        return saved(remarks.workbook_without_remarks(path, kind))
    return remarks.csv_without_remarks(path, kind)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2])))
