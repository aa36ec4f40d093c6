"""Wrong answers about the energy balance that have names."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from headland.course.rerun import Outcome, Slip, Survey
from headland.physics import bulk_transfer, heat
from headland.physics import reference_evaporation as station

HOURS_OF_A_DAY = 24.0
TEN = 10.0
"""hPa in a kPa."""

SURFACE_RESISTANCE = 70.0
"""s m-1: the resistance of the reference grass to vapour, not of the air to heat (FAO-56, box 5)."""

Change = Callable[[Survey, Mapping[str, pd.DataFrame], Outcome], Outcome]


def slips_of_balance(survey: Survey) -> Iterator[tuple[str, Slip]]:
    """The slips that a survey can hold, each with its code of wrong_answers.csv."""
    yield "ground-heat-forgotten", Slip(last=_of_surfaces(_net_minus_latent))
    yield "bowen-upside-down", Slip(last=_of_surfaces(_exchanged))
    yield "day-for-hour", Slip(last=_of_surfaces(_of_a_day))
    splits = set(survey.visits["split"])
    if splits & {*heat.GREEN, "two_heights"}:
        yield "kilopascal-for-hectopascal", Slip(forms=_psychrometric(TEN))
        yield "kilopascal-for-hectopascal", Slip(forms=_psychrometric(1.0 / TEN))
    if "bulk_transfer" in splits:
        yield "wrong-resistance", Slip(forms=_by_resistance(station.aerodynamic_resistance))
        yield "wrong-resistance", Slip(forms=_by_resistance(lambda wind: SURFACE_RESISTANCE + 0.0 * wind))


def _of_surfaces(change: Callable[[pd.DataFrame], dict]) -> Change:
    """A change of the surfaces' balance, by its columns."""

    def last(survey: Survey, samples: Mapping[str, pd.DataFrame], right: Outcome) -> Outcome:
        return replace(right, surfaces=right.surfaces.assign(**change(right.surfaces)))

    return last


def _net_minus_latent(table: pd.DataFrame) -> dict:
    """Sensible heat as Q* - LE: the minus of ground heat is forgotten."""
    sensible = table["net_radiation"] - table["latent_heat"]
    ratio = heat.bowen_ratio(sensible.to_numpy(float), table["latent_heat"].to_numpy(float))
    return {"sensible_heat": sensible, "bowen_ratio": ratio}


def _exchanged(table: pd.DataFrame) -> dict:
    """Fluxes by a Bowen ratio of LE over H: they change places, and evaporation goes with them."""
    latent = table["latent_heat"].where(table["latent_heat"] != 0.0)
    return {
        "sensible_heat": table["latent_heat"],
        "latent_heat": table["sensible_heat"],
        "evaporation": table["evaporation"] * table["sensible_heat"] / latent,
    }


def _of_a_day(table: pd.DataFrame) -> dict:
    """Evaporation of a whole day at the rate of the visits: mm a day in place of mm an hour."""
    return {"evaporation": HOURS_OF_A_DAY * table["evaporation"]}


def _psychrometric(factor: float) -> Callable[[pd.DataFrame, pd.DataFrame], pd.DataFrame]:
    """The psychrometric constant, and a Bowen ratio from two heights with it, too large by a factor."""

    def forms(visits: pd.DataFrame, segments: pd.DataFrame) -> pd.DataFrame:
        share = visits["coefficient"]
        ratio = factor * (1.0 / share.where(share != 0.0) - 1.0)
        by_heights = visits["split"] == "two_heights"
        return visits.assign(
            pressure=visits["pressure"] * np.where(visits["split"].isin(heat.GREEN), factor, 1.0),
            coefficient=share.where(~by_heights, 1.0 / (1.0 + ratio)),
        )

    return forms


def _by_resistance(of_wind: Callable) -> Callable[[pd.DataFrame, pd.DataFrame], pd.DataFrame]:
    """Bulk transfer with a resistance that is not that of the air over this surface."""

    def forms(visits: pd.DataFrame, segments: pd.DataFrame) -> pd.DataFrame:
        air = visits["air_temperature"].to_numpy(float)
        density = bulk_transfer.air_density(air, visits["pressure"].to_numpy(float) / 10.0)
        warmer = segments["surface_temperature"].to_numpy(float) - air
        resistance = of_wind(visits["wind_speed"].to_numpy(float))
        flux = density * bulk_transfer.HEAT_CAPACITY * warmer / resistance
        own = (visits["split"] == "bulk_transfer").to_numpy(bool)
        return visits.assign(latent_offset=np.where(own, -flux, visits.get("latent_offset", 0.0)))

    return forms
