"""Whether plans keep their promises: a study of simulated days. `python -m study.plans` writes docs/plans.md.

For each seed a plan is made for a day drawn at random, and two campaigns are simulated on that day over
ground as the table of surfaces has it: one that follows the plan, and one that does not. The chain works out
both. Asked is whether the half widths that the plan predicts are those that the chain then reports, and
whether pairs of surfaces that the plan promises to tell apart are told apart.
"""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import functools
import sys
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path

import numpy as np
import pandas as pd

import chain
from headland.chain import calibrate, segment
from headland.field import day as days
from headland.field import expected, timetable
from headland.files import settings, step_settings, user_tables
from headland.files.own_numbers import course_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty.course import course_sizes
from simulate import simulate, specs
from simulate.spec import Carrying, Field, Site, Sky, Spec, Visit
from study import dated, plans_page

ROOT = Path(__file__).parents[2]
CLASSES = surface_classes(ROOT / "config" / "surfaces.csv", {})
TERMS = uncertainty_terms(ROOT / "config" / "uncertainty.csv")
COURSE = course_sizes(course_rows(ROOT / "config" / "course.csv"))
WALKED = ("short_grass", "tall_crop", "stubble", "bare_dry_soil", "bare_wet_soil", "gravel", "paving")
"""Classes that one walks over by day."""


@dataclasses.dataclass(frozen=True)
class Day:
    """A plan: fields with headings, its visits, the weather that it takes, the walk, and the differences that
    it expects.
    """

    fields: pd.DataFrame
    visits: pd.DataFrame
    air: float
    humidity: float
    carrying: dict
    surfaces: dict
    expected: pd.DataFrame
    seed: int

    @property
    def start(self) -> pd.Timestamp:
        return self.visits["start_utc"].min()


def planned(
    fields: pd.DataFrame,
    start: pd.Timestamp,
    hours: float,
    *,
    air: float,
    humidity: float,
    surfaces: dict,
    seed: int,
    rounds: int = 2,
    draws: int = 1000,
) -> Day:
    """The plan of a day by the functions of headland.field.

    fields: field, surface, length (m), free (degrees). surfaces: the classes with the values that the plan
    expects.
    """
    site, carrying = dataclasses.asdict(Site()), dataclasses.asdict(Carrying())
    moments = pd.date_range(start, start + pd.Timedelta(hours=hours), freq="300s")
    certificates = _certificates(start.date())
    response = segment.response_time(certificates)
    given = expected.Circumstances(site, carrying, surfaces, TERMS, COURSE, air, humidity, response)
    inside = given.sky(moments)
    fields = fields.assign(heading=[days.best_heading(free, inside, carrying)[0] for free in fields["free"]])
    asked = timetable.Day(start, moments[-1], carrying["walking_speed"], 4.0, False, rounds, seed)
    visits, _ = timetable.timetable(fields, [s.name for s in specs.two_sets()], asked)
    segments = expected.expected_segments(visits, given)
    differences = expected.expected_differences(segments, certificates, given, seed, draws)
    return Day(fields, visits, air, humidity, carrying, surfaces, differences, seed)


@functools.cache
def _register() -> tuple[pd.DataFrame, dict]:
    """The register of the simulated sets and their settings, as the chain reads them."""
    sets = specs.two_sets()
    some = Spec(
        "Register",
        "2026-05-21 10:00:00",
        (specs.field("Meadow", "short_grass"),),
        sets,
        tuple(Visit(s.name, 0.0, "Meadow", "stand", lasts=60.0) for s in sets),
    )
    with tempfile.TemporaryDirectory() as folder:
        path = simulate(some).write(Path(folder) / "day")
        return user_tables.read_user_table(path / "instruments.csv", "instruments")[0], settings.load(
            path, ROOT / "config", needs=()
        )


def _certificates(day: dt.date) -> pd.DataFrame:
    register, S = _register()
    return pd.concat(
        [calibrate.in_force(register, day, step_settings.calibrate(S, name))[0] for name in S["sets"]],
        ignore_index=True,
    )


def drawn(seed: int) -> Day:
    """A plan for a day drawn at random: three or four classes, fields of 60 to 120 m that lie any way or one
    way, a day from April to September, air of 12 to 26 degC.

    What is expected of the classes differs as in the table, or up to 30 times less, so that there are pairs
    easy and hard to tell apart.
    """
    rng = np.random.default_rng([seed, 412])
    chosen = rng.choice(WALKED, size=int(rng.integers(3, 5)), replace=False)
    fields = pd.DataFrame(
        {
            "field": [f"Field {letter}" for letter in "ABCD"[: len(chosen)]],
            "surface": chosen,
            "length": rng.integers(60, 121, len(chosen)).astype(float),
            "free": [
                [float(rng.integers(0, 180))] if rng.random() < 0.5 else days.headings_of("") for _ in chosen
            ],
        }
    )
    contrast = float(np.exp(rng.uniform(np.log(0.03), 0.0)))
    middle = {
        key: np.mean([CLASSES[name][key]["value"] for name in chosen])
        for key in ("albedo", "surface_minus_air")
    }
    surfaces = {
        name: {
            **CLASSES[name],
            **{
                key: {**CLASSES[name][key], "value": float(m + contrast * (CLASSES[name][key]["value"] - m))}
                for key, m in middle.items()
            },
        }
        for name in chosen
    }
    start = pd.Timestamp("2026-04-10 08:00", tz="UTC") + pd.Timedelta(
        days=int(rng.integers(0, 160)), minutes=int(rng.integers(0, 150))
    )
    air, humidity = float(rng.uniform(12, 26)), float(rng.uniform(40, 75))
    return planned(fields, start, 5.0, air=air, humidity=humidity, surfaces=surfaces, seed=seed)


# The campaigns ----------------------------------------------------------------------------------------------


def ground(day: Day) -> tuple[Field, ...]:
    """Ground as the plan takes it: values of the table, warmed in proportion to the sun."""

    def value(row, key):
        return day.surfaces[row["surface"]][key]["value"]

    return tuple(
        specs.field(
            row["field"],
            row["surface"],
            length=row["length"],
            heading=row["heading"],
            albedo=value(row, "albedo"),
            emissivity=value(row, "emissivity"),
            lag=60.0,
            canopy_height=0.0,
            night_offset=0.0,
            warming=value(row, "surface_minus_air") / (expected.HIGH_SUN * (1.0 - value(row, "albedo"))),
        )
        for row in day.fields.to_dict("records")
    )


def followed(day: Day) -> tuple[Visit, ...]:
    """The plan's visits as they were made, channel checks left out."""
    made = []

    def at(moment):
        return (moment - day.start).total_seconds()

    for row in day.visits.to_dict("records"):
        lasts = (row["end_utc"] - row["start_utc"]).total_seconds()
        if row["activity"] == "walk":
            made.append(
                Visit(
                    row["set"],
                    at(row["start_utc"]),
                    row["field"],
                    lasts=lasts,
                    backwards=row["pass"] == "2",
                    transect=int(row["transect"]),
                    pass_number=int(row["pass"]),
                )
            )
        elif row["activity"] == "side_by_side":
            made.append(
                Visit(
                    row["set"],
                    at(row["start_utc"]),
                    row["field"],
                    "side_by_side",
                    lasts=lasts,
                    position=20.0 + 2.0 * (row["set"] == "curlew"),
                )
            )
        elif row["activity"] == "clock_check":
            made.append(Visit(row["set"], at(row["start_utc"]), activity="clock_check"))
    return tuple(made)


def not_followed(day: Day) -> tuple[Visit, ...]:
    """The same day without the plan: each set makes one pass over each field, both one after the other (A A B
    B), all the same way, and never stand side by side.
    """
    names = [s.name for s in specs.two_sets()]
    lasts = (day.visits["end_utc"].max() - day.start).total_seconds()
    share = lasts / len(day.fields)
    walks = [
        Visit(
            name,
            float(round(300.0 + k * share + i * share / 3.0)),
            row["field"],
            lasts=float(round(row["length"] / day.carrying["walking_speed"])),
            transect=i + 1,
        )
        for k, row in enumerate(day.fields.to_dict("records"))
        for i, name in enumerate(names)
    ]
    return (*walks, *(Visit(name, at, activity="clock_check") for name in names for at in (0.0, lasts)))


def worked_out(day: Day, visits: tuple[Visit, ...], draws: int) -> pd.DataFrame:
    """The differences that the chain reports for a campaign of these visits, beside those that the plan
    expects (columns of the chain end in `_found`).
    """
    vapour = (
        6.112 * np.exp(17.62 * day.air / (243.12 + day.air)) * day.humidity / 100.0
    )  # Magnus; the simulator shares no formula with the chain
    spec = Spec(
        "Walked",
        str(day.start.tz_convert(Site().timezone).tz_localize(None)),
        ground(day),
        specs.two_sets(),
        visits,
        carrying=Carrying(),
        seed=day.seed,
        sky=Sky("clear", air_temperature=day.air, air_amplitude=0.0, vapour_pressure=float(vapour)),
    )
    with tempfile.TemporaryDirectory() as folder:
        simulate(spec).write(Path(folder) / "day")
        found = chain.run(Path(folder) / "day", draws=draws, to="propagate").result.differences
    turned = found.rename(columns={"surface_a": "surface_b", "surface_b": "surface_a"}).assign(
        difference=-found["difference"],
        difference_low=-found["difference_high"],
        difference_high=-found["difference_low"],
    )
    return day.expected.merge(
        pd.concat([found, turned], ignore_index=True),
        on=["surface_a", "surface_b", "quantity"],
        how="left",
        suffixes=("", "_found"),
    ).assign(
        found_half_width=lambda f: (f["difference_high"] - f["difference_low"]) / 2.0,
        promised=lambda f: f["passes_needed"] <= f["passes"],
        told=lambda f: (
            (f["distinguishable"] == "true") & (np.sign(f["difference_found"]) == np.sign(f["difference"]))
        ),
    )


def study(
    seeds: Iterable[int], draws: int = 1000, progress: Callable[[int], None] = lambda done: None
) -> pd.DataFrame:
    """One row a seed, pair of surfaces, quantity and kind (`followed`, `not followed`)."""
    parts = []
    for done, seed in enumerate(seeds, 1):
        day = drawn(seed)
        for kind, visits in (("followed", followed(day)), ("not followed", not_followed(day))):
            parts.append(worked_out(day, visits, draws).assign(seed=seed, kind=kind))
        progress(done)
    return pd.concat(parts, ignore_index=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="Whether plans keep their promises; writes docs/plans.md.")
    parser.add_argument("--days", type=int, default=40)
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "plans.md")
    args = parser.parse_args()
    rows = study(
        range(args.days),
        args.draws,
        lambda done: print(
            f"\r{done} of {args.days} days",
            end="\n" if done == args.days else "",
            file=sys.stderr,
            flush=True,
        ),
    )
    args.page.write_text(plans_page.page(rows, args.days, args.draws), encoding="utf-8")
    dated.made(args.page)


if __name__ == "__main__":
    main()
