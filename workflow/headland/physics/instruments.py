"""What heads have in common: units of a signal, response time, windows in the wind."""

from __future__ import annotations

import numpy as np

MILLIVOLTS = {"mV": 1.0, "uV": 1e-3}
"""mV in one unit of a raw signal."""

MICROVOLTS = 1000.0
"""uV in 1 mV."""

RESPONSE_TIME = 20.0
"""s: 95 % response time where the register gives none (ISO 9060:2018 class B, from memory)."""

COVERAGE_FACTOR = 2.0
"""Coverage factor k of the expanded uncertainties that are kept, and of a certificate that states none."""

USUAL_WIND = 2.0
"""m s-1: wind where none is known (FAO-56, chapter 3: mean of weather stations; from memory)."""

WIND_COOLS = 4.0 / (5.6 + 5.5)
"""Per m s-1: by how much wind raises the loss of heat of a surface over that in calm air. 5.6 and 4.0 are the
plate of Juerges 1924 in W m-2 K-1 (from memory), 5.5 the radiation of a black body at 16 degC."""


def factor_from_responsivity(responsivity):
    """Factor c in W m-2 per mV from a responsivity S in uV per W m-2: c = 1000 / S (units). Arrays or
    numbers. The reverse is the same.
    """
    return MICROVOLTS / responsivity


def inverted_correction(factor):
    """What corrects a flux that was computed with a responsivity for its factor, or the reverse: 1000 / c^2
    (units). factor: c as it was taken.
    """
    return factor_from_responsivity(factor) / factor


def heating_in_wind(wind_speed):
    """What the wind leaves of the sun's heating of a window, over that in calm air: 1 / (1 + 0.36 u).

    wind_speed: u, m s-1; NaN where unknown, then `USUAL_WIND`.
    """
    wind = np.asarray(wind_speed, dtype=float)
    wind = np.where(np.isfinite(wind), np.clip(wind, 0.0, None), USUAL_WIND)
    return 1.0 / (1.0 + WIND_COOLS * wind)
