"""Step 9, third part: the report's figures, those of what was recorded and those of its numbers."""

from headland.files import step
from headland.report import figures_of


def main() -> None:
    files = step.Files(figures_of.READS, {}, ("figures",))
    drawn = figures_of.numbers(files["tables"], files["means"], files["classes"])
    figures_of.write(files.paths["figures"], {**files["drawn"], **drawn})


if __name__ == "__main__":
    step.run(main)
