"""A season on a Slurm of one node, started here: `python -m pytest -m slurm tests/slurm`.

It needs root, Debian's slurm-wlm and munge, and requirements-cluster.lock installed. The same command with
and without the cluster gives the same bytes; a campaign whose disk is full stops no other and is named with
its own line.
"""

import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest

from simulate import specs
from simulate.campaign import simulate

ROOT = Path(__file__).resolve().parents[2]
NODE = Path(__file__).with_name("single_node.sh")
OF_THE_RUN = re.compile(r"\.log$|^changes\.|^\.headland/|^steps/previous_run/|\.part$")

pytestmark = pytest.mark.slurm


@pytest.fixture
def node():
    missing = [
        tool
        for tool in ("munged", "slurmctld", "slurmd", "sbatch")
        if not shutil.which(tool, path=f"{os.environ['PATH']}:/usr/sbin")
    ]
    if missing or os.geteuid() or not importlib.util.find_spec("snakemake_executor_plugin_slurm"):
        pytest.skip(f"needs root, slurm-wlm and munge (missing: {missing}), and requirements-cluster.lock")
    folder = tempfile.mkdtemp(prefix="slurm-")  # not pytest's own, which other users can't enter
    started = subprocess.run([NODE, "start", folder], capture_output=True, text=True)
    if started.returncode:
        pytest.fail(started.stderr)
    yield folder
    subprocess.run([NODE, "stop", folder], check=True)


@pytest.fixture
def project(tmp_path):
    """A copy of the project with few draws."""
    folder = tmp_path / "project"
    shutil.copytree(
        ROOT,
        folder,
        ignore=shutil.ignore_patterns(".*", "results", "tests", "docs", "demo_inputs", "__pycache__"),
    )
    (folder / ".venv").symlink_to(sys.prefix)
    config = folder / "config" / "config.yaml"
    config.write_text(
        re.sub(r"(?m)^draws: \d+", "draws: 256", config.read_text(encoding="utf-8")), encoding="utf-8"
    )
    return folder


def season(project, *words):
    done = subprocess.run(
        [sys.executable, "scripts/headland.py", "season", *words],
        cwd=project,
        capture_output=True,
        text=True,
        timeout=3600,
    )
    print(done.stdout + done.stderr)
    return done.returncode, done.stdout + done.stderr


def digests(results):
    files = {str(path.relative_to(results)): path for path in sorted(results.rglob("*")) if path.is_file()}
    return {
        name: hashlib.sha256(path.read_bytes()).hexdigest()
        for name, path in files.items()
        if not OF_THE_RUN.search(name)
    }


def test_a_season_on_a_cluster(node, project, tmp_path):
    folders = [tmp_path / name for name in ("first day", "second", "full")]
    for number, folder in enumerate(folders):
        simulate(specs.minimal(seed=number + 1)).write(folder)
    full = project / "results" / "full"
    full.mkdir(parents=True)
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=300k", "headland-slurm", full], check=True)
    try:
        status, said = season(project, *folders, "--profile", "slurm")
    finally:
        subprocess.run(["umount", "--lazy", full], check=True)
    assert status == 1 and "Traceback" not in said
    assert said.count("submitted with SLURM jobid") == 3  # a campaign is one submission
    assert re.search(
        r"The disk is full(?: \(No space left on device\))?: make room and run the same command again\.", said
    )
    assert re.search(r"Not in the table: \S*full: This step failed: ", said)
    shutil.move(project / "results", project / "of the cluster")
    status, said = season(project, *folders[:2])
    assert status == 0
    for folder in folders[:2]:
        here, there = (
            digests(project / "results" / folder.name),
            digests(project / "of the cluster" / folder.name),
        )
        for name in ("segments.csv", "surfaces.csv", "uncertainty_budget.csv", "report.html", "report.pdf"):
            print(f"{folder.name:10} {name:24} laptop {here[name][:16]} cluster {there[name][:16]}")
        assert here == there and len(here) > 20


def test_after_a_job_was_cancelled_the_same_command_goes_on(node, project, tmp_path):
    simulate(specs.minimal()).write(tmp_path / "day")

    def cancel():
        for _ in range(300):
            running = subprocess.run(
                ["squeue", "--noheader", "--states=R", "--format=%i"], capture_output=True, text=True
            ).stdout.split()
            if running and list((project / "results" / "day" / "steps").glob("3_*/*.csv")):
                subprocess.run(["scancel", *running])
                return
            time.sleep(1)

    canceller = threading.Thread(target=cancel)
    canceller.start()
    status, said = season(project, tmp_path / "day", "--profile", "slurm")
    canceller.join()
    assert status == 1 and "the cluster ended its job (CANCELLED); run the same command again." in said
    assert season(project, tmp_path / "day", "--profile", "slurm")[0] == 0
    cut_off = digests(project / "results" / "day")
    shutil.rmtree(project / "results")
    assert season(project, tmp_path / "day")[0] == 0
    assert cut_off == digests(project / "results" / "day")
