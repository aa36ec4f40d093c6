"""What each step is given of a campaign's settings, and nothing else: another key's change does not rerun it.

`S` is what `files.settings.load` returns. The names are those of the steps.
"""

from __future__ import annotations

from collections.abc import Mapping


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
    """Of step 5."""
    return {
        "sets": clocks(S),
        **S["notes"],
        "surfaces": S["surfaces"],
        "site": place_of(S),
        "positions": S["positions"],
        "tracks": S["track_files"],
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
        "methods": {key: S["methods"][key] for key in ("ground_heat", "green_cover")},
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
        "overrides": S["overrides"]["surfaces"],
        "weather": S["weather"],
        "carrying": S["carrying"],
        "stamp": S["station"]["stamp"],
    }
