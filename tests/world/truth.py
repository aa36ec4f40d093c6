"""What was really there: segments, fields, surfaces and the course of every field."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from .air import GRID
from .measure import Ideal, Kit
from .notes import time_shift
from .path import Path
from .scene import FLUXES, TERMS, Scene, utc
from .sky import KELVIN, SIGMA
from .survey import Survey

SEVEN = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")


@dataclass
class Truth:
    """Tables of the truth; README.md has their columns."""

    segments: pd.DataFrame
    fields: pd.DataFrame
    surfaces: pd.DataFrame
    course: pd.DataFrame


def seven(terms: dict[str, float], emissivity: float) -> dict[str, float]:
    """Return the seven quantities from mean terms: albedo as a ratio of sums, temperature by the fourth
    power."""
    lw_in, lw_out = terms["lw_in"], terms["lw_out"]
    kelvin = ((lw_out - (1.0 - emissivity) * lw_in) / (emissivity * SIGMA)) ** 0.25
    dark = terms["sw_in"] < 1.0
    return {
        "sw_in": terms["sw_in"],
        "sw_out": terms["sw_out"],
        "albedo": np.nan if dark else terms["sw_out"] / terms["sw_in"],
        "lw_in": lw_in,
        "lw_out": lw_out,
        "surface_temperature": kelvin - KELVIN,
        "net_radiation": terms["sw_in"] - terms["sw_out"] + lw_in - lw_out,
    }


def field_emissivity(scene: Scene, index: int) -> float:
    """Return the true emissivity of a field, the mean over its area."""
    ground = scene.fields[index]
    return float(ground.mean_parts @ np.array([part.emissivity for part in ground.parts]))


def stored_seconds(path: Path, records: pd.DataFrame, interval: float) -> np.ndarray:
    """Return whether each second of a path was stored."""
    true = records["true"].to_numpy()
    if len(true) == 0:
        return np.zeros(len(path.t), bool)
    place = np.clip(np.searchsorted(true, path.t), 1, max(len(true) - 1, 1))
    near = np.minimum(
        np.abs(true[place - 1] - path.t), np.abs(true[np.minimum(place, len(true) - 1)] - path.t)
    )
    return near <= 0.5 * interval + 1e-9 + 0.5 * (interval == 1.0)


@dataclass
class Work:
    """What the tables of the truth are made from."""

    scene: Scene
    survey: Survey
    kits: dict[str, Kit]
    notes: pd.DataFrame
    records: dict[str, pd.DataFrame]
    paths: dict[str, Path]
    ideals: dict[str, Ideal]


def segment_seconds(work: Work) -> list[np.ndarray | None]:
    """Return for each row of the notes the seconds of its set's path that were stored in it (None: a clock
    check)."""
    stored = {
        name: stored_seconds(path, work.records[name], work.kits[name].logger.interval)
        for name, path in work.paths.items()
    }
    shifts = {name: time_shift(work.survey, work.kits[name], path.t) for name, path in work.paths.items()}
    rows: list[np.ndarray | None] = []
    for row in work.notes.itertuples():
        if row.activity == "clock_check":
            rows.append(None)
            continue
        shown = work.paths[row.set].t + shifts[row.set]
        rows.append(np.flatnonzero(stored[row.set] & (shown >= row.start_s) & (shown < row.end_s)))
    return rows


def segments_table(work: Work, seconds: list, courses: list[dict]) -> pd.DataFrame:
    """Return the truth of the ground walked, and of the whole field, over each noted interval."""
    out = []
    for row, inside in zip(work.notes.itertuples(), seconds, strict=True):
        if inside is None:
            continue
        base = {
            "notes_row": row.Index + 1,
            "order": sum(1 for one in out if one["set"] == row.set) + 1,
            "set": row.set,
            "field": row.field,
            "surface": row.surface,
            "activity": row.activity,
            "start_utc": utc(work.scene, row.start_s),
            "end_utc": utc(work.scene, row.end_s),
            "seconds": len(inside),
        }
        if len(inside) > 0:
            base |= walked_values(work, row, inside, courses[int(row.field_index)])
        out.append(base)
    return pd.DataFrame(out)


def walked_values(work: Work, row, inside: np.ndarray, course: dict) -> dict:
    """Return the values of one noted interval."""
    path, ideal = work.paths[row.set], work.ideals[row.set]
    index = int(row.field_index)
    series = {
        "sw_in": ideal.sky.level,
        "sw_out": ideal.sw_out,
        "lw_in": ideal.sky.longwave,
        "lw_out": ideal.lw_out,
    }
    means = {name: float(values[inside].mean()) for name, values in series.items()}
    # The view's emissivity weighs parts as the head sees them; the mean over the interval closes the fourth
    # power.
    values = seven(means, float(ideal.emissivity[inside].mean()))
    values["emissivity"] = float(ideal.emissivity[inside].mean())
    on_leg = (path.field[inside] == index) & path.on_field(work.scene.fields)[inside]
    values["share_on_field"] = float(on_leg.mean())
    t = path.t[inside]
    whole = {name: float(np.interp(t, GRID, course[name]).mean()) for name in (*TERMS[:4], *FLUXES)}
    whole_seven = seven(whole, field_emissivity(work.scene, index))
    values |= {f"field_{name}": value for name, value in whole_seven.items()}
    values |= {f"field_{name}": whole[name] for name in FLUXES}
    return values


def group_table(work: Work, seconds: list, courses: list[dict], by: str) -> pd.DataFrame:
    """Return whole-field means over all stored seconds of the visits of each field or surface.

    Walks, stands and side-by-side visits count; a sky monitor's stand does not.
    """
    out = []
    notes = work.notes
    counted = notes["activity"].isin(["walk", "stand", "side_by_side"])
    for label in dict.fromkeys(notes.loc[counted, by]):
        sums = dict.fromkeys((*TERMS[:4], *FLUXES), 0.0)
        weight, emissivity, visits = 0, 0.0, 0
        for row, inside in zip(notes.itertuples(), seconds, strict=True):
            if inside is None or len(inside) == 0 or not counted[row.Index] or getattr(row, by) != label:
                continue
            index = int(row.field_index)
            t = work.paths[row.set].t[inside]
            for name in sums:
                sums[name] += float(np.interp(t, GRID, courses[index][name]).sum())
            weight += len(inside)
            visits += 1
            emissivity += len(inside) * field_emissivity(work.scene, index)
        if weight == 0:
            continue
        means = {name: value / weight for name, value in sums.items()}
        values = seven(means, emissivity / weight) | {name: means[name] for name in FLUXES}
        head = {"surface": label}
        if by == "field":
            head = {"field": label, "surface": notes.loc[notes["field"] == label, "surface"].iloc[0]}
        head |= {"segments": visits, "seconds": weight, "emissivity": emissivity / weight}
        out.append(head | values)
    return pd.DataFrame(out)


def course_table(scene: Scene, courses: list[dict]) -> pd.DataFrame:
    """Return minute means of every field, visited or not, under its own part of the sky."""
    tables = []
    per_minute = 6
    count = (len(GRID) - 1) // per_minute
    times = utc(scene, np.arange(count) * 60.0)
    for ground, course in zip(scene.fields, courses, strict=True):
        columns = {"field": ground.name, "surface": ground.surface, "time_utc": times}
        for name, series in course.items():
            columns[name] = series[:-1].reshape(count, per_minute).mean(axis=1)
        table = pd.DataFrame(columns)
        table["albedo"] = np.where(
            table["sw_in"] > 1.0, table["sw_out"] / np.maximum(table["sw_in"], 1.0), np.nan
        )
        tables.append(table)
    return pd.concat(tables, ignore_index=True)


def build_truth(work: Work) -> Truth:
    """Return all tables of the truth."""
    courses = [work.scene.course(index) for index in range(len(work.scene.fields))]
    seconds = segment_seconds(work)
    return Truth(
        segments=segments_table(work, seconds, courses),
        fields=group_table(work, seconds, courses, "field"),
        surfaces=group_table(work, seconds, courses, "surface"),
        course=course_table(work.scene, courses),
    )
