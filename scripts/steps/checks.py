"""Step 9, first part: put into words what the steps found, and what they could not tell."""

from headland.chain import checks
from headland.files import step


def main() -> None:
    files = step.Files(checks.READS, checks.WRITES)
    files.write(checks.run(files["findings"], files["unknown"], files["sentences"], files["reasons"]))


if __name__ == "__main__":
    step.run(main)
