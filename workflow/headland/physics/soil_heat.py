"""Ground heat flux at the surface from a plate in the soil and the heat stored above it."""

from __future__ import annotations

MINERAL, ORGANIC, WATER = 1.92, 2.51, 4.18
"""Heat capacities of the parts of a soil, MJ m-3 K-1 (de Vries 1963, from memory)."""


def heat_capacity(mineral, organic, water):
    """Heat capacity of a soil, MJ m-3 K-1, from the volume fractions of its parts: 1.92 f_m + 2.51 f_o + 4.18
    theta.

    Source: de Vries 1963.
    """
    return MINERAL * mineral + ORGANIC * organic + WATER * water


def stored_heat(capacity, depth, warming):
    """Heat that the soil above a plate takes up, W m-2: C z dT/dt (definition).

    capacity: MJ m-3 K-1. depth: of the plate, m. warming: of the mean temperature above it, K h-1.
    """
    return capacity * 1e6 * depth * warming / 3600.0


def ground_heat_at_surface(plate, capacity, depth, warming):
    """Ground heat flux at the surface, W m-2, positive into the ground: the plate's and the storage
    (definition).
    """
    return plate + stored_heat(capacity, depth, warming)
