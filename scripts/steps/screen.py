"""Step 4, for one set: the sun at every sample, and flags on those that look wrong."""

import pandas as pd

from headland.base import untold
from headland.base.flags import joined, limits_of
from headland.base.time_text import time_decimals
from headland.chain import ingest, screen, weather
from headland.checks import instruments
from headland.checks.one_set import SetRecord
from headland.files import config_tables, step, tables, user_tables
from headland.physics import sun
from headland.physics.constants import RADIATION


def main() -> None:
    args = step.arguments(
        one=("raw", "calibrated", "certificates", "corrected", "limits", "screened", "findings", "untold"),
        many=("weather",),
    )
    settings, site = args.settings, args.settings["site"]
    limits = limits_of(config_tables.read_config_table(args.limits))
    table, findings = user_tables.read_weather(args.weather)
    times = tables.read_table(args.corrected, "samples_corrected", ["time_utc"])["time_utc"]
    middle = lambda some: ingest.middle_of_interval(some, settings["stamp"], settings["interval"])
    position = sun.course(middle(times), site["latitude"], site["longitude"], site["elevation"])

    def around(samples: pd.DataFrame) -> dict:
        """Sun and air around some samples, and what tests of each by itself say of them."""
        at = middle(times.loc[samples.index])
        elevation, _ = position(at)
        toa, air = sun.top_of_atmosphere(at), weather.at(at, table, settings["weather"])["air_temperature"]
        return {
            "solar_elevation": elevation,
            "sw_clear": sun.clear_sky_global(elevation, at, site["elevation"]),
            "toa": toa,
            "air_temperature": air,
            **screen.flags(samples.assign(solar_elevation=elevation), limits, air, toa),
        }

    seen = tables.gathered(
        map(around, tables.read_pieces(args.corrected, "samples_corrected", RADIATION)), len(times)
    )
    samples = pd.DataFrame(
        {"time_utc": times, **{name: seen.pop(name) for name in ("solar_elevation", "sw_clear", "toa")}},
        copy=False,
    )
    air = weather.usual(seen.pop("air_temperature"))
    record = SetRecord(
        settings["set"],
        raw=tables.OnDisk(args.raw, "samples_raw"),
        sensed=tables.OnDisk(args.calibrated, "samples_calibrated"),
        sun=samples,
        air=air,
        certificates=tables.read_table(args.certificates, "certificates"),
        channels=settings["channels"],
        longwave=settings["longwave"],
        interval=settings["interval"],
        limits=limits,
    )
    diagnosis = instruments.diagnosed(record)
    flags = seen | diagnosis.flags
    for name, hit in flags.items():
        step.say(f"{name}: {hit.sum()} of {len(hit)} samples")
    samples["flags"] = joined(flags)
    pieces = (
        samples.iloc[piece].assign(solar_azimuth=position(middle(times.iloc[piece]))[1])
        for piece in tables.pieces_of(len(samples))
    )
    tables.write_pieces(args.screened, pieces, "samples_screened", {"time_utc": time_decimals(times)})
    tables.write_findings(
        args.findings,
        findings + screen.found(flags, limits, times, settings["set"], diagnosis.wrong) + diagnosis.findings,
    )
    tables.write_table(args.untold, untold.frame(diagnosis.untold), "untold")


if __name__ == "__main__":
    main()
