"""The demo as the course's verbs read it again, from the chain in memory."""

import functools

import pandas as pd

import chain
from headland.base.flags import excluding_flags, limits_of
from headland.chain import calibrate, diagnose, ingest
from headland.course import finished
from headland.course.rerun import Survey
from headland.files import settings, step, step_settings, user_tables
from headland.files.own_numbers import quality_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms

DEMO, CONFIG = chain.ROOT / "demo_inputs", chain.ROOT / "config"


@functools.cache
def steps() -> chain.Chain:
    """The chain on the demo up to the balance."""
    S = settings.load(DEMO, CONFIG)
    lookup = diagnose.Lookup(
        surface_classes(CONFIG / "surfaces.csv", {}),
        limits_of(quality_rows(CONFIG / "quality.csv")),
        uncertainty_terms(CONFIG / "uncertainty.csv"),
    )
    air, _ = user_tables.read_weather([DEMO / S["weather_file"]])
    made = chain.Chain(DEMO, CONFIG, lookup, chain.Outcome(S, lookup.surfaces, air), air)
    made.segment()
    made.summarise()
    return made


def survey() -> Survey:
    """What `finished.survey_of` reads from a run's folder."""
    made = steps()
    S, outcome, raw = made.outcome.settings, made.outcome, {}
    for name in S["sets"]:
        shown = S["sets"][name]["raw"]
        opened = step.opened((DEMO / file for file in shown), shown)
        raw[name] = ingest.run(opened, step_settings.ingest(S, name)).tables["samples"].held().frame
    register, _ = user_tables.read_user_table(DEMO / "instruments.csv", "instruments")
    noted, segments, _ = finished.noted_in(DEMO / S["notes_file"], S, raw)
    return Survey(
        raw=raw,
        segmented={name: held.frame for name, held in made.segmented.items()},
        certificates=outcome.certificates,
        sets={name: finished._entry(S["sets"][name]) for name in S["sets"]},
        register=calibrate.register_factors(register),
        noted=noted,
        segments=segments,
        surfaces=outcome.surfaces,
        balances=outcome.balances["surfaces_balance"],
        visits=outcome.balances["visits_balance"],
        excluding=frozenset(excluding_flags(made.lookup.limits)),
        air=finished._air(DEMO, S, raw),
        found=[one for _, one in outcome.found],
        walks=True,
        notes_offset=finished._notes_offset(segments, S),
    )


def used_samples() -> pd.DataFrame:
    """Samples of all sets over surfaces, with the flags they have, by set and surface."""
    made, frames = steps(), []
    listed = made.outcome.segments
    over = listed[listed["activity"].isin(("walk", "stand"))].set_index("segment")["surface"]
    for name, frame in made.outcome.samples.items():
        frames.append(frame[frame["segment"].isin(over.index)].assign(set=name))
    every = pd.concat(frames, ignore_index=True)
    return every.assign(surface=every["segment"].map(over))
