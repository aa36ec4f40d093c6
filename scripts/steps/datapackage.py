"""Step 9, last part: title, unit and meaning of every column of the users' tables, by an open standard."""

from headland.files import config_tables, step, writing
from headland.files.digests import digest
from headland.files.schemas import table_schema
from headland.report import package


def main() -> None:
    args = step.arguments(one=("quantities", "package"), many=("tables",))
    settings = args.settings
    quantities = {
        row["quantity"]: row for row in config_tables.read_config_table(args.quantities).to_dict("records")
    }
    described = [
        package.resource(path.name, digest(path), path.stat().st_size, table_schema(name), quantities)
        for path, name in zip(args.tables, settings["tables"], strict=True)
    ]
    writing.write_json(
        args.package, package.package(settings["name"], settings["title"], described, settings["credit"])
    )


if __name__ == "__main__":
    main()
