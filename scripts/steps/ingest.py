"""Step 1, for one set: raw logger files to one table of samples as stored."""

from headland.chain import ingest
from headland.files import step


def main() -> None:
    args = step.arguments(one=("samples", "findings"), many=("raw",))
    made = ingest.run(step.opened(args.raw, args.settings["raw"]), args.settings)
    step.write(args, made, {"samples": "samples_raw"})


if __name__ == "__main__":
    step.run(main)
