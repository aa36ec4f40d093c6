"""Names of the files that go along with a PDF."""

from collections.abc import Iterable
from pathlib import Path

from headland.files import step

READS = {"page": step.PATH, "figures": step.PATH, "attached": step.PATHS}


def names(paths: Iterable[str | Path]) -> list[str]:
    """The name of each file; a name that comes again starts with its folder: `config_surfaces.csv`."""
    result: list[str] = []
    for path in map(Path, paths):
        result.append(f"{path.parent.name}_{path.name}" if path.name in result else path.name)
    return result


def unprinted(figures: Path) -> list[Path]:
    """Figures in a folder that the report does not print."""
    return [
        path for kind in ("transects_*", "map", "sun_path") for path in sorted(figures.glob(f"{kind}.svg"))
    ]
