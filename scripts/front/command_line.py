"""The command line: its verbs, their arguments, and what a run ends with."""

import argparse
import difflib
import io
import os
import signal
import sys
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path

from front import class_verbs, places, problems, runlog, verbs
from front.problems import CannotStart, Fault, Stopped
from front.screen import Screen, plain

HELP = "python3 scripts/headland.py --help"
STOPPING = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Parser(argparse.ArgumentParser):
    """Usage errors as one plain line; a missing argument shows the verb's help as well."""

    def error(self, message: str):
        line = f"{self.prog}: {message}"
        if "required" in message and self.prog != "headland":
            raise CannotStart(f"{line}\n\n{self.format_help().rstrip()}")
        raise CannotStart(f"{line} (help: {HELP})")


def count_of_cores(text: str) -> int:
    if not text.isdecimal() or int(text) < 1:
        raise argparse.ArgumentTypeError(f"{text!r} is not a number of cores such as 2")
    return int(text)


def cores_here() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Verbs:
    """The verbs of the command line, each with what all have."""

    def __init__(self, parser: Parser):
        self.parsers = parser.add_subparsers(metavar="VERB", title="verbs", parser_class=Parser)

    def add(self, name: str, function: Callable, text: str, **more) -> argparse.ArgumentParser:
        added = self.parsers.add_parser(name, help=text, description=text, allow_abbrev=False, **more)
        added.set_defaults(function=function, rest=[])
        text = "how many cores to use (default: all)"
        added.add_argument("--cores", type=count_of_cores, default=cores_here(), metavar="N", help=text)
        added.add_argument(
            "--install",
            "--mend",
            action="store_true",
            help="install what is missing with this machine's own installer; each command is printed first",
        )
        return added

    def on_campaign(self, name: str, function: Callable, text: str, results: str) -> argparse.ArgumentParser:
        added = self.add(name, function, text)
        added.add_argument("campaign", type=Path, metavar="CAMPAIGN", help="the campaign folder")
        default = f"{results} (default: results/<folder name>)"
        added.add_argument("--results", type=Path, metavar="DIR", help=default)
        return added


def add_main_verbs(verb: Verbs) -> None:
    """Verbs for a campaign's results."""
    where = "where results go"
    verb.add("demo", verbs.run_demo, "run the whole chain on the example campaign in demo_inputs")
    text = "run the whole chain on a campaign folder; steps that are up to date are skipped"
    report = verb.on_campaign("report", verbs.run_report, text, where)
    text = "stay, watch the folder, and refresh the page after each saved change, until Ctrl-C"
    report.add_argument("--follow", action="store_true", help=text)
    text = "print the questions of `exercises` in the report, without their answers"
    report.add_argument("--with-questions", action="store_true", help=text)
    text = "also write the fields as results.geojson"
    report.add_argument("--geojson", action="store_true", help=text)
    text = "also write surfaces and fields as results.nc"
    report.add_argument("--netcdf", action="store_true", help=text)
    text = "plan a day from the campaign's plan.csv: order, headings and a form for the notes"
    verb.on_campaign("plan", verbs.run_plan, text, where)
    text = "take a quick look before driving home: one page, no notes needed"
    look = verb.on_campaign("look", verbs.run_look, text, where)
    text = "look again whenever a file arrives or grows, until Ctrl-C"
    look.add_argument("--follow", action="store_true", help=text)
    text = "sound the terminal's bell whenever a new lamp says look or act (with --follow)"
    look.add_argument("--beep", action="store_true", help=text)
    season = verb.add("season", verbs.run_season, "run many campaigns and make one table across them")
    season.add_argument("folders", type=Path, nargs="+", metavar="FOLDER", help="campaign folders")
    text = "where the table goes (default: results/season)"
    season.add_argument("--results", type=Path, metavar="DIR", help=text)
    text = "also put campaigns with errors in the tables and figures"
    season.add_argument("--with-errors", action="store_true", help=text)
    text = "also pack one file of the season's tables and an archive of each campaign"
    season.add_argument("--archive", type=Path, metavar="FILE.zip", help=text)
    text = "run each campaign as a job of a cluster, by config/profiles/NAME, such as slurm (docs/cluster.md)"
    season.add_argument("--profile", metavar="NAME", help=text)


def add_class_verbs(verb: Verbs) -> None:
    """Verbs for a class."""
    text = "make a campaign folder to fill in; or, with --from and --groups, a pack for each group of a class"
    new = verb.add("new", class_verbs.run_new, text)
    new.add_argument("folder", type=Path, metavar="FOLDER", help="the folder to make or to preview")
    text = "a logger's file, or a folder of them; layouts are worked out from it; may be repeated"
    new.add_argument("--from-file", dest="sample", action="append", type=Path, metavar="FILE", help=text)
    text = "only show the first rows of each set as they are read, with names, units and times"
    new.add_argument("--preview", action="store_true", help=text)
    text = "the campaign whose surfaces and files are dealt to groups"
    new.add_argument("--from", dest="source", type=Path, metavar="CAMPAIGN", help=text)
    text = "columns: group, and surfaces (optional)"
    new.add_argument("--groups", type=Path, metavar="GROUPS.csv", help=text)

    where = "where the campaign's results are"
    text = "check students' numbers against the chain's: a page for each, a table for the teacher"
    answers = verb.on_campaign("answers", class_verbs.run_answers, text, where)
    text = "columns: who (optional), segment or surface, quantity, value, unit, uncertainty (optional)"
    answers.add_argument("answers", type=Path, metavar="ANSWERS.csv", help=text)
    text = "leave the chain's own numbers out of all pages and tables"
    answers.add_argument("--hide-values", action="store_true", help=text)
    text = "number of the attempt; from the second on, hints give the formula and the tolerance"
    answers.add_argument("--attempt", type=int, default=1, metavar="N", help=text)
    text = "make a sheet of questions from the campaign's own numbers, and the key in a file of its own"
    exercises = verb.on_campaign("exercises", class_verbs.run_exercises, text, where)
    text = "compare several people's notes of one walk"
    notes = verb.on_campaign("class-notes", class_verbs.run_class_notes, text, where)
    text = "a file of notes for each person, named after who wrote it"
    notes.add_argument("notes", type=Path, nargs="+", metavar="NOTES", help=text)
    for added, folder in ((answers, "answers"), (exercises, "exercises"), (notes, "class_notes")):
        text = f"where the pages go (default: the folder {folder} in the results)"
        added.add_argument("--out", type=Path, metavar="DIR", help=text)


def add_other_verbs(verb: Verbs) -> None:
    """Verbs for keeping, checking and developing."""
    text = "pack inputs, results, settings and the workflow into one file with checksums"
    archive = verb.on_campaign("archive", class_verbs.run_archive, text, "where results go")
    text = "the archive (default: beside the results)"
    archive.add_argument("--out", type=Path, metavar="FILE.zip", help=text)
    text = "leave out remarks, and columns that Headland does not use, in notes and register"
    archive.add_argument("--without-remarks", action="store_true", help=text)
    text = "include the libraries, so that a machine like this one can rerun it without a network"
    archive.add_argument("--wheels", action="store_true", help=text)
    text = "check whether an archive is intact and complete; with --run, whether it gives the same numbers"
    verify = verb.add("verify", verbs.run_verify, text)
    verify.add_argument("file", type=Path, metavar="FILE.zip", help="the archive")
    text = "another archive: say what differs between the two"
    verify.add_argument("other", type=Path, nargs="?", metavar="OTHER.zip", help=text)
    text = "compute the archive's inputs again with these programs, if its own are the same, and compare"
    verify.add_argument("--run", action="store_true", help=text)
    text = "with --run, run the archive's own programs if they differ; they then run with your rights"
    verify.add_argument("--run-foreign-code", action="store_true", help=text)
    text = "check the code and run the tests; other arguments go to pytest, and the code is not checked"
    usage = "headland test [--cores N] [--install] [arguments of pytest]"
    verb.add("test", verbs.run_test, text, usage=usage)


def parse(words: Sequence[str]) -> argparse.Namespace:
    """The command line as `function`, its arguments, and `rest`: words for pytest."""
    parser = Parser(
        prog="headland",
        allow_abbrev=False,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        description="From a walked net-radiation survey to a lab report.",
    )
    parser.add_argument("--version", action="version", version=f"Headland {places.version()}")
    verb = Verbs(parser)
    add_main_verbs(verb)
    add_class_verbs(verb)
    add_other_verbs(verb)
    known = verb.parsers.choices
    if not words:
        raise CannotStart(f"Say what to do: {', '.join(known)} (help: {HELP})")
    if not words[0].startswith("-") and words[0] not in known:
        nearest = difflib.get_close_matches(words[0], known, n=1)
        meant = f"Did you mean `{nearest[0]}`? " if nearest else ""
        raise CannotStart(f"There is no verb `{plain(words[0])}`. {meant}The verbs are {', '.join(known)}.")
    arguments, rest = parser.parse_known_args(words)
    if arguments.function is verbs.run_test:
        arguments.rest = rest
    elif rest:
        parser.error(f"not understood: {plain(' '.join(rest))}")
    return arguments


def say(text: str) -> None:
    """Lines for the user, on the stream for errors, with nothing in them that could steer a terminal."""
    for line in text.split("\n"):
        print(places.printable(line), file=sys.stderr)


def stop(number: int, frame) -> None:
    for each in STOPPING:
        signal.signal(each, signal.SIG_IGN)  # one is enough: children are being ended
    raise Stopped(number)


def ready_to_speak() -> None:
    """Let no letter that a terminal lacks, and no closed stream, end a run: what can't be said is lost."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def main(words: Sequence[str]) -> int:
    """Do what a command line asks; the exit status."""
    for number in STOPPING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, stop)
    ready_to_speak()
    try:
        arguments = parse(words)
        return arguments.function(arguments, Screen(sys.stdout))
    except CannotStart as problem:
        say(str(problem))
        return 2
    except Fault as problem:
        say(str(problem))
        return 1
    except Stopped as signalled:
        say("Stopped. What was finished is kept; the same command goes on from there.")
        return 128 + signalled.args[0]
    except BrokenPipeError:  # the reader of this output has gone
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 128 + signal.SIGPIPE
    except Exception as problem:
        return unforeseen(problem)


def unforeseen(problem: Exception) -> int:
    """A fault of the machine in its own plain line, or one of Headland's with its trace in the log; the
    exit status.
    """
    if isinstance(problem, RuntimeError) and "home directory" in str(problem):
        say(
            "This user has no home folder: set HOME to a folder that you can write, "
            "and run the same command again."
        )
        return 2
    known = problems.of_system(problem)
    if known:
        say(known)
        return 2
    runlog.keep(traceback.format_exc().splitlines())
    say(problems.please_report())
    return 1
