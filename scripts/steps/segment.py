"""Step 5, all sets at once, because the notes are one file: samples to noted intervals."""

from headland.chain import place, segment
from headland.chain.recording import Screened
from headland.files import step


def main() -> None:
    files = step.Files(segment.READS, segment.WRITES, ("findings", "untold"))
    settings = files.settings
    naming = settings["positions"].get("field_name", "")
    ground, found = place.read(files["outlines"], files["tracks"], settings["tracks"], naming)
    files.found += found
    recorded = files.each_set("corrected", "screened", "certificates")
    sets = {name: Screened(*tables) for name, tables in recorded.items()}
    files.write(segment.run(files["notes"], sets, files["limits"], ground, settings))


if __name__ == "__main__":
    step.run(main)
