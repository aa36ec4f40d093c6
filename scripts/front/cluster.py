"""Running campaigns as jobs of a cluster."""

import json
import os
import re
import shlex
import shutil
from collections.abc import Mapping
from pathlib import Path

from front import children, libraries, places
from front.problems import CannotStart
from front.screen import plain


def command(campaigns: Mapping[Path, Path], profile: str) -> list:
    """The command that makes the results of campaigns as jobs, by a profile in config/profiles."""
    settings = places.ROOT / "config" / "profiles" / profile
    if not (settings / "config.yaml").is_file():
        name = plain(profile)
        raise CannotStart(
            f"--profile {name}: there is no config/profiles/{name}/config.yaml; `slurm` is there."
        )
    what_is_needed()
    for path in campaigns:
        odd = sorted(set(re.sub(r"[\w ./+-]", "", str(path))))
        if odd:
            raise CannotStart(
                f"{plain(str(path))}: on a cluster a path with {plain(' '.join(odd))} can't be used; "
                "rename the campaign's folder."
            )
    prefix = f"headland-{places.digest(places.base())}"
    none_is_left(prefix, profile)
    return [
        *(libraries.python(), "-m", "snakemake"),
        *("--snakefile", places.ROOT / "Snakefile"),
        *("--directory", places.base()),
        *("--workflow-profile", settings),
        "--rerun-incomplete",
        *("--slurm-jobname-prefix", prefix),
        *("--configfile", settings_file(campaigns)),
    ]


def what_is_needed() -> None:
    """CannotStart where the plugin or Slurm's commands are missing."""
    python = libraries.python()
    env = children.environment(python)
    if children.run([python, "-c", "import snakemake_executor_plugin_slurm"], lambda line: None, env=env):
        lock = places.short(places.ROOT / "requirements-cluster.lock")
        words = [places.short(python), "-m", "pip", "install", "--require-hashes", "--requirement", lock]
        raise CannotStart(f"--profile needs one more library; install it with {shlex.join(words)}")
    if not shutil.which("sbatch"):
        raise CannotStart(
            "--profile needs Slurm's commands, and finds no `sbatch`; run this where you submit jobs."
        )


def none_is_left(prefix: str, profile: str) -> None:
    """CannotStart where jobs of an earlier run may still write: they outlive the run that submitted them."""
    queued: list[str] = []
    ask = ["squeue", "--me", "--noheader", "--format=%i %j"]
    if children.run(ask, queued.append, env=children.environment(libraries.python())):
        raise CannotStart(f"--profile {profile}: `squeue` says: {plain(' '.join(queued))}")
    left = " ".join(line.split()[0] for line in queued if f" {prefix}_" in line)
    if left:
        raise CannotStart(
            f"Jobs of an earlier run are still in the queue ({left}); wait until they are done, "
            f"or end them with `scancel {left}`, and run the same command again."
        )


def settings_file(campaigns: Mapping[Path, Path]) -> Path:
    """The campaigns in a file.

    A command line goes through shells on its way to a node, which take quotes away.
    """
    named = {"campaigns": {str(results): str(campaign) for results, campaign in campaigns.items()}}
    text = json.dumps(named, ensure_ascii=False, sort_keys=True)
    file = places.state() / f"headland-{places.digest(Path(text))}.json"
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_suffix(f".{os.getpid()}")
    part.write_text(text, encoding="utf-8")
    part.replace(file)
    return file
