"""Step 9: the tables that users get, as one workbook for a spreadsheet."""

import csv
import json

from headland.files import step, writing
from headland.report import workbook


def main() -> None:
    args = step.arguments(one=("package", "workbook"), many=("tables",))
    resources = json.loads(args.package.read_text(encoding="utf-8"))["resources"]
    rows = {}
    for path in args.tables:
        with path.open(encoding="utf-8", newline="") as stream:
            rows[path.name] = list(csv.reader(stream))[1:]
    with writing.whole(args.workbook) as part:
        part.write_bytes(workbook.workbook(resources, rows))
    step.say(f"{len(rows)} tables")


if __name__ == "__main__":
    main()
