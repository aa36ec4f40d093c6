"""Packs for groups: one campaign folder a group, with its surfaces' notes and its sets' files, a guide and a
table of answers.

No results and nothing else of the campaign go along.
"""

from __future__ import annotations

import csv
import io
import re
import shlex
import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd
import yaml

from headland.base.errors import UserError, UserErrors
from headland.base.groups import COUNTED
from headland.chain import summarise
from headland.course.answers_page import page_names
from headland.course.written import OF_SEGMENTS, OF_SURFACES, expected_unit
from headland.files import tables, user_tables
from headland.files.campaign_files import TIMED
from headland.files.required import read_with_errors
from headland.files.writing import write_text
from headland.files.yaml_files import read_yaml
from headland.report.wording import SHOWN, listed

EXPECTED = "a CSV file with the columns group and, if you like, surfaces"
WALKED = ("", *COUNTED)
"""Activities of the rows that belong to a surface; the others serve the instruments."""
COMMON = "net_radiation_common_sky"


@dataclass(frozen=True)
class Source:
    """The campaign that packs are made of. S: its settings. labels: what people call a surface. classes:
    properties.

    sky: shortwave and longwave of the common sky, W m-2, where there are results of the whole campaign.
    """

    folder: Path
    S: Mapping
    classes: Mapping[str, Mapping]
    sky: tuple[float, float] | None = None

    def label(self, surface: str) -> str:
        return self.classes[surface]["label"]["value"]


def read_groups(path: Path) -> pd.DataFrame:
    """The table of groups. Raises UserErrors."""
    table, errors = read_with_errors(path, "groups", EXPECTED)
    if not errors and (table["group"].duplicated().any() or (table["group"] == "").any()):
        expected = "one row a group, each with a name of its own"
        errors = [UserError(path.name, None, "a group twice, or one without a name", expected)]
    if errors:
        raise UserErrors(errors)
    return table


def dealt(groups: pd.DataFrame, surfaces: Sequence[str]) -> dict[str, list[str]]:
    """The surfaces of each group: those that its row names; where no row names any, all are dealt out in
    turn."""
    given = {
        row["group"]: [s for s in re.split(r"[;\s]+", row["surfaces"]) if s]
        for row in groups.to_dict("records")
    }
    if any(given.values()):
        return given
    names = list(given)
    return {
        name: [s for i, s in enumerate(surfaces) if i % len(names) == count]
        or [surfaces[count % len(surfaces)]]
        for count, name in enumerate(names)
    }


def made(folder: Path, source: Source, groups_file: Path, shown: str) -> list[str]:
    """Make the packs, and a line on each. shown: the folder as the user wrote it. Raises UserErrors."""
    groups = read_groups(groups_file)
    noted, _ = user_tables.read_user_table(source.folder / source.S["notes_file"], "notes")
    there = [s for s in dict.fromkeys(noted.loc[noted["activity"].isin(WALKED), "surface"]) if s]
    deal = dealt(groups, there)
    _refuse_unknown(deal, there, groups_file.name, source.S["notes_file"])
    lines = []
    for (group, own), name in zip(deal.items(), page_names(list(deal)).values(), strict=True):
        target = folder / name.removesuffix(".html")
        sets = _pack(target, group, own, noted, source, shown=f"{shown}/{target.name}")
        surfaces, word = listed([source.label(s) for s in own]), "sets" if len(sets) > 1 else "set"
        lines.append(f"  {shown}/{target.name}: {surfaces} ({word} {listed(sets)})")
    check = "python3 scripts/headland.py answers CAMPAIGN answers.csv"
    return [*lines, f"Groups fill in answers.csv; check theirs with: {check}."]


def _refuse_unknown(deal: Mapping[str, list[str]], there: Sequence[str], groups: str, notes: str) -> None:
    if not there:
        raise UserErrors([UserError(notes, None, "no surface was walked", "notes of walks")])
    wrong = [
        UserError(groups, None, f'{name}: no surface "{s}" was walked', f"one of {', '.join(there)}")
        for name, own in deal.items()
        for s in own
        if s not in there
    ]
    if wrong:
        raise UserErrors(wrong)


def _pack(
    target: Path, group: str, own: Sequence[str], noted: pd.DataFrame, source: Source, *, shown: str
) -> list[str]:
    """One pack; returns its sets."""
    counted = noted["activity"].isin(WALKED)
    mine = counted & noted["surface"].isin(own)
    sets = [s for s in source.S["sets"] if s in set(noted.loc[mine, "set"])]
    others = ~counted & noted["set"].isin(sets)
    for one in sets:
        for file in source.S["sets"][one]["raw"]:
            (target / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(source.folder / file, target / file)
    values: Any = read_yaml(source.folder / "campaign.yaml", "campaign.yaml").values
    document = dict(values)
    document |= {
        "title": f"{document['title']}: {group}",
        "sets": {s: document["sets"][s] for s in sets},
    }
    write_text(target / "campaign.yaml", yaml.safe_dump(document, sort_keys=False, allow_unicode=True))
    tables.write_table(target / "notes.csv", noted[mine | others], "notes")
    register, _ = user_tables.read_user_table(source.folder / "instruments.csv", "instruments")
    tables.write_table(target / "instruments.csv", register[register["set"].isin(sets)], "instruments")
    for kind in TIMED:
        if file := source.S[f"{kind}_file"]:
            shutil.copyfile(source.folder / file, target / file)
    asked = {surface: quantities_of(surface, source) for surface in own}
    write_text(target / "answers.csv", answers_form(group, asked))
    write_text(target / "GUIDE.md", guide(group, asked, sets, source, shown))
    return sets


def quantities_of(surface: str, source: Source) -> list[str]:
    """The quantities of a surface that a pack gives what is needed for."""
    entry = source.classes[surface]
    asked = list(OF_SEGMENTS)
    if source.sky is not None:
        asked.append(COMMON)
    if "ground_heat_fraction_day" in entry:
        asked.append("ground_heat")
        method = entry.get("latent_method", {}).get("value", "not_estimated")
        if method != "not_estimated":
            asked += ["sensible_heat", "latent_heat", "evaporation"]
        if method not in ("not_estimated", "none"):
            asked.append("bowen_ratio")
    return [name for name in OF_SURFACES if name in asked]


def unit_of(quantity: str) -> str:
    """The unit in which a quantity is asked for."""
    return expected_unit(quantity).split(" or ")[0]


def answers_form(group: str, asked: Mapping[str, Sequence[str]]) -> str:
    """The table that a group fills in, as `answers` reads it. asked: quantities by surface."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(("who", "surface", "quantity", "value", "unit", "uncertainty"))
    for surface, quantities in asked.items():
        writer.writerows((group, surface, name, "", unit_of(name), "") for name in quantities)
    return stream.getvalue()


GUIDE = """\
# {group}: your part of the campaign

Your surfaces: {surfaces}. Your {sets}.

| file | holds |
|---|---|
| `logger/` | the records as they came off the logger |
| `notes.csv` | when each of your walks began and ended, and over what; times are local ({zone}) |
| `instruments.csv` | factor and date of each head's certificates |
| `campaign.yaml` | place, clocks, how the files are written |
{weather}| `answers.csv` | the table that you fill in |

**What to work out**, for each surface from all its walks together: {quantities}.
{sky}
Times: the loggers' clocks and the notes may differ. Put both on UTC first (`utc_offset`, and the rows
`clock_check` of the notes). Leave out what the head sees beyond the edges at the beginning and the end of
each walk.

**answers.csv.** One number a row. Write it with a point or a comma, with its unit, and your expanded
uncertainty (95 %) if you know it. Where there can be no value, write `none`.

    who,surface,quantity,value,unit,uncertainty
    {group},{example},albedo,0.213,1,0.01
    {group},{example},net_radiation,482,W m-2,15

Your own report, when you have tried by hand:

    python3 scripts/headland.py report {shown}
"""


RECORDS = {
    "weather": "air temperature, humidity, pressure and wind of the day (UTC)",
    "station": "what a fixed station nearby measured (UTC)",
    "ground": "soil heat flux plates (UTC)",
    "levels": "air temperature and humidity at two heights (UTC)",
}
"""Tables of records in time, in words."""


def guide(
    group: str, asked: Mapping[str, Sequence[str]], sets: Sequence[str], source: Source, shown: str
) -> str:
    """The page of a pack: its files, what to work out, and how to write the answers."""
    names = dict.fromkeys(name for quantities in asked.values() for name in quantities)
    there = {kind: source.S[f"{kind}_file"] for kind in TIMED}
    weather = "".join(f"| `{file}` | {RECORDS[kind]} |\n" for kind, file in there.items() if file)
    sky = ""
    if source.sky is not None:
        sky = (
            f"\nThe common sky, under which all surfaces are compared: shortwave in {source.sky[0]:.1f} W "
            "m⁻², longwave in "
            f"{source.sky[1]:.1f} W m⁻².\n"
        )
    return GUIDE.format(
        group=group,
        surfaces=listed([f"{source.label(surface)} (`{surface}`)" for surface in asked]),
        sets=f"{'sets' if len(sets) > 1 else 'set'}: {listed(sets)}",
        zone=source.S["notes"]["timezone"],
        weather=weather,
        quantities=listed([SHOWN[name][0] for name in names]),
        sky=sky,
        example=next(iter(asked)),
        shown=shlex.quote(shown),
    )


def common_sky(results: Path | None) -> tuple[float, float] | None:
    """The common sky of the whole campaign, where its results are there."""
    file = results / "steps" / "6_summarise" / "segments.csv" if results else None
    if file is None or not file.is_file():
        return None
    return summarise.reference_sky(tables.read_table(file, "segment_means"))
