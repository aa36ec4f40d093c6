"""Figures of what the steps compute, timed inside this process."""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

from bench.timing import DEMO, HERE, ROOT, Bench, figure, in_turn


@figure(
    "a day of one set read, checked and put on one clock, "
    "over the fastest CSV reader at hand (pyarrow, stamps parsed)",
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
    """The demo as the interval step gets it.

    Segments, their shade function, sources, terms of a run in this process.
    """
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
    """Ends of the 95 % intervals of the segments' four terms and what follows from them.

    The plain way is timed on four segments and multiplied by their number.
    """

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
    """Half widths of the segments' net radiation.

    One model run with each source moved, against automatic differentiation of the sum of four terms with
    their first-order contributions as correlated inputs.
    """

    from headland.uncertainty import linear
    from headland.uncertainty.distributions import NORMAL_95
    from headland.uncertainty.draws import one_at_a_time
    from headland.uncertainty.inputs import shade_of
    from headland.uncertainty.model import measured

    try:
        from uncertainties import ufloat
    except ImportError:
        raise SystemExit("the bench `linear_check` needs `pip install uncertainties`") from None
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
