"""Mistakes in the register and the settings, and faults of whole channels that the register does not tell."""

from collections.abc import Callable

import numpy as np

from .heads import CHANNELS
from .logfile import LogFile
from .sky import KELVIN, SIGMA
from .tables import Tables


def drawn(rng: np.random.Generator, size: float | None, low: float, high: float) -> float:
    """Return the size, drawn between two limits when it is not given."""
    return float(rng.uniform(low, high)) if size is None else float(size)


def names_of_sets(tables: Tables) -> list[str]:
    """Return the sets."""
    return list(tables.campaign["sets"])


def pick_set(tables: Tables, rng: np.random.Generator, unit: str | None = None) -> str:
    """Return a set by chance; with a unit, one whose logger stores in it."""
    names = names_of_sets(tables)
    if unit is not None:
        names = [name for name in names if open_log(tables, name).unit("sw_in") == unit]
    if not names:
        raise ValueError(f"no logger of this campaign stores {unit}")
    return str(rng.choice(names))


def two_sets(tables: Tables, rng: np.random.Generator) -> list[str]:
    """Return two sets, or say that there is one only."""
    names = names_of_sets(tables)
    if len(names) < 2:
        raise ValueError("the campaign has one set only")
    return [str(name) for name in rng.permutation(names)[:2]]


def place_of(name: str) -> str:
    """Return the place of a set's file."""
    return f"logger/{name}_01.csv"


def open_log(tables: Tables, name: str) -> LogFile:
    """Return a set's file, split."""
    return LogFile(tables.files[place_of(name)][0], tables.campaign["sets"][name]["layout"])


def save_log(tables: Tables, name: str, log: LogFile) -> None:
    """Keep a changed file."""
    tables.files[place_of(name)] = (log.text(), tables.files[place_of(name)][1])
    tables.touched = True


def record(name: str | None, what: str, size: object = None, unit: str = "", **where: object) -> dict:
    """Return the record of a mistake."""
    return {"set": name, "what": what, "size": size, "unit": unit} | where


def latest(tables: Tables, name: str, channel: str) -> int:
    """Return the register's row of the certificate in force."""
    register = tables.register
    rows = register[(register["set"] == name) & (register["channel"] == channel)]
    return int(rows.sort_values("certificate_date").index[-1])


def longwave_corrected_twice(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Add the body's emission in the logger and declare `net`, so that it is added again."""
    name = pick_set(tables, rng, "W m-2")
    settings = tables.campaign["sets"][name]
    if settings["longwave"] == "net":
        add_emission(tables, name, ("lw_in", "lw_out"), 1.0)
    settings["longwave"] = "net"
    return record(name, "stored longwave has the body's emission, declared net")


def longwave_not_corrected(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Store net longwave and declare `corrected`."""
    name = pick_set(tables, rng, "W m-2")
    settings = tables.campaign["sets"][name]
    if settings["longwave"] == "corrected":
        add_emission(tables, name, ("lw_in", "lw_out"), -1.0)
    settings["longwave"] = "corrected"
    return record(name, "stored longwave is net, declared corrected")


def longwave_corrected_one_channel(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Add (or leave out) the body's emission in one longwave channel."""
    name = pick_set(tables, rng, "W m-2")
    channel = str(rng.choice(["lw_in", "lw_out"]))
    sign = 1.0 if tables.campaign["sets"][name]["longwave"] == "net" else -1.0
    add_emission(tables, name, (channel,), sign)
    return record(name, f"{channel} differs from the declared state", channel=channel)


def add_emission(tables: Tables, name: str, channels: tuple[str, ...], sign: float) -> None:
    """Add the body's emission to stored fluxes."""
    log = open_log(tables, name)
    for channel in channels:
        thermometer = log.body_channels()[-1 if channel == "lw_out" else 0]
        kelvin = log.values(thermometer) + (0.0 if log.unit(thermometer) == "K" else KELVIN)
        log.set_values(channel, log.values(channel) + sign * SIGMA * kelvin**4)
    save_log(tables, name, log)


def body_temperature_unit(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Store the body's temperature in another unit than declared."""
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    declared = log.unit(log.body_channels()[0])
    other = str(rng.choice(["K", "degF"] if declared == "degC" else ["degC", "degF"]))
    for channel in log.body_channels():
        celsius = log.values(channel) - (KELVIN if declared == "K" else 0.0)
        log.set_values(channel, {"K": celsius + KELVIN, "degF": celsius * 1.8 + 32.0, "degC": celsius}[other])
    save_log(tables, name, log)
    return record(name, f"thermometer stored in {other}, declared {declared}")


def factor_inverted(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Enter a responsivity as a factor, or the reverse: the number is right and its unit is the other one."""
    name = pick_set(tables, rng)
    channels = CHANNELS if rng.uniform() < 0.5 else (str(rng.choice(CHANNELS)),)
    for channel in channels:
        rows = (tables.register["set"] == name) & (tables.register["channel"] == channel)
        old = tables.register.loc[rows, "factor_unit"].iloc[0]
        other = "uV per W m-2" if old == "W m-2 per mV" else "W m-2 per mV"
        tables.register.loc[rows, "factor_unit"] = other
    return record(name, "unit of the factor is the other one", channels=list(channels))


def factors_exchanged(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Swap the factors of two channels; size: least relative difference of the two."""
    name = pick_set(tables, rng)
    least = 0.15 if size is None else size
    pairs = []
    for one in range(4):
        for two in range(one + 1, 4):
            i, j = latest(tables, name, CHANNELS[one]), latest(tables, name, CHANNELS[two])
            ratio = float(tables.register.loc[i, "factor"]) / float(tables.register.loc[j, "factor"])
            if abs(ratio - 1.0) >= least:
                pairs.append((i, j, CHANNELS[one], CHANNELS[two], ratio))
    if not pairs:
        raise ValueError("no two factors of this set differ enough")
    i, j, one_name, two_name, ratio = pairs[int(rng.integers(len(pairs)))]
    first, second = tables.register.loc[i, "factor"], tables.register.loc[j, "factor"]
    tables.register.loc[i, "factor"], tables.register.loc[j, "factor"] = second, first
    return record(name, "factors of two channels swapped", ratio, "ratio", channels=[one_name, two_name])


def factor_outdated(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Let a logger multiply by an older factor and do not say so; size: relative difference of the two
    factors."""
    name = pick_set(tables, rng, "W m-2")
    change = drawn(rng, size, 0.03, 0.08) * (1.0 if size is not None else float(rng.choice([-1.0, 1.0])))
    channel = str(rng.choice(CHANNELS))
    log = open_log(tables, name)
    values = log.values(channel)
    emission = 0.0
    if channel.startswith("lw") and tables.campaign["sets"][name]["longwave"] == "corrected":
        thermometer = log.body_channels()[0]
        emission = SIGMA * (log.values(thermometer) + (0.0 if log.unit(thermometer) == "K" else KELVIN)) ** 4
    log.set_values(channel, (values - emission) * (1.0 + change) + emission)
    save_log(tables, name, log)
    rows = (tables.register["set"] == name) & (tables.register["channel"] == channel)
    tables.register.loc[rows, "programmed_factor"] = ""
    return record(
        name,
        f"{channel} stored with an older factor that the register does not give",
        change,
        "relative",
        channel=channel,
    )


def pair_broken(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Connect the shortwave or longwave sensors of one set to the logger of the other, and the reverse."""
    one, two = two_sets(tables, rng)
    band = str(rng.choice(["sw", "lw"]))
    columns = ["sensor_id", "factor", "factor_unit", "expanded_uncertainty_percent", "certificate_date"]
    for channel in (f"{band}_in", f"{band}_out"):
        i, j = latest(tables, one, channel), latest(tables, two, channel)
        first = tables.register.loc[i, columns].copy()
        tables.register.loc[i, columns] = tables.register.loc[j, columns]
        tables.register.loc[j, columns] = first
    return record(one, f"{band} sensors of {one} and {two} changed places", other=two)


def channels_exchanged(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Exchange up and down in both bands or in one."""
    name = pick_set(tables, rng)
    bands = [["sw"], ["lw"], ["sw", "lw"]][int(rng.integers(3))]
    log = open_log(tables, name)
    for band in bands:
        log.swap(f"{band}_in", f"{band}_out")
    save_log(tables, name, log)
    return record(name, "columns up and down exchanged", bands=bands)


def sign_reversed(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Reverse the leads of one channel."""
    name = pick_set(tables, rng)
    channel = str(rng.choice(CHANNELS))
    log = open_log(tables, name)
    emission = 0.0
    if channel.startswith("lw") and tables.campaign["sets"][name]["longwave"] == "corrected":
        thermometer = log.body_channels()[0]
        emission = SIGMA * (log.values(thermometer) + (0.0 if log.unit(thermometer) == "K" else KELVIN)) ** 4
    log.set_values(channel, 2.0 * emission - log.values(channel))
    save_log(tables, name, log)
    return record(name, f"leads of {channel} reversed", channel=channel)


def sets_disagree(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Change one set's incoming shortwave; size: relative."""
    name = two_sets(tables, rng)[0]
    change = drawn(rng, size, 0.08, 0.15) * (1.0 if size is not None else float(rng.choice([-1.0, 1.0])))
    log = open_log(tables, name)
    log.set_values("sw_in", log.values("sw_in") * (1.0 + change))
    save_log(tables, name, log)
    return record(name, "sw_in off that of the other set", change, "relative", channel="sw_in")


def station_disagrees(tables: Tables, rng: np.random.Generator, size: float | None) -> dict:
    """Change all sets' incoming shortwave against the station's; size: relative."""
    if tables.station is None:
        raise ValueError("the campaign has no station; draw the day with station=True")
    change = drawn(rng, size, 0.10, 0.18) * (1.0 if size is not None else float(rng.choice([-1.0, 1.0])))
    name = pick_set(tables, rng)
    log = open_log(tables, name)
    log.set_values("sw_in", log.values("sw_in") * (1.0 + change))
    save_log(tables, name, log)
    return record(name, "sw_in off the station's", change, "relative", channel="sw_in")


CODES: dict[str, Callable] = {
    "longwave-corrected-twice": longwave_corrected_twice,
    "longwave-not-corrected": longwave_not_corrected,
    "longwave-corrected-one-channel": longwave_corrected_one_channel,
    "body-temperature-unit": body_temperature_unit,
    "factor-inverted": factor_inverted,
    "factors-exchanged": factors_exchanged,
    "factor-outdated": factor_outdated,
    "pair-broken": pair_broken,
    "channels-exchanged": channels_exchanged,
    "sign-reversed": sign_reversed,
    "sets-disagree": sets_disagree,
    "station-disagrees": station_disagrees,
}
