"""Step 3, for one set: give the longwave terms back what the heads themselves emit."""

from headland.chain import correct_longwave
from headland.files import step


def main() -> None:
    args = step.arguments(one=("calibrated", "corrected"))
    made = correct_longwave.run(step.Stored(args.calibrated, "samples_calibrated"))
    step.write(args, made, {"corrected": "samples_corrected"})


if __name__ == "__main__":
    step.run(main)
