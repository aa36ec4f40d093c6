"""Step 2, for one set: raw signals to what each head sensed, with the certificates in force on the day."""

from headland.chain import calibrate
from headland.files import step


def main() -> None:
    files = step.Files(calibrate.READS, calibrate.WRITES, ("findings",))
    files.write(calibrate.run(files["samples"], files["register"], files.settings))


if __name__ == "__main__":
    step.run(main)
