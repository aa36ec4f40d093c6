"""Before the report, where it is asked for: the questions of the exercises, without their answers."""

from headland.course import sheet
from headland.files import step, writing


def main() -> None:
    files = step.Files(sheet.READS, {}, ("questions",))
    writing.write_json(files.paths["questions"], sheet.questions_of(files))


if __name__ == "__main__":
    step.run(main)
