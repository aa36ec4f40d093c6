"""A sound campaign.yaml, and ways to load it with something wrong."""

from pathlib import Path

import pytest

from headland.base.errors import UserErrors
from headland.files import settings

PROJECT = Path(__file__).parents[3]
CONFIG = PROJECT / "config"

GOOD = """\
title: Spring practical
site:
  name: Mill meadow
  latitude: 46.9
  longitude: 7.1
  elevation: 430
  timezone: Europe/Zurich
sets:
  heron:
    logger_id: H-1
    utc_offset: "+01:00"
    files: logger/heron_*.csv
    layout: comma-clock
    longwave: net
carrying:
  walking_speed: 0.8
"""

INLINE = """\
    layout:
      interval: 1
      stamp: end
      time: {column: 1, format: "%Y-%m-%d %H:%M:%S"}
      channels:
        sw_in: {column: 2, unit: W m-2}
        sw_out: {column: 3, unit: W m-2}
        lw_in: {column: 4, unit: W m-2}
        lw_out: {column: 5, unit: W m-2}
        body_temperature: {column: 6, unit: degC}
"""
WITH_INLINE = GOOD.replace("    layout: comma-clock\n", INLINE)


def load(folder, text):
    (folder / "campaign.yaml").write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return settings.load(folder, CONFIG)


def faults(folder, text):
    with pytest.raises(UserErrors) as caught:
        load(folder, text)
    lines = str(caught.value).split("\n")
    assert len(lines) == len(caught.value.errors)  # one plain line each
    for line in lines:
        assert "Traceback" not in line and "; expected " in line and line.isprintable() and len(line) < 900
        assert not line.endswith("; expected ") and "jsonschema" not in line
    return caught.value.errors


def fault(folder, old, new, text=GOOD):
    """The single fault after one change: its line, what was found and what is expected."""
    assert old in text
    (error,) = faults(folder, text.replace(old, new, 1))
    return error
