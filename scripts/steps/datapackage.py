"""Step 9, last part: title, unit and meaning of every column of the users' tables, by an open standard."""

from headland.files import step, writing
from headland.report import package


def main() -> None:
    files = step.Files(package.READS, {}, ("package",))
    made = package.of_tables(files["tables"], files["quantities"], files.settings)
    writing.write_json(files.paths["package"], made)


if __name__ == "__main__":
    step.run(main)
