"""What the properties of a surface class may be: choices in words, ranges that make sense, and what goes with what."""

SPLIT_PROPERTY = {"priestley_taylor": "priestley_taylor_coefficient", "evaporative_fraction": "evaporative_fraction"}
"""The property that holds the coefficient of a way of splitting the available energy."""

CHOICES = {"latent_method": (*SPLIT_PROPERTY, "none", "not_estimated"), "soil_moisture": ("wet", "medium", "dry")}
"""What a property in words may be."""

BOUNDS = {
    "albedo": (0.0, 1.0), "emissivity": (0.5, 1.0), "ground_heat_fraction_day": (0.0, 1.5), "ground_heat_fraction_night": (0.0, 5.0),
    "evaporative_fraction": (0.0, 1.5), "priestley_taylor_coefficient": (0.0, 2.0), "sky_response": (0.0, 1.0), "leaf_area_index": (0.0, 20.0),
}
"""Beyond these a property in numbers means nothing (definitions; the upper ends of fractions and coefficients common practice, no source)."""

TOGETHER = ("ground_heat_fraction_day", "ground_heat_fraction_night")
"""Both or neither: a class without them, as snow, has no estimate of the ground heat flux."""
