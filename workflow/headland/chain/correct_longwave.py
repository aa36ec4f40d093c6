"""Step 3: give back to the longwave terms what the heads themselves emit.

A longwave head reports the balance between what arrives and what it sends out, N = L - sigma T_body^4. When
both heads share one thermometer the correction cancels in net radiation, so net can't reveal that it was
missed or made twice.
"""

from __future__ import annotations

import pandas as pd

from headland.base.frames import Made, Pieces, Table
from headland.files import step
from headland.physics import longwave
from headland.physics.constants import ZERO_CELSIUS

READS = {"calibrated": step.stored("samples_calibrated")}
WRITES = {"corrected": "samples_corrected"}


def corrected(samples: pd.DataFrame) -> pd.DataFrame:
    """The four components of every sample, W m-2, and the body temperature, degC (the mean where each head
    has its own thermometer).

    samples: `time_utc`, `sw_in`, `sw_out`, `lw_in_net`, `lw_out_net`, `body_temperature_lw_in`,
    `body_temperature_lw_out`, as step 2 leaves them.
    """
    result = samples[["time_utc", "sw_in", "sw_out"]].copy()
    bodies = [samples[f"body_temperature_{channel}"].to_numpy(float) for channel in ("lw_in", "lw_out")]
    for channel, body in zip(("lw_in", "lw_out"), bodies, strict=True):
        result[channel] = longwave.irradiance(samples[f"{channel}_net"].to_numpy(float), body + ZERO_CELSIUS)
    result["body_temperature"] = (bodies[0] + bodies[1]) / 2.0
    return result


def run(calibrated: Table) -> Made:
    """The four components of a set. calibrated: as step 2 leaves it. Makes `corrected`."""
    return Made({"corrected": Pieces(map(corrected, calibrated.pieces()))}, [], [])
