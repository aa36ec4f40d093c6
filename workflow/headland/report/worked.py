"""One number, all the way: for each set one sample from its raw signal to net radiation, and one segment to its energy balance.

Every value is computed by the function that the chain uses; here it is only put beside the numbers that go into it. A row is `key`
(of quantities.csv; empty for what is read, not computed), `meaning`, `working`, `value`, `unit`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from headland.base.groups import counted_segments
from headland.chain import balance, calibrate
from headland.physics import evaporation, geometry, instruments, radiation
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.heat import Split, energy_balance, ground_heat
from headland.physics.longwave import irradiance, own_emission, surface_temperature
from headland.report.report import number

TITLES = {
    "sw_in": "shortwave in",
    "sw_out": "shortwave out",
    "lw_in": "longwave in",
    "lw_out": "longwave out",
}
FACTOR_UNIT = "W m-2 per mV"


def _row(key: str, meaning: str, working: str, value: float, unit: str = "W m-2") -> dict:
    return {"key": key, "meaning": meaning, "working": working, "value": float(value), "unit": unit}


def chosen_segment(means: pd.DataFrame, balances: pd.DataFrame, set_name: str) -> str:
    """The segment of a set that is followed: of those that count the one with most samples, one with all its values (balance, common sky) before one without.

    means: step 6's segments. balances: step 7's surfaces. Empty where no segment of the set counts.
    """
    own = counted_segments(means[means["set"] == set_name]).copy()
    if not len(own):
        return ""
    whole = set(balances.loc[np.isfinite(balances["latent_heat"]), "surface"])
    own["whole"] = own["surface"].isin(whole) & np.isfinite(own["net_radiation_common_sky"])
    return own.sort_values(
        ["whole", "samples_used", "segment"], ascending=[False, False, True], kind="stable"
    )["segment"].iloc[0]


def chosen_sample(segments: pd.Series, excluded) -> int:
    """The place of the middle one of a segment's samples that count. segments: whether each sample is in it. excluded: whether it is kept out."""
    places = np.flatnonzero(np.asarray(segments, bool) & ~np.asarray(excluded, bool))
    return int(places[len(places) // 2])


def of_factor(channel: str, certificate: Mapping, register: pd.DataFrame) -> dict:
    """The factor of a head, and whether it is read or comes from a responsivity (equation 1)."""
    stated = register[
        (register["sensor_id"] == certificate["sensor_id"])
        & (register["certificate_date"] == certificate["certificate_date"])
        & (register["channel"] == channel)
    ]
    read = (
        f"certificate of {certificate['certificate_date']}, sensor {certificate['sensor_id']}"
        if certificate["certificate_date"]
        else "no certificate"
    )
    meaning = f"factor of {TITLES[channel]}"
    for row in stated.to_dict("records"):
        factor = calibrate.factor_from_responsivity(row["factor"])
        if row["factor_unit"] == "uV per W m-2" and math.isclose(factor, certificate["factor"], rel_tol=1e-6):
            return _row(
                "calibrate.factor",
                meaning,
                f"1000 / {row['factor']:g} (µV per W m-2; {read})",
                factor,
                FACTOR_UNIT,
            )
    return _row("", meaning, read, certificate["factor"], FACTOR_UNIT)


def of_sample(
    raw: Mapping[str, object],
    channels: Mapping[str, Mapping],
    certificates: pd.DataFrame,
    register: pd.DataFrame,
    longwave: str,
) -> list[dict]:
    """One sample from what the logger stored to net radiation. raw: the row of step 1. The rest as for `calibrate.calibrate`."""
    rows, terms, kelvin = [], {}, {}
    table = certificates.set_index("channel").to_dict("index")
    where = f"{raw['file']}, line {int(raw['line'])}"
    for channel in ("lw_in", "lw_out"):
        own = f"body_temperature_{channel}"
        column = own if own in channels else "body_temperature"
        unit = channels[column]["unit"]
        celsius = float(instruments.body_celsius(raw[column], unit))
        kelvin[channel] = celsius + ZERO_CELSIUS
        if channel == "lw_in" or column == own:
            whose = f" of the head of {TITLES[channel]}" if column == own else ""
            if unit != "degC":
                rows.append(_row("", f"body thermometer{whose} as logged", where, raw[column], unit))
            rows.append(
                _row(
                    "calibrate.body_temperature" if unit == "ohm" else "",
                    f"body temperature{whose}",
                    {
                        "degC": where,
                        "K": f"{raw[column]:.2f} − 273.15",
                        "ohm": f"the inverse of equation 4 at {raw[column]:.3f} ohm",
                    }[unit],
                    celsius,
                    "degC",
                )
            )
            rows.append(
                _row(
                    "correct_longwave.own_emission",
                    f"own emission{whose}",
                    f"σ × ({celsius:.2f} + 273.15)⁴",
                    own_emission(kelvin[channel]),
                )
            )
    for channel in calibrate.RADIATION:
        unit, certificate, title = channels[channel]["unit"], table[channel], TITLES[channel]
        signal, is_longwave = float(raw[channel]), channel.startswith("lw")
        key = f"calibrate.{channel}_net" if is_longwave else f"calibrate.{channel}"
        sensed = f"net signal of {title}" if is_longwave else title
        rows.append(_row("", f"{title} as logged", where, signal, unit))
        if unit in instruments.MILLIVOLTS:
            rows.append(of_factor(channel, certificate, register))
            millivolts = signal * instruments.MILLIVOLTS[unit]
            value = calibrate.net_signal(millivolts, certificate["factor"])
            rows.append(_row(key, sensed, f"{certificate['factor']:.3f} × {number(millivolts, 4)}", value))
        else:
            if is_longwave and longwave == "corrected":
                emission = float(own_emission(kelvin[channel]))
                rows.append(
                    _row(
                        "correct_longwave.own_emission",
                        f"{title} without the own emission that the logger added",
                        f"{number(signal, 2)} − {emission:.2f}",
                        signal - emission,
                    )
                )
                signal -= emission
            value, programmed = signal, certificate["programmed_factor"]
            if programmed > 0:
                rows.append(of_factor(channel, certificate, register))
                rows.append(
                    _row(
                        "",
                        f"factor of {title} programmed in the logger",
                        "instruments.csv",
                        programmed,
                        FACTOR_UNIT,
                    )
                )
                value = calibrate.rescaled(signal, certificate["factor"], programmed)
                rows.append(
                    _row(
                        "calibrate.rescaled",
                        sensed,
                        f"{number(signal, 2)} × {certificate['factor']:.3f} / {programmed:.3f}",
                        value,
                    )
                )
            else:
                rows.append(
                    _row(key, sensed, "as logged: the register names no other factor in the logger", value)
                )
        if is_longwave:
            net, value = value, irradiance(value, kelvin[channel])
            rows.append(
                _row(
                    f"correct_longwave.{channel}",
                    title,
                    f"{number(net, 2)} + σ × {kelvin[channel]:.2f}⁴",
                    value,
                )
            )
        terms[channel] = float(value)
    rows.append(
        _row(
            "summarise.net_radiation",
            "net radiation of the sample",
            _net_words(terms),
            radiation.net_radiation(**terms),
        )
    )
    return rows


def _net_words(terms: Mapping[str, float]) -> str:
    return "{} − {} + {} − {}".format(*(number(terms[channel], 2) for channel in calibrate.RADIATION))


def of_segment(
    samples: pd.DataFrame,
    excluded,
    mean: Mapping,
    entry: Mapping[str, Mapping],
    group: Mapping | None,
    sky: tuple[float, float],
) -> list[dict]:
    """One segment from its samples to its energy balance.

    samples: the segment's samples of step 5. excluded: which are kept out. mean: its row of step 6. entry: its class's properties. group: its
    surface's row of step 7 (fraction, coefficient and air are those of the surface); None where it has none. sky: the common one.
    """
    good = samples[~np.asarray(excluded, bool)]
    value = {name: good[name].to_numpy(float) for name in (*calibrate.RADIATION, "solar_elevation")}
    emissivity, response = (entry[name]["value"] for name in ("emissivity", "sky_response"))
    rows = [
        _row(
            "",
            "samples stored in the noted interval",
            f"line {int(mean['notes_row'])} of the notes",
            len(samples),
            "1",
        )
    ]
    if mean["speed"] > 0:
        guard = geometry.GUARD_RADIUS * mean["height"]
        rows.append(
            _row(
                "segment.view_within",
                f"share of the view within the guard of {guard:.2f} m",
                f"{guard:.2f}² / ({guard:.2f}² + {mean['height']:.2f}²)",
                geometry.view_within(guard, mean["height"]),
                "1",
            )
        )
    rows.append(
        _row(
            "",
            "samples that count",
            f"{len(samples)} − {len(samples) - len(good)} kept apart at the edges or flagged",
            len(good),
            "1",
        )
    )
    terms = {channel: float(np.mean(value[channel])) for channel in calibrate.RADIATION}
    rows += [
        _row("", f"{TITLES[channel]}, mean", f"sum of {len(good)} values / {len(good)}", terms[channel])
        for channel in calibrate.RADIATION
    ]
    sunny = (value["solar_elevation"] > radiation.ALBEDO_ELEVATION) & (
        value["sw_in"] > radiation.ALBEDO_SW_IN
    )
    albedo = float(radiation.albedo(value["sw_in"][sunny], value["sw_out"][sunny]))
    if math.isfinite(albedo):
        rows.append(
            _row(
                "summarise.albedo",
                "albedo",
                f"{np.sum(value['sw_out'][sunny]):.1f} / {np.sum(value['sw_in'][sunny]):.1f} (sums)",
                albedo,
                "1",
            )
        )
    temperature = float(surface_temperature(terms["lw_out"], terms["lw_in"], emissivity)) - ZERO_CELSIUS
    rows.append(
        _row(
            "summarise.surface_temperature",
            "surface temperature",
            f"[({terms['lw_out']:.2f} − (1 − {emissivity:g}) × {terms['lw_in']:.2f}) / ({emissivity:g} σ)]^(1/4) − 273.15",
            temperature,
            "degC",
        )
    )
    net = float(radiation.net_radiation(**terms))
    rows.append(_row("summarise.net_radiation", "net radiation", _net_words(terms), net))
    common = float(
        radiation.net_common_sky(
            net,
            albedo,
            sw_in=terms["sw_in"],
            lw_in=terms["lw_in"],
            sw_ref=sky[0],
            lw_ref=sky[1],
            emissivity=emissivity,
            sky_response=response,
        )
    )
    if math.isfinite(common):
        rows.append(
            _row(
                "summarise.net_radiation_common_sky",
                "net radiation under the common sky",
                f"{number(net, 2)} + (1 − {number(albedo, 4)})(1 − {response:g})({sky[0]:.2f} − {terms['sw_in']:.2f}) + {emissivity:g} × ({sky[1]:.2f} − {terms['lw_in']:.2f})",
                common,
            )
        )
    return rows + (of_balance(net, group) if group is not None and not group["reason"] else [])


def of_balance(net: float, group: Mapping) -> list[dict]:
    """The energy balance of a net radiation, W m-2, with the fractions of a surface's row of step 7; what is not estimated has no row."""
    ground = ground_heat(net, group["fraction"], group["offset"])
    offset = f" + {number(group['offset'], 2)}" if group["offset"] else ""
    rows = [
        _row(
            "balance.ground_heat",
            "ground heat (estimate)",
            f"{group['fraction']:.3f} × {number(net, 2)}{offset}",
            ground,
        )
    ]
    split = Split(
        group["split"],
        group["day"],
        group["air_temperature"],
        group["pressure"] / 10.0,
        group["coefficient"],
    )
    terms = {name: float(v) for name, v in energy_balance(net, ground, split).items()}
    available = net - ground
    if not math.isfinite(terms["latent_heat"]):
        return rows
    words = f"{group['coefficient']:g} × {number(available, 2)}"
    if group["split"] in balance.GREEN:
        slope = float(evaporation.slope_of_saturation(group["air_temperature"]))
        gamma = float(evaporation.psychrometric_constant(group["pressure"] / 10.0))
        coefficient = (
            group["coefficient"]
            if group["split"] == "priestley_taylor"
            else evaporation.DE_BRUIN_HOLTSLAG_COEFFICIENT
        )
        plus = "" if group["split"] == "priestley_taylor" else f" + {evaporation.DE_BRUIN_HOLTSLAG_OFFSET:g}"
        rows.append(
            _row(
                "",
                "slope Δ of the saturation vapour pressure",
                f"at {group['air_temperature']:.2f} °C",
                slope,
                "kPa K-1",
            )
        )
        rows.append(_row("", "psychrometric constant γ", f"at {group['pressure']:.1f} hPa", gamma, "kPa K-1"))
        words = f"{coefficient:g} × {slope:.4f} / ({slope:.4f} + {gamma:.4f}) × {number(available, 2)}{plus}"
    elif group["split"] == "none":
        words = "a dry surface: nothing evaporates"
    rows.append(_row("balance.latent_heat", "latent heat (estimate)", words, terms["latent_heat"]))
    rows.append(
        _row(
            "balance.sensible_heat",
            "sensible heat (estimate)",
            f"{number(net, 2)} − {number(ground, 2)} − {number(terms['latent_heat'], 2)}",
            terms["sensible_heat"],
        )
    )
    if math.isfinite(group["air_temperature"]) and group["split"] != "none":
        heat = float(evaporation.latent_heat_of_vaporisation(group["air_temperature"]))
        rows.append(
            _row(
                "balance.evaporation",
                "evaporation (estimate)",
                f"3600 × {number(terms['latent_heat'], 2)} / ({heat:.3f} × 10⁶)",
                terms["evaporation"],
                "mm h-1",
            )
        )
    if math.isfinite(terms["bowen_ratio"]):
        rows.append(
            _row(
                "balance.bowen_ratio",
                "Bowen ratio (estimate)",
                f"{number(terms['sensible_heat'], 2)} / {number(terms['latent_heat'], 2)}",
                terms["bowen_ratio"],
                "1",
            )
        )
    return rows


def table(parts: Sequence[tuple[str, str, str, Sequence[dict]]]) -> pd.DataFrame:
    """The rows of worked.json. parts: set, part, item and rows."""
    return pd.DataFrame(
        [
            {"set": set_, "part": part, "item": item, **row}
            for set_, part, item, rows in parts
            for row in rows
        ],
        columns=["set", "part", "item", "key", "meaning", "working", "value", "unit"],
    )
