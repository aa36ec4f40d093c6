"""Everything that the report is made from, as one value that its pages share."""

from __future__ import annotations

import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from importlib.metadata import version

import numpy as np
import pandas as pd

from headland.base.flags import excluding_flags, has_any
from headland.chain import summarise
from headland.files import options, step
from headland.report import figures

LIBRARIES = ("snakemake", "numpy", "pandas", "scipy", "pvlib", "pyarrow", "matplotlib", "weasyprint")
FRAMES = {
    "means": step.table("segment_means"),
    "balances": step.table("group_balance"),
    "linear": step.table("linear_check"),
    "intercomparison": step.table("intercomparison"),
    "against_station": step.table("against_station"),
    "worked": step.table("worked"),
    "untold": step.table("untold"),
    "certificates": step.together("certificates"),
    "tables": options.TABLES,
    "weather": options.silent(options.WEATHER),
    "terms": options.CONFIG_TABLE,
    "equations": options.CONFIG_TABLE,
    "quantities": options.ROWS,
}
"""Options that are the report's by their own names."""
READS = {
    **FRAMES,
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "program": options.TEXT,
    "figures": options.PICTURES,
    "drawn_equations": options.PICTURES,
    "questions": options.JSONS,
    "segmented": step.of_sets("samples_segmented"),
}


@dataclass(frozen=True)
class Given:
    """What the steps left, and the settings of the campaign.

    Parameters
    ----------
    settings : title, site, zone, weather, draws, methods, sets, inputs (name, bytes, SHA-256), versions,
        changed, seed
    samples, excluded : samples of step 5, and which of them are not used, by set
    tables : the tables that users get, by name
    means : segments of step 6
    balances : surfaces of step 7
    certificates, linear, intercomparison, against_station, untold, worked : tables that the steps left
    weather : the campaign's own table, empty where it has none
    sky : shortwave and longwave from above of the common sky, W m-2
    surfaces : properties of the surface classes
    terms, equations, quantities : rows of uncertainty.csv, equations.csv and quantities.csv
    pictures, drawn_equations : figures and equations as SVG, by name
    questions : of the exercises, where they are asked for
    """

    settings: Mapping
    samples: Mapping[str, pd.DataFrame]
    excluded: Mapping[str, np.ndarray]
    tables: Mapping[str, pd.DataFrame]
    means: pd.DataFrame
    balances: pd.DataFrame
    certificates: pd.DataFrame
    linear: pd.DataFrame
    intercomparison: pd.DataFrame
    against_station: pd.DataFrame
    untold: pd.DataFrame
    worked: pd.DataFrame
    weather: pd.DataFrame
    sky: tuple[float, float]
    surfaces: Mapping[str, Mapping]
    terms: pd.DataFrame
    equations: pd.DataFrame
    quantities: Sequence[Mapping[str, str]]
    pictures: Mapping[str, str] = field(default_factory=dict)
    drawn_equations: Mapping[str, str] = field(default_factory=dict)
    questions: Sequence[str] = ()

    @cached_property
    def ranked(self) -> pd.DataFrame:
        """The surfaces in the order of all tables and figures."""
        table = self.tables["surfaces"]
        return table.set_index("surface", drop=False).loc[figures.order(table)].reset_index(drop=True)

    @cached_property
    def keys(self) -> dict[str, Mapping[str, str]]:
        """Rows of quantities.csv by key."""
        return {row["key"]: row for row in self.quantities}

    def name(self, surface: str) -> str:
        """The plain name of a surface class."""
        return figures.label(self.surfaces, surface)


def of_files(files: step.Files) -> Given:
    """The report's material from the files of its step."""
    excluding, samples = excluding_flags(files["limits"]), files["segmented"]
    return Given(
        settings={**files.settings, "versions": versions(files.settings["version"])},
        samples=samples,
        excluded={name: has_any(frame["flags"], excluding) for name, frame in samples.items()},
        sky=summarise.reference_sky(files["means"]),
        surfaces=files["classes"],
        pictures=files["figures"],
        drawn_equations=files["drawn_equations"],
        questions=[text for texts in files["questions"] for text in texts],
        **files.some(FRAMES),
    )


def versions(own: str) -> list[tuple[str, str]]:
    """What computed these numbers: Headland's own version, Python's and the libraries'."""
    libraries = [(name, version(name)) for name in LIBRARIES]
    return [("Headland", own), ("Python", platform.python_version()), *libraries]
