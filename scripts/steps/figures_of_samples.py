"""Step 9, second part: the figures of what was recorded, which need no number of the later steps."""

from headland.files import step
from headland.report import figures_of


def main() -> None:
    files = step.Files(figures_of.READS_OF_SAMPLES, {}, ("figures",))
    record, surfaces = figures_of.record_of(files), files["classes"]
    drawn = figures_of.samples(record, surfaces, files.settings)
    drawn |= figures_of.places(record, files["places"], files["outlines"], surfaces, files.settings)
    figures_of.write(files.paths["figures"], drawn)


if __name__ == "__main__":
    step.run(main)
