"""What every step's script shares: its command line, its settings, its plain log.

One of the three modules that touch files. A script is called as
`python scripts/<step>.py --settings '<JSON>' --name path …`; options given several paths become lists.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from types import SimpleNamespace


def arguments(one: Sequence[str] = (), many: Sequence[str] = ()) -> SimpleNamespace:
    """The paths of a step's command line, and `settings`, decoded from JSON.

    one: options that take one path; many: options that take any number, given in order.
    """
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("--settings", type=json.loads, default={})
    for name in one:
        parser.add_argument(f"--{name}", type=Path, required=True)
    for name in many:
        parser.add_argument(f"--{name}", type=Path, nargs="*", default=[])
    return SimpleNamespace(
        **{key.replace("-", "_"): value for key, value in vars(parser.parse_args()).items()}
    )


def say(line: str) -> None:
    """One plain line into the step's log."""
    print(line, file=sys.stderr)
