"""Whether an archive is intact and complete and, with --run, gives the same numbers. Standard library only; called by the front door.

Usage: python scripts/verbs/verify.py FILE.zip [--run] [--cores N] [--mend]
Exit status: 0 it is; 1 it is not; 2 could not start (no such file, no environment for the rerun).
"""

import argparse
import hashlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from headland.record import bag, verify

ROOT = Path(__file__).resolve().parents[2]
INHERITED = (
    "PATH",
    "HOME",
    "LANG",
    "LC_ALL",
    "TERM",
    "TMPDIR",
    "USER",
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
    "PIP_CONFIG_FILE",
    "PIP_INDEX_URL",
    "PIP_EXTRA_INDEX_URL",
    "PIP_FIND_LINKS",
    "PIP_NO_INDEX",
    "PIP_PROXY",
)
"""What the programs of an archive are told of this machine: how to find a network, and nothing else."""


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("file", type=Path)
    parser.add_argument("--run", action="store_true")
    parser.add_argument("--cores", default="1")
    parser.add_argument("--mend", action="store_true")
    args = parser.parse_args()
    try:
        with args.file.open("rb") as stream:
            return looked_through(stream, args)
    except BrokenPipeError:  # the reader of this output has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as problem:
        print(
            f"{args.file}: can't be read ({problem.strerror}); name an archive, such as results/spring.zip",
            file=sys.stderr,
        )
        return 2


def looked_through(stream, args: argparse.Namespace) -> int:
    print(f"{bag.shown(args.file.name)}  SHA-256 {hashlib.file_digest(stream, 'sha256').hexdigest()}")
    try:
        archive = bag.opened(stream)
        faults = verify.faults(archive)
    except bag.Refused as problem:
        print(
            "Refused; nothing of it was unpacked:",
            *(f"  {line}" for line in verify.plain_list(problem.faults)),
            sep="\n",
        )
        return 1
    if faults:
        print("NOT INTACT:", *(f"  {line}" for line in verify.plain_list(faults, 200)), sep="\n")
        if args.run:
            print("It is not run.")
        return 1
    settings, versions = (verify.described(archive, f"data/{name}.json") for name in ("settings", "versions"))
    print(
        f"Intact and complete: {len(archive.entries)} files, {sum(entry.size for entry in archive.entries.values())} bytes, each as its checksum says."
    )
    if verify.packed_anew(archive):
        print("Another program packed the zip anew; the contents are as they were.")
    print(f"Holds: {bag.shown(str(campaign_of(settings).get('title', '')))}")
    print(
        f"Made by: Headland {bag.shown(str(versions.get('headland', '')))}, Python {bag.shown(str(versions.get('python', '')))}, {bag.shown(str(versions.get('system', '')))}"
    )
    print(f"Its programs and settings: SHA-256 {verify.digest_of_code(archive)}")
    other = verify.other_code(archive, {name: digest(path) for name, path in bag.project_files(ROOT).items()})
    print(
        "They are the same as those that check it."
        if not other
        else f"They are not those that check it; {len(other)} files differ: {bag.shown(', '.join(verify.plain_list(other, 5)))}"
    )
    if not args.run:
        print(
            "Not looked at: whether it gives the same numbers. --run does, and executes the programs in the archive: look first at who gave it to you."
        )
        return 0
    faults = verify.faults_of_lock(archive)
    if faults:
        print(
            "It is not run; its list of libraries could bring in anything:",
            *(f"  {line}" for line in verify.plain_list(faults)),
            sep="\n",
        )
        return 1
    return run_again(archive, settings, args)


def campaign_of(settings: dict) -> dict:
    campaign = settings.get("campaign")
    return campaign if isinstance(campaign, dict) else {}


def digest(path: Path) -> str:
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def run_again(archive: bag.Bag, settings: dict, args: argparse.Namespace) -> int:
    """Run the archive's own front door on its own inputs, in a new folder and environment, and compare what comes out."""
    names = {name.split("/")[2] for name in archive.entries if name.startswith("data/inputs/")}
    if len(names) != 1:
        print("It is not run: data/inputs should hold one campaign folder.")
        return 1
    with tempfile.TemporaryDirectory(prefix="headland-verify-") as place:
        folder = Path(place)
        for part in ("project", "inputs", "wheels"):
            (folder / part).mkdir()
            archive.unpack(f"data/{part}/", folder / part)
        again = folder / "again.zip"
        command = [
            sys.executable,
            folder / "project" / "scripts" / "headland.py",
            "archive",
            folder / "inputs" / names.pop(),
            "--results",
            folder / "results",
            "--out",
            again,
            "--cores",
            args.cores,
            *(["--mend"] if args.mend else []),
        ]
        print("Running the programs of the archive, in an environment of their own:", flush=True)
        status = subprocess.call(
            list(map(str, command)), cwd=folder, env=inherited(folder / "wheels"), stdin=subprocess.DEVNULL
        )
        print("The programs of the archive have ended.")
        if not again.is_file():
            print(
                "Could not be done here: the rerun, for the reason above. The archive is intact; whether it gives the same numbers is not known.",
                file=sys.stderr,
            )
            return 2
        with again.open("rb") as stream:
            return report(archive, bag.opened(stream), status)


def inherited(wheels: Path) -> dict[str, str]:
    """The environment of the archive's programs. Where the archive brings its libraries, they alone are used."""
    kept = {name: os.environ[name] for name in INHERITED if name in os.environ}
    return kept | ({"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(wheels)} if any(wheels.iterdir()) else {})


def report(first: bag.Bag, again: bag.Bag, status: int) -> int:
    """Say in what the second making differs; return the exit status."""
    versions = verify.versions_apart(*(verify.described(one, "data/versions.json") for one in (first, again)))
    result = verify.compared(first, again)
    if versions:
        print("Versions differ:", *(f"  {line}" for line in verify.plain_list(versions)), sep="\n")
    bad = result.apart if versions else result.apart + result.rounding
    if bad:
        print("NOT THE SAME NUMBERS:", *(f"  {line}" for line in verify.plain_list(bad, 200)), sep="\n")
    elif result.rounding:
        print(
            f"The same numbers within the last printed digit in {result.tables} tables; not to the byte:",
            *(f"  {line}" for line in verify.plain_list(result.rounding, 200)),
            sep="\n",
        )
    else:
        print(f"The same numbers: {result.tables} tables, the same bytes.")
    for line in verify.plain_list(result.others):
        print(f"  besides: {line}")
    if (
        not any(line.startswith("report.pdf") for line in result.others)
        and "data/results/report.pdf" in first.entries
    ):
        print("report.pdf has the same bytes.")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
