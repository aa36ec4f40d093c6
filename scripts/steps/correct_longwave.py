"""Step 3, for one set: give the longwave terms back what the heads themselves emit."""

from headland.chain import correct_longwave
from headland.files import step, tables


def main() -> None:
    args = step.arguments(one=("calibrated", "corrected"))
    pieces = map(correct_longwave.corrected, tables.read_pieces(args.calibrated, "samples_calibrated"))
    step.say(f"{tables.write_pieces(args.corrected, pieces, 'samples_corrected')} samples")


if __name__ == "__main__":
    main()
