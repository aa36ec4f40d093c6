"""What heads have in common: units of a signal, response time."""

MILLIVOLTS = {"mV": 1.0, "uV": 1e-3}
"""mV in one unit of a raw signal."""

RESPONSE_TIME = 20.0
"""s: 95 % response time where the register gives none (ISO 9060:2018 class B, from memory)."""
