"""The air at the time of a sample: from the campaign's weather table, else from its settings."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from headland.base.times import since_1970

QUANTITIES = ("air_temperature", "relative_humidity", "pressure", "wind_speed")

LARGEST_GAP = 3600.0
"""s: no value is taken from the table further than this from its nearest row (common practice, no source)."""


def usual(values: np.ndarray) -> float:
    """The median of what is known of a quantity; NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else np.nan


def at(times: pd.Series, table: pd.DataFrame, fallback: Mapping[str, float]) -> dict[str, np.ndarray]:
    """Air temperature (degC), relative humidity (%), pressure (hPa) and wind speed (m s-1) at times in UTC.

    table: rows with `time_utc` and any of the quantities; interpolated linearly in time. Where the table has
    nothing within an hour, the fallback of the settings; NaN where that has nothing either.
    """
    wanted = since_1970(times)
    result = {}
    for name in QUANTITIES:
        values = np.full(len(wanted), float(fallback.get(name, np.nan)))
        known = table.dropna(subset=[name]) if name in table else table.iloc[:0]
        known = known[known["time_utc"].notna()].sort_values("time_utc", kind="stable")
        if len(known):
            seconds = since_1970(known["time_utc"])
            right = np.clip(np.searchsorted(seconds, wanted), 0, len(seconds) - 1)
            left = np.maximum(right - 1, 0)
            near = np.minimum(np.abs(seconds[right] - wanted), np.abs(seconds[left] - wanted)) <= LARGEST_GAP
            values = np.where(near, np.interp(wanted, seconds, known[name].to_numpy(float)), values)
        result[name] = values
    return result


def temperature_of(segments: pd.DataFrame, air: pd.DataFrame, settings: Mapping) -> np.ndarray:
    """Air temperature at the start of each segment, degC. air: rows of the weather table. settings:
    `weather`.
    """
    return at(segments["start_utc"], air, settings["weather"])["air_temperature"]


def wind_of(segments: pd.DataFrame, air: pd.DataFrame, settings: Mapping) -> np.ndarray:
    """Wind speed at the start of each segment, m s-1. The rest as for `temperature_of`."""
    return at(segments["start_utc"], air, settings["weather"])["wind_speed"]


def air_of(middle: pd.Series, table: pd.DataFrame, usual: Mapping[str, float]) -> pd.DataFrame:
    """The air in the middle of each segment, and where its temperature is from.

    table: rows of the weather table. usual: what serves where it has none.
    """
    known = np.isfinite(at(middle, table, {})["air_temperature"])
    found = pd.DataFrame(at(middle, table, usual)).drop(columns="relative_humidity")
    source = np.where(
        known, "weather.csv", np.where(np.isfinite(found["air_temperature"]), "campaign.yaml", "")
    )
    return found.assign(air_source=source)
