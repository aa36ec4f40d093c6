"""Step 7: the estimated energy balance of every visit, field and surface."""

from headland.chain import balance
from headland.files import step


def main() -> None:
    files = step.Files(balance.READS, balance.WRITES, ("findings",))
    means = files.some(("fields", "surfaces"))
    made = balance.run(files["segments"], means, files["classes"], files["weather"], files.settings)
    files.write(made)


if __name__ == "__main__":
    step.run(main)
