"""The ground: energy, limiting cases and the parts of the day."""

from dataclasses import replace

import numpy as np
import pytest

from world.air import GRID, STEP, Air, saturation
from world.ground import LAYERS, Forcing, Runner, prepare, run_day
from world.materials import CLASSES, draw_material
from world.sky import KELVIN, SIGMA

N = len(GRID)


def steady_air(celsius: float = 15.0, wind: float = 2.0, humidity: float = 0.6) -> Air:
    return Air(np.full(N, celsius), np.full(N, humidity * saturation(celsius)), np.full(N, wind))


def sunny(materials: list, air: Air, peak: float = 800.0, longwave: float = 320.0) -> Forcing:
    light = np.maximum(np.sin(np.pi * (GRID / 3600.0 - 6.0) / 12.0), 0.0) * peak
    shape = (N, len(materials))
    albedo = np.array([material.albedo for material in materials])
    return Forcing(light[:, None] * np.ones(shape), np.full(shape, longwave), albedo * np.ones(shape), air)


@pytest.fixture(scope="module")
def all_classes():
    materials = [draw_material(4, name) for name in CLASSES]
    return materials, run_day(materials, sunny(materials, steady_air()))


def test_energy_closes(all_classes):
    materials, course = all_classes
    rest = course.net - course.sensible - course.latent - course.ground
    assert np.abs(rest).max() < 1e-9
    emissivity = np.array([material.emissivity for material in materials])
    net = course.absorbed + emissivity * 320.0 - course.emitted
    assert np.abs(course.net - net).max() < 1e-9


def test_ground_heat_is_what_skin_and_soil_store():
    materials = [draw_material(4, name) for name in CLASSES if name != "snow"]
    runner = Runner(materials)
    forcing = sunny(materials, steady_air())
    inputs = tuple(part[:3000] for part in prepare(runner, forcing))
    start = runner.first_state(forcing.air)
    out, states = runner.run(inputs, STEP, start)
    skin = np.diff(out[0], axis=0, prepend=start[0][None]) * runner.heat_store
    assert np.allclose(out[6] * STEP, skin + out[8] * STEP, atol=1e-3)
    gained = runner.soil.heat(states[-1][1]) - runner.soil.heat(start[1])
    assert np.allclose(gained, out[8][:-1].sum(axis=0) * STEP, rtol=1e-6, atol=5.0)


def test_nothing_flows_where_all_is_at_one_temperature():
    materials = [draw_material(4, "short_grass"), draw_material(4, "gravel")]
    air = steady_air(15.0, humidity=1.0)
    black = SIGMA * (15.0 + KELVIN) ** 4
    runner = Runner(materials)
    inputs = tuple(part[:200] for part in prepare(runner, sunny(materials, air, 0.0, black)))
    even = runner.soil.even[:, None] * np.full(2, 15.0 + KELVIN)
    out, _ = runner.run(inputs, STEP, (np.full(2, 15.0 + KELVIN), even, np.zeros(2)))
    assert np.abs(out[0] - 15.0 - KELVIN).max() < 1e-3
    assert np.abs(out[3:7]).max() < 0.01


def test_wind_brings_dry_ground_nearer_to_the_air():
    materials = [draw_material(4, "bare_dry_soil")]
    noon = N // 2
    calm = run_day(materials, sunny(materials, steady_air(wind=1.0))).skin[noon, 0]
    windy = run_day(materials, sunny(materials, steady_air(wind=6.0))).skin[noon, 0]
    assert windy + 3.0 < calm


def test_wet_ground_is_cooler_and_evaporates_more():
    dry = draw_material(4, "bare_dry_soil")
    wet = replace(dry, film=5.0, wetness=1.0, darkening=0.0)
    course = run_day([dry, wet], sunny([dry, wet], steady_air()))
    noon = slice(N // 2 - 360, N // 2 + 360)
    assert course.skin[noon, 1].mean() + 3.0 < course.skin[noon, 0].mean()
    assert course.latent[noon, 1].mean() > 2.0 * course.latent[noon, 0].mean()


def test_snow_does_not_pass_melting():
    snow = draw_material(4, "snow")
    course = run_day([snow], sunny([snow], steady_air(5.0)))
    assert course.skin.max() <= 273.15 + 1e-9


def test_deep_water_hardly_follows_the_day():
    water, soil = draw_material(4, "deep_water"), draw_material(4, "bare_dry_soil")
    course = run_day([water, soil], sunny([water, soil], steady_air()))
    assert np.ptp(course.skin[:, 0]) < 2.0
    assert np.ptp(course.skin[:, 1]) > 12.0


def test_parts_of_the_day_agree_with_one_run_through():
    materials = [draw_material(4, name) for name in ("short_grass", "paving", "bare_wet_soil")]
    forcing = sunny(materials, steady_air())
    rng = np.random.default_rng(1)
    cloudy = forcing.shortwave * np.repeat(rng.uniform(0.3, 1.1, N // 6 + 1), 6)[:N, None]
    forcing = replace(forcing, shortwave=cloudy)
    course = run_day(materials, forcing)
    runner = Runner(materials)
    inputs = prepare(runner, forcing)
    coarse = tuple(part[:-1].reshape(len(GRID) // 60, 60, -1).mean(axis=1) for part in inputs)
    _, states = runner.run(coarse, 600.0, runner.first_state(forcing.air))
    skin, modes, film = states[-1]
    start = (skin, modes, np.maximum(film, runner.film * runner.wetness))
    through, _ = runner.run(inputs, STEP, start)
    gap = course.skin[360:-1] - through[0][360:-1]
    assert np.abs(gap.mean(axis=0)).max() < 0.1
    assert np.abs(gap).max() < 0.8


def test_depth_of_soil_is_some_decimetres():
    assert 0.5 < LAYERS.sum() < 1.2


@pytest.mark.parametrize("name", CLASSES)
def test_drawn_ground_lies_in_its_ranges(name):
    ranges = CLASSES[name]
    for seed in range(30):
        material = draw_material(seed, name)
        for key in ("albedo", "emissivity", "roughness", "contact", "conductivity", "film"):
            low, high = getattr(ranges, key)
            assert low <= getattr(material, key) <= high
