"""Everything that the report is made from, as one value that its pages share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from headland.report import figures


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
