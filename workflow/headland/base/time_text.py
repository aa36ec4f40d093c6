"""Times as text in tables: ISO 8601 in UTC."""

from __future__ import annotations

import numpy as np
import pandas as pd


def time_text(moments: pd.Series | pd.DatetimeIndex, decimals: int | None = None) -> list[str]:
    """Times as ISO 8601 in UTC that end in Z; a missing time is empty.

    decimals: of a second. None: as many as these times need.
    """
    index = pd.DatetimeIndex(moments)
    if index.tz is not None:
        index = index.tz_convert("UTC").tz_localize(None)
    decimals = time_decimals(index) if decimals is None else decimals
    texts = np.datetime_as_string(index.to_numpy(), unit="us").tolist()
    length = 19 if decimals == 0 else 20 + decimals
    known = np.asarray(index.notna())
    return [text[:length] + "Z" if good else "" for text, good in zip(texts, known.tolist(), strict=True)]


def time_decimals(moments: pd.Series | pd.DatetimeIndex) -> int:
    """Decimals of a second that show all of these times in full, to a microsecond."""
    index = pd.DatetimeIndex(moments)
    micros = index.as_unit("us").asi8[np.asarray(index.notna())]
    return next((d for d in (0, 1, 2, 3, 6) if not np.any(micros % 10 ** (6 - d))), 6)


def times(texts: pd.Series) -> pd.Series:
    """The inverse of `time_text`."""
    bare = texts.fillna("").str.rstrip("Z").replace("", None)
    return pd.to_datetime(bare, format="ISO8601", utc=True).astype("datetime64[us, UTC]")
