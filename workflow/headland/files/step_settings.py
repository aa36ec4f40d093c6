"""What each step gets of a campaign's settings, and nothing else: another key's change does not rerun it.

`S` is what `files.settings.load` returns. The names are those of the steps.
"""

from __future__ import annotations

from collections.abc import Mapping

from headland.files import credit


def clocks(S: Mapping) -> dict[str, dict]:
    """How each set's logger counts time: `interval` (s), `stamp` and `utc_offset`."""
    return {
        name: {
            "interval": entry["layout"]["interval"],
            "stamp": entry["layout"]["stamp"],
            "utc_offset": entry["utc_offset"],
        }
        for name, entry in S["sets"].items()
    }


def place_of(S: Mapping) -> dict[str, float]:
    """Latitude, longitude and elevation of the site."""
    return {key: S["site"][key] for key in ("latitude", "longitude", "elevation")}


def ingest(S: Mapping, name: str) -> dict:
    """Of step 1, for one set."""
    keys = ("logger_id", "utc_offset", "files", "layout", "raw")
    return {"set": name, **{key: S["sets"][name][key] for key in keys}}


def calibrate(S: Mapping, name: str) -> dict:
    """Of step 2, for one set."""
    entry = S["sets"][name]
    return {
        "set": name,
        "logger_id": entry["logger_id"],
        "longwave": entry["longwave"],
        "channels": entry["layout"]["channels"],
        "certificate": S["methods"]["certificate"],
        "sets": sorted(S["sets"]),
    }


def screen(S: Mapping, name: str) -> dict:
    """Of step 4, for one set."""
    return {
        "set": name,
        "site": place_of(S),
        "weather": S["weather"],
        **clocks(S)[name],
        "channels": S["sets"][name]["layout"]["channels"],
        "longwave": S["sets"][name]["longwave"],
    }


def segment(S: Mapping) -> dict:
    """Of step 5. Positions and tracks are empty where a campaign has neither outlines nor tracks."""
    placed = bool(S["outlines_file"] or any(S["track_files"].values()))
    return {
        "sets": clocks(S),
        **S["notes"],
        "notes_file": S["notes_file"],
        "surfaces": S["surfaces"],
        "site": place_of(S),
        "positions": S["positions"] if placed else {},
        "tracks": S["track_files"] if placed else {},
        **{key: S["carrying"][key] for key in ("sensor_height", "walking_speed")},
    }


def summarise(S: Mapping) -> dict:
    """Of step 6."""
    given = {"sets": clocks(S), "notes": S["notes_file"], "overrides": S["overrides"]["surfaces"]}
    by_station = S["methods"]["incoming_terms"] == "station"
    return given | ({"stamp": S["station"]["stamp"]} if by_station else {})


def balance(S: Mapping) -> dict:
    """Of step 7."""
    return {
        "site": place_of(S),
        "weather": S["weather"],
        "overrides": S["overrides"]["surfaces"],
        "methods": {key: S["methods"][key] for key in ("ground_heat", "green_cover", "latent_heat")},
        "measured": S["measured"],
        "station": S["station"],
        "sensor_height": S["carrying"]["sensor_height"],
    }


def propagate(S: Mapping, draws: int) -> dict:
    """Of step 8. draws: of the random numbers."""
    return {
        "overrides": S["overrides"]["surfaces"],
        "weather": S["weather"],
        "carrying": S["carrying"],
        "seed": S["seed"],
        "draws": draws,
        "methods": {key: S["methods"][key] for key in ("set_scale", "one_sided")},
    }


def diagnose(S: Mapping) -> dict:
    """Of the checks after the numbers."""
    return {
        "sets": clocks(S),
        **S["notes"],
        "notes_file": S["notes_file"],
        "surfaces": S["surfaces"],
        "overrides": S["overrides"]["surfaces"],
        "weather": S["weather"],
        "carrying": S["carrying"],
        "stamp": S["station"]["stamp"],
    }


def figures_of_samples(S: Mapping) -> dict:
    """Of the figures of what was recorded."""
    return {
        "sets": clocks(S),
        "overrides": S["overrides"]["surfaces"],
        "site": place_of(S),
        "carrying": S["carrying"],
        "zone": S["notes"]["timezone"],
        **({"positions": S["positions"]} if S["outlines_file"] and any(S["track_files"].values()) else {}),
    }


def figures(S: Mapping) -> dict:
    """Of the report's figures."""
    return {"overrides": S["overrides"]["surfaces"]}


def worked(S: Mapping) -> dict:
    """Of the numbers that the report follows all the way."""
    sets = {
        name: {"channels": entry["layout"]["channels"], "longwave": entry["longwave"]}
        for name, entry in S["sets"].items()
    }
    return {"overrides": S["overrides"]["surfaces"], "sets": sets}


def report(S: Mapping, draws: int) -> dict:
    """Of the report. draws: of the random numbers."""
    return {
        "title": S["title"],
        "site": S["site"],
        "zone": S["notes"]["timezone"],
        "weather": S["weather"],
        "draws": draws,
        **{key: S["methods"][key] for key in ("certificate", "ground_heat", "set_scale", "one_sided")},
        "overrides": S["overrides"]["surfaces"],
        "seed": S["seed"],
        "sets": {
            name: {
                "logger_id": entry["logger_id"],
                "raw": entry["raw"],
                "interval": entry["layout"]["interval"],
            }
            for name, entry in S["sets"].items()
        },
    }


def asked(S: Mapping, version: str) -> dict:
    """Settings of the files beside the tables: GeoJSON and NetCDF. version: of Headland."""
    return {
        "title": S["title"],
        "site": place_of(S),
        "naming": S["positions"]["field_name"],
        "version": version,
        "credit": credit.of(S),
    }
