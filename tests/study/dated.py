"""Pages of studies name the code that they speak of, so that a page older than its code is seen.

    PYTHONPATH=tests:workflow python -m study.dated made coverage.md      # after a study wrote its page
    PYTHONPATH=tests:workflow python -m study.dated changed coverage.md   # the code has changed since

Both end the page with a sentence: commit and day of the study, the modules that the page speaks of, and a
digest of what they do. The second adds that the numbers are those of the older code. A study calls `made`
itself. Comments, docstrings and line breaks are no part of the digest.
"""

from __future__ import annotations

import argparse
import ast
import hashlib
import io
import re
import subprocess
import tarfile
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

ROOT = Path(__file__).parents[2]
DOCS, PACKAGE = ROOT / "docs", ROOT / "workflow" / "headland"

MODULES = {
    "coverage.md": ("uncertainty/*.py",),
    "detection.md": ("checks/*.py", "chain/crossed_factors.py", "chain/diagnose.py"),
    "faults.md": ("files/jobs.py", "files/writing.py"),
    "fuzzing.md": ("files/*.py", "chain/notes.py", "chain/ingest.py"),
    "independent.md": ("uncertainty/*.py",),
    "mistakes.md": ("checks/*.py",),
    "mutation.md": (),
    "plans.md": ("field/expected.py", "field/plan.py", "field/timetable.py"),
    "world.md": ("chain/*.py", "checks/*.py", "uncertainty/*.py"),
}
"""The modules that each page speaks of. A page of changes to the code names its commit alone."""

NOTHING = hashlib.sha256().hexdigest()[:10]
"""The digest of no module at all."""
LINE = re.compile(r"\n\*Code: [^\n]*\*\n(\*Changed since: [^\n]*\*\n)?")


def meaning(source: str) -> str:
    """What a module does: its syntax tree without docstrings."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list):
            kept = [one for one in body if not _is_text(one)]
            node.body = kept  # type: ignore[attr-defined]
    return ast.dump(tree)


def _is_text(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    )


def digest(patterns: Iterable[str], package: Path = PACKAGE) -> str:
    """Ten digits of what the modules do that patterns name."""
    total = hashlib.sha256()
    for path in sorted({path for pattern in patterns for path in package.glob(pattern)}):
        name = path.relative_to(package).as_posix()
        total.update(f"{name}\n{meaning(path.read_text(encoding='utf-8'))}\n".encode())
    return total.hexdigest()[:10]


def digest_at(commit: str, patterns: Iterable[str]) -> str:
    """The same of the code of a commit."""
    packed = subprocess.run(
        ["git", "archive", commit, "workflow/headland"], cwd=ROOT, capture_output=True, check=True
    ).stdout
    with tempfile.TemporaryDirectory() as folder, tarfile.open(fileobj=io.BytesIO(packed)) as archive:
        archive.extractall(folder, filter="data")
        return digest(patterns, Path(folder) / "workflow" / "headland")


def sentence(page: str, commit: str, day: str, found: str) -> str:
    modules = ", ".join(f"`{one}`" for one in MODULES[page])
    which = f"digest {found}" if found != NOTHING else "which had other files then"
    of = f"; it speaks of {modules}, {which}" if modules else ""
    return f"*Code: commit {commit} of {day}{of}.*"


def since(found: str) -> str:
    return f"*Changed since: the numbers are those of the older code; the digest is now {found}.*"


def named(text: str) -> tuple[str, str]:
    """The commit that a page names, and the digest of the code that its words account for; empty where there
    is none."""
    line = LINE.search(text)
    if not line:
        return "", ""
    commit = re.search(r"commit ([0-9a-f]{7,})", line.group(0))
    digests = re.findall(r"digest (?:is now )?([0-9a-f]{10})", line.group(0))
    return commit.group(1) if commit else "", digests[-1] if digests else ""


def made(path: Path, commit: str = "", day: str = "") -> None:
    """Ends a page with the sentence of the present code, or of a commit."""

    def ask(*words: str) -> str:
        done = subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=True)
        return done.stdout.strip()

    page = path.name
    found = digest_at(commit, MODULES[page]) if commit else digest(MODULES[page])
    commit = commit or ask("rev-parse", "--short", "HEAD")
    day = day or ask("log", "-1", "--format=%cs", commit)
    _rewrite(path, lambda old: f"\n{sentence(page, commit, day, found)}\n")


def changed(path: Path) -> None:
    """Adds to a page that its code has changed since."""
    found = digest(MODULES[path.name])
    _rewrite(path, lambda old: f"\n{old.splitlines()[1]}\n{since(found)}\n")


def _rewrite(path: Path, new: Callable[[str], str]) -> None:
    text = path.read_text(encoding="utf-8")
    line = LINE.search(text)
    bare = LINE.sub("", text).rstrip("\n")
    path.write_text(f"{bare}\n{new(line.group(0) if line else '')}", encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(prog="study.dated", description=__doc__.partition("\n")[0])
    parser.add_argument("what", choices=("made", "changed"))
    parser.add_argument("page", nargs="*", default=list(MODULES))
    parser.add_argument("--commit", default="")
    parser.add_argument("--day", default="")
    asked = parser.parse_args()
    for page in asked.page:
        if asked.what == "made":
            made(DOCS / page, asked.commit, asked.day)
        elif MODULES[page] and digest(MODULES[page]) != named((DOCS / page).read_text(encoding="utf-8"))[1]:
            changed(DOCS / page)


if __name__ == "__main__":
    main()
