"""The project's own files, as they go into an archive. Standard library only."""

from __future__ import annotations

from pathlib import Path

PARTS = (
    "Snakefile",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "CITATION.cff",
    "pyproject.toml",
    "requirements.in",
    "requirements.lock",
    "requirements-dev.in",
    "requirements-dev.lock",
    "config",
    "demo_inputs",
    "docs",
    "scripts",
    "tests",
    "workflow",
)


def project_files(root: Path) -> dict[str, Path]:
    """The project's own files by name: source, settings, tests and pages, and nothing that tools or runs
    left.
    """
    found = {}
    for name in PARTS:
        path = root / name
        for file in sorted(path.rglob("*")) if path.is_dir() else [path]:
            own = file.relative_to(root)
            if file.is_file() and not file.is_symlink() and not any(map(_is_left_over, own.parts)):
                found[own.as_posix()] = file
    return found


def _is_left_over(part: str) -> bool:
    return part.startswith((".", "__pycache__")) or part.endswith(("~", ".pyc"))
