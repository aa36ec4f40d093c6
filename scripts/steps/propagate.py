"""Step 8: the interval of every number; writes the tables that users get."""

from headland.chain import propagate
from headland.files import step


def main() -> None:
    files = step.Files(propagate.READS, propagate.WRITES, ("findings",))
    made = propagate.run(
        {kind: files[f"{kind}_means"] for kind in ("segments", "fields", "surfaces")},
        files.some(propagate.BALANCES),
        files.settings,
        certificates=files["certificates"],
        surfaces=files["classes"],
        terms=files["terms"],
        course=files["course"],
        air=files["weather"],
    )
    files.write(made)


if __name__ == "__main__":
    step.run(main)
