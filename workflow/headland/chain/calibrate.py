"""Step 2: from the raw signal to what each head sensed, with the certificate in force.

Shortwave comes out as irradiance. Longwave comes out as the *net signal*: the balance between what arrives
and what the head itself emits, whatever the logger stored, so that step 3 has one thing to do.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.frames import Made, Pieces, Table
from headland.base.words import did_you_mean
from headland.chain.changed_places import changed_places
from headland.chain.crossed_factors import (
    ANOTHER_SENSOR,
    REGISTER,
    SAME_FACTOR,
    exchanged_factors,
)
from headland.chain.register import at_usual_coverage, certificate_in_force, without_misplaced
from headland.files import options, step
from headland.physics import instruments, thermometers
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import own_emission

READS = {"samples": step.stored("samples_raw"), "register": options.REGISTER}
WRITES = {"certificates": "certificates", "calibrated": "samples_calibrated"}

CERTIFICATE = (
    "sensor_id",
    "factor",
    "programmed_factor",
    "expanded_uncertainty_percent",
    "certificate_date",
    "response_time_95",
    "instrument_class",
    "reference",
    "calibration_temperature",
    "temperature_coefficient",
    "window_coefficient",
)
"""What is kept of a row of the register."""

LARGEST_AGE = 24
"""Months after which a certificate is called old (common practice, no source)."""


def net_signal(raw_mv, factor):
    """Sensed flux N = c U, W m-2, from a signal U in mV and a factor c in W m-2 per mV (definition of the
    factor).
    """
    return factor * raw_mv


def rescaled(logged, factor, programmed_factor):
    """Flux that a logger computed with a programmed factor, W m-2, as the certificate's factor gives it: N
    = logged c / c_programmed.
    """
    return logged * (factor / programmed_factor)


def age_in_months(certificate_date: str, day: datetime.date) -> float:
    """Months from a certificate's date to a day (a month is 365.25 / 12 days)."""
    return (day - datetime.date.fromisoformat(certificate_date)).days / (365.25 / 12)


def register_factors(register: pd.DataFrame) -> pd.DataFrame:
    """The register with factor and programmed factor in W m-2 per mV, whichever unit the certificate
    states.
    """
    register = register.copy()
    inverse = register["factor_unit"] == "uV per W m-2"
    for column in ("factor", "programmed_factor"):
        register.loc[inverse, column] = instruments.factor_from_responsivity(register.loc[inverse, column])
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
    """The certificate in force for each radiation channel of a set, and what is wrong with the register for
    that set.

    Parameters
    ----------
    register : rows of instruments.csv.
    channels : of the layout, with their units.
    day : of the measurements.
    method : as for `certificate_in_force`.

    Returns
    -------
    One row a channel (`workflow/schemas/certificates.json`), with a factor of NaN where the register has no
    usable row.
    """
    own, findings = without_misplaced(register_factors(register[register["set"] == set_name]))
    own = at_usual_coverage(own)
    findings += _other_loggers(own, logger_id)
    records = []
    for channel in RADIATION:
        rows = own[_usable(own) & (own["channel"] == channel)]
        place = {"set": set_name, "channel": channel}
        if rows.empty:
            lines = _lines_meant(register, place)
            record, found = _missing(place, channels[channel]["unit"], lines)
        else:
            chosen = certificate_in_force(rows, day, method)
            age = age_in_months(chosen["certificate_date"], day)
            record = {**place, "age_months": age, **{key: chosen[key] for key in CERTIFICATE}}
            found = _doubts(place, chosen, age, day) + _outdated(
                place, chosen, day, channels[channel]["unit"]
            )
        records.append(record)
        findings += found
    table = pd.DataFrame(records, columns=["set", "channel", "age_months", *CERTIFICATE])
    units = {channel: channels[channel]["unit"] for channel in RADIATION}
    written, found = _thermometers(own, channels)
    table["thermometer"] = [written.get(channel, "") for channel in table["channel"]]
    bodies = {channel: body_column(channel, channels) for channel in ("lw_in", "lw_out")}
    table["body_channel"] = [bodies.get(channel, "") for channel in table["channel"]]
    exchanged = exchanged_factors(set_name, table, own, units)
    moved = changed_places(set_name, register, day)
    told, gone = ({channel for one in some for channel in one.channel.split()} for some in (exchanged, moved))
    found_once = [
        one
        for one in findings
        if not (one.variant == "programmed" and one.channel in told | gone)
        and not (one.code == "factor-outdated" and one.channel in gone)
    ]
    return table, found_once + exchanged + moved + found


def _thermometers(own: pd.DataFrame, channels: Mapping[str, Mapping]) -> tuple[dict[str, str], list[Finding]]:
    """The thermometer of each longwave head whose body temperature is logged as a resistance.

    The register's comes first, of the latest row, then the layout's, then a Pt100. Findings name what can't
    be read in the register.
    """
    written: dict[str, str] = {}
    findings = []
    for channel in ("lw_in", "lw_out"):
        column = body_column(channel, channels)
        if channels.get(column, {}).get("unit") not in thermometers.OHMS:
            continue
        written[channel] = channels[column].get("thermometer", thermometers.USUAL)
        if "thermometer" not in own:
            continue
        rows = own[own["channel"].eq(column) & own["thermometer"].ne("")].sort_values("certificate_date")
        if rows.empty:
            continue
        text, line = str(rows["thermometer"].iloc[-1]), int(rows["line"].iloc[-1])
        try:
            thermometers.read_thermometer(text)
            written[channel] = text
        except ValueError as problem:
            allowed = f"such as {thermometers.EXAMPLES}, but {problem}"
            facts = {"column": "thermometer", "value": text[:60], "allowed": allowed, "hint": ""}
            findings.append(Finding("value-invalid", file=REGISTER, line=line, facts=facts))
    return written, list({finding.line: finding for finding in findings}.values())


def body_column(channel: str, channels: Mapping[str, Mapping]) -> str:
    """The channel with the body temperature of a longwave head: its own thermometer's, or the common one."""
    own = f"body_temperature_{channel}"
    return own if own in channels else "body_temperature"


def _usable(register: pd.DataFrame) -> pd.Series:
    """Rows of the register with a factor, its unit and a date."""
    return register["factor"].gt(0) & register["certificate_date"].ne("") & register["factor_unit"].ne("")


def _other_loggers(own: pd.DataFrame, logger_id: str) -> list[Finding]:
    """Rows of a set that name another logger than the settings do, one finding for each logger."""
    return [
        Finding(
            "pair-broken",
            "register",
            row["set"],
            REGISTER,
            int(row["line"]),
            channel=row["channel"],
            facts={"found": row["logger_id"], "expected": logger_id},
        )
        for row in own[own["logger_id"] != logger_id].drop_duplicates("logger_id").to_dict("records")
    ]


def _lines_meant(register: pd.DataFrame, place: Mapping[str, str]) -> list[int]:
    """Lines of the register that may be meant for a channel of a set, but can't be read as its row."""
    own, channel = register["set"] == place["set"], register["channel"] == place["channel"]
    nearly = own & (channel | register["channel"].eq(""))
    misspelt = [bool(did_you_mean(str(name), [place["set"]])) for name in register["set"]]
    nearly |= channel & np.array(misspelt, bool)
    return [int(line) for line in register.loc[nearly, "line"]]


def _unknown_sets(register: pd.DataFrame, sets: Sequence[str]) -> list[Finding]:
    """A finding for each set of the register that the settings don't have but nearly have, with its lines."""
    findings = []
    for name, rows in register[~register["set"].isin([*sets, ""])].groupby("set", sort=False):
        hint = did_you_mean(str(name), sets)
        if hint:
            lines = [int(line) for line in rows["line"]]
            facts: dict[str, object] = {"column": "set", "value": name, "hint": hint, "lines": lines}
            facts["allowed"] = " or ".join(sets)
            findings.append(Finding("value-invalid", file=REGISTER, line=lines[0], facts=facts))
    return findings


def _missing(place: Mapping[str, str], unit: str, lines: Sequence[int]) -> tuple[dict, list[Finding]]:
    """The row of a channel without a certificate: a logger's flux is taken as it is, a voltage has no
    factor. lines: of the register that may be meant for it.
    """
    needed = unit in instruments.MILLIVOLTS
    variant = "needed" if needed else "as-logged"
    facts = {"set": place["set"], "unit": unit, "lines": list(lines)}
    found = Finding(
        "certificate-missing", variant, place["set"], REGISTER, channel=place["channel"], facts=facts
    )
    return {**place, "factor": math.nan if needed else 1.0, "sensor_id": ""}, [found]


def _of_certificate(code: str, place: Mapping[str, str], chosen: Mapping, facts: Mapping) -> Finding:
    line = int(chosen["line"])
    return Finding(code, "", place["set"], REGISTER, line, channel=place["channel"], facts=facts)


def _facts(chosen: Mapping, day: datetime.date) -> dict[str, str]:
    return {
        "sensor": chosen["sensor_id"],
        "date": chosen["certificate_date"],
        "day": day.isoformat(),
        "months": f"{age_in_months(chosen['certificate_date'], day):.0f}",
    }


def _doubts(place: Mapping[str, str], chosen: Mapping, age: float, day: datetime.date) -> list[Finding]:
    """A certificate of later than the day, or an old one. Where nothing was measured, nothing is old."""
    if day == datetime.date.max:
        return []
    if chosen["later"]:
        return [_of_certificate("certificate-later", place, chosen, _facts(chosen, day))]
    if age > LARGEST_AGE:
        return [_of_certificate("certificate-old", place, chosen, _facts(chosen, day))]
    return []


def _outdated(place: Mapping[str, str], chosen: Mapping, day: datetime.date, unit: str) -> list[Finding]:
    """A logger that computes the flux with another factor than the certificate's."""
    programmed = chosen["programmed_factor"]
    if not (unit == "W m-2" and programmed > 0) or abs(chosen["factor"] / programmed - 1.0) <= SAME_FACTOR:
        return []
    facts = {
        **_facts(chosen, day),
        "percent": f"{100.0 * (chosen['factor'] / programmed - 1.0):+.2f}",
        "programmed": f"{programmed:.4g}",
        "factor": f"{chosen['factor']:.4g}",
    }
    if _of_another_sensor(chosen["factor"], programmed):
        name, channel, line = place["set"], place["channel"], int(chosen["line"])
        facts |= {"set": name, "channel": channel}
        return [Finding("pair-broken", "programmed", name, REGISTER, line, channel=channel, facts=facts)]
    return [_of_certificate("factor-outdated", place, chosen, facts)]


def _of_another_sensor(factor: float, programmed: float) -> bool:
    """Whether two factors differ by more than one sensor's ever do, and not as by a wrong unit or decimal."""
    slips = (1.0, 1.0 / instruments.inverted_correction(factor), 10.0, 0.1)
    return all(abs(math.log(factor / programmed / slip)) > ANOTHER_SENSOR for slip in slips)


@np.errstate(over="ignore")  # a damaged cell may have 300 digits; what it gives is missing
def calibrate(
    raw: pd.DataFrame, channels: Mapping[str, Mapping], certificates: pd.DataFrame, longwave: str
) -> pd.DataFrame:
    """Samples as sensed, from samples as stored.

    raw: `time_utc` and one column a channel, in the layout's units. certificates: one row a radiation
    channel. longwave: `net` or `corrected`, what the logger stored. Returns `time_utc`, `sw_in`, `sw_out`,
    `lw_in_net`, `lw_out_net` (W m-2), `body_temperature_lw_in`, `body_temperature_lw_out` (degC; the same
    where the set has one thermometer).
    """
    table = certificates.set_index("channel")
    result = pd.DataFrame({"time_utc": raw["time_utc"]})
    for channel in ("lw_in", "lw_out"):
        own = f"body_temperature_{channel}"
        column = body_column(channel, channels)
        written = str(table.loc[channel].get("thermometer", ""))
        result[own] = thermometers.body_celsius(raw[column], channels[column]["unit"], written)
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
    """The day (in UTC) that certificates are chosen for: that of the sample at three quarters of them in
    time, so that a clock fallen back on a default date, which lies in the past, does not choose it; the
    last day there is without a sample.
    """
    return times.sort_values().iloc[3 * len(times) // 4].date() if len(times) else datetime.date.max


def in_force(
    register: pd.DataFrame, day: datetime.date, settings: Mapping
) -> tuple[pd.DataFrame, list[Finding]]:
    """The certificates in force of a set on a day, and what is wrong with them. settings: as for `run`."""
    return choose_certificates(
        register,
        settings["set"],
        settings["logger_id"],
        settings["channels"],
        day=day,
        method=settings["certificate"],
    )


def sensed(samples: Table, certificates: pd.DataFrame, settings: Mapping) -> Pieces:
    """What each head of a set sensed by its certificates. settings: `channels` and `longwave`."""
    channels, kind = settings["channels"], settings["longwave"]
    return Pieces(calibrate(piece, channels, certificates, kind) for piece in samples.pieces())


def run(samples: Table, register: pd.DataFrame, settings: Mapping) -> Made:
    """What each head of a set sensed, and the certificates in force.

    samples: as step 1 leaves them. register: rows of instruments.csv. settings: `set`, `logger_id`,
    `channels`, `longwave`, `certificate`, the method to choose one, and `sets`, all names. Makes
    `certificates` and `calibrated`.
    """
    certificates, findings = in_force(register, measurement_day(samples["time_utc"]), settings)
    findings += _unknown_sets(register, settings["sets"])
    calibrated = sensed(samples, certificates, settings)
    return Made({"certificates": certificates, "calibrated": calibrated}, findings, [])
