"""The archive of a season: its tables and pages, and the archive of each campaign as it is. Standard library
only.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

SEASON, CAMPAIGNS = "season/", "campaigns/"
"""Folders in data/."""
TABLE = f"data/{SEASON}season.csv"
"""The file by which an archive of a season is known."""
OWN = ("season.csv", "heads.csv", "season.html", "season.pdf", "datapackage.json")
README = """\
A season of net-radiation surveys
=================================

data/season/        the tables across the campaigns, their description, the page and the PDF
data/campaigns/     an archive of each campaign: {names}

Check all of it with `python3 scripts/headland.py verify FILE.zip` (Python 3.11 or later, nothing else), or in
this folder with sha256sum --check --quiet manifest-sha256.txt tagmanifest-sha256.txt. To compute a campaign's
numbers again, take its archive out and use `verify NAME.zip --run`.
"""


def record(
    summary: Path, campaigns: Sequence[Path]
) -> tuple[dict[str, Path | bytes], dict[str, bytes], dict[str, str]]:
    """What goes in: contents of data/ by name, files beside it, lines of bag-info.txt.

    summary: the season's folder. campaigns: an archive of each campaign.
    """
    payload: dict[str, Path | bytes] = {
        f"{SEASON}{name}": summary / name for name in OWN if (summary / name).is_file()
    }
    payload |= {f"{CAMPAIGNS}{path.name}": path for path in campaigns}
    names = ", ".join(sorted(path.name for path in campaigns))
    info = {"External-Description": f"A season of {len(campaigns)} net-radiation surveys"}
    return payload, {"README.txt": README.format(names=names).encode("utf-8")}, info


def inner(names: Sequence[str]) -> list[str]:
    """The archives of campaigns among the names of an archive's entries."""
    return sorted(name for name in names if name.startswith(f"data/{CAMPAIGNS}") and name.endswith(".zip"))
