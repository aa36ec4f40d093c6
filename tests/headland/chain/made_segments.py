"""Samples of a segment and classes of surfaces for tests."""

import numpy as np
import pandas as pd

from headland.chain.segment_means import segment_means

CLASSES = {
    "stubble": {"emissivity": {"value": 0.96}, "sky_response": {"value": 0.12}},
    "paving": {"emissivity": {"value": 0.95}, "sky_response": {"value": 0.15}},
}


def samples(count=60, **changes):
    base = {
        "sw_in": 800.0,
        "sw_out": 160.0,
        "lw_in": 330.0,
        "lw_out": 430.0,
        "lw_in_net": -100.0,
        "lw_out_net": 0.0,
        "body_temperature": 22.0,
        "solar_elevation": 55.0,
        "solar_azimuth": 180.0,
        "sw_clear": 820.0,
        "incoming_body_temperature": 22.0,
        "sw_in_memory": changes.get("sw_in", 800.0),
        "seconds": np.arange(count),
    }
    return pd.DataFrame(
        {
            name: np.broadcast_to(np.asarray(changes.get(name, value), float), count).copy()
            for name, value in base.items()
        }
    ).assign(
        flags="",
        segment="a",
        middle_utc=pd.Timestamp("2026-05-21T09:00:00Z") + pd.to_timedelta(np.arange(count), unit="s"),
    )


def means(frame, used=None, *, interval=1.0, emissivity=1.0, height=1.5, speed=0.8):
    return segment_means(
        frame,
        np.ones(len(frame), bool) if used is None else used,
        interval=interval,
        emissivity=emissivity,
        height=height,
        speed=speed,
    )
