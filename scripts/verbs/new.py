"""Make a campaign folder to fill in, or packs for groups from a campaign that is there.

Usage: python scripts/verbs/new.py --folder DIR [--from-file FILE …] [--shown NAME] | --folder DIR --source CAMPAIGN --groups FILE
"""

import re
import shutil
import sys
from pathlib import Path

import pandas as pd
import yaml

from headland.base import findings
from headland.base.errors import UserError, UserErrors
from headland.course import answers_page, written
from headland.field import new
from headland.files import settings, step, tables, user_tables, writing, yaml_files
from headland.files.schemas import table_schema
from headland.files.surfaces import surface_classes
from headland.report import report

ROOT = Path(__file__).resolve().parents[2]
CODECS = (("utf-8", "utf-8-sig"), ("utf-16", "utf-16"), ("cp1252", "cp1252"))
SAMPLE_BYTES = 200_000


def refuse(where: str, found: str, expected: str) -> None:
    raise UserErrors([UserError(where, None, found, expected)])


def sample_of(path: Path) -> tuple[str, str]:
    """The start of a file as text, and its encoding as layouts name it."""
    if not path.is_file():
        refuse(str(path), "no such file", "a file as it came off the logger")
    raw = path.read_bytes()[:SAMPLE_BYTES]
    raw = raw[: raw.rfind(b"\n") + 1] or raw
    for name, codec in CODECS if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else CODECS[::2]:
        try:
            return raw.decode(codec), name
        except UnicodeError:
            continue
    refuse(str(path), "the file is not text", "the data exported from the logger as delimited text")


def surfaces_of(overrides: dict) -> dict[str, str]:
    return {
        name: entry["label"]["value"]
        for name, entry in surface_classes(ROOT / "config" / "surfaces.csv", overrides).items()
    }


def empty_folder(folder: Path, samples: list[Path], shown: str) -> None:
    found = {}
    for path in samples:
        text, encoding = sample_of(path)
        name = re.sub(r"[^A-Za-z0-9-]+.*$", "", path.stem).strip("-")[:30]
        name = (
            name
            if re.match(r"[A-Za-z]", name) and name not in found
            else f"set_{'abcdefghijklmnopqrstuvwxyz'[len(found) % 26]}"
        )
        found[name] = new.layout_of(text, encoding)
        if found[name] is None:
            refuse(
                path.name,
                "no rows of numbers found in it",
                "the data exported from the logger as delimited text: a row a record, columns separated by one character",
            )
    sets = found or {"set_a": None, "set_b": None}
    surfaces = surfaces_of({})
    (folder / "logger").mkdir(parents=True)
    writing.write_text(folder / "campaign.yaml", new.campaign_yaml(sets, "Field practical"))
    writing.write_text(
        folder / "instruments.csv",
        new.register_csv(
            {name: entry.logger_id if entry else "" for name, entry in sets.items()},
            [f["name"] for f in table_schema("instruments")["fields"]],
        ),
    )
    new.notes_form(table_schema("notes")["fields"], list(sets), surfaces).save(folder / "notes.xlsx")
    writing.write_text(folder / "GUIDE.md", new.guide(list(sets), surfaces, shown))
    for name, path in zip(sets, samples):
        shutil.copyfile(
            path, folder / "logger" / (path.name if path.name.startswith(name) else f"{name}_{path.name}")
        )
    print(f"Made {shown} with campaign.yaml, instruments.csv, notes.xlsx, GUIDE.md and the folder logger.")
    for name, entry in found.items():
        for key, doubt in entry.doubts.items():
            print(f"  CHECK in campaign.yaml, set {name}, {key}: {doubt}")
    print(
        "Fill in what is empty, then run: "
        + f"python3 scripts/headland.py report {shown}. GUIDE.md is the page for the field."
    )


def read_groups(path: Path) -> pd.DataFrame:
    if not path.is_file():
        refuse(str(path), "no such file", "a CSV file with the columns group and, if you like, surfaces")
    table, found = user_tables.read_user_table(path, "groups")
    sentences = findings.sentences()
    errors = [
        UserError(path.name, row["line"], row["what"].rstrip("."), row["remedy"].rstrip("."))
        for row in (findings.describe(f, "new", sentences) for f in found)
        if row["severity"] == "error"
    ]
    if not errors and (not len(table) or table["group"].duplicated().any() or (table["group"] == "").any()):
        errors = [
            UserError(
                path.name,
                None,
                "no groups, a group twice or one without a name",
                "one row a group, each with a name of its own",
            )
        ]
    if errors:
        raise UserErrors(errors)
    return table


def packs(folder: Path, source: Path, groups_file: Path, shown: str) -> None:
    """One campaign folder a group, with its surfaces' notes and their sets' files; no results and nothing else of the source go along."""
    groups, chosen = read_groups(groups_file), settings.load(source, ROOT / "config")
    document = yaml_files.read_yaml(source / "campaign.yaml", "campaign.yaml").values
    noted, _ = user_tables.read_user_table(source / chosen["notes_file"], "notes")
    counted = noted["activity"].isin(("", "walk", "stand"))
    there = [s for s in dict.fromkeys(noted.loc[counted, "surface"]) if s]
    deal = new.dealt(groups, there)
    wrong = [
        UserError(
            groups_file.name, None, f'{name}: no surface "{s}" was walked', f"one of {', '.join(there)}"
        )
        for name, own in deal.items()
        for s in own
        if s not in there
    ]
    if wrong or not there:
        raise UserErrors(
            wrong or [UserError(chosen["notes_file"], None, "no surface was walked", "notes of walks")]
        )
    surfaces = surfaces_of(chosen["overrides"]["surfaces"])
    for (group, own), name in zip(deal.items(), answers_page.page_names(list(deal)).values()):
        target = folder / name.removesuffix(".html")
        rows = noted[counted & noted["surface"].isin(own)]
        sets = [s for s in chosen["sets"] if s in set(rows["set"])]
        rows = noted[(counted & noted["surface"].isin(own)) | (~counted & noted["set"].isin(sets))]
        for one in sets:
            for file in chosen["sets"][one]["raw"]:
                (target / file).parent.mkdir(parents=True, exist_ok=True)
                shutil.copyfile(source / file, target / file)
        writing.write_text(
            target / "campaign.yaml",
            yaml.safe_dump(
                {
                    **document,
                    "title": f"{document['title']}: {group}",
                    "sets": {s: document["sets"][s] for s in sets},
                },
                sort_keys=False,
                allow_unicode=True,
            ),
        )
        tables.write_table(target / "notes.csv", rows, "notes")
        register, _ = user_tables.read_user_table(source / "instruments.csv", "instruments")
        tables.write_table(target / "instruments.csv", register[register["set"].isin(sets)], "instruments")
        if chosen["weather_file"]:
            shutil.copyfile(source / chosen["weather_file"], target / chosen["weather_file"])
        units = {
            quantity: written.expected_unit(quantity).split(" or ")[0] for quantity in written.OF_SURFACES
        }
        writing.write_text(target / "answers.csv", new.answers_form(group, own, units))
        writing.write_text(target / "GUIDE.md", new.guide(sets, surfaces, f"{shown}/{target.name}"))
        print(
            f"  {shown}/{target.name}: {report.listed([surfaces[s] for s in own])} ({'sets' if len(sets) > 1 else 'set'} {report.listed(sets)})"
        )
    print(
        "Groups fill in answers.csv; check theirs with: python3 scripts/headland.py answers CAMPAIGN answers.csv."
    )


def main() -> int:
    args = step.arguments(one=("folder", "shown"), many=("from-file", "source", "groups"))
    try:
        if args.folder.exists() and (not args.folder.is_dir() or any(args.folder.iterdir())):
            refuse(
                str(args.shown),
                "is there already, and not empty",
                "a new folder: nothing is ever written over",
            )
        if args.source:
            packs(args.folder, args.source[0], args.groups[0], str(args.shown))
        else:
            empty_folder(args.folder, args.from_file, str(args.shown))
    except UserErrors as problem:
        print(*problem.errors, sep="\n", file=sys.stderr)
        return 2
    return 0


if __name__ == "__main__":
    sys.exit(main())
