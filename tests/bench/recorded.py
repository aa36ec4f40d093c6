"""Snakemake, with a list kept of the steps that it runs. Called with the list's file, then as Snakemake is."""

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "workflow"))

from headland import jobs
from snakemake.cli import main

kept, sys.argv = Path(sys.argv[1]), ["snakemake", *sys.argv[2:]]
plain, listed = jobs.run, []


def run(script, line, log):
    plain(script, line, log)
    listed.append([str(script), list(line)])
    kept.write_text(json.dumps(listed), encoding="utf-8")


jobs.run = run
main()
