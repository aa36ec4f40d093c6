"""Step 4, for one set: the sun at every sample, and flags on those that look wrong."""

import package_path  # noqa: F401
from headland import diagnose_samples, ingest, screen, step, sun, tables, untold, weather


def main() -> None:
    args = step.arguments(one=("raw", "calibrated", "certificates", "corrected", "limits", "screened", "findings", "untold"), many=("weather",))
    settings, site = args.settings, args.settings["site"]
    samples = tables.read_table(args.corrected, "samples_corrected")
    limits = screen.limits_of(tables.read_config_table(args.limits))
    air, findings = tables.read_weather(args.weather)
    middle = ingest.middle_of_interval(samples["time_utc"], settings["stamp"], settings["interval"])
    samples["solar_elevation"], samples["solar_azimuth"] = sun.position(middle, site["latitude"], site["longitude"], site["elevation"])
    samples["sw_clear"] = sun.clear_sky_global(samples["solar_elevation"], middle, site["elevation"])
    samples["toa"] = sun.top_of_atmosphere(middle)
    around = weather.at(middle, air, settings["weather"])
    flags = screen.flags(samples, limits, around["air_temperature"], samples["toa"])
    diagnosis = diagnose_samples.diagnose(
        settings["set"], tables.read_table(args.raw, "samples_raw"), tables.read_table(args.calibrated, "samples_calibrated"), samples, around,
        tables.read_table(args.certificates, "certificates"), settings["channels"], settings["longwave"], settings["interval"], limits)
    flags |= diagnosis.flags
    samples["flags"] = screen.joined(flags)
    for name, hit in flags.items():
        step.say(f"{name}: {hit.sum()} of {len(hit)} samples")
    tables.write_table(args.screened, samples, "samples_screened")
    tables.write_findings(args.findings, findings + screen.found(flags, limits, samples["time_utc"], settings["set"], diagnosis.wrong) + diagnosis.findings)
    tables.write_table(args.untold, untold.frame(diagnosis.untold), "untold")


if __name__ == "__main__":
    main()
