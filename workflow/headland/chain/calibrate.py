"""Step 2: from the raw signal to what each head sensed, with the certificate in force.

Shortwave comes out as irradiance. Longwave comes out as the *net signal*: the balance between what arrives and what
the head itself emits, whatever the logger stored, so that step 3 has one thing to do.
"""

from __future__ import annotations

import datetime
import itertools
import math
from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.frames import Made, Pieces, Table
from headland.physics import instruments
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import own_emission

CERTIFICATE = (
    "sensor_id",
    "factor",
    "programmed_factor",
    "expanded_uncertainty_percent",
    "certificate_date",
    "response_time_95",
    "instrument_class",
)
"""What is kept of a row of the register."""

LARGEST_AGE = 24
"""Months after which a certificate is called old (common practice, no source)."""


def factor_from_responsivity(responsivity):
    """Factor c in W m-2 per mV from a responsivity S in uV per W m-2: c = 1000 / S (units). Arrays or numbers."""
    return 1000.0 / responsivity


def net_signal(raw_mv, factor):
    """Sensed flux N = c U, W m-2, from a signal U in mV and a factor c in W m-2 per mV (definition of the factor)."""
    return factor * raw_mv


def rescaled(logged, factor, programmed_factor):
    """Flux that a logger computed with a programmed factor, W m-2, as the certificate's factor gives it: N = logged c / c_programmed."""
    return logged * (factor / programmed_factor)


def certificate_in_force(certificates: pd.DataFrame, day: datetime.date, method: str = "latest") -> dict:
    """The certificate to use on a day, from the rows of the register of one channel of one set.

    certificates: rows with `factor` in W m-2 per mV and `certificate_date` (text, ISO). Default: the newest row not later than
    the day; where all are later, the oldest. `interpolate`: the factor runs linearly between the certificates before and
    after. Returns that row as a mapping with the factor in force and `later`, whether it is dated after the day.
    """
    rows = certificates.sort_values("certificate_date", kind="stable")
    earlier = rows[rows["certificate_date"] <= day.isoformat()]
    later = rows[rows["certificate_date"] > day.isoformat()]
    chosen = (earlier.iloc[-1] if len(earlier) else rows.iloc[0]).to_dict()
    if method == "interpolate" and len(earlier) and len(later):
        before, after = chosen, later.iloc[0]
        start, end = (datetime.date.fromisoformat(row["certificate_date"]) for row in (before, after))
        weight = (day - start).days / (end - start).days
        chosen["factor"] = before["factor"] + weight * (after["factor"] - before["factor"])
    chosen["later"] = not len(earlier)
    return chosen


def age_in_months(certificate_date: str, day: datetime.date) -> float:
    """Months from a certificate's date to a day (a month is 365.25 / 12 days)."""
    return (day - datetime.date.fromisoformat(certificate_date)).days / (365.25 / 12)


def register_factors(register: pd.DataFrame) -> pd.DataFrame:
    """The register with factor and programmed factor in W m-2 per mV, whichever unit the certificate states."""
    register = register.copy()
    inverse = register["factor_unit"] == "uV per W m-2"
    for column in ("factor", "programmed_factor"):
        register.loc[inverse, column] = factor_from_responsivity(register.loc[inverse, column])
    return register


def choose_certificates(
    register: pd.DataFrame,
    set_name: str,
    logger_id: str,
    channels: Mapping[str, Mapping],
    *,
    day: datetime.date,
    method: str,
) -> tuple[pd.DataFrame, list[Finding]]:
    """The certificate in force for each radiation channel of a set, and what is wrong with the register for that set.

    register: rows of instruments.csv. channels: the layout's channels, with their units. Returns one row a channel
    (`workflow/schemas/certificates.json`); the factor is NaN where the register has no usable row.
    """
    findings, records = [], []
    own = register_factors(register[register["set"] == set_name])
    file = "instruments.csv"
    for row in own[own["logger_id"] != logger_id].drop_duplicates("logger_id").to_dict("records"):
        findings.append(
            Finding(
                "pair-broken",
                "register",
                set_name,
                file,
                int(row["line"]),
                channel=row["channel"],
                facts={"found": row["logger_id"], "expected": logger_id},
            )
        )
    for channel in RADIATION:
        rows = own[
            (own["channel"] == channel)
            & own["factor"].gt(0)
            & own["certificate_date"].ne("")
            & own["factor_unit"].ne("")
        ]
        unit = channels[channel]["unit"]
        if rows.empty:
            needed = unit in instruments.MILLIVOLTS
            findings.append(
                Finding(
                    "certificate-missing",
                    "needed" if needed else "as-logged",
                    set_name,
                    file,
                    channel=channel,
                    facts={"set": set_name, "unit": unit},
                )
            )
            records.append(
                {"set": set_name, "channel": channel, "factor": math.nan if needed else 1.0, "sensor_id": ""}
            )
            continue
        chosen = certificate_in_force(rows, day, method)
        age = age_in_months(chosen["certificate_date"], day)
        place = {"set": set_name, "file": file, "line": int(chosen["line"]), "channel": channel}
        facts = {
            "sensor": chosen["sensor_id"],
            "date": chosen["certificate_date"],
            "day": day.isoformat(),
            "months": f"{age:.0f}",
        }
        if day == datetime.date.max:
            pass  # nothing was measured, so nothing is old
        elif chosen["later"]:
            findings.append(Finding("certificate-later", **place, facts=facts))
        elif age > LARGEST_AGE:
            findings.append(Finding("certificate-old", **place, facts=facts))
        programmed = chosen["programmed_factor"]
        if unit == "W m-2" and programmed > 0 and abs(chosen["factor"] / programmed - 1.0) > 1e-6:
            findings.append(
                Finding(
                    "factor-outdated",
                    **place,
                    facts={
                        **facts,
                        "percent": f"{100.0 * (chosen['factor'] / programmed - 1.0):+.2f}",
                        "programmed": f"{programmed:.4g}",
                        "factor": f"{chosen['factor']:.4g}",
                    },
                )
            )
        records.append(
            {
                "set": set_name,
                "channel": channel,
                "age_months": age,
                **{key: chosen[key] for key in CERTIFICATE},
            }
        )
    table = pd.DataFrame(records, columns=["set", "channel", "age_months", *CERTIFICATE])
    return table, findings + _exchanged_factors(
        set_name, table, own, {c: channels[c]["unit"] for c in RADIATION}
    )


LEAST_CROSSED, CROSSED = 0.02, 0.3
"""ln of a factor over its own known value from which an exchange is seen, and the share of both such distances that may
be left to the other's. Two certificates of one head differ by 0.01 or more by chance (common practice, no source)."""
LEAST_COPIED, LEFT_COPIED = 0.005, 0.05
"""The same of factors copied from these certificates (common practice, no source)."""


def crossed(
    a: float, b: float, known_a: float, known_b: float, least: float = LEAST_CROSSED, left: float = CROSSED
) -> bool:
    """Whether two factors fit each other's known values far better than their own.

    The distances (of logarithms) to the other's are together less than `left` of those to one's own, and each own
    distance is at least `least`. False where a value is missing.
    """
    if not min(a, b, known_a, known_b) > 0:
        return False
    own = abs(math.log(a / known_a)), abs(math.log(b / known_b))
    other = abs(math.log(a / known_b)), abs(math.log(b / known_a))
    return min(own) >= least and sum(other) < left * sum(own)


def _exchanged_factors(
    set_name: str, certificates: pd.DataFrame, register: pd.DataFrame, units: Mapping[str, str]
) -> list[Finding]:
    """Pairs of channels whose factors are exchanged.

    By serial number where the register has another certificate of both sensors, and by what the logger was programmed
    with. `checks.exchanged_factors` looks for an exchange between the bands.
    """
    rows = certificates.set_index("channel").to_dict("index")
    findings = []
    known = {}
    for channel, row in rows.items():
        others = register[
            (register["sensor_id"] == row["sensor_id"])
            & (register["certificate_date"] != row.get("certificate_date"))
            & register["factor"].gt(0)
        ]
        known[channel] = float(others["factor"].iloc[-1]) if row["sensor_id"] and len(others) else math.nan
    for a, b in itertools.combinations(RADIATION, 2):
        fa, fb = rows[a]["factor"], rows[b]["factor"]
        place = {"set": set_name, "file": "instruments.csv", "channel": f"{a} {b}"}
        if crossed(fa, fb, known[a], known[b]):
            findings.append(
                Finding(
                    "factors-exchanged",
                    "serial",
                    **place,
                    facts={
                        "a": a,
                        "b": b,
                        "sensor_a": rows[a]["sensor_id"],
                        "sensor_b": rows[b]["sensor_id"],
                        "factor_a": f"{fa:.4g}",
                        "factor_b": f"{fb:.4g}",
                        "known_a": f"{known[a]:.4g}",
                        "known_b": f"{known[b]:.4g}",
                    },
                )
            )
        programmed = (
            rows[x].get("programmed_factor", math.nan) if units[x] == "W m-2" else math.nan for x in (a, b)
        )
        if crossed(*programmed, fa, fb, least=LEAST_COPIED, left=LEFT_COPIED):
            findings.append(Finding("factors-exchanged", "programmed", **place, facts={"a": a, "b": b}))
    return findings


@np.errstate(over="ignore")  # a damaged cell may have 300 digits; what it gives is missing
def calibrate(
    raw: pd.DataFrame, channels: Mapping[str, Mapping], certificates: pd.DataFrame, longwave: str
) -> pd.DataFrame:
    """Samples as sensed, from samples as stored.

    raw: `time_utc` and one column a channel, in the layout's units. certificates: one row a radiation channel.
    longwave: `net` or `corrected`, what the logger stored. Returns `time_utc`, `sw_in`, `sw_out`, `lw_in_net`, `lw_out_net`
    (W m-2), `body_temperature_lw_in`, `body_temperature_lw_out` (degC; the same where the set has one thermometer).
    """
    table = certificates.set_index("channel")
    result = pd.DataFrame({"time_utc": raw["time_utc"]})
    for channel in ("lw_in", "lw_out"):
        own = f"body_temperature_{channel}"
        column = own if own in channels else "body_temperature"
        result[own] = instruments.body_celsius(raw[column], channels[column]["unit"])
    for channel in RADIATION:
        unit, row = channels[channel]["unit"], table.loc[channel]
        signal = raw[channel].to_numpy(dtype=float)
        if unit in instruments.MILLIVOLTS:
            sensed = net_signal(signal * instruments.MILLIVOLTS[unit], row["factor"])
        else:
            if channel in ("lw_in", "lw_out") and longwave == "corrected":
                # the logger's own correction must go before the factor is changed: emission has no factor
                signal = signal - own_emission(
                    result[f"body_temperature_{channel}"].to_numpy() + ZERO_CELSIUS
                )
            programmed = row.get("programmed_factor", math.nan)
            sensed = rescaled(signal, row["factor"], programmed) if programmed > 0 else signal
        result[channel if channel.startswith("sw") else f"{channel}_net"] = np.where(
            np.isfinite(sensed), sensed, np.nan
        )
    return result[
        [
            "time_utc",
            "sw_in",
            "sw_out",
            "lw_in_net",
            "lw_out_net",
            "body_temperature_lw_in",
            "body_temperature_lw_out",
        ]
    ]


def measurement_day(times: pd.Series) -> datetime.date:
    """The day (in UTC) that certificates are chosen for: that of the sample at three quarters of them in time, so that a clock fallen
    back on a default date, which lies in the past, does not choose it; the last day there is without a sample."""
    return times.sort_values().iloc[3 * len(times) // 4].date() if len(times) else datetime.date.max


def run(samples: Table, register: pd.DataFrame, settings: Mapping) -> Made:
    """What each head of a set sensed, and the certificates in force.

    samples: as step 1 leaves them. register: rows of instruments.csv. settings: `set`, `logger_id`, `channels`,
    `longwave` and `certificate`, the method to choose one. Makes `certificates` and `calibrated`.
    """
    channels = settings["channels"]
    certificates, findings = choose_certificates(
        register,
        settings["set"],
        settings["logger_id"],
        channels,
        day=measurement_day(samples["time_utc"]),
        method=settings["certificate"],
    )
    pieces = (calibrate(piece, channels, certificates, settings["longwave"]) for piece in samples.pieces())
    return Made({"certificates": certificates, "calibrated": Pieces(pieces)}, findings, [])
