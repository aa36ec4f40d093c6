"""From the campaign folder to numbers of each noted interval: chapters 2, 3, 5 and 6 of docs/method.md."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import yaml

from independent import sky

CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out")
KELVIN = 273.15
MONTH = 365.25 / 12


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@dataclass
class Head:
    """One row of the register: factor in W m-2 per mV, uncertainty in %, age in years, response in s."""

    factor: float
    programmed: float
    expanded: float
    age: float
    response: float
    grade: str


@dataclass
class Segment:
    """A noted interval: means over its samples used, and what the errors need."""

    name: str
    set: str
    field: str
    surface: str
    activity: str
    start: float
    end: float
    transect: str
    heading: float
    height: float
    canopy: float
    falls: tuple[float, float] | None
    used: int
    mean: dict[str, float]
    net: dict[str, float]
    rate: dict[str, float]
    noise: dict[str, float]
    body: float
    elevation: float
    azimuth: float
    distance: float
    left_out: float
    ground_left_out: tuple[float, float]
    memory: float
    looks: float
    scatter: tuple[float, float, float]
    air: float
    wind: float
    middle: float
    body_rate: float = 0.0
    visit: int = 0
    set_visit: int = 0


def of_factor(text: str, unit: str) -> float:
    return float("nan") if not text else float(text) if unit.startswith("W") else 1000 / float(text)


def heads(path: Path, day: datetime) -> dict[tuple[str, str], Head]:
    """The latest certificate of each sensor dated on or before the day (section 2.4)."""
    latest: dict[tuple[str, str], tuple[datetime, Head]] = {}
    for row in rows(path):
        dated = datetime.fromisoformat(row["certificate_date"])
        key = (row["set"], row["channel"])
        if dated > day or (key in latest and latest[key][0] > dated):
            continue
        age = (day - dated).days / MONTH / 12
        factor = of_factor(row["factor"], row["factor_unit"])
        programmed = of_factor(row["programmed_factor"], row["factor_unit"])
        latest[key] = (
            dated,
            Head(
                factor,
                factor if np.isnan(programmed) else programmed,
                float(row["expanded_uncertainty_percent"]),
                age,
                float(row["response_time_95"]),
                row["instrument_class"],
            ),
        )
    return {key: head for key, (_, head) in latest.items()}


def seconds(when: datetime, zone: object) -> float:
    return when.replace(tzinfo=zone).timestamp()  # type: ignore[arg-type]


def logged(folder: Path, layouts: Path, told: dict[str, str]) -> dict[str, np.ndarray]:
    """Samples of a set as its logger stored them, with the middle of each in s of UTC by its own clock."""
    layout = yaml.safe_load((layouts / f"{told['layout']}.yaml").read_text(encoding="utf-8"))
    hours, minutes = told["utc_offset"].split(":")
    zone = ZoneInfo("UTC")
    ahead = timedelta(hours=int(hours), minutes=int(minutes))
    table: dict[str, list[float]] = {"time": []}
    columns = layout["time"].get("columns") or [layout["time"]["column"]]
    for path in sorted(folder.glob(told["files"])):
        lines = path.read_text(encoding=layout["encoding"]).splitlines()[layout["skip_lines"] :]
        names = lines[0].split(layout["delimiter"])
        for line in lines[1 + layout["lines_after_names"] :]:
            cells = dict(zip(names, line.split(layout["delimiter"]), strict=True))
            stamp = " ".join(cells[one] for one in columns)
            when = datetime.strptime(stamp, layout["time"]["format"]) - ahead
            table["time"].append(seconds(when, zone) - layout["interval"] / 2)
            for channel, one in layout["channels"].items():
                text = cells[one["column"]].replace(layout["decimal"], ".")
                table.setdefault(channel, []).append(float(text))
    found = {name: np.array(values) for name, values in table.items()}
    found["in_flux"] = np.array([layout["channels"]["sw_in"]["unit"] == "W m-2"])
    return found


def calibrated(raw: dict[str, np.ndarray], register: dict[str, Head]) -> dict[str, np.ndarray]:
    """Fluxes in W m-2: (2) and (3), and the longwave with what the head itself emits, (5) and (6)."""
    own = sky.SIGMA * (raw["body_temperature"] + KELVIN) ** 4
    out = {"time": raw["time"], "body": raw["body_temperature"]}
    for channel in CHANNELS:
        head = register[channel]
        net = raw[channel] * (head.factor / head.programmed if raw["in_flux"][0] else head.factor)
        out[channel] = net
        if channel.startswith("lw"):
            out[f"{channel}_net"], out[channel] = net, net + own
    return out


def autocorrelation_sum(series: np.ndarray) -> float:
    """The sum of (15), to the first zero."""
    count = len(series)
    rest = series - series.mean()
    total, power = 0.0, float(rest @ rest)
    for lag in range(1, count):
        rho = float(rest[:-lag] @ rest[lag:]) / power
        if rho <= 0:
            break
        total += (1 - lag / count) * rho
    return total


def residuals(samples: dict[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Scatter of the ground along a walk, (6.7a)."""
    short = samples["sw_out"] - samples["sw_out"].sum() / samples["sw_in"].sum() * samples["sw_in"]
    count = len(short)
    basis = np.column_stack([np.ones(count), np.arange(count), samples["sw_in"]])
    fitted = basis @ np.linalg.lstsq(basis, samples["lw_out"], rcond=None)[0]
    return short, samples["lw_out"] - fitted


def remembered(time: np.ndarray, flux: np.ndarray, at: np.ndarray) -> float:
    """Mean over the times of what the surface had adjusted to, (6.8b)."""
    found = []
    for moment in at:
        past = time <= moment
        weight = np.exp(-(moment - time[past]) / 600.0)
        found.append(float(weight @ flux[past] / weight.sum()))
    return float(np.mean(found))


@dataclass
class Campaign:
    """What the folder says, read once."""

    told: dict
    register: dict[tuple[str, str], Head]
    samples: dict[str, dict[str, np.ndarray]]
    notes: list[dict[str, str]]
    weather: tuple[np.ndarray, np.ndarray, np.ndarray]


def read(folder: Path, layouts: Path) -> Campaign:
    told = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
    notes = rows(folder / "notes.csv")
    zone = ZoneInfo(told["notes"]["timezone"])
    day = datetime.fromisoformat(notes[0]["date"])
    register = heads(folder / "instruments.csv", day)
    samples = {}
    for name, of_set in told["sets"].items():
        mine = {channel: head for (one, channel), head in register.items() if one == name}
        samples[name] = calibrated(logged(folder, layouts, of_set), mine)
        checks = [row for row in notes if row["set"] == name and row["activity"] == "clock_check"]
        hours, minutes = (int(part) for part in of_set["utc_offset"].split(":"))
        ahead = timedelta(hours=hours, minutes=minutes)
        true = [seconds(datetime.fromisoformat(f"{row['date']}T{row['start']}"), zone) for row in checks]
        shown = [
            seconds(datetime.fromisoformat(f"{row['date']}T{row['logger_shows']}") - ahead, ZoneInfo("UTC"))
            for row in checks
        ]
        drift = np.interp(samples[name]["time"], shown, np.subtract(shown, true))
        samples[name]["time"] = samples[name]["time"] - drift
    sky_rows = rows(folder / "weather.csv")
    times = [datetime.fromisoformat(row["time_utc"]).timestamp() for row in sky_rows]
    air, wind = (np.array([float(row[n]) for row in sky_rows]) for n in ("air_temperature", "wind_speed"))
    weather = np.array(times), air, wind
    return Campaign(told, register, samples, notes, weather)


def body_rates(found: list[Segment]) -> None:
    """How fast the body temperature of each set changes from segment to segment, K h-1, at most 10."""
    for name in {one.set for one in found}:
        mine = sorted((one for one in found if one.set == name), key=lambda each: each.start)
        hours = [(one.start + one.end) / 7200 for one in mine]
        for one, rate in zip(mine, np.gradient([one.body for one in mine], hours), strict=True):
            one.body_rate = float(np.clip(rate, -10, 10))


def number_visits(found: list[Segment]) -> None:
    """Segments of one surface that follow each other within 10 min are a visit. Those of a set in one field,
    without another between, are a visit of the set.
    """
    of_surface: dict[str, tuple[float, int]] = {}
    of_set: dict[str, tuple[str, int]] = {}
    for number, one in enumerate(sorted(found, key=lambda each: each.start)):
        end, visit = of_surface.get(one.surface, (-np.inf, number))
        one.visit = visit if one.start - end <= 600 else number
        of_surface[one.surface] = max(end, one.end), one.visit
        where, visit = of_set.get(one.set, ("", number))
        one.set_visit = visit if where == one.field else number
        of_set[one.set] = one.field, one.set_visit


def segments(campaign: Campaign) -> list[Segment]:
    """Every walk and every comparison side by side, in the order of the notes."""
    found = [one for row in campaign.notes if row["surface"] and (one := segment(campaign, row))]
    body_rates(found)
    number_visits(found)
    return found


def segment(campaign: Campaign, row: dict[str, str]) -> Segment:
    told, everything = campaign.told, campaign.samples[row["set"]]
    zone = ZoneInfo(told["notes"]["timezone"])
    start, end = (
        seconds(datetime.fromisoformat(f"{row['date']}T{row[name]}"), zone) for name in ("start", "end")
    )
    inside = (everything["time"] >= start) & (everything["time"] < end)
    samples = {name: values[inside] for name, values in everything.items()}
    canopy = float(row["canopy_height"] or 0)
    height = told["carrying"]["sensor_height"] - canopy
    count = int(inside.sum())
    recorded = np.arange(count) + 0.5
    settled = max(campaign.register[row["set"], channel].response for channel in CHANNELS)
    length = float(row["length"] or 0)
    guard = 3 * height * count / length if row["activity"] == "walk" else 0.0
    keep = (recorded >= guard + settled) & (recorded <= count - guard)
    used = {name: values[keep] for name, values in samples.items()}
    site = told["site"]
    elevation, azimuth, distance = sky.sun(used["time"], site["latitude"], site["longitude"])
    mean = {channel: float(used[channel].mean()) for channel in CHANNELS}
    off = {channel: float(samples[channel].mean()) - mean[channel] for channel in CHANNELS}
    short, long = residuals(used)
    number = len(short)
    looks = min(number, *(number / (1 + 2 * autocorrelation_sum(one)) for one in (short, long)))
    if length:
        looks = min(looks, number * length / count / (2.776 * height))
    middle = float(used["time"].mean())
    utc = datetime.fromtimestamp(start, ZoneInfo("UTC"))
    return Segment(
        name=f"{row['set']}-{utc:%m%d-%H%M}",
        set=row["set"],
        field=row["field"],
        surface=row["surface"],
        activity=row["activity"],
        start=start,
        end=end,
        transect=row["transect"],
        heading=float(row["heading"]),
        height=height,
        canopy=canopy,
        falls=(float(row["slope"]), float(row["aspect"])) if row["slope"] and row["aspect"] else None,
        used=number,
        mean=mean,
        net={channel: float(used[f"{channel}_net"].mean()) for channel in CHANNELS[2:]},
        rate={c: float(np.gradient(samples[c], samples["time"])[keep].mean()) for c in CHANNELS},
        noise={c: float(np.sqrt(np.mean(np.diff(used[c]) ** 2) / (2 * number))) for c in CHANNELS},
        body=float(used["body"].mean()),
        elevation=float(elevation.mean()),
        azimuth=float(azimuth.mean()),
        distance=float(distance.mean()),
        left_out=abs(off["sw_in"]),
        memory=remembered(everything["time"], everything["sw_in"], used["time"]),
        looks=looks / 1.5,
        scatter=(float(short.var()), float(long.var()), float(np.mean(short * long))),
        ground_left_out=(
            abs(off["sw_out"] - mean["sw_out"] / mean["sw_in"] * off["sw_in"]),
            abs(off["lw_out"]),
        ),
        air=float(np.interp(middle, campaign.weather[0], campaign.weather[1])),
        wind=float(np.interp(middle, campaign.weather[0], campaign.weather[2])),
        middle=middle,
    )
