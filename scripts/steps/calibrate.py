"""Step 2, for one set: raw signals to what each head sensed, with the certificates in force on the day."""

from headland.chain import calibrate
from headland.files import step, tables, user_tables


def main() -> None:
    args = step.arguments(one=("samples", "register", "calibrated", "certificates", "findings"))
    settings = args.settings
    times = tables.read_table(args.samples, "samples_raw", ["time_utc"])["time_utc"]
    register, findings = user_tables.read_user_table(args.register, "instruments")
    certificates, found = calibrate.choose_certificates(
        register,
        settings["set"],
        settings["logger_id"],
        settings["channels"],
        calibrate.measurement_day(times),
        settings["certificate"],
    )
    for row in certificates.to_dict("records"):
        step.say(f"{row['channel']}: factor {row['factor']:.6g} W m-2 per mV")
    tables.write_table(args.certificates, certificates, "certificates")
    pieces = (
        calibrate.calibrate(piece, settings["channels"], certificates, settings["longwave"])
        for piece in tables.read_pieces(args.samples, "samples_raw")
    )
    tables.write_pieces(args.calibrated, pieces, "samples_calibrated")
    tables.write_findings(args.findings, findings + found)


if __name__ == "__main__":
    main()
