"""After a run: what differs from the run before. Writes changes.csv and changes.html, and remembers this run
for the next.

The memory is the folder steps/previous_run of the results. A run that did nothing new leaves what was said
before.
"""

import json
import shutil
from pathlib import Path

import pandas as pd

from headland.files import step, tables, user_tables, writing, yaml_files
from headland.files.schemas import table_schema
from headland.record import changes
from headland.report import page

ROOT = Path(__file__).resolve().parents[2]
REMEMBERED = ("segments", "fields", "surfaces")


def texts(path: Path) -> pd.DataFrame:
    return pd.read_csv(path, dtype=str, keep_default_na=False)


def rows_of(path: Path, kind: str) -> list[dict[str, str]]:
    """Rows of a table that a user wrote, as text."""
    frame, _ = user_tables.read_user_table(path, kind)
    return [
        {
            key: f"{value:g}"
            if isinstance(value, float) and value == value
            else ""
            if value != value
            else str(value)
            for key, value in row.items()
        }
        for row in frame.to_dict("records")
    ]


def remembered(folder: Path) -> changes.Run | None:
    """The run before; None where there was none, or its memory can't be read."""
    try:
        return changes.Run(
            json.loads((folder / "inputs.json").read_text(encoding="utf-8")),
            {name: texts(folder / f"{name}.csv") for name in REMEMBERED},
        )
    except (OSError, ValueError, KeyError):
        return None


def main() -> None:
    args = step.arguments(one=("campaign", "results"))
    given, results = args.settings, args.results
    inputs = {
        **given["inputs"],
        "settings": changes.flat(
            yaml_files.read_yaml(args.campaign / "campaign.yaml", "campaign.yaml").values
        ),
        "notes": rows_of(args.campaign / given["notes_file"], "notes"),
        "instruments": rows_of(args.campaign / "instruments.csv", "instruments"),
    }
    now = changes.Run(inputs, {name: texts(results / f"{name}.csv") for name in REMEMBERED})
    memory = results / "steps" / "previous_run"
    before = remembered(memory)
    target = results / "changes.html"
    if (
        before is not None
        and target.exists()
        and before.inputs == json.loads(json.dumps(inputs))
        and all(before.tables[name].equals(now.tables[name]) for name in REMEMBERED)
    ):
        (memory / "inputs.json").touch()
        return
    found = changes.compared(before, now) if before is not None else None
    said = changes.summary(found)
    names = [field["name"] for field in table_schema("changes")["fields"]]
    frame = found if found is not None else pd.DataFrame(columns=names)
    tables.write_table(results / "changes.csv", frame, "changes")
    writing.write_text(
        target,
        page.page("changes", {"title": given["title"], "said": said, "rows": changes.shown(frame)}),
    )
    memory.mkdir(parents=True, exist_ok=True)
    for name in REMEMBERED:
        shutil.copyfile(results / f"{name}.csv", memory / f"{name}.csv")
    writing.write_json(memory / "inputs.json", inputs)
    step.say(said)


if __name__ == "__main__":
    main()
