"""Wrong answers about the energy balance, each by hand."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.course import slips_of_balance
from headland.course.rerun import Outcome
from headland.files.config_tables import config_rows
from headland.physics import heat

SURFACES = pd.DataFrame(
    {
        "net_radiation": [500.0],
        "ground_heat": [60.0],
        "sensible_heat": [140.0],
        "latent_heat": [300.0],
        "evaporation": [0.44],
        "bowen_ratio": [140.0 / 300.0],
    },
    index=pd.Index(["short_grass"], name="surface"),
)
VISIT = {
    "fraction": 0.12,
    "offset": 0.0,
    "coefficient": 1.08,
    "split": "priestley_taylor",
    "day": True,
    "air_temperature": 20.0,
    "pressure": 1000.0,
    "wind_speed": 2.0,
    "latent_offset": 0.0,
}


def slips(*splits: str) -> list[tuple]:
    survey = SimpleNamespace(visits=pd.DataFrame({"split": splits}))
    return list(slips_of_balance.slips_of_balance(survey))


def changed(code: str) -> pd.DataFrame:
    """The surfaces as the first slip of a code leaves them."""
    slip = next(slip for name, slip in slips() if name == code)
    return slip.last(None, {}, Outcome(pd.DataFrame(), SURFACES)).surfaces


def latent(forms, warm: float = 28.0, **changes) -> float:
    """Latent heat of a visit of 500 W m-2 with other forms."""
    visits = pd.DataFrame([{**VISIT, **changes}])
    segments = pd.DataFrame({"surface_temperature": [warm]})
    return float(heat.forms_of(forms(visits, segments)).terms(np.array([500.0]))["latent_heat"][0])


def test_sensible_heat_without_the_minus_of_ground_heat():
    assert changed("ground-heat-forgotten")["sensible_heat"].iloc[0] == pytest.approx(500.0 - 300.0)


def test_a_bowen_ratio_upside_down_exchanges_the_fluxes():
    row = changed("bowen-upside-down").iloc[0]
    assert (row["sensible_heat"], row["latent_heat"]) == (300.0, 140.0)
    assert row["evaporation"] == pytest.approx(0.44 * 140.0 / 300.0)


def test_evaporation_of_a_day_for_that_of_an_hour():
    assert changed("day-for-hour")["evaporation"].iloc[0] == pytest.approx(0.44 * 24.0)


def test_pressure_in_the_wrong_unit_makes_the_psychrometric_constant_ten_times_wrong():
    saturated = 0.6108 * np.exp(17.27 * 20.0 / 257.3)
    slope, available = 4098.0 * saturated / 257.3**2, 500.0 - 60.0
    own = [slip for code, slip in slips("priestley_taylor") if code == "kilopascal-for-hectopascal"]
    for slip, gamma in zip(own, (0.665, 0.00665), strict=True):
        assert latent(slip.forms) == pytest.approx(1.08 * slope / (slope + gamma) * available)
    two = {"split": "two_heights", "coefficient": 1.0 / 1.4}
    assert latent(own[0].forms, **two) == pytest.approx(available / (1.0 + 10.0 * 0.4))


def test_a_resistance_that_is_not_that_of_this_air():
    own = [slip for code, slip in slips("bulk_transfer") if code == "wrong-resistance"]
    flux = 100.0 / (0.287 * 1.01 * 293.0) * 1013.0 * 8.0
    given = {"split": "bulk_transfer", "coefficient": 1.0, "latent_offset": -90.0}
    for slip, resistance in zip(own, (104.0, 70.0), strict=True):
        assert latent(slip.forms, **given) == pytest.approx(440.0 - flux / resistance)


def test_slips_are_tried_only_where_the_balance_uses_what_they_change():
    def codes(*splits):
        return {code for code, _ in slips(*splits)}

    assert "wrong-resistance" not in codes("priestley_taylor") and "wrong-resistance" in codes(
        "bulk_transfer"
    )
    assert "kilopascal-for-hectopascal" not in codes("none", "evaporative_fraction")


def test_each_slip_has_its_words():
    table = Path(slips_of_balance.__file__).with_name("wrong_answers.csv")
    known = {row["code"] for row in config_rows(table)}
    assert {code for code, _ in slips("priestley_taylor", "bulk_transfer")} <= known
