"""Covers over the heads: those that the notes say were on, and those that were left on in a segment."""

from __future__ import annotations

import pandas as pd

from headland.base.findings import Finding
from headland.base.flags import reworded
from headland.base.time_text import time_text

WHOLLY_COVERED = 0.9
"""Share of a segment's samples under covers from which nothing of it is left (common practice, no source)."""

COVERED = ("dark", "channel_check")
"""Activities in which covers are on because they are meant to be."""


def without_meant_covers(segments: pd.DataFrame, samples: pd.DataFrame) -> pd.Series:
    """The samples' flags, without those of covers where the notes say that covers were on. samples:
    `segment`, `flags`.
    """
    meant = samples["segment"].isin(segments.loc[segments["activity"].isin(COVERED), "segment"]) & samples[
        "flags"
    ].str.contains("cover")
    return reworded(
        samples["flags"],
        meant,
        lambda text, meant: (
            " ".join(word for word in text.split() if word.split("-")[0] != "cover") if meant else text
        ),
    )


def covers(segments: pd.DataFrame, samples: pd.DataFrame) -> list[Finding]:
    """Covers that were left on in a segment: a warning, and an error where hardly a sample is free of it.
    samples: `time_utc`, `segment`, `flags`.
    """
    findings = []
    hit = samples[samples["flags"].str.contains("cover")]
    for row in segments[segments["segment"].isin(hit["segment"])].to_dict("records"):
        own = hit[hit["segment"] == row["segment"]]
        stored = int((samples["segment"] == row["segment"]).sum())
        kinds = sorted(
            {
                word.removeprefix("cover").lstrip("-")
                for text in own["flags"].unique()
                for word in text.split()
                if word.split("-")[0] == "cover"
            }
        )
        start, end = time_text(own["time_utc"].iloc[[0, -1]])
        findings.append(
            Finding(
                "cover-left-on",
                "segment" if len(own) >= WHOLLY_COVERED * stored else "",
                row["set"],
                "",
                row["notes_row"],
                start,
                end,
                " ".join(kind for kind in kinds if kind),
                {
                    "segment": row["segment"],
                    "field": row["field"],
                    "count": len(own),
                    "samples": stored,
                    "covers": "all covers were" if "" in kinds else f"the cover of {' and '.join(kinds)} was",
                },
            )
        )
    return findings
