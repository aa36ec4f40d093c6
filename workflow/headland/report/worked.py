"""One number, all the way: for each set one sample from its raw signal to net radiation, then its segment
and its surface.

Every value is computed by the function that the chain uses; here it is only put beside the numbers that go
into it. A row is `key`
(of quantities.csv; empty for what is read, not computed), `meaning`, `working`, `value` and `unit`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.groups import counted_segments
from headland.chain import calibrate
from headland.physics import instruments, radiation, thermometers
from headland.physics.constants import RADIATION, ZERO_CELSIUS
from headland.physics.longwave import irradiance, own_emission
from headland.report.wording import SHOWN, number

FACTOR_UNIT = "W m-2 per mV"
COLUMNS = ["set", "part", "item", "key", "meaning", "working", "value", "unit"]


def row(key: str, meaning: str, working: str, value: float, unit: str = "W m-2") -> dict:
    """One step."""
    return {"key": key, "meaning": meaning, "working": working, "value": float(value), "unit": unit}


def title(channel: str) -> str:
    """`shortwave in`."""
    return SHOWN[channel].title


def net_words(terms: Mapping[str, float]) -> str:
    """Net radiation as a sum of its four terms."""
    return "{} − {} + {} − {}".format(*(number(terms[channel], 2) for channel in RADIATION))


def chosen_segment(means: pd.DataFrame, balances: pd.DataFrame, set_name: str) -> str:
    """The segment of a set that is followed; empty where none counts.

    One with all its values (balance, common sky) goes before one without, then one of the surface with the
    most
    net radiation under the common sky, then the one with most samples.

    Parameters
    ----------
    means : segments of step 6
    balances : visits of step 7
    """
    counted = counted_segments(means)
    own = counted[counted["set"] == set_name].copy()
    if not len(own):
        return ""
    whole = set(balances.loc[np.isfinite(balances["latent_heat"]), "segment"])
    own["whole"] = own["segment"].isin(whole) & np.isfinite(own["net_radiation_common_sky"])
    of_surface = counted.groupby("surface")["net_radiation_common_sky"].mean()
    own["absorbed"] = own["surface"].map(of_surface)
    ranked = own.sort_values(
        ["whole", "absorbed", "samples_used", "segment"], ascending=[False, False, False, True], kind="stable"
    )
    return ranked["segment"].iloc[0]


def chosen_sample(segments, excluded) -> int:
    """The place of the middle one of a segment's samples that count.

    Parameters
    ----------
    segments : whether each sample is in the segment
    excluded : whether it is not used
    """
    places = np.flatnonzero(np.asarray(segments, bool) & ~np.asarray(excluded, bool))
    return int(places[len(places) // 2])


def table(parts: Sequence[tuple[str, str, str, Sequence[dict]]]) -> pd.DataFrame:
    """The rows of worked.csv. parts: set, part, item and rows."""
    rows = [
        {"set": set_, "part": part, "item": item, **step}
        for set_, part, item, steps in parts
        for step in steps
    ]
    return pd.DataFrame(rows, columns=COLUMNS)


@dataclass(frozen=True)
class Sample:
    """One sample as it was stored, and what is known of its heads.

    Parameters
    ----------
    raw : its row of step 1
    channels, longwave : as the set's layout and settings give them
    certificates : those of step 2, by channel
    register : rows of instruments.csv
    """

    raw: Mapping
    channels: Mapping[str, Mapping]
    certificates: Mapping[str, Mapping]
    register: pd.DataFrame
    longwave: str

    @property
    def where(self) -> str:
        """The line of the file that holds it."""
        return f"{self.raw['file']}, line {int(float(str(self.raw['line'])))}"


def of_sample(
    raw: Mapping,
    channels: Mapping[str, Mapping],
    certificates: pd.DataFrame,
    register: pd.DataFrame,
    longwave: str,
) -> list[dict]:
    """One sample from what the logger stored to net radiation. raw: the row of step 1.

    The rest as for `calibrate.calibrate`.
    """
    by_channel = {str(entry["channel"]): entry for entry in certificates.to_dict("records")}
    sample = Sample(raw, channels, by_channel, register, longwave)
    rows, terms, kelvin = [], {}, {}
    for channel in ("lw_in", "lw_out"):
        steps, kelvin[channel] = _of_body(sample, channel)
        rows += steps
    for channel in RADIATION:
        steps, sensed = _of_signal(sample, channel, kelvin)
        rows += steps
        if channel in kelvin:
            value = float(irradiance(sensed, kelvin[channel]))
            working = f"{number(sensed, 2)} + σ × {kelvin[channel]:.2f}⁴"
            rows.append(row(f"correct_longwave.{channel}", title(channel), working, value))
            sensed = value
        terms[channel] = sensed
    net = radiation.net_radiation(**terms)
    rows.append(row("summarise.net_radiation", "net radiation of the sample", net_words(terms), net))
    return rows


def resistance_words(stored: float, unit: str, thermometer: str) -> str:
    """How a resistance becomes a temperature, in words."""
    name = thermometer or thermometers.USUAL
    if name in thermometers.PLATINUM:
        ratio = stored * thermometers.OHMS[unit] / thermometers.PLATINUM[name]
        return f"the inverse of equation 4 at R/R₀ = {ratio:.5f} ({name})"
    return f"the curve {name} at {stored:.4g} {unit}"


def _of_body(sample: Sample, channel: str) -> tuple[list[dict], float]:
    """The body temperature of a longwave head, K, and the steps to it; without steps where both heads share
    one thermometer.
    """
    own = f"body_temperature_{channel}"
    column = own if own in sample.channels else "body_temperature"
    unit, stored = sample.channels[column]["unit"], float(str(sample.raw[column]))
    thermometer = str(sample.certificates[channel].get("thermometer", ""))
    celsius = float(thermometers.body_celsius(sample.raw[column], unit, thermometer))
    kelvin = celsius + ZERO_CELSIUS
    if channel == "lw_out" and column != own:
        return [], kelvin
    whose = f" of the head of {title(channel)}" if column == own else ""
    rows = []
    if unit != "degC":
        rows.append(row("", f"body thermometer{whose} as logged", sample.where, stored, unit))
    working = {
        "degC": sample.where,
        "K": f"{stored:.2f} − 273.15",
    }.get(unit) or resistance_words(stored, unit, thermometer)
    key = "calibrate.body_temperature" if unit in thermometers.OHMS else ""
    rows.append(row(key, f"body temperature{whose}", working, celsius, "degC"))
    emission = own_emission(kelvin)
    working = f"σ × ({celsius:.2f} + 273.15)⁴"
    rows.append(row("correct_longwave.own_emission", f"own emission{whose}", working, emission))
    return rows, kelvin


def _of_signal(sample: Sample, channel: str, kelvin: Mapping[str, float]) -> tuple[list[dict], float]:
    """What a head sensed, W m-2, and the steps from its signal."""
    unit, signal = sample.channels[channel]["unit"], float(str(sample.raw[channel]))
    rows = [row("", f"{title(channel)} as logged", sample.where, signal, unit)]
    if unit in instruments.MILLIVOLTS:
        steps, value = _of_voltage(sample, channel, signal * instruments.MILLIVOLTS[unit])
        return rows + steps, value
    if channel in kelvin and sample.longwave == "corrected":
        emission = float(own_emission(kelvin[channel]))
        meaning = f"{title(channel)} without the own emission that the logger added"
        working = f"{number(signal, 2)} − {emission:.2f}"
        signal -= emission
        rows.append(row("correct_longwave.own_emission", meaning, working, signal))
    steps, value = _of_flux(sample, channel, signal)
    return rows + steps, value


def _sensed(channel: str) -> tuple[str, str]:
    """Key and name of what a head senses: for longwave the net signal."""
    if channel.startswith("lw"):
        return f"calibrate.{channel}_net", f"net signal of {title(channel)}"
    return f"calibrate.{channel}", title(channel)


def _of_voltage(sample: Sample, channel: str, millivolts: float) -> tuple[list[dict], float]:
    certificate = sample.certificates[channel]
    value = float(calibrate.net_signal(millivolts, certificate["factor"]))
    key, sensed = _sensed(channel)
    working = f"{certificate['factor']:.3f} × {number(millivolts, 4)}"
    return [of_factor(sample, channel), row(key, sensed, working, value)], value


def _of_flux(sample: Sample, channel: str, signal: float) -> tuple[list[dict], float]:
    """A flux that the logger computed, put on the certificate's factor where the logger had another."""
    certificate = sample.certificates[channel]
    programmed, (key, sensed) = certificate["programmed_factor"], _sensed(channel)
    if not programmed > 0:
        words = "as logged: the register names no other factor in the logger"
        return [row(key, sensed, words, signal)], signal
    value = float(calibrate.rescaled(signal, certificate["factor"], programmed))
    working = f"{number(signal, 2)} × {certificate['factor']:.3f} / {programmed:.3f}"
    meaning = f"factor of {title(channel)} programmed in the logger"
    rows = [
        of_factor(sample, channel),
        row("", meaning, "instruments.csv", programmed, FACTOR_UNIT),
        row("calibrate.rescaled", sensed, working, value),
    ]
    return rows, value


def of_factor(sample: Sample, channel: str) -> dict:
    """The factor of a head, and whether it is read or comes from a responsivity (equation 1)."""
    certificate, register = sample.certificates[channel], sample.register
    stated = register[
        (register["sensor_id"] == certificate["sensor_id"])
        & (register["certificate_date"] == certificate["certificate_date"])
        & (register["channel"] == channel)
    ]
    read = "no certificate"
    if certificate["certificate_date"]:
        read = f"certificate of {certificate['certificate_date']}, sensor {certificate['sensor_id']}"
    meaning = f"factor of {title(channel)}"
    for entry in stated.to_dict("records"):
        factor = instruments.factor_from_responsivity(entry["factor"])
        if entry["factor_unit"] == "uV per W m-2" and math.isclose(
            factor, certificate["factor"], rel_tol=1e-6
        ):
            working = f"1000 / {entry['factor']:g} (µV per W m-2; {read})"
            return row("calibrate.factor", meaning, working, factor, FACTOR_UNIT)
    return row("", meaning, read, certificate["factor"], FACTOR_UNIT)
