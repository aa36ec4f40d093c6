"""Step 9, before the report: its equations as pictures, which depend on no campaign's numbers."""

from headland.files import config_tables, step, writing
from headland.report.figures import equation


def main() -> None:
    args = step.arguments(one=("equations", "pictures"))
    rows = config_tables.read_config_table(args.equations).to_dict("records")
    for row in rows:
        writing.write_text(args.pictures / f"equation_{row['number']}.svg", equation(row["mathtext"]))
    step.say(f"{len(rows)} equations")


if __name__ == "__main__":
    main()
