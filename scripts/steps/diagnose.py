"""After the numbers: sources against each other."""

from headland.chain import diagnose
from headland.files import step


def main() -> None:
    files = step.Files(diagnose.READS, diagnose.WRITES, ("findings", "untold"))
    made = diagnose.run(
        files["segmented"],
        files.some(diagnose.NUMBERS),
        files.settings,
        notes=files["notes"],
        certificates=files["certificates"],
        lookup=diagnose.Lookup(files["classes"], files["limits"], files["terms"]),
        outside=diagnose.Outside(files["weather"], files["station"]),
    )
    files.write(made)


if __name__ == "__main__":
    step.run(main)
