"""Figures of whole chains, timed as programs."""

from __future__ import annotations

import hashlib
import json
import shutil
import statistics
import subprocess
import sys
from pathlib import Path

from bench.timing import DEMO, HERE, Bench, figure, in_turn


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


@figure("a note saved, `report --follow` to the new page, over whole chain from nothing", 0.4)
def page_after_note(bench: Bench) -> dict:
    """The page, and as `rest_ratio` the PDF and the tables after it."""
    day, results = bench.demo_copy(), bench.fresh("results")
    colds = [bench.chain({results: day})]
    words = [str(word) for word in bench.chain_words({results: day})]
    script = bench.project / "scripts/verbs/follow.py"
    start = [sys.executable, script, "--campaign", day, "--results", results, "--", *words]
    environment = {**bench.environment, "PYTHONPATH": str(bench.project / "workflow")}
    pages, rests = [], []
    with subprocess.Popen(
        [str(word) for word in start],
        cwd=bench.project,
        env=environment,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    ) as running:
        said(running, "ready")
        for number in range(bench.runs):
            notes = (DEMO / "notes.csv").read_text(encoding="utf-8")
            edited = notes.replace("11:56:00", f"11:56:{number + 10}")
            (day / "notes.csv").write_text(edited, encoding="utf-8")
            pages.append(said(running, "page"))
            rests.append(said(running, "rest"))
            colds.append(bench.chain({bench.fresh("other results"): DEMO}))
        running.kill()  # Snakemake, in that process, waits at a polite end
    return {
        "ratio": statistics.median(page / cold for page, cold in zip(pages, colds[1:], strict=True)),
        "ours_s": statistics.median(pages),
        "other_s": statistics.median(colds[1:]),
        "rest_ratio": statistics.median(rest / cold for rest, cold in zip(rests, colds[1:], strict=True)),
    }


def said(running: subprocess.Popen, what: str) -> float:
    """Read what a following process says up to a mark; the seconds beside it."""
    for line in running.stdout:
        mark, *words = line.split() or [""]
        if mark == "FOLLOW" and words[0] == what:
            return float(words[2]) if len(words) > 2 else 0.0
    raise RuntimeError(f"the process ended before it said {what}")


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
    "four hours, two sets: figures, report and PDF over plain ones (every sample drawn, `weasyprint`, "
    "to be installed beside)",
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
    """Tables, figures, page and PDF of ten fresh runs on two cores, by checksum.

    Logs hold no results, and changes.* describe the run before.
    """

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
