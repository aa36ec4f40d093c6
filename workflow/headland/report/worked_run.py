"""One number, all the way: which sample, segment and surface of a set are followed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from headland.base.flags import excluding_flags, has_any
from headland.base.frames import Made
from headland.chain import summarise
from headland.files import options, step
from headland.report import worked, worked_segment
from headland.report.figures import label


class Common(NamedTuple):
    """What all sets share: surface classes, limits of the tests, register, segments of step 6, visits of
    step 7.
    """

    surfaces: Mapping[str, Mapping]
    limits: Mapping[str, Mapping]
    register: pd.DataFrame
    means: pd.DataFrame
    balances: pd.DataFrame


Part = tuple[str, str, str, list[dict]]
"""Set, part, item and its rows."""
COMMON = ("classes", "limits", "register", "means", "balances")
READS = {
    "classes": options.CLASSES,
    "limits": options.LIMITS,
    "register": options.silent(options.REGISTER),
    "means": step.table("segment_means"),
    "balances": step.table("visit_balance"),
    "raw": step.of_sets("samples_raw"),
    "certificates": step.of_sets("certificates"),
    "segmented": step.of_sets("samples_segmented"),
}
WRITES = {"worked": "worked"}


def run(common: Common, sets: Mapping[str, Sequence[pd.DataFrame]], settings: Mapping) -> Made:
    """One number of every set, all the way. Makes `worked`.

    sets: by set, its frames as for `of_set`. settings: `sets`.
    """
    entries = settings["sets"]
    parts = [part for name, frames in sets.items() for part in of_set(common, name, entries[name], frames)]
    return Made({"worked": worked.table(parts)}, [], [])


def of_set(common: Common, name: str, entry: Mapping, frames: Sequence[pd.DataFrame]) -> list[Part]:
    """The parts of one set, none where no segment of it counts.

    Parameters
    ----------
    name, entry : the set's name and settings (channels, longwave)
    frames : its samples of step 1, its certificates, and its samples of step 5
    """
    chosen = worked.chosen_segment(common.means, common.balances, name)
    if not chosen:
        return []
    raw, certificates, samples = frames
    excluding = excluding_flags(common.limits)
    excluded = has_any(samples["flags"], excluding)
    own = (samples["segment"] == chosen).to_numpy()
    at = worked.chosen_sample(own, excluded)
    stored = raw.iloc[at].to_dict()
    moment = f"{samples['middle_utc'].iloc[at]:%Y-%m-%dT%H:%M:%SZ}"
    mean = common.means[common.means["segment"] == chosen].iloc[0].to_dict()
    surface = mean["surface"]
    visits = common.balances[common.balances["segment"] == chosen].to_dict("records")
    of_sample = worked.of_sample(stored, entry["channels"], certificates, common.register, entry["longwave"])
    of_segment = worked_segment.of_segment(
        samples[own],
        excluded[own],
        mean,
        common.surfaces[surface],
        group=visits[0] if visits else None,
        sky=summarise.reference_sky(common.means),
    )
    title = label(common.surfaces, surface)
    of_surface = worked_segment.of_surface(title, common.means[common.means["surface"] == surface])
    return [
        (name, "sample", moment, of_sample),
        (name, "segment", chosen, of_segment),
        (name, "surface", title, of_surface),
    ]
