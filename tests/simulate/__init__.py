"""Simulated campaigns whose truth is known.

`simulate(spec)` turns a `Spec` into a `Campaign`: what the loggers and the notebook would hold, and what was
really there. `Campaign.write(folder)` writes it as a campaign folder with `truth/` beside. The package shares
no code and no formula with the workflow that it is used to test: it has its own sun, sky, ground and
instruments. See README.md here.
"""

from .campaign import Campaign, simulate
from .spec import (
    Carrying,
    Certificate,
    Errors,
    Field,
    Sensor,
    Set,
    Site,
    Sky,
    Spec,
    Visit,
    field,
    make_set,
    walks,
)

__all__ = [
    "Campaign",
    "simulate",
    "Carrying",
    "Certificate",
    "Errors",
    "Field",
    "Sensor",
    "Site",
    "Sky",
    "Set",
    "Spec",
    "Visit",
    "field",
    "make_set",
    "walks",
]
