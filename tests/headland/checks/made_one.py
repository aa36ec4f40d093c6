"""One set with what was sensed, ready for a check of its own, and what the check put down."""

import dataclasses

import numpy as np

from headland.checks.one_set import OneSet
from study.made import record

SECOND = np.arange(900.0)
"""s from the start of a usual made record."""


def one(changes=None, **series):
    """A set as the checks have it. changes: of its record. series: as for `study.made.record`."""
    made = OneSet(dataclasses.replace(record(**series), **(changes or {})))
    made.read_sensed()
    made.result.flags |= {name: np.zeros(len(made.time), bool) for name in ("thermal-shock", "dome-wet")}
    return made


def said(made):
    return [(found.code, found.variant, found.channel) for found in made.result.findings]


def untold(made):
    return {(told.code, told.reason, told.channel) for told in made.result.untold}


def facts(made):
    return made.result.findings[-1].facts
