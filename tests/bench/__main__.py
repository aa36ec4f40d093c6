"""What costs what, as ratios within one run.

    PYTHONPATH=tests:workflow python -m bench [--runs N] [--season N] [--keep FILE] [figure ...]

Without names of figures: all. Each figure times two commands in turn, so that what else the machine does strikes both, and gives the median of their ratios.
With --keep, results are added to a JSON file; `--page FILE` makes the tables of docs/performance.md from it, `--keep FILE --picture PNG` its picture.
"""

from __future__ import annotations

import argparse
import contextlib
import datetime
import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]
HERE = Path(__file__).parent
DEMO = ROOT / "demo_inputs"
FIGURES: dict[str, tuple[str, float, Callable]] = {}


def figure(words: str, target: float):
    def enter(function):
        FIGURES[function.__name__] = (words, target, function)
        return function

    return enter


class Bench:
    """A copy of the project to run in, and how often."""

    def __init__(self, folder: Path, runs: int, season: int):
        self.folder, self.runs, self.season, self.watch_memory = folder, runs, season, False
        self.project = folder / "project"
        self.project.mkdir()
        for name in (
            "Snakefile",
            "pyproject.toml",
            "config",
            "workflow",
            "scripts",
            "demo_inputs",
            "requirements.lock",
        ):
            (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(ROOT / name, self.project / name)
        (self.project / ".venv").symlink_to(ROOT / ".venv")
        self.environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")} | {
            "PYTHONUTF8": "1",
            "PYTHONHASHSEED": "0",
            "MPLBACKEND": "Agg",
            "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        }

    def timed(self, *command) -> float:
        """Wall time of a command, s; RuntimeError with its last lines where it fails. `most_memory` then has what its largest process took, MB (seen ten times a second)."""
        self.most_memory = 0.0
        with tempfile.TemporaryFile("w+") as said:
            began = time.perf_counter()
            running = psutil.Popen(
                [str(word) for word in command],
                cwd=self.project,
                env=self.environment,
                stdout=said,
                stderr=subprocess.STDOUT,
            )
            while running.poll() is None:
                for process in [running, *running.children(recursive=True)] if self.watch_memory else []:
                    with contextlib.suppress(psutil.Error):
                        self.most_memory = max(self.most_memory, process.memory_info().rss / 2**20)
                with contextlib.suppress(psutil.TimeoutExpired):
                    running.wait(0.1)
            took = time.perf_counter() - began
            if running.returncode:
                said.seek(0)
                raise RuntimeError("\n".join(said.read().splitlines()[-12:]))
        return took

    def chain(self, campaigns: dict, recorded: Path | None = None, *more) -> float:
        start = (
            [sys.executable, HERE / "recorded.py", recorded]
            if recorded
            else [sys.executable, "-m", "snakemake"]
        )
        named = json.dumps({str(results): str(campaign) for results, campaign in campaigns.items()})
        return self.timed(
            *start,
            "--snakefile",
            self.project / "Snakefile",
            "--workflow-profile",
            self.project / "config/profiles/laptop",
            "--cores",
            "2",
            "--config",
            f"campaigns= {named} ",
            *more,
        )

    def fresh(self, name: str) -> Path:
        folder = self.folder / name
        shutil.rmtree(folder, ignore_errors=True)
        return folder

    def demo_copy(self) -> Path:
        folder = self.fresh("day")
        shutil.copytree(DEMO, folder)
        return folder

    def some_campaigns(self, count: int) -> dict:
        """Campaigns of two sets and four hours, each with another sky: results folders to campaign folders."""
        from bench import hours

        made = {}
        for number in range(count):
            folder = self.folder / "season" / f"day{number:02}"
            if not folder.exists():
                hours.written(folder, number)
            made[self.folder / "season results" / folder.name] = folder
        return made


def in_turn(bench: Bench, ours: Callable[[], float], other: Callable[[], float]) -> dict:
    pairs = [(ours(), other()) for _ in range(bench.runs)]
    return {
        "ratio": statistics.median(a / b for a, b in pairs),
        "ours_s": statistics.median(a for a, _ in pairs),
        "other_s": statistics.median(b for _, b in pairs),
    }


@figure("demo, whole chain over one process calling the same steps with the same files", 1.5)
def demo_over_one_process(bench: Bench) -> dict:
    kept = bench.folder / "demo.json"
    bench.chain({bench.fresh("results"): DEMO}, kept)
    return in_turn(
        bench,
        lambda: bench.chain({bench.fresh("results"): DEMO}),
        lambda: bench.timed(sys.executable, HERE / "one_process.py", kept),
    )


@figure("one note edited, rerun over whole chain", 0.5)
def note_edited(bench: Bench) -> dict:
    day, results = bench.demo_copy(), bench.folder / "results"

    def rerun():
        notes = day / "notes.csv"
        lines = notes.read_text(encoding="utf-8").splitlines(keepends=True)
        at = next(i for i, line in enumerate(lines) if ",walk," in line)
        lines[at] = lines[at].replace(",walk,", ",stand,")
        notes.write_text("".join(lines), encoding="utf-8")
        return bench.chain({results: day})

    def whole():
        shutil.copy(DEMO / "notes.csv", day / "notes.csv")
        return bench.chain({bench.fresh("results"): day})

    pairs = [(whole(), rerun()) for _ in range(bench.runs)]
    return {
        "ratio": statistics.median(b / a for a, b in pairs),
        "ours_s": statistics.median(b for _, b in pairs),
        "other_s": statistics.median(a for a, _ in pairs),
    }


@figure("nothing to do over `snakemake --version`", 1.5)
def nothing_to_do(bench: Bench) -> dict:
    results = bench.fresh("results")
    bench.chain({results: DEMO})
    bench.chain({results: DEMO})
    return in_turn(
        bench,
        lambda: bench.chain({results: DEMO}),
        lambda: bench.timed(sys.executable, "-m", "snakemake", "--version"),
    )


@figure("season over one process calling the same steps with the same files", 2.1)
def season_over_one_process(bench: Bench) -> dict:
    campaigns, kept = bench.some_campaigns(bench.season), bench.folder / "season.json"
    bench.fresh("season results")
    bench.chain(campaigns, kept)
    first = bench.timed(sys.executable, HERE / "one_process.py", kept)
    bench.fresh("season results")
    again = bench.chain(campaigns)
    return {
        "ratio": again / first,
        "ours_s": again,
        "other_s": first,
        "campaigns": bench.season,
        "jobs": len(json.loads(kept.read_text())),
    }


@figure("season over one of half as many campaigns", 2.0)
def season_over_half(bench: Bench) -> dict:
    return grown(
        bench,
        "campaigns",
        [
            ("campaigns of two sets and four hours", bench.season // parts, bench.some_campaigns)
            for parts in (4, 2, 1)
        ],
    )


@figure("one changed file over the whole season", 0.25)
def one_changed_file(bench: Bench) -> dict:
    campaigns = bench.some_campaigns(bench.season)
    bench.fresh("season results")
    whole = bench.chain(campaigns)
    notes = next(iter(campaigns.values())) / "notes.csv"
    notes.write_text(notes.read_text(encoding="utf-8").replace(",walk,", ",stand,", 1), encoding="utf-8")
    changed = bench.chain(campaigns)
    return {"ratio": changed / whole, "ours_s": changed, "other_s": whole, "campaigns": bench.season}


@figure(
    "four hours, two sets: figures, report and PDF over plain ones (every sample drawn, `weasyprint`, to be installed beside)",
    0.55,
)
def figures_over_plain(bench: Bench) -> dict:
    from bench import hours

    kept, results = bench.folder / "hours.json", bench.fresh("results")
    bench.chain({results: hours.written(bench.fresh("hours"))}, kept)
    drawing = [
        job
        for job in json.loads(kept.read_text())
        if Path(job[0]).stem in ("figures_of_samples", "figures", "report", "report_pdf")
    ]
    kept.write_text(json.dumps(drawing))
    sizes = {}

    def sized(script):
        def run():
            took = bench.timed(sys.executable, HERE / script, kept)
            sizes[script] = (results / "report.pdf").stat().st_size
            return took

        return run

    found = in_turn(bench, sized("one_process.py"), sized("plain_figures.py"))
    return found | {
        "pdf_size_ratio": sizes["one_process.py"] / sizes["plain_figures.py"],
        "pdf_bytes": sizes["one_process.py"],
    }


@figure("quick look over whole chain", 0.3)
def look_over_chain(bench: Bench) -> dict:
    return in_turn(
        bench,
        lambda: bench.timed(
            sys.executable, bench.project / "scripts/verbs/look.py", DEMO, bench.fresh("look")
        ),
        lambda: bench.chain({bench.fresh("results"): DEMO}),
    )


@figure("whole chain over a thirty-line notebook on the same campaign", 15.0)
def chain_over_notebook(bench: Bench) -> dict:
    return in_turn(
        bench,
        lambda: bench.chain({bench.fresh("results"): DEMO}),
        lambda: bench.timed(sys.executable, HERE / "notebook.py", DEMO),
    )


@figure("the same with the notebook's pictures, of the components and of net radiation", 15.0)
def chain_over_notebook_with_pictures(bench: Bench) -> dict:
    (bench.folder / "pictures").mkdir()
    return in_turn(
        bench,
        lambda: bench.chain({bench.fresh("results"): DEMO}),
        lambda: bench.timed(sys.executable, HERE / "notebook.py", DEMO, bench.folder / "pictures"),
    )


@figure("outputs that differ among ten parallel runs", 0.0)
def ten_runs(bench: Bench) -> dict:
    """Tables, figures, page and PDF of ten fresh runs on two cores, by checksum; logs hold no results, changes.* tell of the run before."""
    import hashlib

    seen: dict[str, set] = {}
    for _ in range(10):
        results = bench.fresh("results")
        bench.chain({results: DEMO})
        for path in sorted(results.rglob("*")):
            if (
                path.is_file()
                and path.suffix != ".log"
                and "previous_run" not in path.parts
                and not path.name.startswith(("changes", ".snakemake"))
            ):
                seen.setdefault(str(path.relative_to(results)), set()).add(
                    hashlib.sha256(path.read_bytes()).hexdigest()
                )
    return {
        "ratio": sum(len(found) > 1 for found in seen.values()),
        "files": len(seen),
        "differing": [name for name, found in seen.items() if len(found) > 1],
    }


@figure(
    "a day of one set read, checked and put on one clock, over the fastest CSV reader at hand (pyarrow, stamps parsed)",
    3.0,
)
def reading_over_reader(bench: Bench) -> dict:
    from pyarrow import csv

    from bench import days
    from headland.chain import ingest, notes
    from headland.files import logger_files, settings

    campaign = days.written(bench.fresh("day"), 1)
    entry = settings.load(campaign, ROOT / "config")["sets"]["curlew"]
    path, layout = campaign / entry["raw"][0], entry["layout"]
    options = csv.ConvertOptions(timestamp_parsers=["%Y-%m-%d %H:%M:%S"])

    def ours() -> float:
        began = time.perf_counter()
        with path.open("rb") as stream:
            frame, _ = logger_files.read_logger_file(
                stream,
                path.name,
                "curlew",
                layout,
                utc_offset=notes.offset_of(entry["utc_offset"]),
                logger_id=entry["logger_id"],
            )
        ingest.join_files([frame], layout["interval"], "curlew")
        return time.perf_counter() - began

    def other() -> float:
        began = time.perf_counter()
        csv.read_csv(path, convert_options=options).to_pandas()
        return time.perf_counter() - began

    ours(), other()
    return in_turn(bench, ours, other)


@figure("four hours, two sets: steps 2 to 8 over step 1, in one process that has everything loaded", 3.0)
def computing_over_reading(bench: Bench) -> dict:
    from bench import hours

    kept = bench.folder / "hours.json"
    bench.chain({bench.fresh("results"): hours.written(bench.fresh("hours"))}, kept)
    chosen = [
        job
        for job in json.loads(kept.read_text())
        if Path(job[0]).stem
        in (
            "ingest",
            "calibrate",
            "correct_longwave",
            "screen",
            "segment",
            "summarise",
            "balance",
            "propagate",
            "diagnose",
        )
    ]
    kept.write_text(json.dumps(chosen))
    pairs = []
    for _ in range(bench.runs):
        done = subprocess.run(
            [sys.executable, HERE / "one_process.py", kept, "twice"],
            cwd=bench.project,
            env=bench.environment,
            text=True,
            capture_output=True,
            check=True,
        )
        took = json.loads(done.stderr.splitlines()[-1])
        reading = sum(seconds for step, seconds in took if step == "ingest")
        pairs.append((sum(seconds for _, seconds in took) - reading, reading))
    return {
        "ratio": statistics.median(a / b for a, b in pairs),
        "ours_s": statistics.median(a for a, _ in pairs),
        "other_s": statistics.median(b for _, b in pairs),
    }


def prepared():
    """The demo as the interval step gets it: segments, their shade function, sources, terms of a run in this process."""
    import pandas as pd

    import chain
    from headland.chain import weather
    from headland.files import settings, user_tables
    from headland.files.surfaces import surface_classes
    from headland.files.uncertainty_terms import uncertainty_terms
    from headland.uncertainty import inputs
    from headland.uncertainty.sources import instrument_sources

    S = settings.load(DEMO, ROOT / "config")
    outcome = chain.run(DEMO, draws=64)
    air, _ = user_tables.read_weather([DEMO / S["weather_file"]] if S["weather_file"] else [])
    surfaces = surface_classes(ROOT / "config/surfaces.csv", S["overrides"]["surfaces"])
    terms = uncertainty_terms(ROOT / "config/uncertainty.csv")
    temperature = weather.at(outcome.segments["start_utc"], air, S["weather"])["air_temperature"]
    segments = inputs.prepare(outcome.segments, S["carrying"], temperature, surfaces)
    sources = instrument_sources(segments, pd.concat(outcome.certificates.values(), ignore_index=True), terms)
    return segments, S["carrying"], sources


@figure("Monte Carlo of all segments over 200,000 fresh draws a segment", 0.1)
def monte_carlo(bench: Bench) -> dict:
    """Ends of the 95 % intervals of the segments' four terms and what follows from them. The plain way is timed on four segments and taken times their number."""
    import numpy as np

    from headland.uncertainty import draws, intervals, linear
    from headland.uncertainty.inputs import shade_of
    from headland.uncertainty.model import measured

    segments, carrying, sources = prepared()
    count, few = len(segments), 4

    def ours(seed=0):
        shade, xi = shade_of(segments, carrying), draws.scores(sources, seed, 16384)
        flux = measured(segments, shade, draws.moved(sources, xi))
        parts = linear.linear_parts(
            linear.contributions(measured(segments, shade, draws.one_at_a_time(sources))),
            sources,
            [xi],
        )
        return {name: intervals.ends(rows, parts[name]) for name, rows in flux.items()}

    def plain():
        generator = np.random.default_rng(0)
        for index in range(few):
            one = segments.iloc[[index]].reset_index(drop=True)
            errors: dict = {}
            for source in sources:
                xi = source.distribution.quantiles(generator.random(200_000))
                if source.amplitude:
                    xi = xi * source.factor(generator.random(200_000))
                for name in {*source.shift, *source.middle}:
                    size, middle = (
                        part.get(name, np.zeros(count))[index] for part in (source.shift, source.middle)
                    )
                    errors[name] = errors.get(name, 0.0) + (middle + xi * size)[:, None]
            for rows in measured(one, shade_of(one, carrying), errors).values():
                np.quantile(rows, [0.025, 0.975], axis=0)

    def timed(function):
        began = time.perf_counter()
        function()
        return time.perf_counter() - began

    ours()
    pairs = [(timed(ours), timed(plain) * count / few) for _ in range(bench.runs)]
    ends = [ours(seed) for seed in range(1, 13)]
    off = []
    for name in ends[0]:
        every = np.stack([one[name] for one in ends])
        middle = every.mean(axis=0)
        width = middle[1] - middle[0]
        with np.errstate(invalid="ignore", divide="ignore"):
            off.append((np.abs(every - middle) / width).ravel())
    return {
        "ratio": statistics.median(a / b for a, b in pairs),
        "ours_s": statistics.median(a for a, _ in pairs),
        "other_s": statistics.median(b for _, b in pairs),
        "end_off_percent_p95": 100.0 * float(np.nanquantile(np.concatenate(off), 0.95)),
        "sources": len(sources),
        "segments": count,
    }


@figure("linear check over the `uncertainties` package (to be installed beside)", 0.1)
def linear_check(bench: Bench) -> dict:
    """Half widths of the segments' net radiation: one model run with each source moved, against automatic differentiation of net = sum of four terms with their first-order
    contributions as correlated inputs."""
    import numpy as np

    from headland.uncertainty import linear
    from headland.uncertainty.distributions import NORMAL_95
    from headland.uncertainty.draws import one_at_a_time
    from headland.uncertainty.inputs import shade_of
    from headland.uncertainty.model import measured

    try:
        from uncertainties import ufloat
    except ImportError:
        raise SystemExit("the bench `linear_check` needs `pip install uncertainties`")
    segments, carrying, sources = prepared()
    shade = shade_of(segments, carrying)
    parts = linear.contributions(measured(segments, shade, one_at_a_time(sources)))

    def ours():
        return linear.half_width(
            linear.contributions(measured(segments, shade, one_at_a_time(sources)))["net_radiation"]
        )

    def other():
        inputs = [ufloat(0.0, 1.0) for _ in sources]
        found = []
        for index in range(len(segments)):
            terms = [
                sum(float(parts[name][k, index]) * one for k, one in enumerate(inputs))
                for name in ("sw_in", "sw_out", "lw_in", "lw_out")
            ]
            found.append(NORMAL_95 * (terms[0] - terms[1] + terms[2] - terms[3]).s)
        return np.array(found)

    def timed(function):
        began = time.perf_counter()
        value = function()
        return time.perf_counter() - began, value

    ours()
    pairs = [(timed(ours), timed(other)) for _ in range(bench.runs)]
    apart = max(float(np.max(np.abs(a[1] / b[1] - 1.0))) for a, b in pairs)
    return {
        "ratio": statistics.median(a[0] / b[0] for a, b in pairs),
        "ours_s": pairs[0][0][0],
        "other_s": pairs[0][1][0],
        "apart": apart,
    }


def grown(bench: Bench, named: str, sizes: Sequence[tuple[str, int, Callable]]) -> dict:
    """What campaigns of growing size take: wall time, memory of the largest process, disk. sizes: (what, how much of it, a function of that that gives results folders and campaign
    folders). The ratios are of the last size to the one before, which is half of it; `off_linear_percent` is the largest distance of a wall time from the line through all."""
    import numpy as np

    found = []
    bench.watch_memory = True
    for what, amount, campaigns in sizes:
        chosen = campaigns(amount)
        for results in chosen:
            bench.fresh(str(results))
        # many campaigns are made into reports; a long one is followed as far as its checks: its report has a page for every twenty walks
        wall = bench.chain(chosen, None, *(() if named == "campaigns" else ("--until", "checks")))
        size = lambda folders: (
            sum(path.stat().st_size for folder in folders for path in folder.rglob("*") if path.is_file())
            / 1e6
        )
        samples = sum(
            path.read_bytes().count(b"\n")
            for folder in chosen.values()
            for path in (folder / "logger").iterdir()
        )
        found.append(
            {
                "what": f"{amount} {what}",
                "samples": samples,
                "wall_s": wall,
                "memory_mb": bench.most_memory,
                "in_mb": size(chosen.values()),
                "out_mb": size(chosen),
            }
        )
        print("   ", found[-1], flush=True)
    amounts, walls = (np.array([row[key] for row in found], float) for key in ("samples", "wall_s"))
    line = np.polyval(np.polyfit(amounts, walls, 1), amounts)
    last, half = found[-1], found[-2]
    return {
        "ratio": last["wall_s"] / half["wall_s"],
        "ours_s": last["wall_s"],
        "other_s": half["wall_s"],
        "memory_ratio": last["memory_mb"] / half["memory_mb"],
        "off_linear_percent": 100.0 * float(np.max(np.abs(walls / line - 1.0))),
        "sizes": found,
    }


def one_campaign(bench: Bench, **how) -> Callable:
    from bench import days

    return lambda amount: {
        bench.fresh("results"): days.written(
            bench.fresh("many days"),
            **{name: amount if value is None else value for name, value in how.items()},
        )
    }


@figure("thirty days at 1 Hz, two sets: wall time over that of fifteen", 2.1)
def days_doubled(bench: Bench) -> dict:
    return grown(
        bench,
        "days",
        [("days at 1 Hz, two sets", amount, one_campaign(bench, days=None)) for amount in (4, 8, 15, 30)],
    )


@figure("a day at 10 Hz, two sets: wall time over that at 5 Hz", 2.1)
def rate_doubled(bench: Bench) -> dict:
    return grown(
        bench,
        "rate",
        [
            ("Hz for a day, two sets", amount, one_campaign(bench, days=1, rate=None))
            for amount in (1, 2, 5, 10)
        ],
    )


def page(kept: Path) -> str:
    """The tables of docs/performance.md."""
    lines = ["| figure | ratio | target | ours, s | other, s | more |", "|---|---|---|---|---|---|"]
    rows = json.loads(kept.read_text(encoding="utf-8"))
    for name, row in rows.items():
        more = ", ".join(
            f"{key.replace('_', ' ')} {value:.3g}"
            if isinstance(value, float)
            else f"{key.replace('_', ' ')} {value}"
            for key, value in row.items()
            if key not in ("ratio", "ours_s", "other_s", "date", "machine", "sizes") and value != []
        )
        words, target, _ = FIGURES[name]
        seconds = [f"{row[key]:.3g}" if key in row else "" for key in ("ours_s", "other_s")]
        lines.append(f"| {words} | {row['ratio']:.3g} | {target:g} | {seconds[0]} | {seconds[1]} | {more} |")
    sizes = [
        "| size | samples, millions | wall, s | memory of the largest process, MB | in, MB | out, MB |",
        "|---|---|---|---|---|---|",
    ]
    sizes += [
        f"| {size['what']} | {size['samples'] / 1e6:.2f} | {size['wall_s']:.0f} | {size['memory_mb']:.0f} | {size['in_mb']:.0f} | {size['out_mb']:.0f} |"
        for row in rows.values()
        for size in row.get("sizes", [])
    ]
    return "\n".join(
        [
            *lines,
            "",
            *dict.fromkeys(f"{row['date']}, {row['machine']}." for row in rows.values()),
            "",
            *sizes,
            "",
        ]
    )


def picture(kept: Path, out: Path) -> None:
    """The picture of docs/performance.md: wall time, memory and disk against the number of samples."""
    from matplotlib import rc_context
    from matplotlib.figure import Figure

    from headland.report import figures

    rows = json.loads(kept.read_text(encoding="utf-8"))
    with rc_context(figures.STYLE):
        drawn = Figure(figsize=(7.0, 2.6), layout="constrained")
        for ax, (key, title) in zip(
            drawn.subplots(1, 3),
            (
                ("wall_s", "wall time, s"),
                ("memory_mb", "memory of the largest process, MB"),
                ("out_mb", "results on disk, MB"),
            ),
        ):
            for (name, label), marker in zip(
                (
                    ("season_over_half", "campaigns of four hours"),
                    ("days_doubled", "days at 1 Hz"),
                    ("rate_doubled", "a day at 1 to 10 Hz"),
                ),
                "os^",
            ):
                sizes = rows.get(name, {}).get("sizes", [])
                ax.plot(
                    [size["samples"] / 1e6 for size in sizes],
                    [size[key] for size in sizes],
                    marker=marker,
                    markersize=4,
                    label=label,
                )
            ax.set(xlabel="samples, millions", title=title, xlim=(0, None), ylim=(0, None))
        drawn.axes[2].legend(loc="lower right")
        drawn.savefig(out, dpi=160, metadata={"Software": None})


def main(words: Sequence[str]) -> None:
    parser = argparse.ArgumentParser(prog="bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="figure", help=", ".join(FIGURES))
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--season", type=int, default=40, help="campaigns of the season")
    parser.add_argument("--keep", type=Path)
    parser.add_argument("--page", type=Path)
    parser.add_argument("--picture", type=Path, help="draw the sizes kept with --keep")
    args = parser.parse_args(words)
    if args.page:
        print(page(args.page), end="")
        return
    if args.picture:
        picture(args.keep, args.picture)
        return
    for name in args.names or FIGURES:
        with tempfile.TemporaryDirectory(prefix="headland-bench-") as folder:
            words_, target, function = FIGURES[name]
            print(f"{words_} ...", flush=True)
            found = function(Bench(Path(folder), args.runs, args.season))
        print(f"  {found['ratio']:.3f} (target {target:g})  {found}", flush=True)
        if args.keep:
            before = json.loads(args.keep.read_text(encoding="utf-8")) if args.keep.exists() else {}
            machine = f"{os.cpu_count()} cores, Python {platform.python_version()}"
            args.keep.write_text(
                json.dumps(
                    before | {name: found | {"date": datetime.date.today().isoformat(), "machine": machine}},
                    indent=1,
                ),
                encoding="utf-8",
            )


if __name__ == "__main__":
    main(sys.argv[1:])
