"""Tables that people write: field notes, register, weather, settings; with the normal slips and no others."""

import numpy as np
import pandas as pd

from .air import GRID, saturation
from .heads import CHANNELS
from .measure import Kit
from .people import ROUNDINGS, TITLES
from .scene import Scene
from .seeds import stream
from .sun import Site
from .survey import Leg, Survey

NOTE_COLUMNS = [
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
    "width",
    "logger_shows",
    "remark",
]
REGISTER_COLUMNS = [
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
]
SKY_WORDS = {
    "clear": "clear",
    "haze": "hazy",
    "cirrus": "thin cloud",
    "scattered": "scattered",
    "broken": "broken",
    "overcast": "overcast",
}


def zone_of_notes(survey: Survey, site: Site) -> str:
    """Return the time zone in which notes are written."""
    return site.timezone if survey.habits.timezone_is_local else "UTC"


def written(site: Site, seconds: float, zone: str) -> pd.Timestamp:
    """Return a moment of the day as a local time to the second."""
    return (site.midnight + pd.Timedelta(seconds=round(seconds))).tz_convert(zone)


def note_rows(scene: Scene, survey: Survey, kits: dict[str, Kit]) -> pd.DataFrame:
    """Return the notes, one row a pass or a visit, with `start_s` and `end_s`: seconds of the day as
    written."""
    rows = []
    for name in survey.sets:
        merged = merge(survey.of(name)) if survey.habits.per_visit else [[leg] for leg in survey.of(name)]
        last = -np.inf
        for legs in merged:
            row = leg_row(scene, survey, legs)
            row["start_s"] = max(row["start_s"], last)
            step = ROUNDINGS[survey.habits.rounding]
            row["end_s"] = max(row["end_s"], row["start_s"] + step)
            last = row["end_s"]
            rows.append(row)
        rows += clock_checks(scene, survey, kits[name])
    table = pd.DataFrame(rows).sort_values(["start_s", "set"], kind="stable").reset_index(drop=True)
    zone = zone_of_notes(survey, scene.site)
    fmt = "%H:%M:%S" if survey.habits.rounding == "second" else "%H:%M"
    for column, seconds in (("start", "start_s"), ("end", "end_s")):
        known = table[seconds].notna()
        texts = [written(scene.site, value, zone) for value in table.loc[known, seconds]]
        checks = table.loc[known, "activity"] == "clock_check"
        full = ["%H:%M:%S" if check else fmt for check in checks]
        table[column] = ""
        table.loc[known, column] = [text.strftime(form) for text, form in zip(texts, full, strict=True)]
    table["date"] = [written(scene.site, value, zone).strftime("%Y-%m-%d") for value in table["start_s"]]
    return table[[*NOTE_COLUMNS, "start_s", "end_s", "field_index"]]


def merge(legs: list[Leg]) -> list[list[Leg]]:
    """Return legs grouped by visit."""
    groups: dict[int, list[Leg]] = {}
    for leg in legs:
        groups.setdefault(leg.visit, []).append(leg)
    return list(groups.values())


def leg_row(scene: Scene, survey: Survey, legs: list[Leg]) -> dict:
    """Return one row of the notes."""
    first, last = legs[0], legs[-1]
    habits, ground = survey.habits, scene.fields[first.field]
    rng = stream(scene.seed, "note", first.set, first.visit, first.number)
    step = ROUNDINGS[habits.rounding]
    late = float(rng.exponential(habits.late)) if first.number == 1 else 0.0
    start = step * round((first.start - min(late, 30.0) + habits.watch) / step)
    end = step * round((last.end + rng.normal(0.0, 2.0) + habits.watch) / step)
    material = ground.parts[0]
    walking = first.direction != 0
    noted = walking and habits.notes_heading
    true_heading = first.face if not walking else ground.heading + (180.0 if first.direction < 0 else 0.0)
    heading = 5 * round((true_heading + habits.heading_off + rng.normal(0.0, 3.0)) / 5) % 360
    pass_text = str(first.number) if not survey.habits.per_visit else ""
    carrier = survey.carriers[first.set]
    return {
        "set": first.set,
        "field": ground.name,
        "surface": ground.surface,
        "activity": first.activity,
        "transect": str(first.transect),
        "pass": pass_text if walking else "",
        "heading": str(heading) if noted or (not walking and first.activity == "side_by_side") else "",
        "speed": f"{round(carrier.speed * 20) / 20:.2f}" if walking else "",
        "length": str(5 * round(ground.length / 5)) if walking else "",
        "slope": f"{round(ground.slope)}" if ground.slope > 1.5 else "",
        "aspect": f"{10 * round(ground.aspect / 10) % 360}" if ground.slope > 1.5 else "",
        "canopy_height": f"{round(material.height, 1):g}" if material.height > 0.2 else "",
        "sky": SKY_WORDS[scene.clouds.kind],
        "width": f"{round(ground.width * 2) / 2:g}" if ground.width < 9.0 else "",
        "logger_shows": "",
        "remark": "stopped on the way" if any(leg.stops for leg in legs) else "",
        "start_s": start,
        "end_s": end,
        "field_index": first.field,
    }


def clock_checks(scene: Scene, survey: Survey, kit: Kit) -> list[dict]:
    """Return the rows of clock checks before and after the walks."""
    logger = kit.logger
    if not logger.checked:
        return []
    rows = []
    middle = 0.5 * (survey.start + survey.end)
    error = survey.habits.watch if survey.habits.reference_is_watch else 0.0
    for true in (survey.start + 20.0, survey.end - 20.0):
        reference = round(true + error)
        shows = round(true + logger.offset + logger.drift * (true - middle) + (reference - true - error))
        stamp = scene.site.midnight + pd.Timedelta(hours=logger.utc_offset, seconds=shows)
        rows.append(
            {column: "" for column in NOTE_COLUMNS}
            | {
                "set": kit.name,
                "activity": "clock_check",
                "logger_shows": stamp.strftime("%H:%M:%S"),
                "start_s": float(reference),
                "end_s": np.nan,
                "field_index": -1,
            }
        )
    return rows


def time_shift(survey: Survey, kit: Kit, true: np.ndarray) -> np.ndarray:
    """Return the seconds by which stored times, corrected by the clock checks as noted, run ahead of true
    time."""
    if kit.logger.checked:
        error = survey.habits.watch if survey.habits.reference_is_watch else 0.0
        return np.full(len(true), error)
    middle = 0.5 * (survey.start + survey.end)
    return kit.logger.offset + kit.logger.drift * (true - middle)


def register_rows(scene: Scene, survey: Survey, kits: dict[str, Kit], grade_known: bool) -> pd.DataFrame:
    """Return the register: the certificate in force of each head, and now and then the one before."""
    rows = []
    for name in survey.sets:
        kit = kits[name]
        rng = stream(scene.seed, "register", name)
        by_millivolt = bool(rng.uniform() < 0.5)
        for channel in CHANNELS:
            head = kit.heads[channel]
            programmed = kit.logger.programmed.get(channel)
            issued = scene.site.midnight - pd.Timedelta(days=round(365.25 * head.age))
            certified = [(issued, head.certified)]
            if rng.uniform() < 0.3:
                before = issued - pd.Timedelta(days=int(rng.integers(500, 900)))
                certified.insert(0, (before, head.certified * (1.0 + rng.normal(0.0, 0.01))))
            for date, value in certified:
                rows.append(
                    {
                        "set": name,
                        "logger_id": kit.logger.label,
                        "channel": channel,
                        "sensor_id": head.sensor,
                        "factor": factor_text(value, by_millivolt),
                        "factor_unit": "W m-2 per mV" if by_millivolt else "uV per W m-2",
                        "programmed_factor": factor_text(programmed, by_millivolt) if programmed else "",
                        "expanded_uncertainty_percent": f"{head.expanded:g}",
                        "certificate_date": date.strftime("%Y-%m-%d"),
                        "response_time_95": f"{head.stated_response:g}",
                        "instrument_class": head.grade if grade_known else "",
                        "remark": "",
                    }
                )
    return pd.DataFrame(rows, columns=REGISTER_COLUMNS)


def factor_text(sensitivity: float, by_millivolt: bool) -> str:
    """Return a factor as certificates print it."""
    return f"{1000.0 / sensitivity:.3f}" if by_millivolt else f"{sensitivity:.3f}"


def weather_rows(scene: Scene, survey: Survey) -> pd.DataFrame:
    """Return weather.csv: ten-minute values of a thermometer with an error of its own that grows in sun and
    calm."""
    rng = stream(scene.seed, "weather")
    step = float(rng.choice([300.0, 600.0, 1800.0]))
    t = np.arange(np.floor(survey.start / step) - 2, np.ceil(survey.end / step) + 3) * step
    t = t[(t >= 0) & (t <= GRID[-1])]
    air, vapour, wind = scene.air.at(t)
    light = np.interp(t, GRID, scene.incoming[0].level)
    warm = air + rng.normal(0.0, 0.25) + rng.uniform(0.0, 1.2) * light / 1000.0 / (0.5 + 0.5 * wind)
    humid = 100.0 * vapour / saturation(air) * (1.0 + rng.normal(0.0, 0.03)) + rng.normal(0.0, 1.5)
    return pd.DataFrame(
        {
            "time_utc": (scene.site.midnight + pd.to_timedelta(t, unit="s")).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "air_temperature": [f"{value:.1f}" for value in warm],
            "relative_humidity": [f"{value:.0f}" for value in np.clip(humid, 5.0, 100.0)],
            "pressure": [f"{scene.site.pressure:.1f}"] * len(t),
            "wind_speed": [f"{value:.1f}" for value in wind * (1.0 + rng.normal(0.0, 0.05))],
        }
    )


def settings(scene: Scene, survey: Survey, kits: dict[str, Kit], layouts: dict) -> dict:
    """Return campaign.yaml as a mapping."""
    site = scene.site
    carrier = survey.carriers[survey.sets[0]]
    title = str(stream(scene.seed, "title").choice(TITLES))
    tables = {
        name: {
            "logger_id": kits[name].logger.label,
            "utc_offset": f"{kits[name].logger.utc_offset:+03d}:00",
            "files": f"logger/{name}_*.csv",
            "layout": layouts[name],
            "longwave": kits[name].logger.longwave,
        }
        for name in survey.sets
    }
    return {
        "title": f"{title} {scene.seed}",
        "site": {
            "name": site.name,
            "latitude": site.latitude,
            "longitude": site.longitude,
            "elevation": site.elevation,
            "timezone": site.timezone,
        },
        "sets": tables,
        "notes": {"timezone": zone_of_notes(survey, site), "shift": "00:00:00"},
        "carrying": {
            "sensor_height": round(carrier.head_height, 1),
            "reach": round(carrier.reach, 1),
            "carrier_height": round(carrier.height, 2),
            "carrier_width": round(carrier.shoulder, 2),
            "walking_speed": round(carrier.speed, 1),
        },
    }
