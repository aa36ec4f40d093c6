"""A campaign of many days at one second.

Two sets stored day and night, one walk of each a day. Its numbers mean nothing but their amount.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out")
SETTINGS = """title: Many days
site: {name: Long meadow, latitude: 45.9, longitude: 14.9, elevation: 310.0, timezone: UTC}
sets:
SETS
notes: {timezone: UTC}
"""
SET = """  NAME:
    logger_id: LOGGER
    utc_offset: "+00:00"
    files: "logger/NAME_*.csv"
    longwave: net
    layout:
      interval: INTERVAL
      stamp: end
      time: {column: time, format: "%Y-%m-%d %H:%M:%S"}
      channels:
        sw_in: {column: sw_in, unit: mV}
        sw_out: {column: sw_out, unit: mV}
        lw_in: {column: lw_in, unit: mV}
        lw_out: {column: lw_out, unit: mV}
        body_temperature: {column: body, unit: degC}
"""


def written(folder: Path, days: int, rate: float = 1) -> Path:
    """Write the campaign. rate: samples a second. One file a day and set."""
    (folder / "logger").mkdir(parents=True)
    sets = "".join(
        SET.replace("NAME", name).replace("LOGGER", logger)
        for name, logger in (("curlew", "C-11"), ("lapwing", "L-24"))
    )
    settings = SETTINGS.replace("SETS\n", sets).replace("INTERVAL", f"{1 / rate:g}")
    if rate > 1:
        settings = settings.replace("%S", "%S.%f")
    (folder / "campaign.yaml").write_text(settings, encoding="utf-8")
    generator = np.random.default_rng(days)
    rows = [
        "set,logger_id,channel,sensor_id,factor,factor_unit,expanded_uncertainty_percent,certificate_date"
    ]
    notes = ["date,set,start,end,field,surface,activity,heading"]
    second = np.arange(round(86400 * rate)) / rate
    for name, logger in (("curlew", "C-11"), ("lapwing", "L-24")):
        rows += [
            f"{name},{logger},{channel},{name}-{channel},100,W m-2 per mV,3,2025-01-10"
            for channel in CHANNELS
        ]
        for day in range(days):
            start = np.datetime64("2025-06-01") + np.timedelta64(day, "D")
            sun = 800.0 * np.clip(np.sin((second / 86400 - 0.25) * 2 * np.pi), 0.0, None)
            noise = generator.normal(0.0, 0.3, (4, second.size))
            values = (
                sun + noise[0],
                0.2 * sun + noise[1],
                -90.0 + noise[2],
                15.0 + noise[3],
                15.0 + 6.0 * np.sin((second / 86400 - 0.4) * 2 * np.pi),
            )
            stamps = np.datetime_as_string(
                start + (second * 1000).astype("timedelta64[ms]"), unit="ms" if rate > 1 else "s"
            )
            with (folder / "logger" / f"{name}_{day:02}.csv").open("w", encoding="utf-8") as file:
                file.write("time,sw_in,sw_out,lw_in,lw_out,body\n")
                file.writelines(
                    ",".join(
                        [stamp.replace("T", " "), *(f"{one / 100:.4f}" for one in signals), f"{body:.2f}\n"]
                    )
                    for stamp, *signals, body in zip(
                        stamps.tolist(), *(value.tolist() for value in values), strict=True
                    )
                )
            notes.append(f"{start},{name},12:00:00,12:02:00,Long meadow,short_grass,walk,180")
    (folder / "instruments.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    (folder / "notes.csv").write_text("\n".join(notes) + "\n", encoding="utf-8")
    return folder
