"""Computing an archive's inputs again, by the checker's own programs or, on request, by those in the archive.

Standard library only. A program that made a record can also make a rerun agree with it. The programs in an
archive therefore prove nothing unless they are those of the checker, and then the checker's own copy runs.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from headland.record.bag import Bag
from headland.record.names import shown

INPUTS = "data/inputs/"
NETWORK = (
    "http_proxy",
    "https_proxy",
    "no_proxy",
    "HTTP_PROXY",
    "HTTPS_PROXY",
    "NO_PROXY",
    "SSL_CERT_FILE",
    "SSL_CERT_DIR",
    "REQUESTS_CA_BUNDLE",
    "PIP_CERT",
    "PIP_INDEX_URL",
    "PIP_PROXY",
)
"""How to find a network: what a foreign program needs to install its libraries where the archive brings none.
"""
FROM_THE_USER = ("PATH", "LANG", "LC_ALL", "TERM")
WITHOUT_NETWORK = ("unshare", "--user", "--map-current-user", "--net")
LONGEST_TRY = 10
"""s: within which a namespace can be had, or not at all."""


def campaign_name(bag: Bag) -> str:
    """The name of the campaign folder in an archive; empty where there is not exactly one."""
    names = {name.split("/")[2] for name in bag.entries if name.startswith(INPUTS) and name.count("/") > 2}
    return names.pop() if len(names) == 1 else ""


def by_own_programs(bag: Bag, root: Path, folder: Path, options: list[str]) -> Path:
    """Compute the inputs again with the checker's programs; nothing of the archive is executed.

    root: the checker's project. folder: a new one for inputs and results. options: of the front door. Returns
    the path of the new archive, which is not there where the rerun failed.
    """
    again = folder / "again.zip"
    (folder / "inputs").mkdir()
    bag.unpack(INPUTS, folder / "inputs")
    subprocess.call(_command(root, folder, campaign_name(bag), again, options), stdin=subprocess.DEVNULL)
    return again


def by_foreign_programs(bag: Bag, folder: Path, options: list[str]) -> Path:
    """Compute the inputs again with the programs in the archive, with an empty home and no more than they
    need.

    They have no network where the archive brings its libraries and the system gives a namespace. Parameters
    and result as for `by_own_programs`.
    """
    again = folder / "again.zip"
    for part in ("project", "inputs", "wheels", "home", "tmp"):
        (folder / part).mkdir()
    for part in ("project", "inputs", "wheels"):
        bag.unpack(f"data/{part}/", folder / part)
    brings_libraries = any((folder / "wheels").iterdir())
    alone = list(WITHOUT_NETWORK) if brings_libraries and can_run_without_network() else []
    print(
        "They run with an empty home, "
        + ("without a network." if alone else "with the network: nothing keeps them from it here."),
        flush=True,
    )
    command = _command(folder / "project", folder, campaign_name(bag), again, options)
    environment = foreign_environment(folder, brings_libraries)
    subprocess.call([*alone, *command], cwd=folder, env=environment, stdin=subprocess.DEVNULL)
    return again


def _command(project: Path, folder: Path, name: str, again: Path, options: list[str]) -> list[str]:
    front_door = project / "scripts" / "headland.py"
    paths = [folder / "inputs" / name, "--results", folder / "results", "--out", again]
    return [sys.executable, *map(str, [front_door, "archive", *paths]), *options]


def foreign_environment(folder: Path, brings_libraries: bool) -> dict[str, str]:
    """The environment of foreign programs: nothing of the user's but the programs' path and the language."""
    kept = {name: os.environ[name] for name in FROM_THE_USER if name in os.environ}
    own = {"HOME": str(folder / "home"), "TMPDIR": str(folder / "tmp")}
    if brings_libraries:
        libraries = {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(folder / "wheels")}
    else:
        libraries = {name: os.environ[name] for name in NETWORK if name in os.environ}
    return kept | own | libraries


def can_run_without_network() -> bool:
    """Whether this system gives a program a namespace without a network."""
    if not shutil.which(WITHOUT_NETWORK[0]):
        return False
    try:
        tried = subprocess.run(
            [*WITHOUT_NETWORK, "true"], capture_output=True, stdin=subprocess.DEVNULL, timeout=LONGEST_TRY
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return tried.returncode == 0


def title(settings: dict) -> str:
    """The campaign's title in an archive's settings.json."""
    campaign = settings.get("campaign")
    return shown(str(campaign.get("title", ""))) if isinstance(campaign, dict) else ""
