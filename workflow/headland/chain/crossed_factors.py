"""Factors of two channels that are exchanged in the register.

Two things tell: another certificate of the same sensors, and the factors that the logger was programmed with.
`checks.exchanged_factors` looks for an exchange between the bands.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

import pandas as pd

from headland.base.findings import Finding
from headland.physics.constants import RADIATION

REGISTER = "instruments.csv"

LEAST_CROSSED, CROSSED = 0.02, 0.3
"""Least ln of a factor over its own known value for an exchange to be seen, and the share of both such
distances that may be left to the other's. Two certificates of one head differ by 0.01 or more by chance
(common practice, no source).
"""

LEAST_COPIED, LEFT_COPIED = 0.005, 0.05
"""The same of factors copied from these certificates (common practice, no source)."""
SAME_FACTOR = 1e-3
"""Relative difference up to which two factors are the same: certificates and loggers round them to three or
four figures, and two certificates of one head differ by 0.01 (common practice, no source)."""
ANOTHER_SENSOR = 0.12
"""ln of the ratio of two certificates' factors of one head stays under this: heads drift by 1 to 3 % a year
(ISO 9060:2018, from memory; limit common practice, no source)."""


def crossed(
    own: tuple[float, float],
    known: tuple[float, float],
    *,
    least: float = LEAST_CROSSED,
    left: float = CROSSED,
) -> bool:
    """Whether two factors fit each other's known values far better than their own.

    Distances are those of logarithms. The two to the other's known value are together less than `left` of
    those to its own, and each of its own is at least `least`. False where a value is missing.
    """
    (a, b), (known_a, known_b) = own, known
    if not min(a, b, known_a, known_b) > 0:
        return False
    to_own = abs(math.log(a / known_a)), abs(math.log(b / known_b))
    to_other = abs(math.log(a / known_b)), abs(math.log(b / known_a))
    return min(to_own) >= least and sum(to_other) < left * sum(to_own)


def exchanged_factors(
    set_name: str, certificates: pd.DataFrame, register: pd.DataFrame, units: Mapping[str, str]
) -> list[Finding]:
    """A finding for each pair of channels whose factors are exchanged.

    Parameters
    ----------
    certificates : those in force, a row a channel.
    register : all rows of the set.
    units : of each channel's signal.
    """
    rows = {row["channel"]: row for row in certificates.to_dict("records")}
    several = certificates["sensor_id"].duplicated(keep=False)
    shared = dict(zip(certificates["channel"], several, strict=True))
    known = {channel: _known_factor(row, register, shared[channel]) for channel, row in rows.items()}
    findings = []
    for a, b in itertools.combinations(RADIATION, 2):
        place = (set_name, f"{a} {b}")
        factors = rows[a]["factor"], rows[b]["factor"]
        if crossed(factors, (known[a], known[b])):
            findings.append(_found("serial", place, _by_serial_number(a, b, rows, known)))
        programmed = _programmed(rows[a], units[a]), _programmed(rows[b], units[b])
        copied = crossed(programmed, factors, least=LEAST_COPIED, left=LEFT_COPIED) and all(
            abs(one / other - 1.0) <= SAME_FACTOR
            for one, other in zip(programmed, reversed(factors), strict=True)
        )
        # from older certificates: two other sensors would not fit each other's places
        if copied or crossed(programmed, factors, least=ANOTHER_SENSOR):
            findings.append(_found("programmed", place, {"a": a, "b": b}))
    return findings


def _found(variant: str, place: tuple[str, str], facts: Mapping) -> Finding:
    set_name, channels = place
    return Finding("factors-exchanged", variant, set_name, REGISTER, channel=channels, facts=facts)


def _known_factor(row: Mapping, register: pd.DataFrame, shared: bool) -> float:
    """The factor of another certificate of the same sensor; NaN where there is none.

    shared: whether several heads have its serial number, as where a set has one. Then the channel tells them
    apart.
    """
    same = register["sensor_id"] == row["sensor_id"]
    if shared:
        same &= register["channel"] == row["channel"]
    others = register[
        same & (register["certificate_date"] != row.get("certificate_date")) & register["factor"].gt(0)
    ]
    return float(others["factor"].iloc[-1]) if row["sensor_id"] and len(others) else math.nan


def _programmed(row: Mapping, unit: str) -> float:
    """The factor that the logger was programmed with; NaN where it stores a voltage."""
    return row.get("programmed_factor", math.nan) if unit == "W m-2" else math.nan


def _by_serial_number(a: str, b: str, rows: Mapping[str, Mapping], known: Mapping[str, float]) -> dict:
    return {
        "a": a,
        "b": b,
        "sensor_a": rows[a]["sensor_id"],
        "sensor_b": rows[b]["sensor_id"],
        "factor_a": f"{rows[a]['factor']:.4g}",
        "factor_b": f"{rows[b]['factor']:.4g}",
        "known_a": f"{known[a]:.4g}",
        "known_b": f"{known[b]:.4g}",
    }
