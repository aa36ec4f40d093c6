"""Step 9: the tables that users get, as one workbook for a spreadsheet."""

from headland.files import step, writing
from headland.report import workbook


def main() -> None:
    files = step.Files(workbook.READS, {}, ("workbook",))
    made = workbook.workbook(files["package"]["resources"], files["tables"])
    with writing.whole(files.paths["workbook"]) as part:
        part.write_bytes(made)
    step.say(f"{len(files['tables'])} tables")


if __name__ == "__main__":
    step.run(main)
