"""A set as the steps before the notes leave it, and what is held of it while notes are compared with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.frames import Table
from headland.base.times import since_1970
from headland.chain.ingest import middle_of_interval
from headland.physics import sun

SKY = ["solar_elevation", "solar_azimuth", "sw_clear"]
"""What step 4 finds of the sky at each sample."""

NOTED = 0.5
"""s: half of the second in which clock checks are read; times corrected by less keep their sun."""


@dataclass(frozen=True)
class Screened:
    """A set as steps 2 to 4 leave it."""

    corrected: Table
    screened: Table
    certificates: pd.DataFrame


@dataclass(frozen=True)
class Recording:
    """A set while its notes are compared with it. Of all sets at once, only this is in memory.

    samples: `time_utc`, `sw_in` and `flags`. stamp, interval: as for `middle_of_interval`.
    """

    tables: Screened
    samples: pd.DataFrame
    stamp: str
    interval: float

    def middle(self) -> pd.Series:
        """Middles of the samples' averaging intervals, by the set's own clock."""
        return middle_of_interval(self.samples["time_utc"], self.stamp, self.interval)

    def sky(self) -> pd.DataFrame:
        """What shows a shadow on the upper head: `sw_in`, `solar_elevation`, `sw_clear`."""
        return self.tables.screened.beside(self.samples[["sw_in"]], ["solar_elevation", "sw_clear"])

    def light(self) -> pd.DataFrame:
        """What shows it on a head alone: `sky` with `sw_out`."""
        return self.tables.corrected.beside(self.sky(), ["sw_out"])

    def rows(self, found: pd.DataFrame, site: Mapping[str, float]) -> Iterator[pd.DataFrame]:
        """The samples as they are written, in pieces: those of the steps before, with what is found here of
        each. Where a clock check corrected the times, the sun is that of the corrected ones.

        found: with `middle_utc`, by the corrected clock. site: latitude, longitude (degrees), elevation (m).
        """
        screened = self.tables.screened.pieces(SKY)
        shown = since_1970(self.middle()) - since_1970(found["middle_utc"])
        position = None
        if np.any(np.abs(shown) >= NOTED):
            position = sun.course(found["middle_utc"], site["latitude"], site["longitude"], site["elevation"])
        for one, two in zip(self.tables.corrected.pieces(), screened, strict=True):
            here = found.loc[one.index]
            if position is not None:
                elevation, azimuth = position(here["middle_utc"])
                clear = sun.clear_sky_global(elevation, here["middle_utc"], site["elevation"])
                two = two.assign(**dict(zip(SKY, (elevation, azimuth, clear), strict=True)))
            yield one.assign(**two, **here)


def recording(tables: Screened, clock: Mapping) -> Recording:
    """What is held of a set. clock: its `stamp` and `interval`."""
    samples = tables.screened.beside(tables.corrected.read(["time_utc", "sw_in"]), ["flags"])
    return Recording(tables, samples, clock["stamp"], clock["interval"])
