"""A whole campaign: visits to fields under one sky, read by sets, noted by people, with its truth."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import yaml

from . import following, instruments, true, written
from .files import logger_text, table, workbook
from .spec import Spec, layout_of
from .stays import stay_of

PLAN = "field,surface,length,headings,outline"


@dataclass
class Campaign:
    """What a campaign leaves behind, as tables that can still be changed before they are written.

    settings   campaign.yaml
    register   instruments.csv
    notes      notes.csv (or notes.xlsx), text only
    weather    weather.csv, or None
    records    for each set what its logger stored: stamp (its own clock), run, channels in stored units,
               battery
    samples    for each set the truth beside each record: time_utc (s since 1970, the middle), sw_in … net,
               visit, used
    truth      the tables of truth/: segments, fields, surfaces, instrument_errors
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
        out["truth/README.md"] = true.README.encode("utf-8")
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


def simulate(spec: Spec) -> Campaign:
    """Make a campaign. Equal specs give equal campaigns, byte for byte on one machine."""
    zone = ZoneInfo(spec.notes_timezone or spec.site.timezone)
    local = dt.datetime.strptime(spec.start, "%Y-%m-%d %H:%M:%S").replace(
        tzinfo=ZoneInfo(spec.site.timezone), fold=spec.fold
    )
    start, day = local.timestamp(), local.date()
    known = {f.name: f for f in spec.fields}
    stays = [stay_of(v, known, start, spec) for v in spec.visits]
    begin, end = min(s.start for s in stays) - 120, max(s.end for s in stays) + 120
    shared = following.day_of(spec, start, day, begin, end)
    records, samples, wrongs = {}, {}, {}
    for s in spec.sets:
        own = sorted((stay for stay in stays if stay.visit.set == s.name), key=lambda stay: stay.start)
        wrongs[s.name] = instruments.draw_errors(spec.seed, s, spec.errors, day)
        records[s.name], samples[s.name] = following.follow(shared, s, own, wrongs[s.name])
    noted = sorted(
        (s for s in stays if s.visit.note),
        key=lambda s: (s.start, [x.name for x in spec.sets].index(s.visit.set)),
    )
    notes = pd.DataFrame(
        [written.note(spec, stay, zone, start) for stay in noted], columns=written.NOTES_COLUMNS
    )
    truth = true.tables(spec, noted, samples)
    truth["instrument_errors"] = pd.DataFrame(
        [(name, term, value) for name, wrong in wrongs.items() for term, value in wrong.items()],
        columns=["set", "term", "value"],
    )
    draw = instruments.stream(spec.seed, "weather")
    weather = written.weather(spec, draw, shared.overhead, begin, end)
    return Campaign(
        spec,
        written.settings(spec, weather),
        written.register(spec),
        notes,
        weather if spec.weather_step else None,
        records,
        samples,
        truth,
    )
