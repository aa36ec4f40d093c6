"""Segments, certificates and tables that the tests of this room are made from."""

from pathlib import Path

import numpy as np
import pandas as pd

from headland.base.groups import GROUPINGS
from headland.chain import balance, summarise
from headland.files.own_numbers import course_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import longwave, radiation
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.uncertainty.course import course_sizes
from headland.uncertainty.distributions import NORMAL_95
from headland.uncertainty.draws import moved, one_at_a_time, scores
from headland.uncertainty.groups import grouping_of, with_class_values
from headland.uncertainty.inputs import Inputs, prepare, shade_of
from headland.uncertainty.linear import contributions, half_width
from headland.uncertainty.model import measured
from headland.uncertainty.propagate import propagate
from headland.uncertainty.sources import instrument_sources

PROJECT = Path(__file__).parents[3]
TERMS = uncertainty_terms(PROJECT / "config/uncertainty.csv")
COURSE = course_sizes(course_rows(PROJECT / "config/course.csv"))
OFF = {term: {**row, "enabled": "false"} for term, row in TERMS.items()}
CLASSES = surface_classes(PROJECT / "config/surfaces.csv", {})

CARRYING = {
    "sensor_height": 1.5,
    "reach": 1.2,
    "carrier_height": 1.8,
    "carrier_width": 0.5,
    "walking_speed": 0.8,
}


def only(*names):
    """The table of terms with all others switched off."""
    return OFF | {name: TERMS[name] for name in names}


def segments(count=2, sets=("heron", "heron"), surfaces=("stubble", "paving"), **changes):
    """Walks as the model gets them, at noon under a clear sky; by default one set over two surfaces."""
    base = {
        "set": sets[:count],
        "surface": surfaces[:count],
        "field": [f"f{k}" for k in range(count)],
        "segment": [f"s{k}" for k in range(count)],
        "activity": "walk",
        "transect": "a",
        "pass": "1",
        "samples": 300,
        "samples_used": 280,
        "weight": 280.0,
        "sw_in": 800.0,
        "sw_out": np.array([190.0, 90.0])[:count],
        "lw_in": 330.0,
        "lw_out": np.array([450.0, 480.0])[:count],
        "lw_in_net": -100.0,
        "lw_out_net": np.array([20.0, 50.0])[:count],
        "body_temperature": 22.0,
        "solar_elevation": 50.0,
        "solar_azimuth": 170.0,
        "heading": 80.0,
        "sky": "clear",
        "notes_row": 2,
        "independent": 20.0,
        "ground_sw_out": 6.0,
        "ground_lw_out": 5.0,
        "ground_correlation": -0.4,
        **{f"noise_{c}": 0.0 for c in RADIATION},
        **{f"rate_{c}": 0.0 for c in RADIATION},
        "incoming_heading": 80.0,
        "incoming_body_temperature": 22.0,
        "start_utc": pd.Timestamp("2026-05-21T09:00:00Z"),
        "end_utc": pd.Timestamp("2026-05-21T09:10:00Z"),
    }
    frame = pd.DataFrame(
        {
            "thermal_shock": 0.0,
            "left_out": 0.0,
            "left_out_sw_out": 0.0,
            "left_out_lw_out": 0.0,
            **base,
            **changes,
        },
        index=range(count),
    )
    frame["albedo_sw_in"], frame["albedo_sw_out"] = (
        frame["sw_in"] * frame["weight"],
        frame["sw_out"] * frame["weight"],
    )
    frame["albedo"] = frame["sw_out"] / frame["sw_in"]
    frame["incoming_set"], frame["sw_in_memory"] = frame["set"], changes.get("sw_in_memory", frame["sw_in"])
    frame["net_radiation"] = radiation.net_radiation(*(frame[c] for c in RADIATION))
    emissivity = np.array([CLASSES[s]["emissivity"]["value"] for s in frame["surface"]])
    frame["surface_temperature"] = (
        longwave.surface_temperature(frame["lw_out"], frame["lw_in"], emissivity) - ZERO_CELSIUS
    )
    return prepare(frame, CARRYING, np.full(count, 20.0), CLASSES)


def certificates(sets=("heron",), **changes):
    """Certificates in force: 3 % expanded, a year old, class B, 12 s, one thermometer a
    set, no coefficients."""
    return pd.DataFrame(
        [
            {
                "set": s,
                "channel": c,
                "age_months": 12.0,
                "factor": 70.0,
                "expanded_uncertainty_percent": 3.0,
                "instrument_class": "B",
                "response_time_95": 12.0,
                "reference": "",
                "calibration_temperature": np.nan,
                "temperature_coefficient": np.nan,
                "window_coefficient": np.nan,
                "body_channel": "body_temperature" if c.startswith("lw") else "",
                **changes,
            }
            for s in sets
            for c in RADIATION
        ]
    )


METHODS = {"ground_heat": "class_fraction", "green_cover": "priestley_taylor"}


def visits(frame):
    """Step 7's visits of segments."""
    known = {"air_temperature": 20.0, "air_source": "", "pressure": 970.0, "wind_speed": np.nan}
    air = pd.DataFrame(known, index=range(len(frame)))
    return balance.visits_of(
        frame, surfaces=CLASSES, methods=METHODS, air=air, after_noon=np.zeros(len(frame))
    )


def at_work(frame):
    """What the balance of each segment follows from: the class's fraction by day, and its split."""
    splits = [CLASSES[name]["latent_method"]["value"] for name in frame["surface"]]
    table = {"split": splits, "method": "class_fraction", "day": True, "fraction": 0.1, "offset": 0.0}
    return pd.DataFrame(table, index=range(len(frame)))


def balances(means, frame):
    """Step 7's table for groups of segments, with its printed terms."""
    by = [column for column in ("surface", "field") if column in means]
    return balance.groups(means, visits(frame), by, METHODS)[0]


SEGMENTS = segments()
SHADE = shade_of(SEGMENTS, CARRYING)

SEGMENTS_OF_A_ROUND = segments(
    4,
    ("heron", "curlew") * 2,
    ("stubble", "paving", "gravel", "short_grass"),
    sw_out=np.array([190.0, 90.0, 160.0, 180.0]),
    lw_out=np.array([450.0, 480.0, 470.0, 420.0]),
    lw_out_net=np.array([20.0, 50.0, 40.0, 10.0]),
    solar_elevation=np.array([50.0, 48.0, 52.0, 45.0]),
    solar_azimuth=np.array([120.0, 150.0, 180.0, 220.0]),
    sw_in_memory=np.array([850.0, 780.0, 790.0, 820.0]),
    thermal_shock=np.array([0.0, 1.0, 0.0, 0.0]),
)


VISITS = [("heron", 21), ("heron", 21), ("heron", 22), ("curlew", 21)]
"""Set and day of May of four walks that are alike in everything else."""


def four_walks(**changes):
    start = [pd.Timestamp(f"2026-05-{day}T09:00:00Z") for _, day in VISITS]
    return segments(
        4,
        tuple(name for name, _ in VISITS),
        ("stubble",) * 4,
        **{
            "sw_out": 190.0,
            "lw_out": 450.0,
            "lw_out_net": 20.0,
            "start_utc": start,
            "end_utc": [time + pd.Timedelta(minutes=10) for time in start],
            **changes,
        },
    )


def grouping(frame=SEGMENTS, by=("surface",)):
    """The groups of some segments as step 8 makes them."""
    means = summarise.groups(frame, list(by), CLASSES, summarise.reference_sky(frame))
    return grouping_of(frame, with_class_values(means, balances(means, frame), CLASSES), by, visits(frame))


def drawn(sources, seed, count):
    """Errors of the model for every draw."""
    return moved(sources, scores(sources, seed, count))


def parts(sources, name, frame=SEGMENTS, shade=None):
    """Contribution of each source to a quantity of each segment."""
    results = measured(frame, shade or shade_of(frame, CARRYING), one_at_a_time(sources))
    return contributions(results)[name]


def half_widths(terms, name, frame=SEGMENTS, certificate=None):
    """Linear standard uncertainty of a quantity of each segment, by instruments and carrying."""
    sources = instrument_sources(frame, certificates() if certificate is None else certificate, terms)
    return half_width(parts(sources, name, frame)) / NORMAL_95


def inputs_of(frame=SEGMENTS, terms=TERMS, certificate=None):
    """What step 8 reads, from segments."""
    sky = summarise.reference_sky(frame)
    means = {kind: summarise.groups(frame, by, CLASSES, sky) for kind, by in GROUPINGS.items()}
    return Inputs(
        frame,
        means,
        {"visits": visits(frame), **{kind: balances(table, frame) for kind, table in means.items()}},
        certificates(dict.fromkeys(frame["set"])) if certificate is None else certificate,
        CLASSES,
        terms,
        CARRYING,
        COURSE,
    )


def whole(frame=SEGMENTS, terms=TERMS, seed=1, draws=800, certificate=None, **methods):
    """Step 8 on some segments, with known effects left in the values unless a test asks for the default."""
    inputs = inputs_of(frame, terms, certificate)
    return propagate(inputs, seed, draws, **{"one_sided": "leave", **methods})
