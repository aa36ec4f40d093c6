"""Verbs for a class and for keeping: new, answers, exercises, class-notes, archive."""

import argparse
import json
import tempfile
from collections.abc import Sequence
from pathlib import Path

from front import chain, children, findings, installers, libraries, places
from front.problems import CannotStart
from front.screen import Screen, plain
from front.verbs import absolute, begin, folders, is_there, not_within, run_chain


def run_answers(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then the check of students' numbers against it."""
    hide = ["--hide-values", "yes"] if arguments.hide_values else []
    files = {"--answers": [arguments.answers]}
    more = [*hide, "--attempt", str(arguments.attempt)]
    return run_after(arguments, screen, "answers/teacher.html", files, more)


def run_exercises(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then a sheet of questions from its numbers."""
    return run_after(arguments, screen, "exercises/sheet.html", {})


def run_class_notes(arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain, where it is not up to date, then several people's notes through it."""
    return run_after(arguments, screen, "class_notes/class_notes.html", {"--notes": arguments.notes})


def run_after(
    arguments: argparse.Namespace,
    screen: Screen,
    page: str,
    files: "dict[str, list[Path]]",
    more: Sequence[str] = (),
) -> int:
    """The whole chain on a campaign, then a script that works on its results; say where its page is.

    page: the name of the script, which is that of its folder in the results, and its page there.
    files: files that the user named, by option.
    """
    for path in (path for paths in files.values() for path in paths):
        if not path.is_file():
            raise CannotStart(f"{plain(places.short(path))}: no such file.")
    name, _, page = page.partition("/")
    campaign, results = folders(arguments.campaign, arguments.results)
    out = absolute(arguments.out) if arguments.out else results / name
    not_within(campaign, "--out", out)
    status = run_chain(campaign, results, arguments, screen)
    words: list = ["--campaign", campaign, "--results", results, "--out", out]
    for option, paths in files.items():
        words += [option, *map(absolute, paths)]
    screen.lines(chain.run_script(f"{name}.py", *words, *more))
    screen.line(places.short(out / page))
    return status


def run_new(arguments: argparse.Namespace, screen: Screen) -> int:
    """A campaign folder to fill in, how its files are read, or packs for groups."""
    if bool(arguments.source) != bool(arguments.groups) or (arguments.source and arguments.sample):
        raise CannotStart(
            "new: --from and --groups go together, without --from-file "
            "(help: python3 scripts/headland.py new --help)"
        )
    for folder in (arguments.source, arguments.folder if arguments.preview else None):
        if folder:
            is_there(absolute(folder))
    begin(arguments, screen, places.state())
    given = {
        "--from-file": arguments.sample or [],
        "--source": [arguments.source] if arguments.source else [],
        "--groups": [arguments.groups] if arguments.groups else [],
        "--results": [places.results_of(absolute(arguments.source).name)] if arguments.source else [],
        "--preview": [Path("yes")] if arguments.preview else [],
    }
    words: list = ["--folder", absolute(arguments.folder), "--shown", arguments.folder]
    for option, paths in given.items():
        words += [option, *map(absolute, paths)] if paths else []
    screen.lines(chain.run_script("new.py", *words))
    return 0


def run_archive(arguments: argparse.Namespace, screen: Screen) -> int:
    """Bring the results up to date and pack them with all that they were made from and by."""
    campaign, results = folders(arguments.campaign, arguments.results)
    out = absolute(arguments.out or results.with_name(f"{results.name}.zip"))
    not_within(campaign, "--out", out)
    if out.is_dir() or results in out.parents:
        raise CannotStart(
            f"--out {places.short(out)} is a folder, or is inside the results' folder; "
            "name a file elsewhere, such as record.zip."
        )
    begin(arguments, screen, results, campaign, results)
    with tempfile.TemporaryDirectory(prefix="headland-", dir=places.temporary()) as folder:
        if arguments.without_remarks:  # the record is of a run that never saw them, so its checksums agree
            bare = Path(folder, "campaign", campaign.name)
            for lines in chain.check_settings([campaign]).values():
                raise CannotStart("\n".join(lines))
            screen.lines(chain.run_script("without_remarks.py", campaign, bare))
            campaign, results = bare, Path(folder, "results", campaign.name)
        chain.bring_up_to_date({results: campaign}, arguments.cores, screen)
        errors = findings.say(results, screen)
        wheels = ["--wheels", fetched(Path(folder, "wheels"), screen)] if arguments.wheels else []
        said = chain.run_script(
            "archive.py",
            *("--campaign", campaign),
            *("--results", results),
            *("--out", out),
            *wheels,
            *("--settings", json.dumps({"remarks": not arguments.without_remarks})),
            *("--made", *chain.made(campaign, results, arguments.cores)),
        )
    screen.lines(said)
    screen.line(places.short(out))
    return 1 if errors else 0


def fetched(folder: Path, screen: Screen) -> Path:
    """A folder with the libraries of the lock file as packages, each with the checksum that the lock
    names.
    """
    screen.line("Fetching the libraries ...")
    folder.mkdir()
    python = libraries.python()
    fetch = [python, "-m", "pip", "download", "--dest", folder, *libraries.ONLY_LOCKED]
    with installers.setup_log().open("w", encoding="utf-8", errors="replace") as log:
        failed = children.run(
            [*fetch, "--requirement", places.lock()],
            lambda line: print(line, file=log),
            env=children.of_pip(python) | {"CC": "true"},
        )
    if failed:
        raise CannotStart(f"The libraries could not be fetched: {installers.reason_of_failure()}")
    return folder
