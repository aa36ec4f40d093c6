"""Step 2, for one set: raw signals to what each head sensed, with the certificates in force on the day."""

from headland.chain import calibrate
from headland.files import step, user_tables


def main() -> None:
    args = step.arguments(one=("samples", "register", "calibrated", "certificates", "findings"))
    register, found = user_tables.read_user_table(args.register, "instruments")
    made = calibrate.run(step.Stored(args.samples, "samples_raw"), register, args.settings)
    step.write(args, made, {"certificates": "certificates", "calibrated": "samples_calibrated"}, found)


if __name__ == "__main__":
    step.run(main)
