"""Step 6: means of every segment, field and surface."""

from headland.chain import summarise
from headland.files import step


def main() -> None:
    files = step.Files(summarise.READS, summarise.WRITES, ("findings",))
    recorded = files.each_set("calibrated", "segmented")
    made = summarise.run(
        files["noted"],
        {name: summarise.Segmented(*tables) for name, tables in recorded.items()},
        files.settings,
        surfaces=files["classes"],
        limits=files["limits"],
        found_before=files["found"],
        fixed=files["station"] if files.paths["station"] else None,
    )
    files.write(made)


if __name__ == "__main__":
    step.run(main)
