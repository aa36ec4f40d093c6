"""Mistakes of one set's instruments and logger, found in its own samples and its register.

Checks of single samples give flags (`config/quality.csv`); checks of a whole channel give findings.
"""

from __future__ import annotations

from headland.checks import (
    dead_channels,
    exchanged_factors,
    factors,
    field_conditions,
    leads,
    longwave_states,
)
from headland.checks.one_set import Diagnosis, OneSet, SetRecord


def diagnosed(record: SetRecord) -> Diagnosis:
    """Everything that the samples of one set show about its instruments.

    The order matters: each check relies on what the checks before it have found and corrected.
    """
    one = OneSet(record)
    dead_channels.find_frozen(one)
    one.read_sensed()
    dead_channels.find_empty(one)
    dead_channels.find_covers(one)
    longwave_states.find_longwave_states(one)
    field_conditions.find_thermal_shock(one)
    leads.find_signs_and_exchanges(one)
    field_conditions.find_wet_dome(one)
    exchanged_factors.find_exchanged_factors(one)
    factors.find_inverted_factors(one)
    field_conditions.find_swing(one)
    field_conditions.find_low_battery(one)
    return one.result
