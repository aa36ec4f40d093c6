"""Step 3, for one set: give the longwave terms back what the heads themselves emit."""

from headland.chain import correct_longwave
from headland.files import step


def main() -> None:
    files = step.Files(correct_longwave.READS, correct_longwave.WRITES)
    files.write(correct_longwave.run(files["calibrated"]))


if __name__ == "__main__":
    step.run(main)
