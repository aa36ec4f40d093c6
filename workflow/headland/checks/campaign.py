"""What the checks that compare sets need of a campaign."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.flags import has_any
from headland.checks.clocks import SEES_SKY


@dataclass(frozen=True)
class Campaign:
    """The sets of a campaign, and the model of their uncertainty.

    samples: of each set, as step 5 leaves them, at least those in a segment. moments: theirs, s, by the
    clock as far as it is corrected. intervals: s. excluding: flags that keep a sample out. segments: of all
    sets, with `heading` and `activity`. certificates: in force, of all sets. terms: rows of
    uncertainty.csv. carrying: of the settings."""

    samples: Mapping[str, pd.DataFrame]
    moments: Mapping[str, np.ndarray]
    intervals: Mapping[str, float]
    excluding: set[str]
    segments: pd.DataFrame
    certificates: pd.DataFrame
    terms: Mapping[str, Mapping]
    carrying: Mapping[str, float]

    def spoilt(self, name: str) -> np.ndarray:
        """Samples of a set whose upper heads did not see their sky, one truth value a sample."""
        return has_any(self.samples[name]["flags"], self.excluding - SEES_SKY)
