"""What plates, masts, wind and a flux station measured at each visit, beside what step 7 estimates.

A way of measuring gives a row at each visit for which it has records. Where it is not valid the row has a
reason and no fluxes. Signs are those of the balance: ground heat into the ground, the others away from it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from headland.base.findings import Finding
from headland.base.times import since_1970
from headland.chain.measured_records import places_found
from headland.chain.measured_ways import Answer, Plates, Station, TwoHeights, Visit, Wind
from headland.files import user_tables
from headland.physics.measured_forms import COLUMNS, GROUND, applied

NUMBERS = (
    "ground_heat",
    "sensible_heat",
    "latent_heat",
    "bowen_ratio",
    "closure",
    "plate",
    "stored",
    "coefficient",
    *COLUMNS,
)
NAMED = ("segment", "surface", "field", "start_utc", "end_utc")
ROWS = (*NAMED, "way", *NUMBERS, "reason")
"""Columns of the rows; `taken` is added: whether a ground heat flux serves with measured splits."""


@dataclass(frozen=True)
class Outside:
    """The campaign's own tables: rows of weather.csv, ground.csv, levels.csv and station.csv."""

    air: pd.DataFrame
    ground: pd.DataFrame
    levels: pd.DataFrame
    station: pd.DataFrame


def only_weather(air: pd.DataFrame) -> Outside:
    """The tables of a campaign that measures no heat flux. air: rows of the weather table."""
    reads = (user_tables.read_ground, user_tables.read_levels, user_tables.read_station)
    return Outside(air, *(read([])[0] for read in reads))


def measured(
    visits: pd.DataFrame, segments: pd.DataFrame, outside: Outside, settings: Mapping, surfaces: Mapping
) -> tuple[pd.DataFrame, list[Finding]]:
    """A row a visit and way of measuring, and findings on places and on what is refused.

    Parameters
    ----------
    visits : with textbook forms and fluxes, as `balance.visits_of` makes them
    segments : step 6's, for surface temperature and height
    outside : the campaign's tables
    settings : `measured` (stamp, wind_height, air_height), `station` (stamp, surface, field), `sensor_height`
    surfaces : class properties, for the height of the cover
    """
    findings = places_found(outside.ground, "ground.csv", visits, needed=True)
    findings += places_found(outside.levels, "levels.csv", visits, needed=False)
    own = _around(visits, segments, settings, surfaces)
    ways: dict[str, Callable[[Visit], Answer]] = {
        "plate": Plates(outside.ground, settings["measured"]["stamp"]).at,
        "station_ground": Station(outside.station, settings["station"]).ground_at,
    }
    ground = _rows(own, ways)
    best = with_best_ground(visits, ground, settings["station"])
    method = dict(zip(best["segment"], best["method"], strict=True))
    ground = ground.assign(taken=ground["segment"].map(method) == ground["way"])
    own = _around(best, segments, settings, surfaces)
    rows = pd.concat(
        [
            ground,
            _rows(
                own,
                {
                    "two_heights": TwoHeights(outside.levels, settings["measured"]["stamp"]).at,
                    "flux_station": Station(outside.station, settings["station"]).at,
                    "bulk_transfer": Wind(settings["measured"]).at,
                },
            ),
        ],
        ignore_index=True,
    )
    return rows.assign(taken=rows["taken"].eq(True)), findings + _refused(rows)


def with_best_ground(visits: pd.DataFrame, rows: pd.DataFrame, station: Mapping) -> pd.DataFrame:
    """Visits with the best ground heat that there is: a plate's, a station's on stated ground, or the
    estimate.
    """
    ways = GROUND if station.get("surface") or station.get("field") else GROUND[:1]
    best = applied(visits, rows, ground=ways)
    changed = best["method"].isin(GROUND)
    return best.assign(ground_heat=best["ground_heat"].mask(changed, best["offset"]))


def _around(
    visits: pd.DataFrame, segments: pd.DataFrame, settings: Mapping, surfaces: Mapping
) -> list[Visit]:
    own = segments.set_index("segment").loc[visits["segment"]]
    starts, ends = (since_1970(visits[name]) for name in ("start_utc", "end_utc"))
    result = []
    for place, row in enumerate(visits.to_dict("records")):
        canopy = settings["sensor_height"] - own["height"].iloc[place]
        stated = surfaces[row["surface"]].get("cover_height", {}).get("value", np.nan)
        cover = canopy if canopy > 0.0 else stated
        temperature = float(own["surface_temperature"].iloc[place])
        result.append(Visit(row, float(starts[place]), float(ends[place]), temperature, float(cover)))
    return result


def _rows(visits: list[Visit], ways: Mapping[str, Callable[[Visit], Answer]]) -> pd.DataFrame:
    records = []
    for way, at in ways.items():
        for visit in visits:
            answer = at(visit)
            if answer is not None:
                numbers, reason = answer
                named = {name: visit.row[name] for name in NAMED}
                none = dict.fromkeys(NUMBERS, np.nan) | dict.fromkeys(COLUMNS, 0.0)
                records.append({**named, "way": way, **none, **({} if reason else numbers), "reason": reason})
    table = pd.DataFrame(records, columns=list(ROWS))
    return table.astype(dict.fromkeys(NUMBERS, float)) if len(table) else empty()


def empty() -> pd.DataFrame:
    """The table of a campaign that measures nothing."""
    text = dict.fromkeys((*NAMED, "way", "reason"), "object")
    return pd.DataFrame(columns=list(ROWS)).astype({**text, **dict.fromkeys(NUMBERS, float)})


def _refused(rows: pd.DataFrame) -> list[Finding]:
    """A finding for each way, surface and reason why it gives nothing."""
    findings = []
    for (way, surface), part in rows.groupby(["way", "surface"], sort=False):
        for reason, own in part[part["reason"] != ""].groupby("reason", sort=False):
            facts = {"way": WORDS[str(way)], "surface": surface, "count": len(own), "visits": len(part)}
            findings.append(Finding("measured-refused", str(reason), facts=facts))
    return findings


WORDS = {
    "plate": "the soil heat flux plate",
    "station_ground": "the station's soil heat flux",
    "two_heights": "the air at two heights",
    "flux_station": "the flux station",
    "bulk_transfer": "wind and surface temperature",
}
"""Ways of measuring, in words."""
