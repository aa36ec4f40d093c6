"""Step 1, for one set: raw logger files to one table of samples as stored."""

from headland.chain import ingest
from headland.files import step


def main() -> None:
    files = step.Files(ingest.READS, ingest.WRITES, ("findings",))
    files.write(ingest.run(step.opened(files["raw"], files.settings["raw"]), files.settings))


if __name__ == "__main__":
    step.run(main)
