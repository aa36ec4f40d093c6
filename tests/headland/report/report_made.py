"""What the tests of the report share: a small campaign as the steps leave it, and its page."""

import dataclasses
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pandas as pd
from markupsafe import Markup

from headland.files import config_tables
from headland.files.surfaces import surface_classes
from headland.report import explore, page, report
from headland.report.given import Given

from . import figures_made as test_figures
from .figures_made import frame, groups, samples

ROOT = Path(__file__).parents[3]
OURS = ROOT / "workflow" / "headland" / "report"
QUANTITIES = config_tables.read_config_table(ROOT / "workflow" / "headland" / "quantities.csv").to_dict(
    "records"
)
EQUATIONS = config_tables.read_config_table(OURS / "equations.csv")
TERMS = config_tables.read_config_table(ROOT / "config" / "uncertainty.csv")
PICTURE = '<svg xmlns="http://www.w3.org/2000/svg" width="10pt" height="10pt"/>'
FIGURES = (
    "record",
    "passes",
    "albedo_temperature",
    "balance",
    "budget",
    "shared",
    "transects_heron_01",
    "sun_path",
)
VOID = {"meta", "img", "br", "wbr", "link", "hr"}


class Page(HTMLParser):
    """The page as a reader of HTML sees it: its text, its tags, and whether they nest."""

    def __init__(self, text: str):
        super().__init__()
        self.texts, self.tags, self.open, self.wrong = [], [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self) -> str:
        return " ".join("".join(self.texts).split())


def segments(count: int = 2, **changes) -> pd.DataFrame:
    rows = []
    for n in range(count):
        row = {
            "segment": f"heron-0521-{1000 + n}",
            "set": "heron",
            "field": "Lower meadow",
            "surface": "short_grass",
            "activity": "walk",
            "transect": "1",
            "pass": str(n + 1),
            "start_utc": pd.Timestamp("2026-05-21 10:00:00", tz="UTC"),
            "end_utc": pd.Timestamp("2026-05-21 10:01:00", tz="UTC"),
            "samples": 60,
            "samples_used": 50,
            "body_temperature": 20.25,
            "solar_elevation": 51.5,
            "solar_azimuth": 153.0,
            "sky": "clear",
            "notes_row": 7 + n,
            **changes,
        }
        for q, value in {
            "sw_in": 800.0,
            "sw_out": 160.0,
            "albedo": 0.2,
            "lw_in": 340.0,
            "lw_out": 450.0,
            "surface_temperature": 25.0,
            "net_radiation": 530.0,
        }.items():
            row |= {q: changes.get(q, value), f"{q}_low": value * 0.95, f"{q}_high": value * 1.05}
        rows.append(row)
    return frame("segments", rows)


def finding(**changes) -> dict:
    return {
        "severity": "error",
        "code": "notes-reversed",
        "step": "segment",
        "set": "heron",
        "file": "notes.csv",
        "line": 4,
        "what": "The interval ends before it starts.",
        "remedy": "Correct it.",
        **changes,
    }


def certificates() -> pd.DataFrame:
    return frame(
        "certificates",
        [
            {
                "set": "heron",
                "channel": "sw_in",
                "sensor_id": "S1",
                "factor": 66.6667,
                "certificate_date": "2025-03-11",
                "age_months": 14.4,
                "response_time_95": 12.0,
                "instrument_class": "B",
            }
        ],
    )


SETTINGS = {
    "title": "A day",
    "site": {"name": "A place", "latitude": 46.9, "longitude": 7.1, "elevation": 430.0},
    "zone": "Europe/Zurich",
    "weather": {"air_temperature": 18.0},
    "draws": 16384,
    "certificate": "latest",
    "ground_heat": "class_fraction",
    "set_scale": "none",
    "one_sided": "leave",
    "sets": {"heron": {"logger_id": "L-07", "raw": ["logger/heron_1.csv"]}},
    "inputs": [["campaign.yaml", 100, "0" * 64]],
    "versions": [["Python", "3.11"]],
    "changed": [["carrying.reach", "1.5", "1.2"]],
    "seed": 1,
}


def balances() -> pd.DataFrame:
    return frame(
        "group_balance",
        [
            {
                "surface": name,
                "day": True,
                "fraction": 0.1,
                "offset": 0.0,
                "coefficient": 1.08,
                "split": split,
            }
            for name, split in (("short_grass", "priestley_taylor"), ("paving", "none"))
        ],
    )


def worked_rows() -> pd.DataFrame:
    parts = (("sample", "2026-05-21T10:00:00Z"), ("segment", "heron-paving-0"))
    row = {
        "set": "heron",
        "meaning": "net radiation",
        "working": "800.00 − 160.00",
        "value": 530.0,
        "unit": "W m-2",
    }
    return frame(
        "worked",
        [
            {**row, "part": part, "item": item, "key": key}
            for part, item in parts
            for key in ("", "summarise.net_radiation")
        ],
    )


def given(**changes) -> Given:
    values = Given(
        settings=SETTINGS,
        samples={"heron": samples()},
        excluded={"heron": np.arange(60) < 10},
        tables={
            "segments": segments(),
            "surfaces": groups("surfaces"),
            "fields": groups("fields"),
            "differences": test_figures.differences(),
            "measured": frame("measured", []),
            "uncertainty_budget": test_figures.budget(),
            "checks": frame("checks", []),
        },
        means=test_figures.means(),
        balances=balances(),
        certificates=certificates(),
        linear=frame("linear_check", []),
        intercomparison=frame("intercomparison", []),
        against_station=frame("against_station", []),
        untold=frame("untold", []),
        worked=worked_rows(),
        weather=frame("weather", []).assign(time_utc=pd.Series(dtype="datetime64[us, UTC]")),
        sky=(800.0, 340.0),
        surfaces=surface_classes(ROOT / "config" / "surfaces.csv", {}),
        terms=TERMS,
        equations=EQUATIONS,
        quantities=QUANTITIES,
        pictures={name: PICTURE for name in FIGURES},
    )
    return dataclasses.replace(values, **changes)


def html(explored=None, **changes) -> str:
    made = given(**changes)
    drawn = explored or explore.data({"heron": samples()}, {"heron": 1.0}, segments(), made.surfaces)
    program = {
        "explore_data": drawn,
        "explore_program": Markup((OURS / "explore.js").read_text(encoding="utf-8")),
    }
    return page.page("report", report.context(made, ["surfaces.csv"]) | program)


def with_tables(**changes) -> dict:
    return {**given().tables, **changes}


EMPTY = {
    name: frame(name, [])
    for name in ("segments", "surfaces", "fields", "differences", "measured", "uncertainty_budget", "checks")
}
