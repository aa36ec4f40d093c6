"""Step 4, for one set: the sun at every sample, and flags on those that look wrong."""

from headland.base.flags import limits_of
from headland.chain import screen
from headland.files import config_tables, step, tables, user_tables


def main() -> None:
    args = step.arguments(
        one=("raw", "calibrated", "certificates", "corrected", "limits", "screened", "findings", "untold"),
        many=("weather",),
    )
    recorded = screen.Recorded(
        step.Stored(args.raw, "samples_raw"),
        step.Stored(args.calibrated, "samples_calibrated"),
        step.Stored(args.corrected, "samples_corrected"),
        tables.read_table(args.certificates, "certificates"),
    )
    limits = limits_of(config_tables.read_config_table(args.limits))
    air, found = user_tables.read_weather(args.weather)
    step.write(
        args, screen.run(recorded, limits, air, args.settings), {"screened": "samples_screened"}, found
    )


if __name__ == "__main__":
    step.run(main)
