"""One set's series while its instruments are checked: what is measured, what is usable, and what was found
so far.

Each check corrects, here and for the checks after it only, what it found. So several mistakes are told
apart, and a consequence of one is not reported as another. The samples themselves are never changed.
Limits without another source are common practice: none is published for walked surveys.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.frames import Table
from headland.base.time_text import time_text
from headland.base.times import since_1970
from headland.base.untold import Untold
from headland.checks.series import RUN_FEWEST, lasting
from headland.physics.constants import RADIATION

ENOUGH = 10
"""Fewest samples by which a whole channel is judged (common practice, no source)."""
SUN_UP = 10.0
"""degrees: shortwave is not judged with a lower sun, whose cosine errors are large (common practice, no
source)."""
LIT = 50.0
"""W m-2: signs and ratios are judged where the larger shortwave term is above this (common practice, no
source)."""

SMOOTH = 0.004
"""Scatter of ln(SW_in / clear sky) about a straight line within a block, below which a sky is clear and not
overcast: an overcast layer scatters by 0.01 and more (common practice, no source)."""
JUMP = 0.5
"""Range of ln(SW_in / clear sky) within a block from which the sun goes behind clouds (common practice, no
source)."""
BLOCK, FEWEST = 60.0, 12
"""s, and samples, of such a block: the longer of the two (common practice, no source)."""
PAUSE = 2.5
"""Intervals between samples from which the storage was off: one lost row is none (common practice, no
source)."""


@dataclass(frozen=True)
class SetRecord:
    """What the checks of one set's instruments need.

    raw: as logged, one column a channel. sensed: `sw_in`, `sw_out`, `lw_in_net`, `lw_out_net` (W m-2),
    `body_temperature_lw_in`, `body_temperature_lw_out` (degC). Both may be tables on disk (`tables.OnDisk`).
    sun: `time_utc`, `solar_elevation` (degrees), `sw_clear` and `toa` (W m-2: clear-sky global; top of the
    atmosphere, normal to the beam). air: its usual temperature over the samples, degC, NaN where unknown.
    certificates: those in force. channels: of the layout, with their units. longwave: the declared state,
    `net` or `corrected`. interval: s. limits: rows of quality.csv by flag. air_course: the air's temperature
    at each sample, degC, where it is known to change.
    """

    name: str
    raw: Table | pd.DataFrame
    sensed: Table | pd.DataFrame
    sun: pd.DataFrame
    air: float
    certificates: pd.DataFrame
    channels: Mapping[str, Mapping]
    longwave: str
    interval: float
    limits: Mapping[str, Mapping]
    air_course: np.ndarray | None = None


@dataclass
class Diagnosis:
    """What was found in one set.

    flags: one truth value a sample for each flag. wrong: channels with an error of their own; a limit that
    they break is not reported beside it. untold: checks that could not be made.
    """

    flags: dict[str, np.ndarray] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    wrong: set[str] = field(default_factory=set)
    untold: list[Untold] = field(default_factory=list)


class OneSet:
    """The series of one set, corrected for what has been found so far."""

    def __init__(self, record: SetRecord):
        self.record = record
        self.raw, self.interval, self.limits = record.raw, record.interval, record.limits
        self.time = record.sun["time_utc"]
        self.elevation, self.clear, self.toa = (
            record.sun[c].to_numpy(float) for c in ("solar_elevation", "sw_clear", "toa")
        )
        certificate = record.certificates.set_index("channel")
        self.factor = certificate["factor"].to_dict()
        self.thermometer = certificate["thermometer"].to_dict() if "thermometer" in certificate else {}
        self.response = float(certificate["response_time_95"].get("sw_in", np.nan))
        self.usable = {c: np.ones(len(self.time), bool) for c in RADIATION}
        self.flux: dict[str, np.ndarray] = {}
        self.body: dict[str, np.ndarray] = {}
        self.result = Diagnosis()

    def read_sensed(self) -> None:
        """Read the fluxes and body temperatures: after the checks of all that was logged, so that not both
        are held."""
        flux = {c: c if c.startswith("sw") else f"{c}_net" for c in RADIATION}
        body = {c: f"body_temperature_{c}" for c in ("lw_in", "lw_out")}
        frame = self.record.sensed[[*flux.values(), *body.values()]]
        self.flux = {c: frame[name].to_numpy(float) for c, name in flux.items()}
        self.body = {c: frame[name].to_numpy(float) for c, name in body.items()}
        if np.array_equal(self.body["lw_in"], self.body["lw_out"], equal_nan=True):
            self.body["lw_out"] = self.body["lw_in"]  # one thermometer
        for channel in RADIATION:
            self.usable[channel] &= np.isfinite(self.flux[channel])

    @property
    def seconds(self) -> np.ndarray:
        """Times of the samples, s since 1970."""
        return since_1970(self.time)

    # what was found

    def report(
        self,
        code: str,
        variant: str = "",
        *,
        where=None,
        channel: str = "",
        error: bool = True,
        **facts: Any,
    ) -> None:
        """Add a finding. where: samples that it concerns, for its times. error: whether its channels count
        as wrong."""
        moments = self.time if where is None else self.time[where]
        start, end = time_text(moments.iloc[[0, -1]]) if len(moments) else ("", "")
        name = self.record.name
        self.result.findings.append(
            Finding(code, variant, name, start_utc=start, end_utc=end, channel=channel, facts=facts)
        )
        if error:
            self.result.wrong |= set(channel.split())

    def can_t_tell(self, code: str, reason: str, channel: str = "") -> None:
        """Add a check that could not be made."""
        self.result.untold.append(Untold(code, reason, self.record.name, channel))

    def needs(self, code: str, where, shortest: float, fewest: int = RUN_FEWEST, channel: str = "") -> None:
        """Add a check that could not be made where too few samples can be judged. where: a truth value a
        sample."""
        if lasting(np.sum(where), self.interval, shortest, fewest):
            return
        whole = lasting(len(self.time), self.interval, shortest, fewest)
        self.can_t_tell(code, "low-sun" if whole else "short-record", channel)

    # what several checks use

    def middle(self, channel: str, where=None) -> float:
        """Median of a channel over its usable samples, W m-2; NaN where there are too few."""
        good = self.usable[channel] if where is None else self.usable[channel] & where
        return float(np.median(self.flux[channel][good])) if good.sum() >= ENOUGH else np.nan

    @property
    def lit(self) -> np.ndarray:
        """Samples with the sun up in which the larger shortwave term is more than LIT."""
        larger = np.fmax(np.abs(self.flux["sw_in"]), np.abs(self.flux["sw_out"]))
        return (self.elevation > SUN_UP) & (larger > LIT) & self.usable["sw_in"] & self.usable["sw_out"]

    def ratio(self, where) -> float:
        """SW_out over SW_in, each summed over some samples."""
        return float(np.sum(self.flux["sw_out"][where]) / np.sum(self.flux["sw_in"][where]))

    def blocks(self, where) -> np.ndarray:
        """Numbers of the samples of each whole block of BLOCK s, or FEWEST samples, that lies in `where`
        without a pause.

        Blocks overlap by half, and the last block of a run ends with it. Returns blocks x samples.
        """
        size = max(round(BLOCK / self.interval), FEWEST)
        seconds = self.seconds
        if not len(seconds):
            return np.zeros((0, size), int)
        starts = np.flatnonzero(np.concatenate([[True], np.diff(seconds) > PAUSE * self.interval]))
        firsts = [
            k
            for start, end in zip(starts, np.append(starts[1:], len(seconds)), strict=True)
            if end - start >= size
            for k in (*range(start, end - size, size // 2), end - size)
        ]
        numbers = np.array(firsts, int)[:, None] + np.arange(size)
        return numbers[np.asarray(where)[numbers].all(axis=1)]

    def sky(self, where) -> tuple[str, float]:
        """How the beam shows in SW_in, whatever the factor: `steady` (no cloud), `broken`, or nothing; and
        a share.

        The share is the 95th percentile of SW_in over the clear-sky model: under a broken sky it is that
        between the clouds.
        """
        good = where & (self.flux["sw_in"] > 0) & (self.clear > LIT)
        if good.sum() < ENOUGH:
            return "", np.nan
        ratio = np.log(np.where(good, self.flux["sw_in"], 1.0) / np.where(good, self.clear, 1.0))
        share = float(np.exp(np.quantile(ratio[good], 0.95)))
        values = ratio[self.blocks(good)]
        if np.any(np.ptp(values, axis=1) > JUMP):
            return "broken", share
        steady = len(values) >= 2 and np.median(scatter_about_line(values)) < SMOOTH
        return "steady" if steady else "", share


def scatter_about_line(values: np.ndarray) -> np.ndarray:
    """Standard deviation of each row about its own straight line. values: rows x n."""
    order = np.arange(values.shape[1]) - (values.shape[1] - 1) / 2.0
    about = values - values.mean(axis=1, keepdims=True)
    return np.std(about - np.outer(about @ order / (order @ order), order), axis=1)
