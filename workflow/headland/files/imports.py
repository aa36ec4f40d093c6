"""Which modules of the package a script reaches, read from its grammar: a change of one of them reruns its
step.

Reading the grammar of all modules takes half a second, which a run with nothing to do should not need. What a
file imports is therefore kept on disk by the digest of its content.
"""

from __future__ import annotations

import ast
import contextlib
import json
from functools import cache
from pathlib import Path

from headland.files.digests import digest_of
from headland.files.writing import whole

PACKAGE = Path(__file__).resolve().parents[1]
KEPT = PACKAGE.parents[1] / ".snakemake" / "headland" / "imports.json"
"""Names that a file imports, by the digest of its place and content."""
MOST_KEPT = 2_000
"""Contents that are remembered; with more, most are of earlier states, and the memory starts again."""


def reached(script: Path, kept: Path = KEPT) -> list[Path]:
    """A script, and every module of the package that it imports or that these import, in the order of their
    names.

    kept: the file that remembers what a content imports. It is never needed: where it can't be read or
    written, the grammar is read.
    """
    known = _read(kept)
    count = len(known)
    seen = [script]
    waiting = [script]
    while waiting:
        for path in _imported(waiting.pop(), known):
            if path not in seen:
                seen.append(path)
                waiting.append(path)
    if len(known) > count:
        _write(kept, known)
    return [script, *sorted(seen[1:])]


def module_name(path: Path) -> str:
    """The dotted name of a module: headland.chain.segment. A script outside the package has its own name
    alone.
    """
    if not path.is_relative_to(PACKAGE):
        return path.stem
    parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported_names(text: str, package: str) -> list[str]:
    """Dotted names that a source imports, and those of the packages that hold them.

    text: the source. package: the name of the package that the file is in, for relative imports. `from a
    import b` gives `a.b` as well, since b may be a module.
    """
    names = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = _base(node, package)
            names |= {base, *(f"{base}.{alias.name}" for alias in node.names)}
    parts = [name.split(".") for name in names]
    return sorted({".".join(name[:count]) for name in parts for count in range(1, len(name) + 1)})


def _base(node: ast.ImportFrom, package: str) -> str:
    """The module from which names are imported: `from ..b import c` in a.x.y gives a.b."""
    if not node.level:
        return str(node.module)
    above = package.split(".")
    above = above[: len(above) - node.level + 1]
    return ".".join([*above, node.module] if node.module else above)


def _imported(path: Path, known: dict[str, list[str]]) -> list[Path]:
    """The files of the package that a Python file imports. known: names by digest, to which new ones are
    added.
    """
    content = path.read_bytes()
    name = module_name(path)
    package = name if path.name == "__init__.py" else name.rpartition(".")[0]
    key = digest_of(package.encode() + b"\n" + content)
    if key not in known:
        known[key] = imported_names(content.decode("utf-8"), package)
    return [file for imported in known[key] for file in _files_of(imported)]


@cache
def _files_of(name: str) -> list[Path]:
    """The file of a module or package of ours; none for another package, and for a name within a module."""
    if name.split(".")[0] != PACKAGE.name:
        return []
    path = PACKAGE.parent.joinpath(*name.split("."))
    return [file for file in (path.with_suffix(".py"), path / "__init__.py") if file.is_file()]


def _read(kept: Path) -> dict[str, list[str]]:
    try:
        known = json.loads(kept.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    sound = isinstance(known, dict) and all(_is_list_of_names(names) for names in known.values())
    return known if sound and len(known) <= MOST_KEPT else {}


def _is_list_of_names(names: object) -> bool:
    return isinstance(names, list) and all(isinstance(name, str) for name in names)


def _write(kept: Path, known: dict[str, list[str]]) -> None:
    with contextlib.suppress(OSError), whole(kept) as part:
        part.write_text(json.dumps(known, indent=0), encoding="utf-8")
