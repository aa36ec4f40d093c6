"""How much memory each step takes for a sample more: twice the days must not take twice the memory, so
tables are read and written in pieces.
"""

import json
import os
import runpy
import subprocess
import sys
import tracemalloc
from pathlib import Path

import pytest

from bench import days
from headland.files import logger_text, tables

ROOT = Path(__file__).parents[2]
EVERY = 10.0
"""s between samples: days enough, and few samples."""
FEW, MANY = 1, 2
SAMPLES = int((MANY - FEW) * 86400 / EVERY)
MOST = {
    "ingest": 120,
    "calibrate": 50,
    "correct_longwave": 20,
    "screen": 180,
    "segment": 150,
    "summarise": 120,
    "diagnose": 60,
}
"""Bytes for each sample more of each set: a number takes 8. What is held of a sample, and of one column
more while it is worked on.
"""


@pytest.fixture(scope="module")
def lines(project, tmp_path_factory) -> dict[int, dict[str, list[str]]]:
    """The command line of each step, of its last set, for campaigns of FEW and of MANY days."""
    folder = tmp_path_factory.mktemp("many days")
    campaigns = {
        str(folder / f"results {count}"): str(days.written(folder / f"campaign {count}", count, 1 / EVERY))
        for count in (FEW, MANY)
    }
    command = [
        sys.executable,
        ROOT / "tests/bench/recorded.py",
        folder / "lines.json",
        "--snakefile",
        "Snakefile",
        "--workflow-profile",
        "config/profiles/laptop",
        "--cores",
        "2",
        "--until",
        "checks",
        "--config",
        f"campaigns= {json.dumps(campaigns)} ",
    ]
    environment = {
        key: value
        for key, value in os.environ.items()
        if key not in ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE")
    }
    subprocess.run(
        [str(word) for word in command],
        cwd=project.folder,
        env=environment,
        check=True,
        capture_output=True,
        timeout=300,
    )
    ran = json.loads((folder / "lines.json").read_text(encoding="utf-8"))
    return {
        count: {
            Path(script).stem: line
            for script, line in ran
            if any(word.startswith(str(folder / f"results {count}")) for word in line)
        }
        for count in (FEW, MANY)
    }


@pytest.mark.parametrize("step", MOST)
def test_a_sample_more_takes_few_bytes(step, project, lines, monkeypatch):
    monkeypatch.chdir(project.folder)
    monkeypatch.syspath_prepend(ROOT / "scripts")
    monkeypatch.setattr(tables, "PIECE", 1000)
    monkeypatch.setattr(logger_text, "BLOCK", 50_000)
    monkeypatch.setattr(sys, "argv", [step, *lines[FEW][step]])
    script = str(ROOT / "scripts" / "steps" / f"{step}.py")
    runpy.run_path(script, run_name="__main__")  # what the first call imports and keeps is not the samples'
    peaks = {}
    for count in (FEW, MANY):
        monkeypatch.setattr(sys, "argv", [step, *lines[count][step]])
        tracemalloc.start()
        runpy.run_path(script, run_name="__main__")
        peaks[count] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    more = (peaks[MANY] - peaks[FEW]) / SAMPLES
    assert more <= MOST[step], f"{more:.0f} bytes for each sample more of each set"
