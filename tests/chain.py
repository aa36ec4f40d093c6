"""The chain in one process and in memory, for studies of many campaigns. The rules run the same functions,
one step a job.

`tests/whole/test_in_process.py` compares it with the tables that the rules leave.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace

import pandas as pd

from headland.base import findings
from headland.base.findings import Finding
from headland.base.flags import limits_of
from headland.base.frames import Held, Made
from headland.base.untold import Untold
from headland.chain import (
    balance,
    calibrate,
    correct_longwave,
    diagnose,
    ingest,
    measured,
    place,
    propagate,
    screen,
    segment,
    summarise,
)
from headland.chain.recording import Screened
from headland.files import settings, step, step_settings, user_tables
from headland.files.own_numbers import course_rows, quality_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms

ROOT = Path(__file__).parents[1]
SENTENCES = findings.sentences()
SENSED = ("lw_in_net", "lw_out_net", "body_temperature_lw_in", "body_temperature_lw_out")
"""Columns of step 2 that step 5 does not hand on."""


@dataclass
class Outcome:
    """What the chain made of a campaign: frames as the steps leave them, every finding with its step, and
    what could not be told.
    """

    settings: dict
    surfaces: dict[str, dict] = field(default_factory=dict)
    air: pd.DataFrame = field(default_factory=pd.DataFrame)
    samples: dict[str, pd.DataFrame] = field(default_factory=dict)
    certificates: dict[str, pd.DataFrame] = field(default_factory=dict)
    noted: pd.DataFrame = field(default_factory=pd.DataFrame)
    segments: pd.DataFrame = field(default_factory=pd.DataFrame)
    means: dict[str, pd.DataFrame] = field(default_factory=dict)
    balances: dict[str, pd.DataFrame] = field(default_factory=dict)
    result: SimpleNamespace | None = None
    found: list[tuple[str, Finding]] = field(default_factory=list)
    untold: list[Untold] = field(default_factory=list)
    against_station: pd.DataFrame | None = None

    def codes(self, *severities: str) -> list[str]:
        """Codes of what was found, with repetitions, of the given severities (all where none is given)."""
        rows = [findings.describe(f, step, SENTENCES) for step, f in findings.folded(self.found)]
        return sorted(row["code"] for row in rows if not severities or row["severity"] in severities)

    def keep(self, name: str, made: Made, found: Sequence[Finding] = ()) -> dict:
        """Keep what a step found, after what reading its tables found; returns the tables that it made."""
        self.found += [(name, one) for one in [*found, *made.findings]]
        self.untold += made.untold
        return made.tables


@dataclass
class Chain:
    """The steps on one campaign folder."""

    campaign: Path
    config: Path
    lookup: diagnose.Lookup
    outcome: Outcome
    air: pd.DataFrame
    segmented: dict[str, Held] = field(default_factory=dict)
    calibrated: dict[str, Held] = field(default_factory=dict)

    def files(self, *names: str) -> list[Path]:
        """Paths of those of the campaign's files that it has."""
        return [self.campaign / name for name in dict.fromkeys(names) if name]

    def record(self, name: str) -> Screened:
        """Steps 1 to 4 of a set."""
        S, keep = self.outcome.settings, self.outcome.keep
        shown = S["sets"][name]["raw"]
        opened = step.opened((self.campaign / file for file in shown), shown)
        raw = keep("ingest", ingest.run(opened, step_settings.ingest(S, name)))["samples"].held()
        register, found = user_tables.read_user_table(self.campaign / "instruments.csv", "instruments")
        made = keep("calibrate", calibrate.run(raw, register, step_settings.calibrate(S, name)), found)
        certificates, calibrated = made["certificates"], made["calibrated"].held()
        corrected = keep("correct_longwave", correct_longwave.run(calibrated))["corrected"].held()
        recorded = screen.Recorded(raw, calibrated, corrected, certificates)
        made = screen.run(recorded, self.lookup.limits, self.air, step_settings.screen(S, name))
        screened = keep("screen", made)["screened"].held()
        self.outcome.certificates[name], self.calibrated[name] = certificates, calibrated
        return Screened(corrected, screened, certificates)

    def notes(self) -> tuple[pd.DataFrame, list[Finding]]:
        """The notes, and what is wrong with their file."""
        return user_tables.read_user_table(self.campaign / self.outcome.settings["notes_file"], "notes")

    def segment(self) -> None:
        """Steps 1 to 5."""
        S, outcome = self.outcome.settings, self.outcome
        recorded = {name: self.record(name) for name in S["sets"]}
        notes, found = self.notes()
        outlines, tracks = self.files(S["outlines_file"]), self.files(*S["track_files"].values())
        ground, more = place.read(outlines, tracks, S["track_files"], S["positions"]["field_name"])
        made = segment.run(notes, recorded, self.lookup.limits, ground, step_settings.segment(S))
        made = outcome.keep("segment", made, found + more)
        outcome.noted = made["noted"]
        for name, pieces in made["segmented"].items():
            self.segmented[name] = pieces.held()
            sensed = self.calibrated[name][list(SENSED)]
            outcome.samples[name] = self.segmented[name].frame.assign(**sensed)

    def summarise(self) -> None:
        """Steps 6 and 7."""
        S, outcome, surfaces = self.outcome.settings, self.outcome, self.lookup.surfaces
        by_station = S["methods"]["incoming_terms"] == "station"
        made = summarise.run(
            outcome.noted,
            {name: summarise.Segmented(self.calibrated[name], self.segmented[name]) for name in S["sets"]},
            step_settings.summarise(S),
            surfaces=surfaces,
            limits=self.lookup.limits,
            found_before=[one for _, one in outcome.found],
            fixed=user_tables.read_station(self.files(S["station_file"]))[0] if by_station else None,
        )
        made = outcome.keep("summarise", made)
        outcome.segments = made["segments"]
        outcome.means = {kind: made[kind] for kind in ("surfaces", "fields")}
        outside, found = self.outside()
        made = balance.run(made["segments"], outcome.means, surfaces, outside, step_settings.balance(S))
        outcome.balances = outcome.keep("balance", made, found)

    def outside(self) -> tuple[measured.Outside, list[Finding]]:
        """The tables of weather and measured fluxes, and what is wrong with those of step 7 alone."""
        S = self.outcome.settings
        ground, found = user_tables.read_ground(self.files(S["ground_file"]))
        levels, more = user_tables.read_levels(self.files(S["levels_file"]))
        station, _ = user_tables.read_station(self.files(S["station_file"]))
        return measured.Outside(self.air, ground, levels, station), [*found, *more]

    def in_force(self) -> pd.DataFrame:
        """The certificates of all sets."""
        return pd.concat(self.outcome.certificates.values(), ignore_index=True)

    def propagate(self, draws: int) -> None:
        """Step 8."""
        S, outcome, lookup = self.outcome.settings, self.outcome, self.lookup
        made = propagate.run(
            {"segments": outcome.segments, **outcome.means},
            outcome.balances,
            step_settings.propagate(S, draws),
            certificates=self.in_force(),
            surfaces=lookup.surfaces,
            terms=lookup.terms,
            course=course_rows(self.config / "course.csv"),
            air=self.air,
        )
        result = outcome.keep("propagate", made)
        outcome.result = SimpleNamespace(**result, findings=made.findings)

    def diagnose(self) -> None:
        """The checks after step 8."""
        S, outcome, lookup = self.outcome.settings, self.outcome, self.lookup
        result = vars(outcome.result)
        station, found = user_tables.read_station(self.files(S["station_file"]))
        made = diagnose.run(
            self.segmented,
            {"means": outcome.segments, "segments": result["segments"], "fields": result["fields"]},
            step_settings.diagnose(S),
            notes=self.notes()[0],
            certificates=self.in_force(),
            lookup=lookup,
            outside=diagnose.Outside(self.air, station),
        )
        outcome.against_station = outcome.keep("diagnose", made, found)["against_station"]


def run(campaign: Path, config: Path = ROOT / "config", draws: int = 1024, to: str = "diagnose") -> Outcome:
    """Run the steps on a campaign folder. to: `segment` to stop before any mean, `summarise`, `propagate` to
    stop before sources are compared with each other, or `diagnose`.
    """
    S = settings.load(campaign, config)
    lookup = diagnose.Lookup(
        surface_classes(config / "surfaces.csv", S["overrides"]["surfaces"]),
        limits_of(quality_rows(config / "quality.csv")),
        uncertainty_terms(config / "uncertainty.csv"),
    )
    air, found = user_tables.read_weather([campaign / S["weather_file"]] if S["weather_file"] else [])
    chain = Chain(campaign, config, lookup, Outcome(S, lookup.surfaces, air), air)
    chain.outcome.found += [("screen", one) for one in found]
    chain.segment()
    if to != "segment":
        chain.summarise()
    if to in ("propagate", "diagnose"):
        chain.propagate(draws)
    if to == "diagnose":
        chain.diagnose()
    return chain.outcome
