"""The field plan and the notes form for a day to come.

Usage: python scripts/verbs/plan.py CAMPAIGN RESULTS
Leaves plan.html, plan.pdf, timetable.csv, form.html, form.pdf and notes.xlsx. Exit status: 0 done, 2 campaign.yaml or plan.csv can't be used.
"""

import argparse
import datetime
import math
import sys
from pathlib import Path
from zoneinfo import ZoneInfo

import pandas as pd

from headland.base.errors import UserError, UserErrors
from headland.base.words import did_you_mean
from headland.chain import calibrate, notes, segment
from headland.field import form, plan, plan_page
from headland.files import config_tables, geojson, settings, tables, user_tables, writing
from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.physics import plane
from headland.report import figures, report
from headland.report.paper import lay_out

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "workflow" / "headland" / "report"
DRAWS = 2000


def fields_of(folder: Path, surfaces: dict, naming: str) -> pd.DataFrame:
    """The rows of plan.csv with `free`, the directions in which a transect can lie, and `lengths`, m, in each of them. Raises UserErrors with all that is wrong.

    naming: the property that holds a field's name in an outline.
    """
    path = folder / "plan.csv"
    if not path.is_file():
        raise UserErrors(
            [
                UserError(
                    "plan.csv",
                    None,
                    "no such file",
                    "one row a field: field, surface, length, headings, outline",
                )
            ]
        )
    table, findings = user_tables.read_user_table(path, "plan")
    sentences = {
        (row["code"], row["variant"]): row
        for row in config_tables.read_config_table(
            ROOT / "workflow" / "headland" / "checks" / "findings.csv"
        ).to_dict("records")
    }
    errors, free, lengths = [], [], []
    for finding in findings:
        row = {key: str(value) for key, value in finding.facts.items()}
        sentence = sentences[finding.code, finding.variant]
        errors.append(
            UserError(
                "plan.csv",
                finding.line,
                sentence["what"].format(channel="", set="", **row).rstrip("."),
                sentence["remedy"].format(channel="", set="", **row).rstrip("."),
            )
        )
    for row in table.to_dict("records"):
        if row["surface"] and row["surface"] not in surfaces:
            errors.append(
                UserError(
                    "plan.csv",
                    row["line"],
                    f"surface is {row['surface'][:60]}",
                    f"one of {', '.join(surfaces)}{did_you_mean(row['surface'], surfaces)}",
                )
            )
        try:
            headings = plan.headings_of(row["headings"])
        except ValueError as problem:
            errors.append(
                UserError(
                    "plan.csv",
                    row["line"],
                    f"headings has {str(problem)[:60]}",
                    "degrees from north such as 80, or 60-120, separated by blanks",
                )
            )
            continue
        if row["outline"]:
            rings, faults = outline_of(folder, row, naming)
            errors += faults
            headings, long = plan.along_outline(rings, headings, row["length"]) if rings else (headings, [])
        else:
            long = [row["length"]] * len(headings)
            if math.isnan(row["length"]) and not any(error.line == row["line"] for error in errors):
                errors.append(
                    UserError(
                        "plan.csv",
                        row["line"],
                        "neither length nor outline",
                        "the length in m that can be walked, or a GeoJSON file with the field's outline",
                    )
                )
        free.append(headings)
        lengths.append(long)
    for name in table.loc[table["field"].duplicated() & table["field"].ne(""), "field"]:
        errors.append(UserError("plan.csv", None, f"the field {name[:60]} stands twice", "each field once"))
    if not len(table) and not errors:
        errors.append(UserError("plan.csv", None, "no rows", "one row a field"))
    if errors:
        raise UserErrors(errors)
    return table.assign(free=free, lengths=lengths)


def outline_of(folder: Path, row: dict, naming: str) -> tuple[list, list[UserError]]:
    """The rings of a field's outline in m, and what is wrong with its file or its name."""
    path = folder / row["outline"]
    try:
        there = path.resolve().is_relative_to(folder.resolve()) and path.is_file()
    except (OSError, ValueError):  # no name that a file can have
        there = False
    if not there:
        return [], [
            UserError(
                "plan.csv",
                row["line"],
                f"outline is {row['outline'][:60]}, which is no file in the campaign folder",
                "a GeoJSON file there, such as fields.geojson",
            )
        ]
    with path.open("rb") as stream:
        outlines, found = geojson.read_outlines(stream, row["outline"], naming)
    if found:
        return [], [
            UserError(finding.file, finding.line, finding.facts["found"], finding.facts["expected"])
            for finding in found
        ]
    if row["field"] not in outlines:
        return [], [
            UserError(
                "plan.csv",
                row["line"],
                f"{row['outline'][:60]} has no outline named {row['field'][:60]}",
                f"one of {', '.join(outlines)[:300]}{did_you_mean(row['field'], outlines)}",
            )
        ]
    return plane.on_plane({row["field"]: outlines[row["field"]]})[0][row["field"]], []


def hours_of(S: dict) -> tuple[pd.Timestamp, pd.Timestamp, pd.DatetimeIndex]:
    """Start and end of the plan, and the moments of its day, in UTC."""
    entry = S.get("plan")
    if not entry:
        raise UserErrors(
            [
                UserError(
                    "campaign.yaml",
                    None,
                    "plan is missing",
                    'the day to plan for, such as `plan: {date: "2026-05-21", start: "10:00", end: "15:00"}`',
                )
            ]
        )
    try:
        date = datetime.date.fromisoformat(entry["date"])
    except ValueError:
        raise UserErrors(
            [UserError("campaign.yaml", None, f"plan.date is {entry['date']}", "a day that there is")]
        ) from None
    zone, moments = ZoneInfo(S["site"]["timezone"]), {}
    for key in ("start", "end"):
        moment, problem = notes.to_utc(
            datetime.datetime.combine(date, datetime.time.fromisoformat(entry[key])), zone
        )
        if problem:
            raise UserErrors(
                [
                    UserError(
                        "campaign.yaml",
                        None,
                        f"plan.{key} is {entry[key]}, which the change of clocks makes {problem}",
                        "another time",
                    )
                ]
            )
        moments[key] = pd.Timestamp(moment)
    if moments["end"] <= moments["start"]:
        raise UserErrors(
            [
                UserError(
                    "campaign.yaml",
                    None,
                    f"plan.end is {entry['end']}, not after plan.start",
                    "a later time of the same day",
                )
            ]
        )
    midnight = pd.Timestamp(datetime.datetime.combine(date, datetime.time(), zone)).tz_convert("UTC")
    return (
        moments["start"],
        moments["end"],
        pd.date_range(midnight, periods=int(86400 / plan.STEP), freq=f"{plan.STEP:.0f}s"),
    )


def certificates_of(folder: Path, S: dict, day: datetime.date) -> tuple[pd.DataFrame, str]:
    """The certificates that will be in force, and a sentence on where they come from."""
    if not (folder / "instruments.csv").is_file():
        return plan.default_certificates(
            list(S["sets"])
        ), "There is no instruments.csv yet: sensors a year after an ordinary certificate are assumed."
    register, _ = user_tables.read_user_table(folder / "instruments.csv", "instruments")
    found = [
        calibrate.choose_certificates(
            register, name, entry["logger_id"], entry["layout"]["channels"], day, S["methods"]["certificate"]
        )[0]
        for name, entry in S["sets"].items()
    ]
    return pd.concat(found, ignore_index=True), "Certificates are those of instruments.csv."


def main() -> int:
    parser = argparse.ArgumentParser(allow_abbrev=False)
    parser.add_argument("campaign", type=Path)
    parser.add_argument("results", type=Path)
    args = parser.parse_args()
    folder, results = args.campaign, args.results
    try:
        S = settings.load(folder, ROOT / "config", needs=())
        surfaces = surface_classes(ROOT / "config" / "surfaces.csv", S["overrides"]["surfaces"])
        fields = fields_of(folder, surfaces, S["positions"]["field_name"])
        start, end, moments = hours_of(S)
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    site, carrying, zone, entry = S["site"], S["carrying"], S["site"]["timezone"], S["plan"]
    carrying = {**carrying, "walking_speed": carrying["walking_speed"] or 0.8}
    air, humidity = (
        S["weather"].get("air_temperature", plan.AIR),
        S["weather"].get("relative_humidity", plan.HUMIDITY),
    )
    day = plan.sky(moments, site, air, humidity)
    inside = day[(day["time_utc"] >= start) & (day["time_utc"] <= end)].reset_index(drop=True)
    chosen = [plan.best_heading(free, inside, carrying) for free in fields["free"]]
    fields = fields.assign(
        length=[
            lengths[free.index(c[0])] for free, lengths, c in zip(fields["free"], fields["lengths"], chosen)
        ],
        heading=[c[0] for c in chosen],
        there=[c[1] for c in chosen],
        back=[c[2] for c in chosen],
    )
    terms = uncertainty_terms(ROOT / "config" / "uncertainty.csv")
    certificates, whose = certificates_of(folder, S, datetime.date.fromisoformat(entry["date"]))
    visits, rounds = plan.timetable(
        fields,
        list(S["sets"]),
        carrying["walking_speed"],
        entry["minutes_between"],
        start,
        end,
        entry["sky_monitor"],
        entry["rounds"],
        S["seed"],
    )
    expected = plan.expected_segments(
        visits, site, carrying, surfaces, terms, air, humidity, segment.response_time(certificates)
    )
    differences = plan.expected_differences(
        expected, certificates, surfaces, terms, site, carrying, air, S["seed"], DRAWS
    )
    beyond = visits["end_utc"].max() - end
    values = {
        "title": S["title"],
        "site": site,
        "date": entry["date"],
        "start": entry["start"],
        "end": entry["end"],
        "sets": list(S["sets"]),
        "rounds": rounds,
        "asked": entry["rounds"],
        "overtime": max(0, round(beyond.total_seconds() / 60.0)),
        "monitor": bool(entry["sky_monitor"]) and len(S["sets"]) > 1,
        "air": air,
        "humidity": humidity,
        "whose": whose,
        "sun_figure": report.embedded(figures.svg(plan_page.sun_figure(day, (start, end), zone))),
        "heading_figure": report.embedded(figures.svg(plan_page.heading_figure(fields, inside, carrying))),
        "fields": plan_page.field_rows(fields, inside, carrying, surfaces),
        "hours": plan_page.hour_rows(inside, zone),
        "cheap": plan_page.cheap_hours(day, zone),
        "pairs": plan_page.pair_rows(differences, surfaces),
        "titles": plan_page.TITLES,
        "visits": plan_page.visit_rows(visits, zone),
        "short": plan.too_short(fields, carrying),
        "cautions": plan_page.CAUTIONS,
        "last_word": plan_page.LAST_WORD,
        "side_minutes": plan.SIDE_MINUTES,
        "carrying": carrying,
        "scatter": f"{100 * plan.GROUND_SCATTER:.1f} % and {plan.GROUND_SCATTER_K:.2f} K in patches of {plan.PATCH:.0f} m",
    }
    columns = [f["name"] for f in table_schema("notes")["fields"]]
    rows = form.rows(visits, zone, columns)
    pages = {
        "title": S["title"],
        "site": site,
        "pages": form.pages(rows, S["sets"]),
        "zone": notes_zone(S),
        "last_word": plan_page.LAST_WORD,
    }
    styles = [(TEMPLATES / name).read_text(encoding="utf-8") for name in ("style.css", "screen.css")]
    made = []
    for name, filled in (("plan", values), ("form", pages)):
        page = report.page((TEMPLATES / f"{name}.html.jinja").read_text(encoding="utf-8"), styles, filled)
        writing.write_text(results / f"{name}.html", page)
        made.append(name)
    tables.write_table(results / "timetable.csv", visits, "timetable")
    descriptions = {
        f["name"]: f["description"] + (f", {f['unit']}" if "unit" in f else "")
        for f in table_schema("notes")["fields"]
    }
    (results / "notes.xlsx").write_bytes(
        form.workbook(rows, columns, descriptions, list(S["sets"]), S["surfaces"])
    )
    for name in made:
        print(lay_out(results / f"{name}.html", results / f"{name}.pdf"))
    print(results / "notes.xlsx")
    return 0


def notes_zone(S: dict) -> str:
    return S["notes"]["timezone"]


if __name__ == "__main__":
    sys.exit(main())
