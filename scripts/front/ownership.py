"""Which campaign a results folder belongs to, so that no other campaign's results are overwritten.

The record is in the results, in `.headland/campaign.json`. It holds no path, only digests.
"""

import hashlib
import json
import secrets
from pathlib import Path

from front import places
from front.problems import CannotStart


def folder(results: Path) -> Path:
    """The front door's own folder in the results."""
    return results / ".headland"


def _record(results: Path) -> Path:
    return folder(results) / "campaign.json"


def _read(results: Path) -> "dict[str, str]":
    try:
        found = json.loads(_record(results).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _write(results: Path, record: "dict[str, str]") -> None:
    file = _record(results)
    part = file.with_suffix(".part")
    part.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")
    part.replace(file)


def contents(campaign: Path) -> str:
    """What a campaign folder holds, by names, sizes and settings: a moved campaign is still the same."""
    listed = [
        f"{path.relative_to(campaign)} {path.stat().st_size}"
        for path in sorted(campaign.rglob("*"))
        if path.is_file()
    ]
    settings = campaign / "campaign.yaml"
    text = settings.read_bytes() if settings.is_file() else b""
    return hashlib.sha256("\n".join(listed).encode("utf-8", "surrogateescape") + text).hexdigest()


def claim(results: Path, campaign: Path) -> None:
    """Note that results belong to a campaign. CannotStart where they are another's."""
    found, place, now = _read(results), places.digest(campaign.resolve()), contents(campaign)
    if found.get("campaign", place) != place and found.get("contents") != now:
        shown = places.short(results)
        raise CannotStart(
            f"{shown} holds the results of another campaign folder; name another folder with --results. "
            f"If you moved or renamed this campaign, delete {places.short(_record(results))} "
            "and run the same command again."
        )
    _write(results, {**found, "campaign": place, "contents": now})


def memory() -> str:
    """The name of what Snakemake remembers here: a random one, made once."""
    file = places.state() / "memory"
    if not file.is_file():
        file.write_text(secrets.token_hex(8), encoding="utf-8")
    return file.read_text(encoding="utf-8")


def is_known(results: Path) -> bool:
    """Whether the last whole run of these results is what Snakemake remembers here.

    It may have been another user's.
    """
    return _read(results).get("memory", memory()) == memory()


def remember(results: Path) -> None:
    """Note that Snakemake's memory here is of the last whole run of these results."""
    _write(results, {**_read(results), "memory": memory()})
