"""Figures of campaigns that grow: time, memory and disk against the number of samples."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from bench.timing import Bench, figure


def grown(bench: Bench, named: str, sizes: Sequence[tuple[str, int, Callable]]) -> dict:
    """What campaigns of growing size take: wall time, memory of the largest process, disk.

    sizes: (what, how much of it, a function of that amount that gives campaign folders by results folder).
    The ratios are of the last size to the one before, which is half of it. `off_linear_percent` is the
    largest distance of a wall time from the line through all.
    """

    found = []
    bench.watch_memory = True
    for what, amount, campaigns in sizes:
        chosen = campaigns(amount)
        for results in chosen:
            bench.fresh(str(results))
        # many campaigns are made into reports; a long one is followed as far as its checks, because its
        # report has a page for every twenty walks
        wall = bench.chain(chosen, None, *(() if named == "campaigns" else ("--until", "checks")))
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
                "in_mb": megabytes(chosen.values()),
                "out_mb": megabytes(chosen),
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


def megabytes(folders) -> float:
    """The size of all files in folders, MB."""
    files = (path for folder in folders for path in folder.rglob("*") if path.is_file())
    return sum(path.stat().st_size for path in files) / 1e6


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
