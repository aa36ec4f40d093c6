"""Step 9, first part: put into words what the steps found, and what they could not tell."""

import pandas as pd

from headland.base import findings, untold
from headland.files import config_tables, step, tables
from headland.files.schemas import table_schema


def main() -> None:
    args = step.arguments(one=("sentences", "reasons", "checks", "untold"), many=("findings", "unknown"))
    sentences = findings.sentences(args.sentences)
    found = [
        (name, finding)
        for path, name in zip(args.findings, args.settings["steps"])
        for finding in tables.read_findings(path)
    ]
    rows = findings.in_order(
        findings.describe(finding, name, sentences) for name, finding in findings.folded(found)
    )
    names = [field["name"] for field in table_schema("checks")["fields"]]
    # a table read by several steps is complained of by each: one row says it
    place = [name for name in names if name != "step"]
    frame = pd.DataFrame(rows, columns=names).drop_duplicates(subset=place, keep="first")
    tables.write_table(args.checks, frame, "checks")
    unknown = pd.concat([tables.read_table(path, "untold") for path in args.unknown], ignore_index=True)
    unknown = untold.described(
        unknown,
        [finding for _, finding in found],
        config_tables.read_config_table(args.reasons).to_dict("records"),
    )
    tables.write_table(args.untold, unknown, "untold")
    step.say(f"{len(frame)} findings; {len(unknown)} things that could not be told")


if __name__ == "__main__":
    main()
