"""Factors of two channels that are exchanged in the register.

Three things tell: another certificate of the same sensors, the factors that the logger was programmed with,
and the size of the factors between the bands. The two heads of a band are too alike for the last.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping

import pandas as pd

from headland.base.findings import Finding
from headland.physics.constants import RADIATION

REGISTER = "instruments.csv"

LEAST_APART = 0.005
"""ln: two factors closer than this can't be told apart (common practice, no source)."""

MUCH_CLOSER = 0.3
"""Share of their own distances within which factors are much closer to the other's (common practice, no
source).
"""

HEADS_APART = 0.12
"""ln: the factors of the two heads of a band lie this far apart where bands are exchanged
(common practice, no source)."""


def crossed(a: float, b: float, known_a: float, known_b: float) -> bool:
    """Whether two factors fit each other's known values far better than their own; False where a value is
    missing.

    Distances are those of logarithms. The two to the other's known value are together less than 0.3 of
    those to its own, and each of its own is at least LEAST_APART.
    """
    if not min(a, b, known_a, known_b) > 0:
        return False
    own = abs(math.log(a / known_a)), abs(math.log(b / known_b))
    other = abs(math.log(a / known_b)), abs(math.log(b / known_a))
    return min(own) >= LEAST_APART and sum(other) < MUCH_CLOSER * sum(own)


def exchanged_factors(
    set_name: str, certificates: pd.DataFrame, register: pd.DataFrame, units: Mapping[str, str]
) -> list[Finding]:
    """A finding for each pair of channels whose factors are exchanged.

    Parameters: certificates, those in force, a row a channel; register, all rows of the set; units, of each
    channel's signal.
    """
    rows = {row["channel"]: row for row in certificates.to_dict("records")}
    known = {channel: _known_factor(row, register) for channel, row in rows.items()}
    findings = []
    for a, b in itertools.combinations(RADIATION, 2):
        place = (set_name, f"{a} {b}")
        if crossed(rows[a]["factor"], rows[b]["factor"], known[a], known[b]):
            findings.append(_found("serial", place, _by_serial_number(a, b, rows, known)))
        programmed_a, programmed_b = (_programmed(rows[channel], units[channel]) for channel in (a, b))
        if crossed(programmed_a, programmed_b, rows[a]["factor"], rows[b]["factor"]):
            findings.append(_found("programmed", place, {"a": a, "b": b}))
    factors = {channel: row["factor"] for channel, row in rows.items()}
    if not findings and min(factors.values()) > 0:
        findings += _between_bands(set_name, factors)
    return findings


def _found(variant: str, place: tuple[str, str], facts: Mapping) -> Finding:
    set_name, channels = place
    return Finding("factors-exchanged", variant, set_name, REGISTER, channel=channels, facts=facts)


def _known_factor(row: Mapping, register: pd.DataFrame) -> float:
    """The factor of another certificate of the same sensor; NaN where there is none."""
    same = register["sensor_id"] == row["sensor_id"]
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


def _between_bands(set_name: str, factors: Mapping[str, float]) -> list[Finding]:
    """Both factors of a band exchanged with those of the other: each is like one of the other band, not of
    its own.
    """

    def apart(a: str, b: str) -> float:
        return abs(math.log(factors[a] / factors[b]))

    findings = []
    within = apart("sw_in", "sw_out"), apart("lw_in", "lw_out")
    for like_sw_in, like_sw_out in (("lw_out", "lw_in"), ("lw_in", "lw_out")):
        across = apart("sw_in", like_sw_in) + apart("sw_out", like_sw_out)
        if min(within) > HEADS_APART and across < MUCH_CLOSER * sum(within):
            values = ", ".join(f"{channel} {factors[channel]:.4g}" for channel in RADIATION)
            facts = {"a": "sw_in", "b": like_sw_out, "c": "sw_out", "d": like_sw_in, "values": values}
            findings.append(_found("bands", (set_name, " ".join(RADIATION)), facts))
    return findings
