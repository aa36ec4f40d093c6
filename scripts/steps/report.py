"""Step 9, fourth part: the report as one self-contained page."""

from headland.files import step, writing
from headland.report import explore, given, page, report


def main() -> None:
    files = step.Files(given.READS, {}, ("page",))
    material = given.of_files(files)
    values = report.context(material, files.settings["attached"])
    values |= explore.values(material, files["program"])
    writing.write_text(files.paths["page"], page.page("report", values))
    step.say(f"{len(material.pictures)} figures")


if __name__ == "__main__":
    step.run(main)
