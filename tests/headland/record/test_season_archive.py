"""The archive of a season: whole, checked with the archives in it, equal bytes for equal contents."""

import io
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from headland.record import bag, intact, pack, season_archive

from .made import packed

ROOT = Path(__file__).parents[3]


@pytest.fixture
def season(tmp_path):
    for name in season_archive.OWN:
        (tmp_path / name).write_text(name, encoding="utf-8")
    for name in ("b", "a"):
        (tmp_path / f"{name}.zip").write_bytes(packed())
    return tmp_path


def made(season, *campaigns) -> bytes:
    stream = io.BytesIO()
    archives = [season / f"{name}.zip" for name in campaigns or ("b", "a")]
    pack.pack(stream, "season", *season_archive.record(season, archives))
    return stream.getvalue()


def verify(content: bytes, folder):
    path = folder / "season.zip"
    path.write_bytes(content)
    script = ROOT / "scripts" / "verbs" / "verify.py"
    words = [sys.executable, script, path]
    return subprocess.run(words, capture_output=True, text=True, env={"PYTHONPATH": str(ROOT / "workflow")})


def test_it_is_whole_and_so_are_the_archives_in_it(season):
    content = made(season)
    assert intact.faults(bag.opened(io.BytesIO(content))) == []
    done = verify(content, season)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "data/campaigns/a.zip: intact and complete" in done.stdout
    assert content == made(season)


def test_a_campaigns_archive_that_was_changed_before_packing_is_named(season):
    with zipfile.ZipFile(season / "a.zip", "a") as archive:
        archive.writestr("x/data/more.txt", "more")
    done = verify(made(season), season)
    assert done.returncode == 1 and "data/campaigns/a.zip: NOT INTACT" in done.stdout
    assert "data/campaigns/b.zip: intact and complete" in done.stdout


def test_a_missing_table_is_named(season):
    (season / "heads.csv").unlink()
    faults = intact.faults(bag.opened(io.BytesIO(made(season))))
    assert faults == ["data/season/heads.csv: an archive should hold it"]
