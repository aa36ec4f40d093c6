"""The columns of the tables that users get, written here by hand from the design of the results."""

SEVEN = ["sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation"]
ESTIMATES = [
    "net_radiation_common_sky",
    "ground_heat",
    "sensible_heat",
    "latent_heat",
    "evaporation",
    "bowen_ratio",
]


def with_ends(names):
    return [f"{name}{end}" for name in names for end in ("", "_low", "_high")]


def with_by_hand(names):
    return [f"{name}{end}" for name in names for end in ("", "_low", "_high", "_by_hand")]


COLUMNS = {
    "segments": [
        "segment",
        "set",
        "field",
        "surface",
        "activity",
        "transect",
        "pass",
        "start_utc",
        "end_utc",
        "samples",
        "samples_used",
        *with_by_hand(SEVEN),
        "body_temperature",
        "solar_elevation",
        "solar_azimuth",
        "sky",
        "notes_row",
        "state",
    ],
    "surfaces": [
        "surface",
        "segments",
        "samples_used",
        *with_by_hand(SEVEN),
        *with_ends(ESTIMATES),
        "state",
    ],
    "fields": [
        "surface",
        "field",
        "segments",
        "samples_used",
        *with_by_hand(SEVEN),
        *with_ends(ESTIMATES),
        "state",
    ],
    "differences": [
        "surface_a",
        "surface_b",
        "quantity",
        "difference",
        "difference_low",
        "difference_high",
        "distinguishable",
        "why",
        "as_visited",
    ],
    "measured": [
        "surface",
        "way",
        "quantity",
        "visits",
        "net_radiation",
        "estimated",
        "estimated_low",
        "estimated_high",
        "measured",
        "measured_low",
        "measured_high",
        "gap",
        "gap_low",
        "gap_high",
        "closure",
        "used",
        "because",
    ],
    "uncertainty_budget": ["surface", "quantity", "source", "half_width_95", "share"],
    "checks": [
        "severity",
        "code",
        "step",
        "set",
        "file",
        "line",
        "start_utc",
        "end_utc",
        "channel",
        "what",
        "remedy",
        "count",
        "places",
    ],
}
