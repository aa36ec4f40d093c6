"""What a campaign can show of a set's instruments, by its truth, and campaigns of one set."""

from __future__ import annotations

import dataclasses
from itertools import pairwise

import numpy as np

from simulate import mistakes_instruments as mistakes
from simulate.campaign import Campaign
from simulate.sky import KELVIN, SIGMA
from simulate.spec import Spec


class Seen:
    """What the records of one set could show: truth and records of the sound campaign, at its own
    interval."""

    def __init__(self, campaign: Campaign, name: str):
        self.campaign, self.name = campaign, name
        self.true, self.interval = campaign.samples[name], mistakes.set_of(campaign, name).interval
        self.recorded = len(self.true) * self.interval
        self.lit = ((np.degrees(self.true["elevation"]) > 11.0) & (self.true["sw_in"] > 60.0)).to_numpy()
        self.day = self.lit.mean() > 0.9
        self.beam = (
            self.day and (self.true["direct"] > 0.5 * self.true["sw_in"]).sum() * self.interval > 150.0
        )
        self.albedo = float(self.true["sw_out"].sum() / self.true["sw_in"].sum()) if self.day else np.nan

    def net(self, channel: str) -> np.ndarray:
        return mistakes.flux(self.campaign, self.name, channel)

    def beam_first(self, seconds: float) -> bool:
        """Whether the sun shines for most of the first recorded seconds."""
        here = slice(0, int(seconds / self.interval))
        return self.day and bool((self.true["direct"] > 0.5 * self.true["sw_in"])[here].mean() > 0.5)

    def ground_hot(self) -> bool:
        """Land so warm, under a strong sun, that it reads 9 K colder than the air once the leads are
        reversed."""
        sunny = (self.lit & (self.true["sw_in"] > 320.0)).to_numpy()
        if sunny.sum() <= 20 or not 0.12 < self.albedo < 0.45:
            return False
        net, ground = (
            float(np.median(x[sunny])) for x in (self.net("lw_out"), self.true["lw_out"].to_numpy())
        )
        body = ((ground - net) / SIGMA) ** 0.25
        reversed_ = ground - 2.0 * net
        air = self.campaign.spec.sky.air_temperature + KELVIN
        return min(air, body) - (reversed_ / SIGMA) ** 0.25 > 9.0

    def span(self) -> float:
        time = self.true["time_utc"].to_numpy()
        return float(time[-1] - time[0])

    def swing_shows(self) -> bool:
        """In the sun twice for 95 s on end, and most of the time in the sun along its direction, which is
        not overhead."""
        spec, sunny = (
            self.campaign.spec,
            (self.lit & (self.true["direct"] > 0.5 * self.true["sw_in"])).to_numpy(),
        )
        headings = {f.name: f.heading for f in spec.fields}
        way = np.array([headings.get(visit.field, np.nan) for visit in spec.visits] + [np.nan])[
            self.true["visit"].to_numpy()
        ]
        along = np.abs(np.cos(self.true["azimuth"].to_numpy() - np.radians(way))) > 0.6
        breaks = np.concatenate(
            [
                [0],
                np.flatnonzero(
                    (np.diff(self.true["time_utc"]) > 2.5 * self.interval) | (np.diff(sunny.astype(int)) != 0)
                )
                + 1,
                [len(sunny)],
            ]
        )
        lasts = np.array([(end - start) * self.interval for start, end in pairwise(breaks) if sunny[start]])
        return bool(
            lasts[lasts >= 95.0].sum() >= 190.0
            and along[sunny].mean() > 0.5
            and np.degrees(self.true["elevation"]).max() < 70.0
        )


def alone(spec: Spec) -> Spec:
    """The same campaign with its first set alone: nothing here compares sets."""
    first = spec.sets[0]
    return spec.with_(sets=(first,), visits=tuple(visit for visit in spec.visits if visit.set == first.name))


def volts(spec: Spec) -> Spec:
    """The first set alone, storing mV."""
    one = alone(spec)
    return one.with_(
        sets=(
            dataclasses.replace(
                one.sets[0],
                layout="comma-clock",
                unit=None,
                digits=4,
                body_unit=None,
                longwave="net",
                interval=1.0,
            ),
        )
    )


def watts(spec: Spec) -> Spec:
    """The first set alone, storing W m-2."""
    one = alone(spec)
    return one.with_(
        sets=(
            dataclasses.replace(
                one.sets[0], layout="semicolon-day", unit=None, digits=2, body_unit=None, interval=1.0
            ),
        )
    )
