"""Step 9, last part: title, unit and meaning of every column of the tables that users get, as an open standard has them."""

from headland.base import basics
from headland.files import step, tables
from headland.report import package


def main() -> None:
    args = step.arguments(one=("quantities", "package"), many=("tables",))
    settings = args.settings
    quantities = {
        row["quantity"]: row for row in tables.read_config_table(args.quantities).to_dict("records")
    }
    described = [
        package.resource(path.name, basics.digest(path), path.stat().st_size, tables.schema(name), quantities)
        for path, name in zip(args.tables, settings["tables"])
    ]
    tables.write_json(args.package, package.package(settings["name"], settings["title"], described))


if __name__ == "__main__":
    main()
