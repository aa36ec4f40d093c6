"""Step 3, for one set: give the longwave terms back what the heads themselves emit."""

import package_path  # noqa: F401
from headland import correct_longwave, step, tables


def main() -> None:
    args = step.arguments(one=("calibrated", "corrected"))
    samples = tables.read_table(args.calibrated, "samples_calibrated")
    tables.write_table(args.corrected, correct_longwave.corrected(samples), "samples_corrected")
    step.say(f"{len(samples)} samples")


if __name__ == "__main__":
    main()
