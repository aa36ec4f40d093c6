"""Step 7: the energy balance of every visit, field and surface, estimated and measured."""

from headland.chain import balance, measured
from headland.files import step


def main() -> None:
    files = step.Files(balance.READS, balance.WRITES, ("findings",))
    means = files.some(("fields", "surfaces"))
    outside = measured.Outside(*(files[name] for name in ("weather", "ground", "levels", "station")))
    files.write(balance.run(files["segments"], means, files["classes"], outside, files.settings))


if __name__ == "__main__":
    step.run(main)
