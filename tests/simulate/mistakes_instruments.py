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


# Files ----------------------------------------------------------------------------------------------------
# ----------
# A file is handled as bytes: what stands before the data is kept, lines of data are changed.


def data_lines(campaign: Campaign, name: str, content: bytes) -> tuple[list[bytes], list[bytes]]:
    """The lines before the data and those of the data, each with its end of line."""
    layout = layout_of(set_of(campaign, name))[0]
    lines = content.splitlines(keepends=True)
    before = layout["skip_lines"] + layout["names"] + layout["lines_after_names"]
    return lines[:before], lines[before:]


def with_data(campaign: Campaign, name: str, change: Callable[[list[bytes], list[bytes]], bytes]) -> Campaign:
    return in_first_file(campaign, name, lambda content: change(*data_lines(campaign, name, content)))


def file_truncated(campaign: Campaign, name: str) -> Campaign:
    return in_first_file(campaign, name, lambda content: content.rstrip()[:-17])


def row_damaged(campaign: Campaign, name: str) -> Campaign:
    """Three lines in the middle are garbled: bytes of another encoding, a field too many, letters."""

    def change(head, data):
        k = len(data) // 2
        data[k] = data[k][:9] + b"\xff\xfe\x9d" + data[k][12:]
        data[k + 3] = data[k + 3].rstrip() + b",;,;7\n"
        data[k + 5] = b"#" * 20 + data[k + 5][20:]
        return b"".join(head + data)

    return with_data(campaign, name, change)


def rows_duplicated(campaign: Campaign, name: str, different: bool = False) -> Campaign:
    """A block of 40 rows downloaded twice; different: with other values the second time."""

    def change(head, data):
        block = data[20:60]
        if different:
            block = [
                line.rstrip()[:-1] + (b"8" if line.rstrip()[-1:] != b"8" else b"7") + b"\n" for line in block
            ]
        return b"".join(head + data + block)

    return with_data(campaign, name, change)


def overlapping_files(campaign: Campaign, name: str) -> Campaign:
    """The set's first file again under another name, less its first quarter: the second download began
    before the first ended."""

    def edit(files):
        first = next(path for path in files if path.startswith(f"logger/{name}_"))
        head, data = data_lines(campaign, name, files[first])
        return {
            **files,
            first: b"".join(head + data[: len(data) * 3 // 4]),
            f"logger/{name}_99.csv": b"".join(head + data[len(data) // 4 :]),
        }

    return in_files(campaign, edit)


def clock_jumped(campaign: Campaign, name: str, seconds: float, since: float = 0.5) -> Campaign:
    """From a share of the records on, the logger's clock is off by so many seconds (negative: it went
    back)."""
    out = copied(campaign)
    stamps = out.records[name]["stamp"].copy()
    first = int(since * len(stamps))
    stamps.iloc[first:] = stamps.iloc[first:] + pd.Timedelta(seconds, "s")
    out.records[name]["stamp"] = stamps
    return out


def clock_reset(campaign: Campaign, name: str, default: str = "2000-01-01 00:00:00") -> Campaign:
    """The supply was cut: the clock began again at its default date."""
    stamps = campaign.records[name]["stamp"]
    return clock_jumped(
        campaign, name, (pd.Timestamp(default) - stamps.iloc[len(stamps) // 2]).total_seconds()
    )


def clock_backwards(campaign: Campaign, name: str) -> Campaign:
    return clock_jumped(campaign, name, -3 * 3600.0)


def other_decimal(campaign: Campaign, name: str) -> Campaign:
    """The computer that saved the file again writes its own decimal mark. Where fields are separated by
    commas, it separates them by semicolons."""
    layout = layout_of(set_of(campaign, name))[0]

    def change(head, data):
        if layout["decimal"] == ",":
            return b"".join(head) + b"".join(data).replace(b",", b".")
        return b"".join(head[: layout["skip_lines"]]) + b"".join(head[layout["skip_lines"] :] + data).replace(
            b",", b";"
        ).replace(b".", b",")

    return with_data(campaign, name, change)


def other_delimiter(campaign: Campaign, name: str) -> Campaign:
    """The file was saved again with tabs."""
    layout = layout_of(set_of(campaign, name))[0]
    mark = layout["delimiter"].encode()
    return with_data(
        campaign,
        name,
        lambda head, data: (
            b"".join(head[: layout["skip_lines"]])
            + b"".join(head[layout["skip_lines"] :] + data).replace(mark, b"\t")
        ),
    )


def other_encoding(campaign: Campaign, name: str, encoding: str = "utf-16") -> Campaign:
    return in_first_file(campaign, name, lambda content: content.decode("utf-8").encode(encoding))


def mixed_encodings(campaign: Campaign, name: str) -> Campaign:
    """A remark in Latin-1 between the rows of a UTF-8 file."""

    def change(head, data):
        data.insert(len(data) // 3, "Akku gewechselt, Gerät kühl\n".encode("latin-1"))
        return b"".join(head + data)

    return with_data(campaign, name, change)


def header_repeated(campaign: Campaign, name: str) -> Campaign:
    """The head of the file again in the middle, as after joining two files, with a blank line before."""

    def change(head, data):
        k = len(data) // 2
        return b"".join(head + data[:k] + [b"\n"] + head + data[k:])

    return with_data(campaign, name, change)


def empty_file(campaign: Campaign, name: str) -> Campaign:
    return in_first_file(campaign, name, lambda content: b"")


def sampling_interval(campaign: Campaign, name: str, step: int = 2) -> Campaign:
    """The logger stored every second record: its programme has another interval than the layout."""
    out = copied(campaign)
    out.records[name] = out.records[name].iloc[::step].reset_index(drop=True)
    return out
