"""A whole campaign: visits to fields under one sky, read by sets, noted by people; and what was really there."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import yaml

from . import ground as grounds
from . import instruments
from . import sky as skies
from .files import iso, logger_text, table, workbook
from .sky import KELVIN, SIGMA
from .spec import CHANNELS, Field, Set, Spec, Visit, duration, layout_of

NOTES_COLUMNS = (
    "date",
    "set",
    "start",
    "end",
    "field",
    "surface",
    "activity",
    "transect",
    "pass",
    "heading",
    "speed",
    "length",
    "slope",
    "aspect",
    "canopy_height",
    "sky",
    "logger_shows",
    "remark",
)
REGISTER_COLUMNS = (
    "set",
    "logger_id",
    "channel",
    "sensor_id",
    "factor",
    "factor_unit",
    "programmed_factor",
    "expanded_uncertainty_percent",
    "certificate_date",
    "response_time_95",
    "instrument_class",
    "remark",
)
MEASURING = ("walk", "stand", "side_by_side", "sky_monitor")  # activities with a value of their own
MAPPING = ("walk", "stand")  # of these, the ones that fields and surfaces are averaged over
PLAN = "field,surface,length,headings,outline"
GRID = 5.0  # s, for what changes slowly


@dataclass
class Campaign:
    """What a campaign leaves behind, as tables that can still be changed before they are written.

    settings      campaign.yaml register      instruments.csv notes         notes.csv (or notes.xlsx), text
    only weather       weather.csv, or None records       for each set what its logger stored: stamp (its own
    clock), run, channels in stored units, battery samples       for each set the truth beside each record:
    time_utc (s since 1970, the middle), sw_in … net, visit, used truth         the tables of truth/:
    segments, fields, surfaces, instrument_errors
    """

    spec: Spec
    settings: dict
    register: pd.DataFrame
    notes: pd.DataFrame
    weather: pd.DataFrame | None
    records: dict[str, pd.DataFrame]
    samples: dict[str, pd.DataFrame]
    truth: dict[str, pd.DataFrame]

    def logger_files(self) -> dict[str, bytes]:
        """Name and content of each file of the loggers."""
        out = {}
        for s in self.spec.sets:
            layout, records = layout_of(s)[0], self.records[s.name]
            parts = {
                "one": np.zeros(len(records), int),
                "run": records["run"].to_numpy(),
                "day": pd.DatetimeIndex(records["stamp"]).normalize().to_numpy(),
            }[s.split]
            for i, part in enumerate(pd.unique(parts), start=1):
                content = logger_text(layout, s.logger_id, records[parts == part], s.digits, s.body_digits)
                out[f"logger/{s.name}_{i:02d}.csv"] = content
        return out

    def files(self) -> dict[str, bytes]:
        """The whole folder: path within it, content."""
        comment = "".join(f"# {line}\n" for line in self.spec.comment.splitlines())
        text = yaml.dump(self.settings, Dumper=Quoting, sort_keys=False, allow_unicode=True, width=140)
        out = {
            "campaign.yaml": (comment + text).encode("utf-8"),
            "instruments.csv": table(self.register),
            **(
                {"notes.xlsx": workbook(self.notes)}
                if self.spec.notes_xlsx
                else {"notes.csv": table(self.notes)}
            ),
        }
        if self.weather is not None:
            out["weather.csv"] = table(
                self.weather, {"air_temperature": 2, "relative_humidity": 1, "pressure": 1, "wind_speed": 1}
            )
        if self.spec.to_plan:
            out["plan.csv"] = ("\n".join([PLAN, *self.spec.to_plan]) + "\n").encode("utf-8")
        out.update(self.logger_files())
        for name, frame in self.truth.items():
            out[f"truth/{name}.csv"] = table(frame, {"albedo": 6, "albedo_whole": 6, "value": 6})
        out["truth/README.md"] = TRUTH.encode("utf-8")
        return out

    def write(self, folder: Path | str) -> Path:
        """Write the folder; files of the same names are replaced, others are left alone."""
        folder = Path(folder)
        for name, content in self.files().items():
            path = folder / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        return folder


class Quoting(yaml.SafeDumper):
    """Texts with a colon in quotes, so that no reader takes +01:00 or 00:30:00 for a number."""


Quoting.add_representer(
    str,
    lambda dumper, text: dumper.represent_scalar(
        "tag:yaml.org,2002:str", text, style='"' if ":" in text else None
    ),
)


@dataclass(frozen=True)
class Stay:
    """A visit with its moments in UTC seconds."""

    visit: Visit
    field: Field | None
    start: float
    end: float
    on: tuple[tuple[float, float], ...]  # when the storage was on

    def walked(self, time: np.ndarray) -> np.ndarray:
        """Metres from where the walk began."""
        if self.visit.activity != "walk":
            middle = self.field.length / 2 if self.visit.position is None else self.visit.position
            return np.full(time.shape, middle)
        speed = self.field.length / (self.end - self.start - sum(p[1] for p in self.visit.pauses))
        marks, at = [(self.start, 0.0)], 0.0
        for begin, lasts in sorted(self.visit.pauses):
            at += speed * (self.start + begin - marks[-1][0])
            marks += [(self.start + begin, at), (self.start + begin + lasts, at)]
        marks.append((self.end, self.field.length))
        return np.interp(time, *zip(*marks, strict=False))

    @property
    def heading(self) -> float:
        own = self.field.heading if self.visit.heading is None else self.visit.heading
        return (own + 180.0 * self.visit.backwards) % 360


def simulate(spec: Spec) -> Campaign:
    """Make a campaign. Equal specs give equal campaigns, byte for byte on one machine."""
    zone = ZoneInfo(spec.notes_timezone or spec.site.timezone)
    local = dt.datetime.strptime(spec.start, "%Y-%m-%d %H:%M:%S").replace(
        tzinfo=ZoneInfo(spec.site.timezone), fold=spec.fold
    )
    start, day = local.timestamp(), local.date()
    known = {f.name: f for f in spec.fields}
    stays = [_stay(v, known, start, spec) for v in spec.visits]
    begin, end = min(s.start for s in stays) - 120, max(s.end for s in stays) + 120
    step = min(1.0, *(s.interval for s in spec.sets)) if spec.sets else 1.0

    def rng(*names):
        return instruments.stream(spec.seed, *names)

    overhead = skies.make_sky(lambda part: rng("sky", part), spec.site, spec.sky, begin - 5400, end, step)
    slow = np.arange(begin - 5400, end, GRID)
    warmth = {f.name: grounds.surface_excess(f, overhead, slow, GRID) for f in spec.fields}
    above = overhead.at(slow)
    body = above["air"] + 0.8 + 0.0025 * skies.smooth(above["sw_in"], GRID, 900.0)
    patches = {
        f.name: grounds.Ground(rng("ground", f.name), f, spec.carrying.sensor_height - f.canopy_height)
        for f in spec.fields
    }

    records, samples, wrongs = {}, {}, {}
    for s in spec.sets:
        own = sorted((stay for stay in stays if stay.visit.set == s.name), key=lambda stay: stay.start)
        wrongs[s.name] = instruments.draw_errors(spec.seed, s, spec.errors, day)
        records[s.name], samples[s.name] = _follow(
            spec, s, own, start, day, overhead, patches, slow, warmth, body, wrongs[s.name]
        )

    noted = sorted(
        (s for s in stays if s.visit.note),
        key=lambda s: (s.start, [x.name for x in spec.sets].index(s.visit.set)),
    )
    notes = pd.DataFrame([_note(spec, stay, zone, start) for stay in noted], columns=NOTES_COLUMNS)
    truth = _truth(spec, noted, samples)
    truth["instrument_errors"] = pd.DataFrame(
        [(name, term, value) for name, wrong in wrongs.items() for term, value in wrong.items()],
        columns=["set", "term", "value"],
    )
    weather = _weather(spec, rng("weather"), overhead, begin, end)
    settings = _settings(spec, weather)
    return Campaign(
        spec,
        settings,
        _register(spec),
        notes,
        weather if spec.weather_step else None,
        records,
        samples,
        truth,
    )


def _stay(v: Visit, known: dict[str, Field], start: float, spec: Spec) -> Stay:
    """A visit in UTC, with the spans of storage."""
    f = known.get(v.field)
    begin, lasts = start + v.at, duration(v, f, spec.carrying.walking_speed)
    if begin % 1 or lasts % 1 or (spec.notes_to_minute and (begin % 60 or lasts % 60)):
        raise ValueError(f"visit of {v.set} at {v.at} s: the notes can't hold its times exactly")
    if v.activity == "clock_check" or not v.store:
        return Stay(v, f, begin, begin + lasts, ())
    edges = [begin - v.before]
    for at, pause in sorted(v.pauses):
        edges += [begin + at, begin + at + pause]
    edges.append(begin + lasts + v.after)
    return Stay(v, f, begin, begin + lasts, tuple(zip(edges[::2], edges[1::2], strict=False)))


def _follow(
    spec: Spec,
    s: Set,
    own: list[Stay],
    start: float,
    day: dt.date,
    overhead: skies.Overhead,
    patches: dict,
    slow: np.ndarray,
    warmth: dict,
    body: np.ndarray,
    wrong: dict[str, float],
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """One set through its day: what its logger stores, and the truth beside every record."""
    layout, _ = layout_of(s)
    own = [stay for stay in own if stay.field is not None]
    spans = np.array(sorted(span for stay in own for span in stay.on), float).reshape(-1, 2)
    offset = _seconds(s.utc_offset)
    rate = s.clock_drift / 86400

    def to_true(clock):
        return start + (clock - offset - start - s.clock_error) / (1 + rate)

    # Records end on whole multiples of the interval by the logger's clock; steps within a record where it is
    # longer.
    per = int(round(s.interval / (1.0 if s.interval <= 60 else s.interval / 60))) if s.interval > 1 else 1
    first, last = spans[0, 0] - 90, spans[-1, 1] + s.interval
    shift = offset + s.clock_error
    k = np.arange(np.floor((first + shift) / s.interval), np.ceil((last + shift) / s.interval) + 1)
    instant = layout["stamp"] == "instant"
    step = s.interval / per
    ends = to_true(k * s.interval)
    time = (ends[:, None] - s.interval + (np.arange(per) + (1.0 if instant else 0.5)) * step).ravel()

    n = time.size
    real = {
        name: np.zeros(n)
        for name in (
            "elevation",
            "azimuth",
            "beam",
            "direct",
            "diffuse",
            "sw_in",
            "lw_in",
            "air",
            "sw_out",
            "lw_out",
            "t4",
            "sw_out_whole",
            "lw_out_whole",
            "t4_whole",
            "absorbed",
        )
    }
    seen = {name: np.zeros(n) for name in ("sw_out", "lw_out")}
    heading, moving, shade, blocked = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    carried = spec.errors.carrier and spec.carrying.walking_speed > 0
    turns = [(a.end + b.start) / 2 for a, b in zip(own, own[1:], strict=False)]
    cuts = np.searchsorted(time, [-np.inf, *turns, np.inf])
    for i, stay in enumerate(own):
        part = slice(cuts[i], cuts[i + 1])
        t, f, ground = time[part], stay.field, patches[stay.field.name]
        if t.size == 0:
            continue
        now = overhead.at(t, f.sky_lag)
        for name, values in now.items():
            real[name][part] = values
        walked = stay.walked(t)
        x = f.length - walked if stay.visit.backwards else walked
        y = (stay.visit.transect - 1) * 8.0
        mean = grounds.mean_albedo(f, now["elevation"])
        albedo = mean + ground.seen("albedo", x, y)
        whole, absorbed = np.interp(t, slow, warmth[f.name][0]), np.interp(t, slow, warmth[f.name][1])
        uneven = ground.seen("temperature", x, y) * np.clip(absorbed / 600, 0.15, 1.3)
        out = {}
        for suffix, a, kelvin in (("", albedo, whole + uneven), ("_whole", mean, whole)):
            out["sw_out" + suffix] = a * now["sw_in"]
            out["t4" + suffix] = kelvin**4
            out["lw_out" + suffix] = f.emissivity * SIGMA * kelvin**4 + (1 - f.emissivity) * now["lw_in"]
        for name, values in {**out, "absorbed": absorbed}.items():
            real[name][part] = values
        outside = np.zeros(t.size)
        if f.surround_albedo is not None and stay.visit.activity == "walk":
            outside = grounds.beyond(walked, ground.height) + grounds.beyond(f.length - walked, ground.height)
            seen["sw_out"][part] = outside * (f.surround_albedo - albedo) * now["sw_in"]
            beyond = (
                f.emissivity * SIGMA * (whole + f.surround_warmer) ** 4 + (1 - f.emissivity) * now["lw_in"]
            )
            seen["lw_out"][part] = outside * (beyond - out["lw_out"])
        heading[part], moving[part] = stay.heading, stay.visit.activity == "walk"
        if carried:
            blocked[part] = grounds.carrier_view(spec.carrying, ground.height)
            nodes = np.arange(t[0], t[-1] + 60, 60.0)
            high, azimuth, _ = skies.sun(nodes, spec.site.latitude, spec.site.longitude)
            shade[part] = np.interp(
                t,
                nodes,
                grounds.shadow_view(
                    spec.carrying,
                    ground.height,
                    f.canopy_height,
                    high,
                    azimuth,
                    np.full(nodes.size, stay.heading),
                ),
            )
    real["body"] = np.interp(time, slow, body) + s.warm_start * np.exp(
        -np.maximum(time - spans[0, 0], 0) / 600
    )
    felt = {**real, **{name: real[name] + seen[name] for name in seen}}
    _cover(felt, own, time)
    flux = instruments.sense(
        spec.seed, s, spec.errors, wrong, step, time, felt, heading, shade, blocked, moving
    )

    average = (
        (lambda v: v.reshape(-1, per)[:, -1]) if instant else (lambda v: v.reshape(-1, per).mean(axis=1))
    )
    low, high = (ends, ends) if instant else (ends - s.interval, ends)
    run = np.searchsorted(spans[:, 0], low + 1e-6, side="right") - 1
    kept = (run >= 0) & (high <= spans[np.maximum(run, 0), 1] + 1e-6)
    stored = instruments.store(s, day, layout, {name: average(v) for name, v in flux.items()})
    stamp = k * s.interval - (s.interval if layout["stamp"] == "start" else 0.0)
    if s.whole_second_stamps:
        stamp = np.floor(stamp + 1e-6)
    frame = pd.DataFrame(
        {"stamp": (np.round(stamp * 1e6).astype("int64")).astype("datetime64[us]"), "run": run, **stored}
    )
    frame["battery"] = 12.72 - 0.03 * (ends - start) / 3600 - 0.0004 * (ends - start) / 3600 * np.cos(k)
    real["net"] = real["sw_in"] - real["sw_out"] + real["lw_in"] - real["lw_out"]
    true = pd.DataFrame({"time_utc": (low + high) / 2, **{name: average(v) for name, v in real.items()}})
    frame, true = frame[kept].reset_index(drop=True), true[kept].reset_index(drop=True)
    true["visit"], true["used"] = -1, False
    middle = true["time_utc"].to_numpy()
    for stay in own:
        here = np.flatnonzero((middle >= stay.start) & (middle < stay.end))
        tau = (np.arange(here.size) + 0.5) * s.interval
        edge, lag = guards(spec, s, stay, here.size * s.interval)
        used = (tau >= edge + lag) & (here.size * s.interval - tau >= edge)
        true.loc[here, "visit"] = spec.visits.index(stay.visit)
        true.loc[here, "used"] = used
    return frame, true


def guards(spec: Spec, s: Set, stay: Stay, recorded: float) -> tuple[float, float]:
    """Seconds of recorded time kept apart at both ends of a noted interval, and further ones after its start."""
    if spec.carrying.walking_speed == 0:
        return 0.0, 0.0
    lag = max(s.sensors[c].response_time_95 or 0.0 for c in CHANNELS)
    if stay.visit.activity != "walk" or recorded == 0:
        return 0.0, lag
    height = spec.carrying.sensor_height - stay.field.canopy_height
    return 3 * height * recorded / stay.field.length, lag  # 3 h / v, v from the noted length


def _cover(felt: dict[str, np.ndarray], own: list[Stay], time: np.ndarray) -> None:
    """Covers on: all heads while `dark`, one after the other in the order of CHANNELS while `channel_check`."""
    for stay in own:
        if stay.visit.activity not in ("dark", "channel_check"):
            continue
        parts = np.linspace(stay.start, stay.end, 5) if stay.visit.activity == "channel_check" else None
        for i, channel in enumerate(CHANNELS):
            a, b = (stay.start, stay.end) if parts is None else parts[i : i + 2]
            here = (time >= a) & (time < b)
            felt[channel] = np.where(
                here, SIGMA * felt["body"] ** 4 if channel.startswith("lw") else 0.0, felt[channel]
            )
            if channel == "sw_in":
                for name in ("beam", "direct", "diffuse"):
                    felt[name] = np.where(here, 0.0, felt[name])


def _note(spec: Spec, stay: Stay, zone: ZoneInfo, start: float) -> dict[str, str]:
    """One line of the notes."""
    v, f = stay.visit, stay.field

    def wall(t):
        return dt.datetime.fromtimestamp(t + spec.notes_shift, zone)

    form = "%H:%M" if spec.notes_to_minute else "%H:%M:%S"
    row = dict.fromkeys(NOTES_COLUMNS, "")
    first = wall(stay.start)
    row.update(
        date=first.strftime("%Y-%m-%d"),
        set=v.set,
        start=first.strftime(form),
        activity=v.activity,
        remark=v.remark,
    )
    if v.activity == "clock_check":
        s = next(s for s in spec.sets if s.name == v.set)
        shows = (
            stay.start + _seconds(s.utc_offset) + s.clock_error + s.clock_drift * (stay.start - start) / 86400
        )
        shows = np.floor(shows + 1e-6) if spec.errors.clock_reading else np.round(shows)
        row["logger_shows"] = dt.datetime.fromtimestamp(shows, dt.UTC).strftime("%H:%M:%S")
        return row
    last = wall(stay.end)
    row["end"] = last.strftime(form if last.date() == first.date() else f"%Y-%m-%d {form}")
    row.update(
        field=f.name,
        surface=f.surface,
        canopy_height=f"{f.canopy_height:g}" if f.canopy_height else "",
        sky=spec.sky.kind,
    )
    row.update(transect=str(v.transect), heading=f"{stay.heading:g}" if v.heading_noted else "")
    if v.activity == "walk":
        row.update(
            {
                "pass": str(v.pass_number),
                "speed": f"{v.speed or spec.carrying.walking_speed:.2f}",
                "length": f"{f.length:g}",
            }
        )
    return row


def _truth(spec: Spec, noted: list[Stay], samples: dict[str, pd.DataFrame]) -> dict[str, pd.DataFrame]:
    """The tables of truth: over the samples that were recorded, noted and not kept apart."""
    rows, pooled = [], []
    interval = {s.name: s.interval for s in spec.sets}
    for line, stay in enumerate(noted, start=2):
        if stay.visit.activity not in MEASURING or not stay.on:
            continue
        every = samples[stay.visit.set]
        every = every[every["visit"] == spec.visits.index(stay.visit)]
        used = every[every["used"]]
        v = stay.visit
        row = {
            "set": v.set,
            "field": stay.field.name,
            "surface": stay.field.surface,
            "notes_row": line,
            "start_utc": iso(stay.start),
            "end_utc": iso(stay.end),
            "activity": v.activity,
            "transect": v.transect,
            "pass": str(v.pass_number) if v.activity == "walk" else "",
            "samples": len(every),
            "samples_used": len(used),
        }
        row.update(_means([(used, 1.0)], ""))
        rows.append(row)
        if v.activity in MAPPING and len(used):
            pooled.append((stay.field, used, interval[v.set]))
    out = {"segments": pd.DataFrame(rows)}
    weight = sum(len(u) * w for _, u, w in pooled)
    common = (
        {q: sum(u[q].sum() * w for _, u, w in pooled) / weight for q in ("sw_in", "lw_in")} if pooled else {}
    )
    for name, keys in (("fields", lambda f: (f.surface, f.name)), ("surfaces", lambda f: (f.surface,))):
        groups: dict[tuple, list] = {}
        for f, used, w in pooled:
            groups.setdefault(keys(f), []).append((f, used, w))
        rows = []
        for key, members in groups.items():
            row = dict(zip(("surface", "field"), key, strict=False))
            row.update(segments=len(members), samples_used=sum(len(u) for _, u, _ in members))
            parts = [(u, w) for _, u, w in members]
            row.update(_means(parts, ""))
            row.update({f"{q}_whole": x for q, x in _means(parts, "_whole").items() if not q.endswith("_in")})
            row.update(_balance(members, common))
            rows.append(row)
        out[name] = pd.DataFrame(rows)
    return out


def _means(parts: list[tuple[pd.DataFrame, float]], suffix: str) -> dict[str, float]:
    """The seven quantities over samples, each with its weight; suffix `_whole` for the ground of the whole
    field.
    """
    used = pd.concat([u for u, _ in parts])
    weight = np.concatenate([np.full(len(u), w) for u, w in parts])
    if not len(used):
        return dict.fromkeys(
            ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation"), np.nan
        )

    def mean(name):
        return float(np.average(used[name], weights=weight))

    high = (used["elevation"] > np.radians(10)) & (used["sw_in"] > 50)
    lit = used[high]
    q = {"sw_in": mean("sw_in"), "sw_out": mean("sw_out" + suffix)}
    q["albedo"] = (
        float((lit["sw_out" + suffix] * weight[high]).sum() / (lit["sw_in"] * weight[high]).sum())
        if len(lit)
        else np.nan
    )
    q.update(
        lw_in=mean("lw_in"),
        lw_out=mean("lw_out" + suffix),
        surface_temperature=mean("t4" + suffix) ** 0.25 - KELVIN,
    )
    q["net_radiation"] = q["sw_in"] - q["sw_out"] + q["lw_in"] - q["lw_out"]
    return q


def _balance(members: list, common: dict[str, float]) -> dict[str, float]:
    """Net radiation under one common sky, and what becomes of the net radiation as it was, over whole fields."""
    total = sum(len(u) * w for _, u, w in members)
    out = dict.fromkeys(("net_radiation_common_sky", "ground_heat", "sensible_heat", "latent_heat"), 0.0)
    for f, used, w in members:
        share = len(used) * w / total
        q = _means([(used, w)], "_whole")
        albedo = grounds.mean_albedo(f, used["elevation"]).mean()
        absorbed = (1 - albedo) * common["sw_in"]
        kelvin = q["surface_temperature"] + KELVIN + f.warming * (absorbed - used["absorbed"].mean())
        out["net_radiation_common_sky"] += share * (
            absorbed + f.emissivity * (common["lw_in"] - SIGMA * kelvin**4)
        )
        if f.ground_fraction is None or f.evaporative_fraction is None:
            out.update(ground_heat=np.nan, sensible_heat=np.nan, latent_heat=np.nan)
            continue
        heat = f.ground_fraction * q["net_radiation"]
        latent = f.evaporative_fraction * (q["net_radiation"] - heat)
        out["ground_heat"] += share * heat
        out["latent_heat"] += share * latent
        out["sensible_heat"] += share * (q["net_radiation"] - heat - latent)
    return out


def _weather(
    spec: Spec, rng: np.random.Generator, overhead: skies.Overhead, begin: float, end: float
) -> pd.DataFrame:
    step = spec.weather_step or 600.0
    time = np.arange(np.floor(begin / step), np.ceil(end / step) + 1) * step
    air = np.interp(time, overhead.time, overhead.air) - KELVIN
    saturated = 6.112 * np.exp(17.62 * air / (243.12 + air))  # hPa, Magnus form of WMO-No. 8, from memory
    wind = spec.sky.wind_speed * np.exp(0.2 * skies.wander(rng, time.size, step, 1800.0))
    return pd.DataFrame(
        {
            "time_utc": [iso(t) for t in time],
            "air_temperature": air,
            "relative_humidity": np.minimum(100 * spec.sky.vapour_pressure / saturated, 100.0),
            "pressure": 1013.25 * np.exp(-spec.site.elevation / 8400.0) + 0.0 * air,
            "wind_speed": wind,
        }
    )


def _settings(spec: Spec, weather: pd.DataFrame) -> dict:
    """campaign.yaml as a mapping."""
    sets = {}
    for s in spec.sets:
        layout, named = layout_of(s)
        sets[s.name] = {
            "logger_id": s.logger_id,
            "utc_offset": s.utc_offset,
            "files": f"logger/{s.name}_*.csv",
            "layout": s.layout if named else layout,
            "longwave": s.longwave,
        }
    site = spec.site
    out = {
        "title": spec.title,
        "site": {
            "name": site.name,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "elevation": site.elevation,
            "timezone": site.timezone,
        },
        "sets": sets,
        "notes": {"timezone": spec.notes_timezone or site.timezone, "shift": _clock(-spec.notes_shift)},
        "carrying": {
            name: float(getattr(spec.carrying, name))
            for name in ("sensor_height", "reach", "carrier_height", "carrier_width", "walking_speed")
        },
    }
    if spec.weather_step is None:
        middle = weather.iloc[len(weather) // 2]
        out["weather"] = {
            "air_temperature": round(float(middle["air_temperature"]), 1),
            "relative_humidity": round(float(middle["relative_humidity"])),
        }
    if spec.methods:
        out["methods"] = dict(spec.methods)
    if spec.declare_emissivity:
        out["overrides"] = {"surfaces": {f.surface: {"emissivity": f.emissivity} for f in spec.fields}}
    if spec.workflow_seed is not None:
        out["seed"] = spec.workflow_seed
    if spec.plan:
        out["plan"] = dict(spec.plan)
    return out


def _register(spec: Spec) -> pd.DataFrame:
    """instruments.csv: a row for each sensor and certificate."""
    rows = []
    for s in spec.sets:
        for channel, sensor in s.sensors.items():
            seconds = "" if sensor.response_time_95 is None else f"{sensor.response_time_95:g}"
            start = (s.name, s.logger_id, channel, sensor.sensor_id)
            if not sensor.certificates and channel != "body_temperature":
                raise ValueError(f"set {s.name}: {channel} has no certificate")
            for c in sensor.certificates:
                programmed = "" if sensor.programmed_factor is None else f"{sensor.programmed_factor:g}"
                percent = (
                    "" if c.expanded_uncertainty_percent is None else f"{c.expanded_uncertainty_percent:g}"
                )
                rows.append(
                    (
                        *start,
                        repr(c.factor),
                        c.unit,
                        programmed,
                        percent,
                        c.date,
                        seconds,
                        sensor.instrument_class,
                        "",
                    )
                )
    return pd.DataFrame(rows, columns=REGISTER_COLUMNS)


def _seconds(offset: str) -> float:
    """Seconds of an offset such as +01:00."""
    hours, minutes = offset[1:].split(":")
    return (-1 if offset[0] == "-" else 1) * (int(hours) * 3600 + int(minutes) * 60.0)


def _clock(seconds: float) -> str:
    """A shift as it stands in campaign.yaml, such as -01:00:00."""
    whole = abs(int(round(seconds)))
    return f"{'-' if seconds < 0 else ''}{whole // 3600:02d}:{whole // 60 % 60:02d}:{whole % 60:02d}"


TRUTH = """# What was really there

This campaign was made by a simulation (`tests/simulate`), so its truth is known. The workflow never reads this folder.

| file | holds |
|---|---|
| segments.csv | one row a noted interval with a value of its own (walk, stand, side_by_side, sky_monitor); notes_row is the line in notes.csv, whose header is line 1 |
| fields.csv, surfaces.csv | the same over all walked and stood intervals of a field or surface class, each second with equal weight |
| instrument_errors.csv | what was wrong with each set, in the terms and signs of the signal model: true = read + term |

- **Which seconds.** Records whose middle lies in the noted interval [start, end), without those kept apart: with recorded time counted from the
  start (interruptions don't count), the first 3 h / v + t95 and the last 3 h / v; h = sensor height minus canopy height, v = noted length over
  recorded time, t95 = the longest response time among the set's four radiation sensors. Where nobody walks: t95 only; where `walking_speed` is 0: nothing.
- **Segments** are what a perfect, level, unshaded set would have read there: sw_in on the flat, sw_out and lw_out of the field's own ground seen
  through the downward view. albedo is the ratio of sums over seconds with the sun above 10 degrees and sw_in above 50 W m-2; surface_temperature is
  averaged in the fourth power; net_radiation = sw_in - sw_out + lw_in - lw_out.
- **Fields**: columns without ending are the ground that was walked, with `_whole` the field as a whole at the same seconds: patches not walked included.
- net_radiation_common_sky: the whole field, adjusted to the mean sw_in and lw_in of all these seconds of the campaign, once it has warmed or cooled to that.
- ground_heat, sensible_heat, latent_heat: the whole field's net radiation, divided by the fractions that the simulation was given.
- Fluxes W m-2, temperatures degC, times UTC.
"""
