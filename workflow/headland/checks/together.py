"""Everything that shows once all numbers are known: sets, station, carrying and surfaces checked against
each other."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from headland.base.findings import Finding
from headland.base.untold import Tell, unheard
from headland.checks.against_station import Station, against_station, station_disagrees
from headland.checks.campaign import Campaign
from headland.checks.exchanged_side_by_side import factors_exchanged
from headland.checks.passes import labels_doubted
from headland.checks.sets import sets_disagree, sets_off
from headland.checks.shade import own_shade
from headland.checks.surfaces import Means, surface_mislabelled
from headland.checks.tilt import head_tilted
from headland.checks.wet_windows import wet_windows
from headland.uncertainty.inputs import shade_of


def checked_together(
    campaign: Campaign,
    means: Means,
    station: Station,
    surfaces: Mapping[str, Mapping],
    tell: Tell = unheard,
) -> tuple[list[Finding], pd.DataFrame]:
    """Findings across sources, and each set against the station (`against_station`).

    Parameters
    ----------
    campaign : with step 6's segments as `inputs.prepare` gives them.
    means : of step 8.
    surfaces : by class.
    tell : called with each check that could not be made.
    """
    compared = against_station(campaign, station)
    findings = sets_disagree(campaign, tell)
    findings += factors_exchanged(campaign.segments, campaign.certificates, tell)
    findings += wet_windows(campaign, station, tell)
    findings += station_disagrees(compared, station, campaign.samples, tell)
    off = sets_off(findings)
    if campaign.carrying["walking_speed"] > 0:
        prepared = campaign.segments
        findings += own_shade(prepared, shade_of(prepared, campaign.carrying), tell)
        findings += head_tilted(prepared, campaign.samples, campaign.excluding, tell)
        findings += labels_doubted(prepared, means.notes, tell, off=off)
    return findings + surface_mislabelled(means, surfaces, tell, off=off), compared
