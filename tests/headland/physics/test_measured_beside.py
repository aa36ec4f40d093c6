"""Fluxes from measurements in their limits: plate and storage, two heights, wind, closure."""

import numpy as np
import pytest

from headland.physics import bulk_transfer, evaporation, heat, measured_fluxes, soil_heat

MAST = bulk_transfer.Mast(2.0, 2.0, 0.12)


def test_a_plate_with_nothing_above_it_or_no_warming_is_the_surface():
    assert soil_heat.ground_heat_at_surface(40.0, 1.9, 0.0, 2.0) == 40.0
    assert soil_heat.ground_heat_at_surface(40.0, 1.9, 0.08, 0.0) == 40.0
    warming, cooling = (soil_heat.ground_heat_at_surface(40.0, 1.9, 0.08, rate) for rate in (1.0, -1.0))
    assert warming - 40.0 == pytest.approx(40.0 - cooling) and warming > 40.0


def test_a_bowen_ratio_is_rejected_near_minus_one_and_against_its_own_differences():
    sizes = {"pressure": 101.3, "resolution_temperature": 0.1, "resolution_vapour": 0.01}
    gamma = float(evaporation.psychrometric_constant(101.3))
    just = 0.1 / gamma
    assert measured_fluxes.is_rejected(-just, 0.1, 400.0, **sizes)  # beta -1
    resolutions = {name: size for name, size in sizes.items() if name != "pressure"}
    half = float(measured_fluxes.half_range_near_minus_one(0.1, 101.3, **resolutions))
    for off, rejected in ((0.99, True), (1.01, False)):
        warmer = (-1.0 + off * half) * just
        assert bool(measured_fluxes.is_rejected(warmer, 0.1, 400.0, **sizes)) == rejected
    assert not measured_fluxes.is_rejected(0.5, 0.1, 400.0, **sizes)
    assert measured_fluxes.is_rejected(0.5, 0.1, -50.0, **sizes)  # moister below, and yet no energy
    assert measured_fluxes.is_rejected(0.5, 0.0, 400.0, **sizes)  # no ratio at all


def test_a_station_closed_by_its_bowen_ratio_keeps_it_and_closes():
    sensible, latent = measured_fluxes.closed_by_bowen(500.0, 120.0, 240.0)
    assert sensible + latent == pytest.approx(500.0) and sensible / latent == pytest.approx(0.5)
    assert measured_fluxes.split_by_bowen(500.0, 0.5) == pytest.approx((sensible, latent))
    assert measured_fluxes.closure(500.0, 120.0, 240.0) == pytest.approx(0.72)
    assert float(heat.bowen_ratio(sensible, latent)) == pytest.approx(0.5)


def test_bulk_transfer_is_neutral_where_the_difference_vanishes():
    """dH/dT_s at no difference is rho c_p / r_a with FAO-56's resistance."""
    small = bulk_transfer.sensible_heat(20.0001, 20.0, 3.0, MAST, 101.3)
    neutral = bulk_transfer.air_density(20.0, 101.3) * bulk_transfer.HEAT_CAPACITY * 1e-4 * 3.0 / 207.6
    assert float(small) == pytest.approx(neutral, rel=2e-3)
    assert float(bulk_transfer.sensible_heat(20.0, 20.0, 3.0, MAST, 101.3)) == 0.0


def test_a_warm_surface_gives_more_and_a_cold_one_less_than_in_neutral_air():
    for wind in (0.8, 2.0, 5.0):
        neutral = 1.2 * 1013.0 * 8.0 * wind / 207.6
        warm = float(bulk_transfer.sensible_heat(28.0, 20.0, wind, MAST, 101.3))
        cold = float(bulk_transfer.sensible_heat(12.0, 20.0, wind, MAST, 101.3))
        assert warm > neutral > -cold > 0.0, wind
    strong, weak = (
        float(bulk_transfer.sensible_heat(28.0, 20.0, wind, MAST, 101.3)) / wind for wind in (20.0, 1.0)
    )
    assert weak > 1.3 * strong  # stability fades with the wind


def test_the_stability_correction_has_settled_and_wind_is_needed(monkeypatch):
    surface = np.linspace(5.0, 45.0, 21)
    once = bulk_transfer.sensible_heat(surface, 20.0, 2.0, MAST, 101.3)
    monkeypatch.setattr(bulk_transfer, "ROUNDS", 200)
    assert bulk_transfer.sensible_heat(surface, 20.0, 2.0, MAST, 101.3) == pytest.approx(once, abs=0.05)
    assert np.isnan(bulk_transfer.sensible_heat(25.0, 20.0, 0.0, MAST, 101.3))
    assert np.sign(once).tolist() == np.sign(surface - 20.0).tolist()
