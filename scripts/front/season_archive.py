"""The archive of a season: its tables, and an archive of each of its campaigns."""

import json
import tempfile
from collections.abc import Mapping
from pathlib import Path

from front import chain, places
from front.problems import CannotStart
from front.screen import Screen


def pack(summary: Path, campaigns: Mapping[Path, Path], out: Path, cores: int, screen: Screen) -> None:
    """Pack the archive and say where it is. campaigns: campaign folders by results folder."""
    if out.is_dir():
        raise CannotStart(f"--archive {places.short(out)} is a folder; name a file, such as season.zip.")
    with tempfile.TemporaryDirectory(prefix="headland-", dir=places.temporary()) as folder:
        packed = []
        for results, campaign in campaigns.items():
            screen.line(f"Packing {places.short(campaign)} ...")
            packed.append(Path(folder, f"{campaign.name}.zip"))
            chain.run_script(
                "archive.py",
                *("--campaign", campaign),
                *("--results", results),
                *("--out", packed[-1]),
                *("--settings", json.dumps({"remarks": True})),
                *("--made", *chain.made(campaign, results, cores)),
            )
        words = ["--summary", summary, "--out", out, "--campaigns", *packed]
        screen.lines(chain.run_script("archive_season.py", *words))
    screen.line(places.short(out))
