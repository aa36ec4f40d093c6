"""What the properties of a surface class may be: choices in words, ranges that make sense, and what goes
with what.
"""

from headland.physics.constants import RADIATION

SPLIT_PROPERTY = {
    "priestley_taylor": "priestley_taylor_coefficient",
    "evaporative_fraction": "evaporative_fraction",
}
"""The property that holds the coefficient of a way of splitting the available energy."""

CHOICES = {
    "latent_method": (*SPLIT_PROPERTY, "none", "not_estimated"),
    "soil_moisture": ("wet", "medium", "dry"),
}
"""What a property in words may be."""

BOUNDS = {
    "albedo": (0.0, 1.0),
    "emissivity": (0.5, 1.0),
    "ground_heat_fraction_day": (0.0, 1.5),
    "ground_heat_fraction_night": (0.0, 5.0),
    "evaporative_fraction": (0.0, 1.5),
    "priestley_taylor_coefficient": (0.0, 2.0),
    "sky_response": (0.0, 1.0),
    "air_response": (0.0, 1.5),
    "sun_height_strength": (0.0, 20.0),
    "course": (0.0, 10.0),
    "leaf_area_index": (0.0, 20.0),
    "cover_height": (0.0, 50.0),
}
"""Beyond these a property in numbers means nothing (definitions; the upper ends of fractions and
coefficients common practice, no source).
"""

TOGETHER = ("ground_heat_fraction_day", "ground_heat_fraction_night")
"""Both or neither: a class without them, as snow, has no estimate of the ground heat flux."""

CLASS_DEFAULTS = {"air_response": 0.6, "sun_height_strength": 0.2, "course": 1.0}
"""Values for a campaign's own class that does not state them (common practice, no source)."""

STATION_TERMS = ("station_sw", "station_lw", "station_sky_sw", "station_sky_lw")
"""Rows of uncertainty.csv that concern a fixed station alone."""

TERMS_OF_COEFFICIENTS = {
    "temperature_coefficient": ("temperature_stated_sw", "temperature_stated_lw"),
    "window_coefficient": ("window_stated",),
}
"""Rows of uncertainty.csv that concern a coefficient of a certificate alone, by its column in the register.
"""

STATED_TERMS = tuple(term for terms in TERMS_OF_COEFFICIENTS.values() for term in terms)

TERMS_OF_WAYS = {
    "plate": ("plate", "soil_storage", "soil_warming", "one_spot"),
    "station_ground": ("station_soil",),
    "two_heights": ("levels_temperature", "levels_humidity"),
    "flux_station": ("station_fluxes", "station_closure"),
    "bulk_transfer": ("bulk_transfer", "bulk_temperature"),
}
"""Rows of uncertainty.csv that concern measured heat fluxes alone, by the way of measuring."""

MEASURED_TERMS = tuple(term for terms in TERMS_OF_WAYS.values() for term in terms)

TERMS = (
    "certificate_band",
    "certificate_sensor",
    *(f"default_{kind}_{band}" for kind in ("band", "sensor") for band in ("sw", "lw")),
    "drift_sw",
    "drift_lw",
    "temperature_sw",
    "temperature_lw",
    "linearity",
    "spectral",
    "spectral_ground",
    "spectral_reflected",
    "spectral_lw",
    "tilt",
    "temperature_change",
    "directional_A",
    "directional_B",
    "directional_C",
    "levelling",
    "levelling_pass",
    "zero",
    "zero_lw",
    "logger_zero",
    "logger_gain",
    "cooling",
    "body_temperature",
    "cooling_visit",
    "body_gradient",
    "body_gradient_visit",
    "window",
    "window_visit",
    "own_shade",
    "stick_side",
    "neighbour_albedo",
    "neighbour_warmth",
    "neighbour_longwave",
    "carrier_reflection",
    "carrier_lit",
    "carrier_lit_visit",
    "carrier_warmth",
    "carrier_warmth_visit",
    "diffuse_fraction",
    "heading",
    "emissivity",
    "sky_response",
    "ground_heat_fraction",
    "latent_heat_fraction",
    "ground_heat_hour",
    "ground_heat_storage",
    "ground_heat_choudhury",
    "ground_heat_santanello",
    "ground_heat_hysteresis",
    "latent_heat_none",
    "latent_heat_de_bruin_holtslag",
    "response",
    "sky_memory",
    "air_response",
    "sun_height_strength",
    "slope",
    "slope_noted",
    "rows",
    "course",
    "side_by_side",
    "noise",
    "left_out",
    "left_out_ground",
    "ground",
    *STATED_TERMS,
    *STATION_TERMS,
    *MEASURED_TERMS,
)
"""Rows that uncertainty.csv must have; switched off by `enabled`, not by taking them out."""

GRADES = ("A", "B", "C")
"""Classes of pyranometers (ISO 9060:2018)."""
UNKNOWN_GRADE = "C"
"""The class that is taken where none is known: the widest limits."""
LIMITS = tuple(f"class_{grade}" for grade in GRADES)
"""Columns of uncertainty.csv with the limits of a term for each class of head; low and high are then in parts
of the limit."""

ACTS_ON = (
    *(f"{kind}_{channel}" for kind in ("factor", "zero", "response") for channel in RADIATION),
    *(f"{kind}_{channel}" for kind in ("body", "window") for channel in ("lw_in", "lw_out")),
    "directional",
    "level_along",
    "level_across",
    "cooling_sw_in",
    "cooling_sw_out",
    "own_shade",
    "stick_side",
    "neighbour_albedo",
    "neighbour_longwave",
    "carrier_dark",
    "carrier_warmth",
    "diffuse_fraction",
    "emissivity",
)
"""Errors of the model that a term added to uncertainty.csv may act on (its column `acts_on`)."""
SHARED_BY = ("campaign", "set", "set and day", "segment", "surface")
"""What may share a term added to uncertainty.csv."""

COURSE_QUANTITIES = ("surface_temperature", "albedo", "net_radiation")
"""Rows that course.csv must have."""
COURSE_SIZES = ("common_slope", "own_slope", "common_walk", "own_walk", "visit", "segment", "day")
"""Columns of course.csv that hold numbers."""

KINDS = ("impossible", "rare")
FLAGS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("missing", "edge", "overlap", "upward-shaded"), ()),
    **{f"sw_{way}-{kind}": ("low", "scale", "power", "offset") for way in ("in", "out") for kind in KINDS},
    **{f"lw_{way}-{kind}": ("low", "offset") for way in ("in", "out") for kind in KINDS},
    "sw-up-over-down": ("scale", "offset"),
    "lw_in-against-air": ("low", "scale", "offset"),
    **dict.fromkeys(
        ("lw_out-against-air", "lw-in-against-out", "dome-wet", "battery-low"), ("low", "offset")
    ),
    **dict.fromkeys(("sun-low", "low-head", "frozen"), ("low",)),
    **dict.fromkeys(("cover", "cover-sw_in", "cover-sw_out"), ("low", "scale", "offset")),
    **dict.fromkeys(("thermal-shock", "swing-strong"), ("offset",)),
}
"""Rows that quality.csv must have, each with its columns that must hold a number."""
