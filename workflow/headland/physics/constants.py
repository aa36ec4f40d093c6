"""Physical constants, each with its source. Choices that are not physics are in the tables of `config/`."""

from scipy.constants import sigma, zero_Celsius

SIGMA = sigma
"""Stefan-Boltzmann constant, W m-2 K-4: 5.670374419e-8 (CODATA 2018, exact in the SI since 2019)."""

ZERO_CELSIUS = zero_Celsius
"""0 degC in K: 273.15 (definition)."""

SOLAR_CONSTANT = 1361.0
"""Total solar irradiance at the mean Earth-Sun distance, W m-2 (Kopp & Lean 2011: 1360.8 +/- 0.5, from
memory).
"""

RADIATION = ("sw_in", "sw_out", "lw_in", "lw_out")
"""The four channels, and the four terms of net radiation."""
