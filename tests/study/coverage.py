"""How often the 95 % intervals hold the truth: a study of simulated campaigns.

`python -m study.coverage` writes docs/coverage.md. It has two parts. On summarised segments
(`simulate.summarised`): thousands of campaigns, the same also wrongly (every error redrawn for each segment)
and under stress. End to end (`simulate.specs.demo` and its like): logger files and notes through the whole
chain.
"""

from __future__ import annotations

import argparse
import contextlib
import dataclasses
import datetime as dt
import platform
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from pathlib import Path
from unittest import mock

import numpy as np
import pandas as pd
import scipy

import chain
from headland.base.groups import GROUPINGS
from headland.chain import balance, summarise
from headland.files.own_numbers import course_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs, propagate
from headland.uncertainty.course import course_sizes
from headland.uncertainty.draws import Source
from headland.uncertainty.model import MEASURED
from simulate import campaign, specs, summarised
from simulate.spec import Errors, Spec
from study import dated

ROOT = Path(__file__).parents[2]
CLASSES = surface_classes(ROOT / "config" / "surfaces.csv", {})
TERMS = uncertainty_terms(ROOT / "config" / "uncertainty.csv")
TERMS["course"] = TERMS["course"] | {"enabled": "false"}
"""Simulated surfaces follow nothing but the sky between their visits, so what stays unknown of their course
is switched off: `test_course` shows that it is right for a course as described, `study.world` for days."""
COURSE = course_sizes(course_rows(ROOT / "config" / "course.csv"))
LOWEST, HIGHEST, LOWEST_UNDER_STRESS = 0.937, 0.962, 0.90
"""Bounds that the study must keep, and those under stress (common practice, no source)."""
STEADY = summarised.STEADY

Counts = dict[tuple[str, str], list[int]]
"""Hits and trials by (kind, quantity); kind: segment, surface, difference."""


def unheard(done: int) -> None:
    """Progress that nobody reads."""


def count(counts: Counts, key: tuple[str, str], ends: tuple, truth) -> None:
    """Add to the counts whether intervals hold the truth; without an interval or a truth it is no trial."""
    low, high, truth = (np.asarray(x, dtype=float) for x in (*ends, truth))
    tried = np.isfinite(low) & np.isfinite(high) & np.isfinite(truth)
    entry = counts.setdefault(key, [0, 0])
    entry[0] += int(((low <= truth) & (truth <= high) & tried).sum())
    entry[1] += int(tried.sum())


def ends_of(table: pd.DataFrame, quantity: str) -> tuple:
    """Both ends of a quantity's intervals."""
    return table[f"{quantity}_low"], table[f"{quantity}_high"]


def compare(
    counts: Counts,
    result: propagate.Result,
    truth_segments: pd.DataFrame,
    truth_surfaces: pd.DataFrame,
    truth_pairs: pd.DataFrame | None = None,
) -> None:
    """Count a campaign's intervals. Truths are indexed by segment, by surface and by pair of surfaces.

    Differences are those at a common moment: without a truth of these they are not counted.
    """
    own = result.segments.set_index("segment")
    known = truth_segments.index.intersection(own.index)
    for q in MEASURED:
        count(counts, ("segment", q), ends_of(own.loc[known], q), truth_segments.loc[known, q])
    surfaces = result.surfaces.set_index("surface")
    for q in summarised.FIELD:
        count(counts, ("surface", q), ends_of(surfaces, q), truth_surfaces[q].reindex(surfaces.index))
    if truth_pairs is None:
        return
    for q, rows in result.differences.groupby("quantity"):
        pairs = pd.MultiIndex.from_frame(rows[["surface_a", "surface_b"]])
        count(counts, ("difference", str(q)), ends_of(rows, "difference"), truth_pairs[q].reindex(pairs))


def as_if_redrawn(sources: Iterable[Source]) -> list[Source]:
    """The same errors, wrongly taken as another one for each segment, as if all were independent."""
    split = []
    for source in sources:
        size = len(next(iter(source.shift.values())))
        for i in range(size):
            one = np.arange(size) == i
            if any(shift[i] for shift in source.shift.values()):
                split.append(
                    dataclasses.replace(
                        source,
                        unit=f"{source.unit}|{i}",
                        amplitude=source.amplitude and f"{source.amplitude}|{i}",
                        shift={k: np.where(one, v, 0.0) for k, v in source.shift.items()},
                        middle={k: np.where(one, v, 0.0) for k, v in source.middle.items()},
                    )
                )
    return split


def inputs_of(made: summarised.Summarised) -> inputs.Inputs:
    """What step 8 gets of a summarised campaign, by the chain's own functions from step 6 on."""
    # words as plain objects take a third of the time
    words = {name: object for name, kind in made.segments.dtypes.items() if kind == "str"}
    read = made.segments.astype(words)
    sky = summarise.reference_sky(read)
    segments = summarise.with_common_sky(read, CLASSES, sky)
    means = {kind: summarise.groups(segments, by, CLASSES, sky) for kind, by in GROUPINGS.items()}
    known = {"air_temperature": 20.0, "air_source": "", "pressure": 980.0, "wind_speed": np.nan}
    methods = {"ground_heat": "class_fraction", "green_cover": "priestley_taylor"}
    visits = balance.visits_of(
        segments,
        surfaces=CLASSES,
        methods=methods,
        air=pd.DataFrame(known, index=range(len(segments))),
        after_noon=np.zeros(len(segments)),
    )
    balances = {
        kind: balance.groups(frame, visits, GROUPINGS[kind], methods)[0] for kind, frame in means.items()
    }
    balances["visits"] = visits
    carrying = dataclasses.asdict(summarised.CARRYING)
    prepared = inputs.prepare(segments, carrying, np.full(len(segments), made.air), CLASSES)
    return inputs.Inputs(prepared, means, balances, made.certificates, CLASSES, TERMS, carrying, COURSE)


def of_summarised(made: summarised.Summarised, draws: int, seed: int) -> propagate.Result:
    """Intervals for a summarised campaign."""
    return propagate.propagate(inputs_of(made), seed, draws)


@contextlib.contextmanager
def errors_redrawn() -> Iterator[None]:
    """Wrongly, while it lasts: every error of instruments is a new one in each segment."""
    right = propagate.instrument_sources

    def wrong(*args) -> list[Source]:
        return as_if_redrawn(right(*args))

    with mock.patch.object(propagate, "instrument_sources", wrong):
        yield


def on_segments(
    seeds: Iterable[int],
    draws: int = 1500,
    errors: Errors = STEADY,
    progress: Callable[[int], None] = unheard,
) -> Counts:
    """Part one: campaigns on summarised segments."""
    counts: Counts = {}
    for done, seed in enumerate(seeds, 1):
        made = summarised.simulate(seed, CLASSES, errors)
        truths = made.truth_segments, made.truth_surfaces, made.truth_pairs
        compare(counts, of_summarised(made, draws, seed), *truths)
        progress(done)
    return counts


def like_the_demo(seed: int, **errors) -> Spec:
    """The demo's round with another sky, other heads and other grounds each time.

    True class values are anywhere in the tables' ranges.
    """
    rng = np.random.default_rng([seed, 77])
    spec = specs.demo()
    eps = {
        f.surface: float(
            rng.uniform(CLASSES[f.surface]["emissivity"]["low"], CLASSES[f.surface]["emissivity"]["high"])
        )
        for f in spec.fields
    }
    fields = tuple(
        dataclasses.replace(f, emissivity=eps[f.surface], albedo=f.albedo * float(rng.uniform(0.95, 1.05)))
        for f in spec.fields
    )
    kind = ("clear", "broken")[int(rng.integers(2))]
    errors = {"by_class": True} | errors
    return spec.with_(
        seed=seed,
        workflow_seed=seed,
        fields=fields,
        sky=dataclasses.replace(spec.sky, kind=kind),
        errors=dataclasses.replace(spec.errors, **errors),
    )


def end_to_end(
    seeds: Iterable[int],
    spec_of: Callable[[int], Spec] = like_the_demo,
    draws: int = 4000,
    progress: Callable[[int], None] = unheard,
) -> Counts:
    """Part two: whole campaigns from logger files."""
    counts: Counts = {}
    for done, seed in enumerate(seeds, 1):
        with tempfile.TemporaryDirectory() as folder:
            made = campaign.simulate(spec_of(seed))
            outcome = chain.run(made.write(Path(folder) / "campaign"), draws=draws, to="propagate")
        names = outcome.segments.set_index("notes_row")["segment"]
        segments = made.truth["segments"]
        segments = segments.set_index(segments["notes_row"].map(names))
        surfaces = made.truth["surfaces"].set_index("surface")
        whole = {c.removesuffix("_whole"): surfaces[c] for c in surfaces if c.endswith("_whole")}
        compare(counts, outcome.result, segments, surfaces.assign(**whole))
        progress(done)
    return counts


def rates(counts: Counts) -> pd.DataFrame:
    """Coverage by kind and quantity, with the number of trials."""
    return pd.DataFrame(
        [
            {"kind": kind, "quantity": q, "coverage": hits / trials if trials else np.nan, "trials": trials}
            for (kind, q), (hits, trials) in counts.items()
        ]
    )


def table(columns: Mapping[str, Counts]) -> str:
    """Markdown: a row a kind and quantity, a column a study."""
    keys = list(dict.fromkeys(key for counts in columns.values() for key in counts))
    lines = ["| of | quantity | " + " | ".join(columns) + " |", "|---" * (2 + len(columns)) + "|"]
    for key in keys:
        cells = [
            f"{counts[key][0] / counts[key][1]:.3f}" if counts.get(key, [0, 0])[1] else ""
            for counts in columns.values()
        ]
        lines.append(f"| {key[0]} | {key[1]} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def outside(counts: Counts, low: float, high: float) -> list[str]:
    """What of some counts is not between two rates, as "kind quantity rate"."""
    found = []
    for (kind, quantity), (hits, trials) in counts.items():
        if trials and not low <= hits / trials <= high:
            found.append(f"{kind} {quantity} {hits / trials:.3f}")
    return found


def _progress(what: str, total: int) -> Callable[[int], None]:
    def show(done: int) -> None:
        if done % max(total // 50, 1) == 0 or done == total:
            print(
                f"\r{what}: {done} of {total}", end="\n" if done == total else "", file=sys.stderr, flush=True
            )

    return show


def main() -> None:
    parser = argparse.ArgumentParser(
        description="How often the intervals hold the truth; writes docs/coverage.md."
    )
    parser.add_argument("--campaigns", type=int, default=2000)
    parser.add_argument("--whole", type=int, default=60)
    parser.add_argument("--stress", type=int, default=30)
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "coverage.md")
    args = parser.parse_args()
    n, few = args.campaigns, max(args.campaigns // 10, 1)
    with errors_redrawn():
        redrawn = on_segments(range(few), progress=_progress("redrawn", few))
    one = {
        "as it is": on_segments(range(n), progress=_progress("segments", n)),
        "errors redrawn per segment": redrawn,
        "another directional shape": on_segments(
            range(few),
            errors=dataclasses.replace(STEADY, directional_shape="ripple"),
            progress=_progress("ripple", few),
        ),
    }
    two = {"end to end": end_to_end(range(args.whole), progress=_progress("end to end", args.whole))}
    for name, spec_of in STRESSES.items():
        two[name] = end_to_end(
            range(1000, 1000 + args.stress), spec_of, progress=_progress(name, args.stress)
        )
    of_groups = {key: rate for key, rate in one["as it is"].items() if key[0] != "segment"}
    breaches = outside(of_groups, LOWEST, HIGHEST)
    for name in ("another directional shape", *STRESSES):
        breaches += [f"{name}: {key}" for key in outside((one | two)[name], LOWEST_UNDER_STRESS, 1.0)]
    args.page.write_text(
        PAGE.format(
            outside=", ".join(breaches) or "none",
            date=dt.date.today().isoformat(),
            python=platform.python_version(),
            numpy=np.__version__,
            scipy=scipy.__version__,
            pandas=pd.__version__,
            low=LOWEST,
            high=HIGHEST,
            stress=LOWEST_UNDER_STRESS,
            n=n,
            few=few,
            whole=args.whole,
            few_whole=args.stress,
            one=table(one),
            two=table(two),
        ),
        encoding="utf-8",
    )
    dated.made(args.page)
    if breaches:
        sys.exit("outside the bounds: " + ", ".join(breaches))


STRESSES = {
    "red noise": lambda seed: like_the_demo(seed, noise=0.5, noise_memory=20.0),
    "patches of 5 m": lambda seed: _with_patches(like_the_demo(seed), 5.0),
    "ripple": lambda seed: like_the_demo(seed, directional_shape="ripple"),
}


def _with_patches(spec: Spec, size: float) -> Spec:
    return spec.with_(fields=tuple(dataclasses.replace(f, patch_size=size) for f in spec.fields))


PAGE = """# How often the intervals hold the truth

Made by `PYTHONPATH=tests:workflow python -m study.coverage` on {date}, with Python {python},
numpy {numpy}, scipy {scipy}, pandas {pandas}.

Truth and errors are drawn by the code in `tests/simulate`, which shares no formula with the workflow. An
interval of 95 % should hold the truth in 95 of 100 cases. The target is {low} to {high} for surfaces and
differences, and at least {stress} under stress.

Outside these bounds: {outside}.

Differences are those at a common moment. Simulated surfaces follow nothing but the sky between their visits,
so the term `course` is switched off on summarised segments. Differences end to end are judged on the
independent world alone ([world.md](world.md)).

## On summarised segments

{n} campaigns of one or two sets over six fields; the other columns {few}. Wrongly taking each error as a new
one for each segment makes the intervals of values too narrow and those of differences too wide: the study
must see that.

{one}

## End to end

Logger files and notes of {whole} campaigns like the demo through the whole chain, {few_whole} for each kind
of stress. One campaign's numbers share their errors, so these rates scatter by more than their number of
trials suggests.

{two}
"""


if __name__ == "__main__":
    main()
