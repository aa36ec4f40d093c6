"""What each verb does: `run_…`, with the arguments of its command line."""

import argparse
import collections
import contextlib
import difflib
import os
import sys
import threading
from collections.abc import Sequence
from pathlib import Path

from front import chain, children, findings, following, libraries, places, runlog, season_archive
from front.problems import CannotStart
from front.screen import Screen, plain
from front.steps import to_report


def absolute(path: Path) -> Path:
    return Path(os.path.abspath(path))


def is_there(folder: Path) -> None:
    """CannotStart where there is no such folder, with the nearest name beside it."""
    if folder.is_dir():
        return
    if folder.exists():
        raise CannotStart(f"{plain(places.short(folder))} is a file; name a campaign folder.")
    beside: list[str] = []
    with contextlib.suppress(OSError):
        beside = [path.name for path in folder.parent.iterdir() if path.is_dir()]
    nearest = difflib.get_close_matches(folder.name, beside, n=1)
    meant = f" Did you mean `{plain(places.short(folder.with_name(nearest[0])))}`?" if nearest else ""
    raise CannotStart(f"{plain(places.short(folder))}: no such folder.{meant}")


def not_within(campaign: Path, option: str, path: Path) -> None:
    """CannotStart where what is to be written is in the campaign's folder, a link to it included."""
    real, home = Path(os.path.realpath(path)), Path(os.path.realpath(campaign))
    if real.is_relative_to(home):
        raise CannotStart(
            f"{option} {places.short(path)} is inside the campaign's folder, "
            "where nothing is ever written; name another folder."
        )


def folders(campaign: Path, given: "Path | None") -> "tuple[Path, Path]":
    """The campaign's folder and that of its results, as they can be used."""
    campaign = absolute(campaign)
    results = absolute(given) if given else places.results_of(campaign.name)
    for path in (campaign, results):
        odd = sorted({c for c in str(path) if c in "{}" or not c.isprintable()})
        if odd:
            found = " ".join(map(ascii, odd))
            raise CannotStart(f"{plain(str(path))}: a path with {found} can't be used; rename the folder.")
    not_within(campaign, "--results", results)
    if results.exists() and not results.is_dir():
        raise CannotStart(f"--results {places.short(results)} is a file; name a folder.")
    is_there(campaign)
    return campaign, results


def begin(arguments: argparse.Namespace, screen: Screen, logs: Path, *hidden: Path) -> None:
    """Make the environment ready, and begin the run's log."""
    runlog.begin(logs / "logs", {str(path): f"FOLDER_{number}" for number, path in enumerate(hidden, 1)})
    libraries.prepare(screen, may_install=arguments.install)
    chain.pango(screen, arguments.install)


ALSO = {"geojson": "geojson", "netcdf": "netcdf", "with_questions": "questions"}
"""What `report` makes more where it is asked for, by its option."""


def asked(arguments: argparse.Namespace) -> "list[str]":
    """What a command line asks for beside the report."""
    return [name for option, name in ALSO.items() if getattr(arguments, option, False)]


def run_chain(campaign: Path, given: "Path | None", arguments: argparse.Namespace, screen: Screen) -> int:
    """The whole chain on one campaign folder, and what was found."""
    campaign, results = folders(campaign, given)
    begin(arguments, screen, results, campaign, results)
    chain.bring_up_to_date({results: campaign}, arguments.cores, screen, also=asked(arguments))
    return findings.conclude(results, screen)


def run_demo(arguments: argparse.Namespace, screen: Screen) -> int:
    return run_chain(places.demo(), None, arguments, screen)


def run_report(arguments: argparse.Namespace, screen: Screen) -> int:
    status = run_chain(arguments.campaign, arguments.results, arguments, screen)
    if arguments.follow:
        campaign, results = folders(arguments.campaign, arguments.results)
        words = chain.snakemake({results: campaign}, arguments.cores, asked(arguments))[2:]
        return following.follow(campaign, results, words, screen)
    return status


def run_look(arguments: argparse.Namespace, screen: Screen) -> int:
    campaign, results = folders(arguments.campaign, arguments.results)
    begin(arguments, screen, results, campaign, results)
    chain.own(results, campaign)
    page = places.short(results / "look.html")
    follow = ["--follow", *(["--beep"] if arguments.beep else [])] if arguments.follow else []
    if follow:
        screen.line(f"Watching {places.short(campaign)}; end with Ctrl-C. The page: {page}")
    status = chain.run_page("look.py", [campaign, results, *follow], screen)
    screen.line(page)
    return status


def run_plan(arguments: argparse.Namespace, screen: Screen) -> int:
    campaign, results = folders(arguments.campaign, arguments.results)
    begin(arguments, screen, results, campaign, results)
    chain.own(results, campaign)
    return chain.run_page("plan.py", [campaign, results], screen)


def run_season(arguments: argparse.Namespace, screen: Screen) -> int:
    """The chain on each campaign, a failing one stopping no other, and the table across those that have
    results.
    """
    summary = absolute(arguments.results) if arguments.results else places.results_of("season")
    campaigns, failed = season_folders(arguments.folders)
    begin(arguments, screen, summary, summary, *campaigns.values())
    wrong = chain.check_settings(list(campaigns.values())) if campaigns else {}
    failed.update(wrong)
    campaigns = {results: campaign for results, campaign in campaigns.items() if campaign not in wrong}
    if campaigns:
        told = chain.bring_up_to_date(dict(campaigns), arguments.cores, screen, arguments.profile)
        failed.update((campaigns.pop(results), to_report(lines)) for results, lines in told.items())
    status = int(bool(failed))
    for results, campaign in campaigns.items():
        screen.line(f"== {plain(places.short(campaign))}")
        status = max(status, findings.conclude(results, screen))
    for folder, lines in failed.items():
        screen.line(f"== {plain(places.short(folder))}")
        screen.lines(lines)
    if not campaigns:
        raise CannotStart("None of the campaigns could be computed.")
    screen.line("== season")
    pairs = [path for results, campaign in campaigns.items() for path in (campaign, results)]
    asked = ["--with-errors"] if arguments.with_errors else []
    status = max(status, chain.run_page("season.py", [*asked, summary, *pairs], screen))
    for folder, lines in failed.items():
        ends = [line.partition("which ends: ")[2] for line in lines if "which ends: " in line]
        name = places.short(folder)
        why = "; ".join([lines[0].removeprefix(f"{name}: "), *ends])
        screen.line(f"Not in the table: {plain(name)}: {plain(why)}")
    if arguments.archive:
        season_archive.pack(summary, campaigns, absolute(arguments.archive), arguments.cores, screen)
    return status


def season_folders(given: Sequence[Path]) -> "tuple[dict[Path, Path], dict[Path, list[str]]]":
    """Campaign folders by results folder, and why others can't be used."""
    names = collections.Counter(absolute(folder).name for folder in given)
    campaigns: dict[Path, Path] = {}
    failed: dict[Path, list[str]] = {}
    for folder in given:
        try:
            campaign, results = folders(folder, None)
            if names[campaign.name] > 1:
                raise CannotStart(
                    f"Several of the folders are called {plain(campaign.name)}; "
                    "their results would overwrite each other. Rename them."
                )
            campaigns[results] = campaign
        except CannotStart as problem:
            failed[folder] = [str(problem)]
    return campaigns, failed


def run_verify(arguments: argparse.Namespace, screen: Screen) -> int:
    """Whether an archive is intact, or what differs between two.

    By the Python that runs this, because nothing has to be installed for it.
    """
    if arguments.other and (arguments.run or arguments.run_foreign_code):
        raise CannotStart(
            "verify: two archives are compared as they are; leave out --run, or name one archive."
        )
    places.prepare_base()
    words = [
        absolute(arguments.file),
        *([absolute(arguments.other)] if arguments.other else []),
        *(["--run", "--cores", arguments.cores] if arguments.run else []),
        *(["--run-foreign-code"] if arguments.run_foreign_code else []),
        *(["--mend"] if arguments.install else []),
    ]
    script = places.ROOT / "scripts" / "verbs" / "verify.py"
    return children.run([sys.executable, script, *words], env=children.environment(libraries.python()))


CHECKS = (
    ("ruff", "format", "--check", "--quiet"),
    ("ruff", "check", "--quiet", "--output-format=concise"),
)
"""What is checked before the tests, in a second: that the code is formatted and linted."""
TYPES = ("mypy",)
"""What is checked beside the tests: it takes one processor half a minute."""


def run_test(arguments: argparse.Namespace, screen: Screen) -> int:
    """The checks of the code and the tests, which pyproject.toml names; with arguments for pytest, the tests
    alone.
    """
    libraries.prepare(screen, may_install=arguments.install, for_tests=True)
    chain.pango(screen, arguments.install)
    env, python = children.environment(libraries.python()), libraries.python()
    failed = []
    for words in () if arguments.rest else CHECKS:
        screen.line(f"Checking: {' '.join(words)}")
        if children.run([python, "-m", *words], env=env, cwd=places.ROOT):
            failed.append(words[0])
    said: list[str] = []

    def check_types() -> None:
        if children.run([python, "-m", *TYPES], said.append, env=env, cwd=places.ROOT):
            failed.append(TYPES[0])

    beside = threading.Thread(target=check_types, daemon=True)  # stopped, the front door does not wait for it
    if not arguments.rest:
        screen.line(f"Checking beside the tests: {' '.join(TYPES)}")
        beside.start()
    # each process takes the next file, in the order of tests/conftest.py
    in_turn = ["--dist", "loadfile", "--no-loadscope-reorder"]
    tests = ["-m", "pytest", "--numprocesses", arguments.cores, *in_turn, *arguments.rest]
    status = children.run([python, *tests], env=env, cwd=places.ROOT)
    if not arguments.rest:
        beside.join()
        screen.lines(said)
    if failed:
        screen.line(f"These checks failed: {', '.join(failed)}")
    return (status if status >= 0 else 128 - status) or int(bool(failed))  # a signal, as a shell counts it
