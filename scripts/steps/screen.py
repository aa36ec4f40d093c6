"""Step 4, for one set: the sun at every sample, and flags on those that look wrong."""

from headland.chain import screen
from headland.files import step


def main() -> None:
    files = step.Files(screen.READS, screen.WRITES, ("findings", "untold"))
    recorded = screen.Recorded(**files.some(("raw", "calibrated", "corrected", "certificates")))
    files.write(screen.run(recorded, files["limits"], files["weather"], files.settings))


if __name__ == "__main__":
    step.run(main)
