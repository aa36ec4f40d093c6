"""Mistakes of instruments, loggers and samples, put into a sound simulated campaign.

Each function takes a campaign and the name of a set and returns a damaged campaign; the given one stays as
it is. Nothing is shared with the workflow: what a mistake does to the numbers is worked out here from the
side of the instrument."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable

import numpy as np
import pandas as pd

from . import instruments
from .campaign import Campaign
from .sky import KELVIN, SIGMA
from .spec import CHANNELS, Set, Spec, layout_of


@dataclasses.dataclass
class Damaged(Campaign):
    """A campaign whose files are changed after they have been written."""

    edit: Callable[[dict[str, bytes]], dict[str, bytes]] = dict

    def files(self) -> dict[str, bytes]:
        return self.edit(super().files())


def copied(campaign: Campaign, **changes) -> Campaign:
    """The campaign with tables of its own, so that they can be changed."""
    own = {
        "records": {name: frame.copy() for name, frame in campaign.records.items()},
        "register": campaign.register.copy(),
        "notes": campaign.notes.copy(),
        "settings": {**campaign.settings, "sets": {k: dict(v) for k, v in campaign.settings["sets"].items()}},
    }
    return dataclasses.replace(campaign, **{**own, **changes})


def in_files(campaign: Campaign, edit: Callable[[dict[str, bytes]], dict[str, bytes]]) -> Campaign:
    before = campaign.edit if isinstance(campaign, Damaged) else dict
    tables = {f.name: getattr(campaign, f.name) for f in dataclasses.fields(Campaign)}
    return Damaged(**tables, edit=lambda files: edit(before(files)))


def in_first_file(campaign: Campaign, name: str, change: Callable[[bytes], bytes]) -> Campaign:
    """One change to the bytes of the first file of a set."""

    def edit(files: dict[str, bytes]) -> dict[str, bytes]:
        first = next(path for path in files if path.startswith(f"logger/{name}_"))
        return {**files, first: change(files[first])}

    return in_files(campaign, edit)


def set_of(campaign: Campaign, name: str) -> Set:
    return next(s for s in campaign.spec.sets if s.name == name)


def body_kelvin(campaign: Campaign, name: str, channel: str) -> np.ndarray:
    """The body temperature as the logger knows it, K (for units degC and K)."""
    records, layout = campaign.records[name], layout_of(set_of(campaign, name))[0]
    column = (
        f"body_temperature_{channel}"
        if f"body_temperature_{channel}" in layout["channels"]
        else "body_temperature"
    )
    return records[column].to_numpy(float) + (KELVIN if layout["channels"][column]["unit"] == "degC" else 0.0)


def watts_per_stored(campaign: Campaign, name: str, channel: str) -> float:
    """W m-2 that one unit of a stored radiation channel stands for."""
    s = set_of(campaign, name)
    unit = layout_of(s)[0]["channels"][channel]["unit"]
    if unit == "W m-2":
        return 1.0
    cert = instruments.in_force(s.sensors[channel], dt.date.fromisoformat(campaign.spec.start[:10]))
    return instruments.flux_per_millivolt(cert.factor, cert.unit) * (1.0 if unit == "mV" else 1e-3)


def flux(campaign: Campaign, name: str, channel: str) -> np.ndarray:
    """What a head sensed, W m-2: longwave as the net signal."""
    value = campaign.records[name][channel].to_numpy(float) * watts_per_stored(campaign, name, channel)
    if channel.startswith("lw") and set_of(campaign, name).longwave == "corrected":
        value = value - SIGMA * body_kelvin(campaign, name, channel) ** 4
    return value


def stored(campaign: Campaign, name: str, channel: str, sensed: np.ndarray) -> np.ndarray:
    """The reverse of `flux`, rounded as the logger rounds."""
    if channel.startswith("lw") and set_of(campaign, name).longwave == "corrected":
        sensed = sensed + SIGMA * body_kelvin(campaign, name, channel) ** 4
    digits = set_of(campaign, name).digits
    value = sensed / watts_per_stored(campaign, name, channel)
    return value if digits is None else np.round(value, digits)


# Longwave and body -----------------------------------------------------------------------------------


def emission_added(
    campaign: Campaign, name: str, channels: tuple[str, ...] = ("lw_in", "lw_out"), times: int = 1
) -> Campaign:
    """Own emission added once more (or, with -1, once less) than campaign.yaml says. The unit must be W
    m-2."""
    out = copied(campaign)
    for channel in channels:
        out.records[name][channel] += np.round(times * SIGMA * body_kelvin(campaign, name, channel) ** 4, 2)
    return out


def corrected_twice(campaign: Campaign, name: str) -> Campaign:
    return emission_added(campaign, name)


def not_corrected(campaign: Campaign, name: str) -> Campaign:
    """The logger stores net signals, campaign.yaml says corrected."""
    if set_of(campaign, name).longwave == "corrected":
        return emission_added(campaign, name, times=-1)
    out = copied(campaign)
    out.settings["sets"][name]["longwave"] = "corrected"
    return out


def corrected_one_channel(campaign: Campaign, name: str, channel: str = "lw_out") -> Campaign:
    return emission_added(
        campaign, name, (channel,), -1 if set_of(campaign, name).longwave == "corrected" else 1
    )


def body_in(campaign: Campaign, name: str, unit: str = "degF") -> Campaign:
    """The body temperature is stored in another unit than the layout says."""
    out = copied(campaign)
    for column, entry in layout_of(set_of(campaign, name))[0]["channels"].items():
        if column.startswith("body_temperature"):
            celsius = campaign.records[name][column] - (KELVIN if entry["unit"] == "K" else 0.0)
            out.records[name][column] = {
                "degF": celsius * 1.8 + 32.0,
                "K": celsius + KELVIN,
                "degC": celsius,
            }[unit].round(2)
    return out


# Register and logger ---------------------------------------------------------------------------------


def factor_inverted(campaign: Campaign, name: str, channels: tuple[str, ...] = ("sw_in",)) -> Campaign:
    """A responsivity entered as a factor, or the reverse. The unit must be mV or uV."""
    out = copied(campaign)
    rows = (out.register["set"] == name) & out.register["channel"].isin(channels)
    other = {"W m-2 per mV": "uV per W m-2", "uV per W m-2": "W m-2 per mV"}
    out.register.loc[rows, "factor_unit"] = out.register.loc[rows, "factor_unit"].map(other)
    return out


def factors_exchanged(
    campaign: Campaign, name: str, a: str = "sw_in", b: str = "lw_in", column: str = "factor"
) -> Campaign:
    """The factors of two channels swapped in the register; with column `programmed_factor`, in the logger."""
    out = copied(campaign)
    own = out.register[(out.register["set"] == name) & (out.register["channel"].isin([a, b]))]
    value = own.drop_duplicates("channel", keep="last").set_index("channel")["factor"]
    for channel, other in ((a, b), (b, a)):
        out.register.loc[(out.register["set"] == name) & (out.register["channel"] == channel), column] = (
            value[other]
        )
    if column == "programmed_factor":
        factor = {channel: 1.0 / float(v) for channel, v in value.items()}
        if (own["factor_unit"] == "W m-2 per mV").all():
            factor = {channel: float(v) for channel, v in value.items()}
        for channel, other in ((a, b), (b, a)):
            sensed = flux(campaign, name, channel) * factor[other] / factor[channel]
            out.records[name][channel] = stored(campaign, name, channel, sensed)
    return out


def pair_broken(campaign: Campaign, name: str, where: str = "register") -> Campaign:
    """The set's sensors hang on another logger: by the register, or by what the file says of itself."""
    out = copied(campaign)
    if where == "register":
        out.register.loc[out.register["set"] == name, "logger_id"] = "X-99"
    else:
        out.settings["sets"][name]["logger_id"] = "X-99"
        out.register.loc[out.register["set"] == name, "logger_id"] = "X-99"
    return out


# Heads and leads -------------------------------------------------------------------------------------


def during(
    campaign: Campaign, name: str, visit: int, start: float = 0.0, lasts: float = np.inf
) -> np.ndarray:
    """The records of a set's visit-th stored visit, from `start` s after its beginning for `lasts` s."""
    samples = campaign.samples[name]
    numbers = [number for number in pd.unique(samples["visit"]) if number >= 0]
    time = samples["time_utc"].to_numpy()
    first = time[(samples["visit"] == numbers[visit]).to_numpy()][0]
    own = (samples["visit"] == numbers[visit]).to_numpy()
    return own & (time >= first + start) & (time < first + start + lasts)


def cover_left_on(
    campaign: Campaign,
    name: str,
    channels: tuple[str, ...] = CHANNELS,
    *,
    visit: int = 0,
    start: float = 0.0,
    lasts: float = np.inf,
) -> Campaign:
    """Covers on during a visit, or a part of it: no sun, and the cover is as warm as the head."""
    out = copied(campaign)
    here, rng = during(campaign, name, visit, start, lasts), np.random.default_rng([campaign.spec.seed, 41])
    for channel in channels:
        noise = 0.3 * rng.standard_normal(len(here))
        out.records[name][channel] = stored(
            campaign, name, channel, np.where(here, noise, flux(campaign, name, channel))
        )
    return out


def exchanged(campaign: Campaign, name: str, bands: tuple[str, ...]) -> Campaign:
    """What looks up senses what is below, and the reverse, in the given bands."""
    out = copied(campaign)
    for band in bands:
        up, down = (flux(campaign, name, f"{band}_{way}") for way in ("in", "out"))
        out.records[name][f"{band}_in"] = stored(campaign, name, f"{band}_in", down)
        out.records[name][f"{band}_out"] = stored(campaign, name, f"{band}_out", up)
    return out


def head_inverted(campaign: Campaign, name: str) -> Campaign:
    return exchanged(campaign, name, ("sw", "lw"))


def sign_reversed(campaign: Campaign, name: str, channel: str = "sw_in") -> Campaign:
    out = copied(campaign)
    out.records[name][channel] = stored(campaign, name, channel, -flux(campaign, name, channel))
    return out


def channel_frozen(campaign: Campaign, name: str, channel: str = "sw_out", since: float = 0.2) -> Campaign:
    """From a share of the records on, the channel keeps its last value."""
    out = copied(campaign)
    values = out.records[name][channel].to_numpy().copy()
    first = int(since * len(values))
    values[first:] = values[first]
    out.records[name][channel] = values
    return out


def dome_wet(campaign: Campaign, name: str, start: float = 0.0, lasts: float = 400.0) -> Campaign:
    """Water on the upper longwave window, as warm as the head: the sky is not seen. Counted in recorded
    seconds."""
    out = copied(campaign)
    net = flux(campaign, name, "lw_in")
    recorded = np.arange(len(net)) * set_of(campaign, name).interval
    here = (recorded >= start) & (recorded < start + lasts)
    out.records[name]["lw_in"] = stored(campaign, name, "lw_in", np.where(here, 0.02 * net, net))
    return out


def swinging(spec: Spec, degrees: float = 15.0) -> Spec:
    return spec.with_(errors=dataclasses.replace(spec.errors, swing=degrees))


def out_of_a_warm_car(spec: Spec, name: str, kelvin: float = 8.0) -> Spec:
    return spec.with_(
        sets=tuple(dataclasses.replace(s, warm_start=kelvin) if s.name == name else s for s in spec.sets)
    )


def battery_low(campaign: Campaign, name: str, channels: tuple[str, ...] = ()) -> Campaign:
    """The supply sags in the second half; the given channels go with it: the logger stores no value."""
    out = copied(campaign)
    records = out.records[name]
    share = np.clip(2.0 * np.arange(len(records)) / len(records) - 1.0, 0.0, None)
    records["battery"] = records["battery"] - 2.6 * share
    for channel in channels:
        records.loc[share > 0.5, channel] = np.nan
    return out
