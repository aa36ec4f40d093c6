"""Snakemake, with a list kept of the steps that it runs.

Called with the list's file, then as Snakemake is.
"""

import json
import sys
from pathlib import Path


def main() -> None:
    sys.path.insert(0, str(Path.cwd() / "workflow"))
    from snakemake import cli

    from headland.files import jobs

    kept, sys.argv = Path(sys.argv[1]), ["snakemake", *sys.argv[2:]]
    plain, listed = jobs.run, []

    def run(script, line, log):
        plain(script, line, log)
        listed.append([str(script), list(line)])
        kept.write_text(json.dumps(listed), encoding="utf-8")

    jobs.run = run
    cli.main()


if __name__ == "__main__":  # a step's process loads this file too
    main()
