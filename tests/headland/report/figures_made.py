"""What the tests of figures share: a small campaign, and its figures as text."""

from pathlib import Path

import numpy as np
import pandas as pd

from headland.files.schemas import table_schema
from headland.report import figures, figures_of
from headland.report.figures_recorded import Record

ROOT = Path(__file__).parents[3]
SURFACES = {
    "short_grass": {
        "label": {"value": "short grass"},
        "colour": {"value": "#2e8b3d"},
        "marker": {"value": "o"},
    },
    "paving": {"label": {"value": "paving"}, "colour": {"value": "#555555"}, "marker": {"value": "P"}},
}
NASTY = "<b>&\"' $x^2$ -- \x08 ]]> 北"


def frame(name: str, rows: list[dict]) -> pd.DataFrame:
    """A table by its schema; what a row does not give is missing."""
    kinds = {"number": "float64", "integer": "float64", "datetime": "datetime64[us, UTC]", "boolean": object}
    fields = table_schema(name)["fields"]
    result = pd.DataFrame(
        [
            {f["name"]: row.get(f["name"], "" if f["type"] == "string" else None) for f in fields}
            for row in rows
        ],
        columns=[f["name"] for f in fields],
    )
    return result.astype({f["name"]: kinds.get(f["type"], object) for f in fields})


def samples(
    count: int = 60, segment: str = "heron-0521-1000", start: str = "2026-05-21 10:00:00", step: float = 1.0
) -> pd.DataFrame:
    moments = pd.Timestamp(start, tz="UTC") + pd.to_timedelta(np.arange(count) * step, unit="s")
    wave = np.sin(np.arange(count) / 7.0)
    return frame(
        "samples_segmented",
        [
            {
                "time_utc": t,
                "middle_utc": t,
                "sw_in": 700 + 100 * w,
                "sw_out": 150 + 20 * w,
                "lw_in": 340.0,
                "lw_out": 440 + w,
                "body_temperature": 20.0,
                "solar_elevation": 50.0,
                "solar_azimuth": 150.0,
                "sw_clear": 820.0,
                "flags": "edge" if i < 10 else "sw_in-impossible" if i == 30 else "",
                "segment": segment,
                "position": i * step,
            }
            for i, (t, w) in enumerate(zip(moments, wave, strict=True))
        ],
    )


def noted(
    segment: str = "heron-0521-1000",
    field: str = "Lower meadow",
    start: str = "2026-05-21 10:00:00",
    set_name: str = "heron",
) -> dict:
    begin = pd.Timestamp(start, tz="UTC")
    return {
        "segment": segment,
        "set": set_name,
        "field": field,
        "surface": "short_grass",
        "activity": "walk",
        "start_utc": begin,
        "end_utc": begin + pd.Timedelta(minutes=1),
    }


def groups(name: str, count: int = 2, **changes) -> pd.DataFrame:
    quantities = {
        "sw_in": 800.0,
        "sw_out": 160.0,
        "albedo": 0.2,
        "lw_in": 340.0,
        "lw_out": 450.0,
        "surface_temperature": 25.0,
        "net_radiation": 530.0,
        "net_radiation_common_sky": 540.0,
        "ground_heat": 53.0,
        "sensible_heat": 120.0,
        "latent_heat": 357.0,
        "evaporation": 0.5,
        "bowen_ratio": 0.34,
    }
    rows = []
    for index in range(count):
        row = {
            "surface": ("short_grass", "paving")[index % 2] if index < 2 else f"class_{index}",
            "field": f"Field {index}",
            "segments": 3,
            "samples_used": 200,
        }
        for q, value in quantities.items():
            value = changes.get(q, value) + (1.0 if q != "albedo" else 0.01) * index
            row |= {q: value, f"{q}_low": value * 0.95, f"{q}_high": value * 1.05}
        rows.append(row)
    return frame(name, rows)


def differences(count: int = 2) -> pd.DataFrame:
    names = groups("surfaces", count)["surface"].tolist()
    return frame(
        "differences",
        [
            {
                "surface_a": a,
                "surface_b": b,
                "quantity": q,
                "difference": 12.0,
                "difference_low": 3.0,
                "difference_high": 20.0,
                "distinguishable": True,
            }
            for i, a in enumerate(names)
            for b in names[i + 1 :]
            for q in ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")
        ],
    )


def budget(count: int = 2) -> pd.DataFrame:
    return frame(
        "uncertainty_budget",
        [
            {
                "surface": s,
                "quantity": q,
                "source": f"source {i}",
                "half_width_95": 4.0 - 0.3 * i,
                "share": 0.1,
            }
            for s in [*groups("surfaces", count)["surface"], "paving - short_grass"]
            for q in ("albedo", "surface_temperature", "net_radiation")
            for i in range(10)
        ],
    )


def means(count: int = 2) -> pd.DataFrame:
    """Segments of step 6: three passes over each surface."""
    return frame(
        "segment_means",
        [
            {
                "segment": f"heron-{name}-{n}",
                "set": "heron",
                "surface": name,
                "activity": "walk",
                "weight": 60.0,
                "samples_used": 60,
                "albedo": 0.2 + 0.001 * n,
                "surface_temperature": 25.0 + n,
                "net_radiation_common_sky": 540.0 + n,
                "solar_elevation": 51.5,
                "solar_azimuth": 153.0,
                "heading": 90.0 if n else None,
            }
            for name in groups("surfaces", count)["surface"]
            for n in range(3)
        ],
    )


def campaign(field: str = "Lower meadow") -> dict:
    return {
        "noted": frame("noted", [noted(field=field)]),
        "samples": {"heron": samples()},
        "intervals": {"heron": 1.0},
        "excluded": {"heron": np.arange(60) < 10},
        "tables": {
            "surfaces": groups("surfaces"),
            "fields": groups("fields").assign(field=field),
            "differences": differences(),
            "measured": frame("measured", []),
            "uncertainty_budget": budget(),
        },
        "means": means(),
    }


SETTINGS = {
    "zone": "Europe/Ljubljana",
    "site": {"latitude": 46.9, "longitude": 7.1, "elevation": 430.0},
    "carrying": {
        "sensor_height": 1.5,
        "reach": 1.2,
        "carrier_height": 1.75,
        "carrier_width": 0.45,
        "walking_speed": 0.8,
    },
}


def drawn(**changes) -> dict[str, str]:
    given = {**campaign(), **changes}
    record = Record(*(given[name] for name in ("noted", "samples", "intervals", "excluded")))
    made = figures_of.numbers(given["tables"], given["means"], SURFACES)
    made |= figures_of.samples(record, SURFACES, SETTINGS)
    return {name: figures.svg(figure) for name, figure in made.items()}
