"""A day of the world: draw it, write it as a campaign folder, ask it for the truth."""

from functools import cached_property
from pathlib import Path as FilePath

import numpy as np
import pandas as pd

from .air import GRID
from .choices import Choices, read_choices
from .heads import CHANNELS, draw_body, draw_head
from .loggers import draw_logger, file_text, layout_of
from .measure import Kit, ideal_view, signals, store
from .notes import note_rows, register_rows, settings, weather_rows
from .path import trace
from .people import draw_carrier, draw_habits, draw_set_names
from .scene import FLUXES, Scene, build_scene, rerun, run_ground, set_difference
from .seeds import stream
from .sky import Incoming
from .station import station_rows
from .survey import Survey, draw_survey
from .tables import Tables
from .truth import SEVEN, Truth, Work, build_truth, field_emissivity, seven

QUANTITIES = (*SEVEN, *FLUXES)


class Day:
    """One day: the scene, the people's walks, the sets, and what they stored and wrote."""

    def __init__(self, seed: int, choices: Choices):
        self.seed, self.choices = seed, choices
        self.injected: list[dict] = []
        scene = build_scene(seed, choices)
        self.survey: Survey = people_walk(seed, scene, choices)
        names, carriers = self.survey.sets, self.survey.carriers
        if isinstance(choices.difference, int | float):
            set_difference(scene, float(choices.difference), self.survey.start, self.survey.end)
        self.scene: Scene = run_ground(scene)
        self.grade = choices.heads or str(
            stream(seed, "grade").choice(["A", "B", "C", "unknown"], p=[0.2, 0.35, 0.3, 0.15])
        )
        self.kits = {name: self._draw_kit(name) for name in names}
        self.paths = {name: trace(self.scene, self.survey, name) for name in names}
        self.ideals = {
            name: ideal_view(self.scene, path, carriers[name].head_height)
            for name, path in self.paths.items()
        }
        self.notes = note_rows(self.scene, self.survey, self.kits)
        self.records = {name: self.measure(name) for name in names}
        self.tables = self._tables()

    def _draw_kit(self, name: str) -> Kit:
        grade = self.grade
        if grade == "unknown":
            grade = str(stream(self.seed, "hidden grade", name).choice(["A", "B", "C"]))
        heads = {channel: draw_head(self.seed, name, channel, grade) for channel in CHANNELS}
        certified = {channel: head.certified for channel, head in heads.items()}
        logger = draw_logger(
            self.seed,
            name,
            kind=self.choices.logger,
            offset_hours=int(self.scene.offset),
            certified=certified,
        )
        body = draw_body(self.seed, name, grade)
        if logger.kind != "inline" or logger.variant == 2:
            body = type(body)(**{**body.__dict__, "two": False})
        return Kit(name, self.survey.carriers[name], heads, body, logger)

    def spans(self, name: str) -> list[tuple[float, float]]:
        """Return the spans of true time in which a logger stored."""
        if self.survey.continuous[name]:
            return [(self.survey.start + 30.0, self.survey.end - 10.0)]
        rng = stream(self.seed, "switching", name)
        legs = self.survey.of(name)
        before, after = rng.uniform(0.0, 8.0, len(legs)), rng.uniform(0.0, 8.0, len(legs))
        if self.survey.habits.per_visit:
            visits = sorted({leg.visit for leg in legs})
            groups = [[leg for leg in legs if leg.visit == visit] for visit in visits]
        else:
            groups = [[leg] for leg in legs]
        pairs = zip(groups, before, after, strict=False)
        return [(group[0].start - early, group[-1].end + late) for group, early, late in pairs]

    def measure(self, name: str) -> pd.DataFrame:
        """Return what a set stores, with its disturbances."""
        others = [other for other in self.paths if other != name]
        other = self.paths[others[0]] if others else None
        fine, raw = signals(
            self.scene, self.kits[name], self.paths[name], ideal=self.ideals[name], other=other
        )
        return store(self.scene, self.kits[name], fine, raw, self.spans(name))

    def _tables(self) -> Tables:
        known = self.grade != "unknown"
        layouts = {name: layout_of(kit.logger, kit.body.two) for name, kit in self.kits.items()}
        campaign = settings(self.scene, self.survey, self.kits, layouts)
        rng = stream(self.seed, "weather file")
        weather = weather_rows(self.scene, self.survey)
        given = rng.uniform()
        if 0.7 < given < 0.9:
            middle = weather.iloc[len(weather) // 2]
            campaign["weather"] = {
                "air_temperature": float(middle["air_temperature"]),
                "relative_humidity": float(middle["relative_humidity"]),
            }
        wants_station = self.choices.station or (self.choices.station is None and rng.uniform() < 0.15)
        station = station_rows(self.scene, self.survey) if wants_station else None
        register = register_rows(self.scene, self.survey, self.kits, known)
        notes = self.notes[
            [column for column in self.notes if column not in ("start_s", "end_s", "field_index")]
        ].copy()
        files = {}
        for name, kit in self.kits.items():
            text, encoding = file_text(kit.logger, self.records[name], kit.body.two)
            files[f"logger/{name}_01.csv"] = (text, encoding)
        return Tables(campaign, register, notes, weather if given < 0.7 else None, station, files)

    def refresh(self, names: list[str]) -> None:
        """Measure sets once more after a disturbance and rebuild their files; other tables keep their
        changes."""
        for name in names:
            self.records[name] = self.measure(name)
            text, encoding = file_text(self.kits[name].logger, self.records[name], self.kits[name].body.two)
            self.tables.files[f"logger/{name}_01.csv"] = (text, encoding)

    def write(self, folder: str | FilePath) -> FilePath:
        """Write the campaign folder and return it."""
        return self.tables.write(folder)

    @cached_property
    def truth(self) -> Truth:
        """Tables of what was really there; they never contain a mistake."""
        work = Work(self.scene, self.survey, self.kits, self.notes, self.records, self.paths, self.ideals)
        return build_truth(work)

    def field_index(self, name: str) -> int:
        """Return the index of a field by its name."""
        for index, ground in enumerate(self.scene.fields):
            if ground.name == name:
                return index
        raise KeyError(
            f"no field or surface {name!r}; fields: {[ground.name for ground in self.scene.fields]}"
        )

    def members(self, label: str) -> list[int]:
        """Return the indices of a field, or of all fields of a surface class."""
        of_class = [index for index, ground in enumerate(self.scene.fields) if ground.surface == label]
        return of_class or [self.field_index(label)]

    def seconds(self, moment: object, default: float) -> float:
        """Return a moment (a time, or s of the day) as seconds of the day."""
        if moment is None:
            return default
        if isinstance(moment, int | float | np.number):
            return float(moment)
        stamp = pd.Timestamp(moment)
        stamp = stamp.tz_localize("UTC") if stamp.tzinfo is None else stamp
        return (stamp - self.scene.site.midnight).total_seconds()

    def value(self, label: str, quantity: str, start: float, end: float) -> float:
        """Return a quantity of a field or surface under the common sky, as a mean over a span of seconds.

        A surface of several fields is the mean of their terms.
        """
        inside = (start <= GRID) & (end >= GRID)
        members = self.members(label)
        courses = [self.scene.course(index, common=True) for index in members]
        if quantity in FLUXES:
            return float(np.mean([course[quantity][inside].mean() for course in courses]))
        terms = {
            name: float(np.mean([course[name][inside].mean() for course in courses]))
            for name in ("sw_in", "sw_out", "lw_in", "lw_out")
        }
        emissivity = float(np.mean([field_emissivity(self.scene, index) for index in members]))
        return seven(terms, emissivity)[quantity]

    def at_common_moment(
        self, a: str, b: str, quantity: str, start: object = None, end: object = None
    ) -> float:
        """Return a − b, the mean over a span of the instantaneous difference under the same sky.

        Parameters: a, b, names of fields or surface classes; quantity, one of QUANTITIES; start and end,
        times or
        seconds of the day (default: the survey's span). Both grounds live the whole day under the sky of
        the site's
        origin. Albedo is the difference of two ratios of sums, temperature that of two fourth-power means.
        """
        first, last = self.seconds(start, self.survey.start), self.seconds(end, self.survey.end)
        return self.value(a, quantity, first, last) - self.value(b, quantity, first, last)

    def under_sky(self, label: str, sw_ref: float, lw_ref: float) -> float:
        """Return a field's or surface's mean net radiation over the survey, had the incoming means been
        these.

        The whole day's shortwave under the common sky is multiplied by one factor, so that its mean over
        the survey
        is sw_ref, and one amount is added to the whole day's longwave, so that its mean is lw_ref. The
        ground runs
        once more under that sky with the air as it was.
        """
        lane = self.scene.incoming[0]
        inside = (self.survey.start <= GRID) & (self.survey.end >= GRID)
        factor = sw_ref / max(float(lane.level[inside].mean()), 1e-6)
        added = lw_ref - float(lane.longwave[inside].mean())
        scaled = Incoming(lane.beam * factor, lane.diffuse * factor, lane.longwave + added, lane.sun)
        values = [
            float(rerun(self.scene, self.scene.fields[index], scaled)["net_radiation"][inside].mean())
            for index in self.members(label)
        ]
        return float(np.mean(values))


def people_walk(seed: int, scene: Scene, choices: Choices) -> Survey:
    """Draw the people and their walks."""
    drawn_sets = 2 if stream(seed, "sets").uniform() < 0.7 else 1
    names = draw_set_names(seed, choices.sets or (2 if needs_two(choices) else drawn_sets))
    habits = draw_habits(seed, choices.rounding)
    carriers = {name: draw_carrier(seed, name) for name in names}
    return draw_survey(seed, scene, choices, sets=names, carriers=carriers, habits=habits)


def needs_two(choices: Choices) -> bool:
    """Return whether a choice only makes sense with two sets."""
    return choices.order == "two_at_a_time" or bool(choices.side_by_side) or bool(choices.monitor)


def draw(seed: int, **choices: object) -> Day:
    """Draw a day from a seed; anything not chosen is drawn. Choices are the fields of `choices.Choices`.

    With sound=False one or two mistakes are put in; `day.injected` lists them.
    """
    read = read_choices(choices)
    day = Day(seed, read)
    if not read.sound:
        from .mistakes import CODES, inject_many

        rng = stream(seed, "mistakes")
        wanted = int(rng.integers(1, 3))
        for code in sorted(rng.permutation(CODES)[:6], key=CODES.index):
            if len(day.injected) == wanted:
                break
            try:
                day.injected += inject_many(day, [str(code)], rng)
            except ValueError:
                continue  # the campaign has no room for this one
    return day
