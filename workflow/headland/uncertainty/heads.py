"""Whose heads each segment was measured with: what one set's errors reach."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base import station
from headland.uncertainty.inputs import INCOMING
from headland.uncertainty.model import THERMOMETER


@dataclass(frozen=True)
class Heads:
    """The segments, with 1 for those that a set's lower or upper heads measured and 0 for the others.

    lower, upper: an array over segments for each set. The upper heads are another set's where that one stood
    as sky monitor.
    """

    segments: pd.DataFrame
    lower: dict[str, np.ndarray]
    upper: dict[str, np.ndarray]

    def of(self, set_name: str, channel: str) -> np.ndarray:
        """Segments that a set's head of a channel measured."""
        return (self.upper if channel in INCOMING else self.lower)[set_name]

    def body_temperature(self, channel: str) -> np.ndarray:
        """Body temperature, degC, of the set that measured a channel."""
        column = THERMOMETER["lw_in" if channel in INCOMING else "lw_out"]
        return self.segments[column].to_numpy(float)

    @property
    def sets(self) -> list[str]:
        """The sets, without the fixed station."""
        return [name for name in self.lower if name != station.NAME]


def heads_of(segments: pd.DataFrame) -> Heads:
    """Whose heads measured which segment. segments: as `inputs.prepare` leaves them."""
    names = dict.fromkeys([*segments["set"], *segments["incoming_set"]])
    return Heads(
        segments,
        {name: (segments["set"] == name).to_numpy(float) for name in names},
        {name: (segments["incoming_set"] == name).to_numpy(float) for name in names},
    )


def has_two_thermometers(name: str, certificates: pd.DataFrame) -> bool:
    """Whether the longwave heads of a set have a thermometer each. certificates: those in force, all sets."""
    longwave = (certificates["set"] == name) & certificates["channel"].isin(("lw_in", "lw_out"))
    return len(set(certificates.loc[longwave, "body_channel"])) > 1
