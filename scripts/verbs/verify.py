"""Whether an archive is intact and complete and, with --run, gives the same numbers. Standard library only.

Usage: python scripts/verbs/verify.py FILE.zip [OTHER.zip] [--run] [--run-foreign-code] [--cores N] [--mend]
Exit status: 0 it is; 1 it is not, or the other archive differs; 2 could not start (no such file, no
environment for the rerun, foreign programs).
"""

import argparse
import hashlib
import os
import shutil
import stat
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO

from headland.files.digests import digest
from headland.record import bag, compare, intact, programs, rerun, season_archive, two
from headland.record.names import shown
from headland.record.pack import Refused
from headland.record.project import project_files

ROOT = Path(__file__).resolve().parents[2]
MOST_CAMPAIGNS, MOST_FAULTS = 20, 5
"""Campaigns of a season that are listed, and lines for each."""
FOREIGN = (
    "WARNING: --run-foreign-code executes programs of a stranger on this machine, with your rights.",
    "What they print, and numbers that agree, prove nothing: they can be written to agree.",
)


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("file", type=Path)
    parser.add_argument("other", type=Path, nargs="?")
    parser.add_argument("--run", action="store_true")
    parser.add_argument("--run-foreign-code", action="store_true")
    parser.add_argument("--cores", default="1")
    parser.add_argument("--mend", action="store_true")
    args = parser.parse_args()
    asked = args.file
    try:
        with plain_file(args.file) as stream:
            if args.other is None:
                return checked(stream, args)
            asked = args.other
            with plain_file(args.other) as other:
                return two_archives(args.file, stream, args.other, other)
    except BrokenPipeError:  # the reader of this output has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except OSError as problem:
        reason = problem.strerror or "it is no plain file"
        name = shown(str(asked))
        print(
            f"{name}: can't be read ({reason}); name an archive, such as results/spring.zip", file=sys.stderr
        )
        return 2


def plain_file(path: Path) -> BinaryIO:
    """A file, opened for reading. OSError where it is a device, a pipe or a folder: opening must not wait for
    one.
    """
    stream = os.fdopen(os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb")
    if not stat.S_ISREG(os.fstat(stream.fileno()).st_mode):
        stream.close()
        raise OSError("no plain file")
    return stream


def say(first: str, lines: Sequence[str], most: int = 20) -> None:
    """A line, and below it others, no more than `most` of them."""
    print(first, *(f"  {line}" for line in compare.plain_list(lines, most)), sep="\n")


def say_digest(path: Path, stream: BinaryIO) -> None:
    """The file's checksum. Raises Refused where it is too large to be an archive, and would take hours."""
    bag.refuse_large(stream)
    print(f"{shown(path.name)}  SHA-256 {hashlib.file_digest(stream, 'sha256').hexdigest()}")


def checked(stream: BinaryIO, args: argparse.Namespace) -> int:
    """Check the archive, say what was found, run it again where that is wanted."""
    try:
        say_digest(args.file, stream)
        archive = bag.opened(stream)
        faults = intact.faults(archive)
        if not faults and season_archive.TABLE not in archive.entries:
            describe(archive)
    except Refused as problem:
        say("Refused; nothing of it was unpacked:", problem.faults)
        return 1
    if faults:
        say("NOT INTACT:", faults, 200)
        if args.run:
            print("It is not run.")
        return 1
    if season_archive.TABLE in archive.entries:
        return of_season(archive)
    ours = {name: digest(path) for name, path in project_files(ROOT).items()}
    other = programs.other_code(archive, ours)
    print(f"Its programs and settings: SHA-256 {programs.digest_of_code(archive)}")
    if other:
        names = shown(", ".join(compare.plain_list(other, 5)))
        print(f"They are not those that check it; {len(other)} files differ: {names}")
    else:
        print("They are the same as those that check it.")
    if not args.run:
        print("Not checked: whether it gives the same numbers. --run computes them again.")
        return 0
    return run_again(archive, other, args)


def two_archives(path: Path, stream: BinaryIO, other_path: Path, other: BinaryIO) -> int:
    """Check two archives, and say what differs between them."""
    archives = []
    for name, file in ((path, stream), (other_path, other)):
        try:
            say_digest(name, file)
            archives.append(bag.opened(file))
            faults = intact.faults(archives[-1])
        except Refused as problem:
            faults = problem.faults
        if faults:
            say(f"{shown(name.name)}: NOT INTACT, so not compared:", faults, 200)
            return 1
    try:
        found = two.differences(*archives)
    except Refused as problem:
        say("Not compared:", problem.faults)
        return 1
    for about, lines in found.items():
        say(f"{about}:", lines, 40)
    if not found:
        print("Nothing differs: the same inputs, settings, versions, programs and results.")
    elif not any(about.startswith("Numbers") for about in found):
        print("The numbers are the same.")
    return 1 if found else 0


def of_season(season: bag.Bag) -> int:
    """Check the archives of a season's campaigns. With --run each has to be taken out first."""
    print(f"A season, intact and complete: {len(season.entries)} files, {season.size} bytes.")
    names = season_archive.inner([*season.entries])
    left, wrong = bag.may_unpack_to(sum(entry.compress_size for entry in season.entries.values())), 0
    for number, name in enumerate(names):
        faults, unpacked = of_campaign(season, name, left)
        left -= unpacked
        if number < MOST_CAMPAIGNS:
            say(f"{shown(name)}: {'NOT INTACT' if faults else 'intact and complete'}", faults, MOST_FAULTS)
        wrong += bool(faults)
    if len(names) > MOST_CAMPAIGNS:
        print(f"and {len(names) - MOST_CAMPAIGNS} more; {wrong} of all are NOT INTACT")
    print("Not checked: whether they give the same numbers. Take one out and verify it with --run.")
    return int(wrong > 0)


def of_campaign(season: bag.Bag, name: str, most: int) -> tuple[list[str], int]:
    """What is wrong with a campaign's archive in that of a season, and the bytes to which it unpacks.

    most: bytes to which it may. All campaigns together may unpack to as much as the season's size allows.
    """
    with season.open(name) as packed, tempfile.TemporaryFile() as stream:
        shutil.copyfileobj(packed, stream)
        try:
            campaign = bag.opened(stream, most)
            if season_archive.TABLE in campaign.entries:
                return ["a season in a season; each file in campaigns/ is one campaign"], campaign.size
            return intact.faults(campaign), campaign.size
        except Refused as problem:
            return problem.faults, 0


def describe(archive: bag.Bag) -> None:
    """Say what a whole archive holds and what made it."""
    settings, versions = (intact.described(archive, f"data/{name}.json") for name in ("settings", "versions"))
    size = f"{len(archive.entries)} files, {archive.size} bytes, each as its checksum says."
    if archive.packed_anew:
        print(f"The files are whole: {size}")
        print("Another program packed the zip again, so bytes beside the files are not those of Headland.")
    else:
        print(f"Intact and complete: {size}")
    made_by = [shown(str(versions.get(key, ""))) for key in ("headland", "python", "system")]
    print(f"Holds: {rerun.title(settings)}")
    print(f"Made by: Headland {made_by[0]}, Python {made_by[1]}, {made_by[2]}")


def run_again(archive: bag.Bag, other: Sequence[str], args: argparse.Namespace) -> int:
    """Compute the archive's inputs again in a new folder and compare the results."""
    if not rerun.campaign_name(archive):
        print("It is not run: data/inputs should hold one campaign folder.")
        return 1
    if other and not args.run_foreign_code:
        print(
            "It is not run: its programs are not those that check it. A program that made a record can",
            "also make a rerun agree with it. Get the version of Headland that made it from where its",
            "authors publish it,",
            "compare its SHA-256 above, and check the archive with that. Or add --run-foreign-code.",
            sep="\n",
        )
        return 2
    faults = programs.faults_of_lock(archive) + programs.faults_of_wheels(archive) if other else []
    if faults:
        say("It is not run; its libraries could bring in anything:", faults)
        return 1
    options = ["--cores", args.cores, *(["--mend"] if args.mend else [])]
    with tempfile.TemporaryDirectory(prefix="headland-verify-") as place:
        folder = Path(place)
        if other:
            print(*FOREIGN, sep="\n")
            print("Running the programs of the archive, in an environment of their own:", flush=True)
            again = rerun.by_foreign_programs(archive, folder, options)
            print("The programs of the archive have ended.")
        else:
            print("Computing its inputs again, with the programs that check it:", flush=True)
            again = rerun.by_own_programs(archive, ROOT, folder, options)
        if not again.is_file() or again.is_symlink():
            print(
                "The rerun could not be done here, for the reason above.",
                "Whether the archive gives the same numbers is not known.",
                file=sys.stderr,
            )
            return 2
        with plain_file(again) as stream:
            return report(archive, stream, foreign=bool(other))


def report(first: bag.Bag, stream: BinaryIO, foreign: bool) -> int:
    """Say in what the rerun differs; return the exit status."""
    try:
        again = bag.opened(stream)
        versions = [intact.described(one, "data/versions.json") for one in (first, again)]
    except Refused as problem:
        say("The rerun made no archive that can be read:", problem.faults)
        return 2
    other_versions = compare.versions_apart(*versions)
    result = compare.compared(first, again)
    who = "The archive's own programs gave the same numbers" if foreign else "The same numbers"
    if other_versions:
        say("Versions differ:", other_versions)
    bad = result.apart if other_versions else result.apart + result.rounding
    if bad:
        say("NOT THE SAME NUMBERS:", bad, 200)
    elif result.rounding:
        words = f"{who} within the last printed digit in {result.tables} tables; not to the byte:"
        say(words, result.rounding, 200)
    else:
        print(f"{who}: {result.tables} tables, the same bytes.")
    for line in compare.plain_list(result.others):
        print(f"  besides: {line}")
    same_page = not any(line.startswith("report.pdf") for line in result.others)
    if same_page and "data/results/report.pdf" in first.entries:
        print("report.pdf has the same bytes.")
    if foreign:
        print(FOREIGN[1])
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
