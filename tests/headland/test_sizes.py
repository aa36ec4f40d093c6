"""Files and lines are short enough to read: workflow, scripts and tests.

Tables (CSV, JSON, YAML) have a line a row and are as long as their subject; templates, style sheets and the
scripts of pages are held to the length of a file only, and prose (Markdown) to neither.
"""

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDERS = ("workflow", "scripts", "tests")
MOST_LINES, MOST_COLUMNS = 400, 110
CODE = (".py", ".smk", ".sh")
SHOWN = (".jinja", ".css", ".js")


def files(suffixes: Iterable[str]) -> list[Path]:
    """Those below the folders, and the two of the folders above them."""
    found = [ROOT / "Snakefile", ROOT / ".ci" / "run"]
    for folder in FOLDERS:
        found += [path for path in (ROOT / folder).rglob("*") if path.suffix in suffixes]
    return sorted(path for path in found if "__pycache__" not in path.parts)


def too_long(path: Path, columns: bool) -> Iterator[str]:
    """What is too long in a file, in words."""
    lines = path.read_text(encoding="utf-8").splitlines()
    if len(lines) > MOST_LINES:
        yield f"{path.name} has {len(lines)} lines, more than {MOST_LINES}: split it by subject"
    for number, line in enumerate(lines, 1):
        if columns and len(line) > MOST_COLUMNS:
            yield f"{path.name}, line {number} has {len(line)} columns, more than {MOST_COLUMNS}"


@pytest.mark.parametrize("suffixes, columns", [(CODE, True), (SHOWN, False)])
def test_no_file_is_too_long(suffixes, columns):
    looked_at = files(suffixes)
    assert len(looked_at) > (500 if columns else 20)  # it looks at the files that it means
    assert [said for path in looked_at for said in too_long(path, columns)] == []


def test_a_line_or_a_row_of_letters_more_is_seen(tmp_path):
    path = tmp_path / "a.py"
    path.write_text("x\n" * MOST_LINES + "y" * MOST_COLUMNS, encoding="utf-8")
    assert list(too_long(path, True)) == ["a.py has 401 lines, more than 400: split it by subject"]
    path.write_text("x\n" * (MOST_LINES - 1) + "y" * (MOST_COLUMNS + 1), encoding="utf-8")
    assert list(too_long(path, True)) == ["a.py, line 400 has 111 columns, more than 110"]
    assert list(too_long(path, False)) == []
