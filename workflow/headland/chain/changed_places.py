"""Sensors of one band that have changed places between two sets, in the register or on the carriers.

What a logger was programmed with tells it: both factors are then those that the register gives another set.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from itertools import permutations

import pandas as pd

from headland.base.findings import Finding
from headland.chain.crossed_factors import ANOTHER_SENSOR, CROSSED, REGISTER
from headland.chain.register import certificate_in_force
from headland.physics.instruments import factor_from_responsivity

BANDS = (("sw_in", "sw_out"), ("lw_in", "lw_out"))


def changed_places(set_name: str, register: pd.DataFrame, day: datetime.date) -> list[Finding]:
    """A finding for each band of a set that another set's logger has the factors of, or the reverse.

    Numbers are compared as written and in the other unit: a row that changed places took its unit with it,
    and left the programmed factor without its own.

    register: rows as written. day: of the measurements.
    """
    rows = _in_force(register, day)
    names = list(dict.fromkeys(name for name, _ in rows))
    findings = []
    for logger, owner in permutations(names, 2):
        if set_name not in (logger, owner):
            continue
        for band in BANDS:
            if _programmed_for(rows, logger, owner, band):
                values = " and ".join(f"{rows[logger, channel]['programmed_factor']:.4g}" for channel in band)
                facts = {"logger": logger, "owner": owner, "band": " and ".join(band), "values": values}
                line = int(rows[set_name, band[0]]["line"])
                findings.append(
                    Finding(
                        "pair-broken",
                        "two-sets",
                        set_name,
                        REGISTER,
                        line,
                        channel=" ".join(band),
                        facts=facts,
                    )
                )
    return findings


def _in_force(register: pd.DataFrame, day: datetime.date) -> dict[tuple[str, str], dict]:
    """The certificate in force of each set and channel that has one with a factor and a date."""
    usable = register[register["factor"].gt(0) & register["certificate_date"].ne("")]
    places = usable.sort_values("certificate_date", kind="stable").groupby(["set", "channel"], sort=False)
    return {(str(name), str(channel)): certificate_in_force(own, day) for (name, channel), own in places}


def _programmed_for(
    rows: Mapping[tuple[str, str], Mapping], logger: str, owner: str, band: tuple[str, str]
) -> bool:
    """Whether a logger was programmed with another set's factors of a band, and not with its own set's."""
    if not all((name, channel) in rows for name in (logger, owner) for channel in band):
        return False
    programmed = [rows[logger, channel]["programmed_factor"] for channel in band]
    if not min(programmed) > 0:
        return False
    own, other = (
        [(value, rows[name, channel]["factor"]) for value, channel in zip(programmed, band, strict=True)]
        for name in (logger, owner)
    )
    there = [_apart(*pair) for pair in other]
    as_written = sum(abs(math.log(one / two)) for one, two in own)
    another = max(_apart(*pair) for pair in own) > ANOTHER_SENSOR
    return another and max(there) < ANOTHER_SENSOR and sum(there) < CROSSED * as_written


def _apart(one: float, other: float) -> float:
    """Distance of two factors as logarithms, whichever unit each is in."""
    return min(abs(math.log(one / other)), abs(math.log(factor_from_responsivity(one) / other)))
