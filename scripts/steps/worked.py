"""Step 9: one sample of each set, its segment and its surface followed all the way, for the report."""

from headland.files import step
from headland.report import worked_run


def main() -> None:
    files = step.Files(worked_run.READS, worked_run.WRITES)
    common = worked_run.Common(*files.some(worked_run.COMMON).values())
    sets = files.each_set("raw", "certificates", "segmented")
    files.write(worked_run.run(common, sets, files.settings))


if __name__ == "__main__":
    step.run(main)
