"""Names of the files that go along with a PDF."""

from collections.abc import Iterable
from pathlib import Path


def names(paths: Iterable[str | Path]) -> list[str]:
    """The name of each file; a name that comes again starts with its folder: `config_surfaces.csv`."""
    result: list[str] = []
    for path in map(Path, paths):
        result.append(f"{path.parent.name}_{path.name}" if path.name in result else path.name)
    return result
