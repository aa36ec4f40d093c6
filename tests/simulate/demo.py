"""Write demo_inputs/ anew: `PYTHONPATH=tests python -m simulate.demo [FOLDER]`."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

from .campaign import simulate
from .specs import demo

FOLDER = Path(__file__).resolve().parents[2] / "demo_inputs"


def main(folder: Path = FOLDER) -> None:
    campaign = simulate(demo())
    for part in ("logger", "truth"):  # so that no file of an earlier demo stays behind
        shutil.rmtree(folder / part, ignore_errors=True)
    campaign.write(folder)
    total = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    print(
        f"{folder}: {len(campaign.notes)} notes, "
        f"{sum(map(len, campaign.records.values()))} records, {total / 1e6:.2f} MB"
    )


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:2]))
