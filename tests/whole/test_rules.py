"""The rules, without running them: one rule for the sets of all campaigns; names of campaigns; lint."""

import json
import os
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from simulate import specs
from simulate.campaign import simulate

ROOT = Path(__file__).parents[2]


def said_by_snakemake(folder: Path, *words: str) -> str:
    """What Snakemake says of the rules, in a folder of its own."""
    command = [sys.executable, "-m", "snakemake", "--snakefile", str(ROOT / "Snakefile"), *words]
    environment = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=300)
    return done.stdout + done.stderr


@pytest.fixture(scope="module")
def campaigns(tmp_path_factory) -> dict[str, str]:
    """Two campaigns whose sets have other names, by results folder."""
    folder = tmp_path_factory.mktemp("rules")
    simulate(specs.minimal()).write(folder / "one")
    found = {str(folder / "results" / "one"): str(folder / "one")}
    return found | {str(folder / "results" / "demo"): str(ROOT / "demo_inputs")}


@pytest.fixture(scope="module")
def planned(campaigns, tmp_path_factory) -> str:
    """What would be run for both."""
    named = f"campaigns= {json.dumps(campaigns)} "
    folder = tmp_path_factory.mktemp("state")
    for name in ("config", "workflow", "scripts", "demo_inputs"):
        (folder / name).symlink_to(ROOT / name)
    return said_by_snakemake(folder, "--dry-run", "--cores", "1", "--config", named)


def test_one_rule_serves_campaigns_with_other_sets(planned):
    counts = dict(re.findall(r"^(\w+) +(\d+)$", planned, re.M))
    assert counts["segment"] == "2"
    assert counts["samples_of_set"] == counts["ingest"] and int(counts["ingest"]) >= 3
    assert not [name for name in counts if name.startswith("segment_")]


def test_a_step_of_many_campaigns_is_named_with_its_own(planned, campaigns):
    messages = re.findall(r"Job \d+: (.*)", planned)
    named = Counter(results for message in messages for results in campaigns if message.startswith(results))
    assert set(named) == set(campaigns)
    assert [message for message in messages if not message.startswith(tuple(campaigns))] == ["All done"]


def test_lint_has_no_remark():
    """In the project's folder, where Snakefile finds its configuration."""
    campaign = ("--config", "campaign=demo_inputs", "results=results/demo_inputs")
    said = said_by_snakemake(ROOT, "--lint", *campaign)
    assert "your workflow is in a good condition" in said and "Lints for" not in said, said[-3000:]
