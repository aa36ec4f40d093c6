"""The lamps of one set where the checks found nothing: good, or not tested and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from headland.base.times import recorded_runs, since_1970
from headland.checks.one_set import LIT, SUN_UP
from headland.checks.sun_fit import fit_to_sun
from headland.field.lamps import NAMES, Lamp
from headland.physics.constants import RADIATION

ENOUGH = 10
"""Samples below which nothing is judged."""


@dataclass(frozen=True)
class Record:
    """One set as its own files show it.

    raw: rows as logged. samples: W m-2, degC, with `flags`. middles: of the samples by the set's own clock.
    certificates: those in force. entry: the set's settings.
    """

    raw: pd.DataFrame
    samples: pd.DataFrame
    middles: pd.Series
    certificates: pd.DataFrame
    entry: Mapping

    @property
    def interval(self) -> float:
        return self.entry["layout"]["interval"]

    @cached_property
    def seconds(self) -> np.ndarray:
        """Seconds since 1970 of the middles."""
        return since_1970(self.middles)

    @cached_property
    def known(self) -> dict[str, np.ndarray]:
        """By channel, a truth value a sample: whether it has a value."""
        return {c: np.isfinite(self.samples[c].to_numpy(float)) for c in RADIATION}

    @cached_property
    def high(self) -> np.ndarray:
        """A truth value a sample: whether the sun is high enough to judge shortwave."""
        return self.samples["solar_elevation"].to_numpy() > SUN_UP

    @property
    def has_sun(self) -> bool:
        """Whether enough samples are lit to judge the shortwave channels."""
        brightest = np.fmax(*(np.abs(self.samples[c].to_numpy(float)) for c in ("sw_in", "sw_out")))
        return bool((self.high & (brightest > LIT)).sum() >= ENOUGH)

    @property
    def has_longwave(self) -> bool:
        return bool((self.known["lw_in"] & self.known["lw_out"]).sum() >= ENOUGH)

    @property
    def body(self) -> np.ndarray:
        """Body temperature, degC."""
        return self.samples["body_temperature"].to_numpy(float)

    @property
    def is_warm(self) -> bool:
        """Whether there is any body temperature."""
        return bool(np.isfinite(self.body).any())


def of_set(name: str, record: Record, site: Mapping[str, float]) -> list[Lamp]:
    """What a set stored, and for each subject what its lamp says where nothing is found."""
    if not len(record.samples):
        return [
            Lamp(
                name,
                "stored",
                "red",
                "Nothing was stored, or nothing of it can be read.",
                "Check the storage switch and whether the right file was downloaded, before you pack up.",
            )
        ]
    subjects = [
        _stored(record),
        *_missing(record),
        _ranges(record),
        _covers(record),
        _signs(record),
        ("channels alive", "green", "Every channel moves."),
        _correction(record),
        *_body(record),
        _window(record),
        _supply(record),
        _clock(record, site),
    ]
    return [Lamp(name, *said) for said in subjects]


def _stored(record: Record) -> tuple[str, ...]:
    count = len(record.samples)
    runs = recorded_runs(record.seconds, record.interval)[-1] + 1
    minutes = count * record.interval / 60
    return (
        "stored",
        "green",
        f"{count} samples in {runs} run{'s' if runs > 1 else ''}: {minutes:.0f} min in all.",
    )


def _missing(record: Record) -> list[tuple[str, ...]]:
    """Lamps of what the set lacks: certificates or values, and a body temperature."""
    said: list[tuple[str, ...]] = []
    blind = [NAMES[c] for c in RADIATION if not record.known[c].any()]
    if blind:
        what = f"No certificate or no value for {', '.join(blind)}: not judged."
        said.append(("factors", "amber", what, "Put instruments.csv into the folder; then look again."))
    if not record.is_warm:
        what = "No body temperature: the longwave terms need it."
        said.append(("body temperature", "red", what, "Check the thermometer's plug and the layout's unit."))
    return said


def _ranges(record: Record) -> tuple[str, ...]:
    ends = "; ".join(
        f"{NAMES[c]} {np.nanmin(record.samples[c]):.0f} to {np.nanmax(record.samples[c]):.0f}"
        for c in RADIATION
        if record.known[c].any()
    )
    return ("ranges", "green", f"{ends} W m⁻².") if ends else ("ranges", "grey", "No values to judge.")


def _covers(record: Record) -> tuple[str, ...]:
    if (record.high & record.known["sw_in"]).any():
        return "covers", "green", "No head was covered for a minute."
    return "covers", "grey", "The sun is too low to see a cover."


def _signs(record: Record) -> tuple[str, ...]:
    if record.has_sun:
        return "signs and places", "green", "Signs and places of the channels make sense."
    if record.has_longwave:
        return "signs and places", "green", "Longwave makes sense; there is no sun to check shortwave."
    return "signs and places", "grey", "There is neither sun nor longwave to check them."


def _correction(record: Record) -> tuple[str, ...]:
    if record.has_longwave and record.is_warm:
        return "longwave correction", "green", f"As declared: {record.entry['longwave']}."
    return "longwave correction", "grey", "There is no longwave, or no body temperature, to check it."


def _body(record: Record) -> list[tuple[str, ...]]:
    if not record.is_warm:
        return []
    ends = f"{np.nanmin(record.body):.1f} to {np.nanmax(record.body):.1f}"
    return [("body temperature", "green", f"{ends} °C, steady enough.")]


def _window(record: Record) -> tuple[str, ...]:
    if record.known["lw_in"].any():
        return "upper window", "green", "Dry, as far as the signal shows."
    return "upper window", "grey", "There is no longwave in to check it."


def _supply(record: Record) -> tuple[str, ...]:
    volts = record.raw["battery"].to_numpy(float) if "battery" in record.raw else np.zeros(0)
    if np.isfinite(volts).any():
        return "supply", "green", f"{np.nanmax(volts):.2f} V at most, {np.nanmin(volts):.2f} V at least."
    return "supply", "grey", "The layout names no supply voltage."


def _clock(record: Record, site: Mapping[str, float]) -> tuple[str, ...]:
    fit = fit_to_sun(
        record.seconds,
        record.samples["sw_in"].to_numpy(float),
        np.full(len(record.samples), np.nan),
        site,
    )
    if fit is None:
        return "clock and sun", "grey", "Less than half an hour of sun: the clock can't be checked by it."
    if fit.clear:
        what = "The clear sky fits the logger's clock, as far as the sun can show (some 20 min)."
        return "clock and sun", "green", what
    remedy = "Read the logger's clock against the time and note it (clock_check)."
    return "clock and sun", "grey", "Clouds: the sun can't check the clock.", remedy


def together(quiet: Sequence[Lamp], lit: Sequence[Lamp]) -> list[Lamp]:
    """A set's lamps in order: where something is found, it replaces what is said where nothing is found."""
    subjects = dict.fromkeys([*(lamp.subject for lamp in quiet), *(lamp.subject for lamp in lit)])
    lamps = []
    for subject in subjects:
        found = [lamp for lamp in lit if lamp.subject == subject]
        own = [lamp for lamp in quiet if lamp.subject == subject]
        lamps += [lamp for lamp in own if not found or lamp.state in ("amber", "red")] + found
    return lamps
