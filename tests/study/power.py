"""How often a mistake is named, by its size: power curves, a section of docs/detection.md with its picture.

    PYTHONPATH=tests:workflow python -m study.power [--seeds 12] [--results FILE] [--page]

Every campaign counts, whether or not its records could show the mistake. Each one leaves a line in the
results file and is not run again.
"""

from __future__ import annotations

import argparse
import json
import math
import tempfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from study import dated, trial
from study.bases import with_two
from study.detection import BY_SIZE, commit, read
from study.of_sets import ahead, five_hours, four_passes, leaning, scaled

ROOT = Path(__file__).parents[2]
PAGE, PICTURE = ROOT / "docs" / "detection.md", ROOT / "docs" / "power.png"
RESULTS = Path(tempfile.gettempdir()) / "headland-power.jsonl"
FACTORS = (1.02, 1.05, 1.1, 1.2, 1.4, 2.0)


@dataclass(frozen=True)
class Curve:
    """A mistake of growing size. damage: by size. none: the size that is no mistake. severity: the least with
    which it counts as named. beside: codes that say the same from another side."""

    title: str
    unit: str
    code: str
    sizes: tuple[float, ...]
    none: float
    damage: Callable[[float], Callable]
    base: Callable
    to: str = "diagnose"
    severity: str = "warning"
    beside: frozenset[str] = frozenset()


CLOCKS = (5.0, 10.0, 20.0, 30.0, 45.0, 60.0, 90.0)
LEANS = (1.0, 2.0, 3.0, 4.0, 6.0, 8.0)


def lean(degrees: float) -> Callable:
    return lambda campaign, name, seed: leaning(campaign, name, seed, degrees)


def high(channel: str) -> Callable:
    return lambda size: scaled(channel, size)


CURVES = (
    Curve(
        "one set's SW_in too high",
        "times",
        "sets-disagree",
        FACTORS,
        1.0,
        high("sw_in"),
        with_two,
        beside=frozenset({"beyond-possible"}),  # twice a high sun is more than the sun can give
    ),
    Curve(
        "a logger's clock ahead",
        "min",
        "clock-against-sun",
        CLOCKS,
        0.0,
        ahead,
        five_hours,
        "segment",
        beside=frozenset({"notes-shifted"}),
    ),
    Curve("a head leaning along the sun", "degrees", "head-tilted", LEANS, 0.0, lean, four_passes),
)


def tried(curve: Curve, size: float, seed: int) -> dict:
    """What is said of one campaign under a clear sky with a mistake of a size, or without one."""
    spec = curve.base(seed, "clear")
    name = spec.sets[seed % len(spec.sets)].name
    campaign = trial.simulated(spec)
    if size != curve.none:
        campaign = curve.damage(size)(campaign, name, seed)
    outcome = trial.run(campaign, curve.to)
    said = trial.listed(outcome)
    other = {one.code for one in said if one.severity != "note" and one.sure} - {curve.code}
    return {
        "verdict": trial.verdict(curve, said, outcome.untold, name),
        "other": sorted(other - (trial.CONSEQUENCES - curve.beside)),
    }


def interval(hits: int, count: int) -> tuple[float, float]:
    """Wilson's 95 % interval of a share."""
    z, share = 1.96, hits / count
    middle = (share + z * z / 2.0 / count) / (1.0 + z * z / count)
    half = z * math.sqrt(share * (1.0 - share) / count + z * z / 4.0 / count**2) / (1.0 + z * z / count)
    return middle - half, middle + half


def seen_as(curve: Curve, one: dict) -> str:
    """`named`, `beside`, `undecided` or `silent`."""
    if one["verdict"] != "named" and curve.beside & set(one["other"]):
        return "beside"
    return one["verdict"]


def counts(results: dict[str, dict]) -> dict[tuple[str, float], list[dict]]:
    found: dict[tuple[str, float], list[dict]] = {}
    for key, one in results.items():
        title, size, _ = key.split("/")
        found.setdefault((title, float(size)), []).append(one)
    return found


def drawn(results: dict[str, dict]) -> None:
    """The picture: share named, with its interval, by size."""
    from matplotlib.figure import Figure

    seen, figure = counts(results), Figure(figsize=(9.2, 3.2), layout="constrained")
    for axes, curve in zip(figure.subplots(1, 3), CURVES, strict=True):
        sizes = [size for size in curve.sizes if (curve.title, size) in seen]
        for verdicts, style in ((("named",), "o-"), (("named", "beside"), "--")):
            shares, ends = [], []
            for size in sizes:
                tries = seen[curve.title, size]
                hits = sum(seen_as(curve, one) in verdicts for one in tries)
                shares.append(100.0 * hits / len(tries))
                ends.append(interval(hits, len(tries)))
            axes.plot(sizes, shares, style, color="#2f6690", ms=4)
            if style == "o-":
                axes.vlines(sizes, [100 * low for low, _ in ends], [100 * high for _, high in ends],
                            color="#2f6690", lw=0.8)  # fmt: skip
        axes.set_title(f"{curve.title}\n{curve.code}", fontsize=9)
        axes.set(xlabel=curve.unit, ylabel="% of campaigns", ylim=(-3, 103))
        axes.grid(alpha=0.3)
    figure.savefig(PICTURE, dpi=110, metadata={"Software": None})


def section(results: dict[str, dict]) -> str:
    """The section of the page."""
    seen = counts(results)
    states = sorted({one["commit"] for one in results.values()})
    days = sorted({one["day"] for one in results.values()})
    lines = [
        BY_SIZE,
        "",
        f"Made by `PYTHONPATH=tests:workflow python -m study.power` on commit {' and '.join(states)}, "
        f"{' to '.join(dict.fromkeys((days[0], days[-1])))}. Clear skies, sound campaigns of the same make "
        "as above. Here every campaign counts, whether or not its records could show the mistake. *Named*: "
        'the code is listed without "Can\'t be decided". *Other side*: not named, but a code is '
        "listed that says the same from another side: of the notes, or that a radiation is more than the sun "
        'can give. *Undecided*: something is listed with "Can\'t be decided", or the check is listed for '
        "this set among those that could not be made. *Other*: "
        "campaigns with an error or warning of any other code.",
        "",
        "![Share of campaigns in which a mistake is named, by its size](power.png)",
        "",
        "Points with bars: named, with 95 % intervals. Dashed: named, or seen from another side.",
        "",
        "| mistake | size | campaigns | named | 95 % interval | other side | undecided | silent | other |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for curve in CURVES:
        for size in (curve.none, *curve.sizes):
            tries = seen.get((curve.title, size), [])
            if not tries:
                continue
            by = Counter(seen_as(curve, one) for one in tries)
            low, high = interval(by["named"], len(tries))
            other = sum(bool(set(one["other"]) - curve.beside) for one in tries)
            what = "none" if size == curve.none else f"{size:g} {curve.unit}"
            lines.append(
                f"| {curve.title} | {what} | {len(tries)} | {100 * by['named'] / len(tries):.0f} % "
                f"| {100 * max(low, 0.0):.0f} to {100 * min(high, 1.0):.0f} % | {by['beside']} "
                f"| {by['undecided']} | {by['silent']} | {other} |"
            )
    return "\n".join([*lines, ""])


def with_section(page: str, text: str) -> str:
    """The page with this section in the place of an older one, or at its end; other sections stay."""
    line = dated.LINE.search(page)
    before, _, old = dated.LINE.sub("", page).partition(BY_SIZE)
    _, heading, after = old.partition("\n## ")
    return f"{before.rstrip()}\n\n{text}{heading}{after}{line.group(0) if line else ''}"


def main() -> None:
    parser = argparse.ArgumentParser(prog="study.power", description=__doc__.partition("\n")[0])
    parser.add_argument("--seeds", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--curves", type=int, nargs="*", default=range(len(CURVES)), help="by number")
    parser.add_argument("--results", type=Path, default=RESULTS)
    parser.add_argument("--page", action="store_true", help="write the section from what is there")
    asked = parser.parse_args()
    done = read(asked.results)
    for seed in () if asked.page else range(asked.first, asked.first + asked.seeds):
        for curve in (CURVES[number] for number in asked.curves):
            for size in (curve.none, *curve.sizes):
                key = f"{curve.title}/{size}/{seed}"
                if key not in done:
                    one = {"key": key, "commit": commit(), "day": date.today().isoformat()}
                    one |= tried(curve, size, seed)
                    with asked.results.open("a", encoding="utf-8") as stream:
                        stream.write(json.dumps(one) + "\n")
                    print(key, one["verdict"], *one["other"], flush=True)
    if asked.page:
        results = read(asked.results)
        drawn(results)
        PAGE.write_text(with_section(PAGE.read_text(encoding="utf-8"), section(results)), encoding="utf-8")


if __name__ == "__main__":
    main()
