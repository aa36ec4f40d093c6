"""A campaign with plates, two heights, a flux station and wind, from its files to the table of both."""

import numpy as np
import openpyxl
import pandas as pd
import pytest
import yaml

import chain
from headland.base.errors import UserErrors
from headland.files import settings
from headland.physics.measured_forms import reach_of
from simulate import specs
from simulate.campaign import simulate

PLATE, WARMING, DEPTH, MOISTURE = 45.0, 1.2, 0.04, 0.25
CAPACITY = 1.92 * 0.5 + 2.51 * 0.02 + 4.18 * MOISTURE
GROUND = PLATE + CAPACITY * 1e6 * DEPTH * WARMING / 3600.0
RATIO, LATENT, SENSIBLE = 0.4, 180.0, 120.0


def moments(spec) -> pd.DatetimeIndex:
    """Every ten minutes from two hours before the campaign until five hours after its start."""
    start = pd.Timestamp(spec.start, tz=spec.site.timezone).tz_convert("UTC")
    return pd.date_range(start - pd.Timedelta(hours=2), start + pd.Timedelta(hours=5), freq="10min")


def with_tables(folder, spec, **methods):
    """The campaign's folder with all four tables: a plate in a semicolon table with decimal commas, two
    heights in a workbook."""
    times = moments(spec)
    stamps = times.strftime("%Y-%m-%dT%H:%M:%SZ")
    hours = np.arange(len(times)) / 6.0

    def comma(value: float) -> str:
        return f"{value:.4f}".replace(".", ",")

    lines = ["time_utc;field;soil_heat_flux;depth;soil_temperature;soil_moisture"]
    lines += [
        ";".join(
            (at, "Lower meadow", comma(PLATE), comma(DEPTH), comma(15.0 + WARMING * hour), comma(MOISTURE))
        )
        for at, hour in zip(stamps, hours, strict=True)
    ]
    (folder / "ground.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    book = openpyxl.Workbook()
    heads = ("height", "air_temperature", "vapour_pressure")
    book.active.append(["time_utc", *(f"{level}_{name}" for level in ("lower", "upper") for name in heads)])
    warmer = RATIO * 0.2 / (0.665e-3 * 97.65) + 0.0098 * 2.0
    for at in stamps:
        book.active.append([at, 0.5, 20.0 + warmer, 15.0, 2.5, 20.0, 13.0])
    book.save(folder / "levels.xlsx")
    station = pd.DataFrame({"time_utc": stamps, "sensible_heat": SENSIBLE, "latent_heat": LATENT})
    station.to_csv(folder / "station.csv", index=False)
    settings = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
    settings |= {"station": {"surface": "short_grass"}, "measured": {"stamp": "middle"}}
    settings.setdefault("methods", {}).update(methods)
    (folder / "campaign.yaml").write_text(yaml.safe_dump(settings), encoding="utf-8")
    return folder


def made(tmp_path_factory, **methods):
    spec = specs.minimal()
    folder = simulate(spec).write(tmp_path_factory.mktemp("campaign") / "campaign")
    return chain.run(with_tables(folder, spec, **methods), draws=512)


@pytest.fixture(scope="module")
def beside(tmp_path_factory):
    return made(tmp_path_factory)


def flux(table: pd.DataFrame, way: str, quantity: str) -> pd.Series:
    """The only row of a way and flux."""
    rows = table[(table["way"] == way) & (table["quantity"] == quantity)]
    assert len(rows) == 1
    return rows.iloc[0]


def test_every_way_stands_beside_the_estimate_with_what_it_was_made_of(beside):
    table = beside.result.measured
    row = flux(table, "plate", "ground_heat")
    assert row["measured"] == pytest.approx(GROUND, abs=0.1) and row["visits"] == 2
    available = row["net_radiation"] - GROUND
    assert flux(table, "two_heights", "latent_heat")["measured"] == pytest.approx(
        available / (1.0 + RATIO), rel=5e-3
    )
    share = LATENT / (LATENT + SENSIBLE)
    assert flux(table, "flux_station", "latent_heat")["measured"] == pytest.approx(
        available * share, rel=1e-3
    )
    assert flux(table, "flux_station", "latent_heat")["closure"] == pytest.approx(300.0 / available, rel=1e-2)
    for way in ("two_heights", "flux_station", "bulk_transfer"):
        both = [flux(table, way, name)["measured"] for name in ("sensible_heat", "latent_heat")]
        assert sum(both) == pytest.approx(available, abs=0.2), way
    assert not table["used"].any()


def test_estimates_are_those_of_the_other_tables_and_the_gap_is_the_difference(beside):
    table, visits = beside.result.measured_visits, beside.result.visits
    for quantity in ("ground_heat", "latent_heat"):
        way = "plate" if quantity == "ground_heat" else "two_heights"
        rows = table[(table["way"] == way) & (table["quantity"] == quantity)].set_index("segment")
        own = visits.set_index("segment").loc[rows.index]
        for end in ("", "_low", "_high"):
            assert rows[f"estimated{end}"].to_numpy() == pytest.approx(
                own[f"{quantity}{end}"].to_numpy(), abs=1e-6
            )
    assert table["gap"].to_numpy() == pytest.approx((table["measured"] - table["estimated"]).to_numpy())
    for part in ("estimated", "measured", "gap"):
        inside = table[part].between(table[f"{part}_low"] - 1e-9, table[f"{part}_high"] + 1e-9)
        assert inside.all() and (table[f"{part}_high"] > table[f"{part}_low"]).all(), part


def test_errors_of_net_radiation_cancel_in_the_gap(beside):
    """Both latent heats are shares of one available energy: the gap is known better than without that."""
    row = flux(beside.result.measured, "two_heights", "latent_heat")
    width = {part: row[f"{part}_high"] - row[f"{part}_low"] for part in ("estimated", "measured", "gap")}
    assert width["gap"] < np.hypot(width["estimated"], width["measured"])


def test_the_plate_s_interval_has_the_size_of_its_errors(beside):
    rows = beside.balances["measured_fluxes"]
    own = rows[rows["way"] == "plate"].iloc[0]
    sizes = {"plate": 0.10, "soil_storage": 0.20, "soil_warming": 0.1, "one_spot": 0.15}
    half = 1.96 * np.sqrt(sum((own[reach_of(term)] * size) ** 2 for term, size in sizes.items()))
    row = flux(beside.result.measured, "plate", "ground_heat")
    assert (row["measured_high"] - row["measured_low"]) / 2.0 == pytest.approx(half, rel=0.03)


def test_how_the_tables_were_written_is_said_once_each(beside):
    found = [(one.code, one.file) for _, one in beside.found]
    assert found.count(("wrong-delimiter", "ground.csv")) == 1
    assert ("table-as-written", "ground.csv") in found
    assert not [one for one in found if one[0] == "value-invalid"]


def test_methods_choose_what_the_balance_uses(tmp_path_factory, beside):
    outcome = made(tmp_path_factory, ground_heat="measured", latent_heat="two_heights")
    surface = outcome.result.surfaces.iloc[0]
    assert surface["ground_heat"] == pytest.approx(GROUND, abs=0.1)
    assert surface["bowen_ratio"] == pytest.approx(RATIO, rel=5e-3)
    assert surface["latent_heat"] == pytest.approx(
        (surface["net_radiation"] - GROUND) / (1.0 + RATIO), rel=5e-3
    )
    closing = (
        surface["net_radiation"] - surface["ground_heat"] - surface["sensible_heat"] - surface["latent_heat"]
    )
    assert closing == pytest.approx(0.0, abs=1e-6)
    table = outcome.result.measured.set_index(["way", "quantity"])
    assert table.loc[("plate", "ground_heat"), "used"] and table.loc[("two_heights", "latent_heat"), "used"]
    assert not table.loc[("flux_station", "latent_heat"), "used"]
    columns = ["estimated", "estimated_low", "estimated_high", "measured", "gap"]
    before = beside.result.measured.set_index(["way", "quantity"])
    assert table[columns].to_numpy(float) == pytest.approx(before[columns].to_numpy(float), abs=1e-6)
    for end in ("low", "high"):
        mine = surface[f"ground_heat_{end}"]
        assert mine == pytest.approx(table.loc[("plate", "ground_heat"), f"measured_{end}"], abs=3.0)


@pytest.mark.parametrize("method", ["flux_station", "bulk_transfer"])
def test_the_other_ways_can_be_used_as_well(tmp_path_factory, method):
    outcome = made(tmp_path_factory, latent_heat=method)
    surface = outcome.result.surfaces.iloc[0]
    row = flux(outcome.result.measured, method, "sensible_heat")
    assert row["used"]
    visits = outcome.balances["visits_balance"]
    assert set(visits["split"]) == {method} and np.isfinite(surface["latent_heat_low"])
    assert surface["bowen_ratio"] == pytest.approx(surface["sensible_heat"] / surface["latent_heat"])


def test_a_method_without_its_table_is_an_error_of_the_settings(tmp_path):
    spec = specs.minimal()
    folder = simulate(spec).write(tmp_path / "campaign")
    for changes, expected in (
        ({"latent_heat": "two_heights"}, "levels.csv"),
        ({"ground_heat": "measured"}, "ground.csv or station.csv"),
        ({"latent_heat": "flux_station"}, "station.csv"),
    ):
        text = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
        text["methods"] = changes
        (folder / "campaign.yaml").write_text(yaml.safe_dump(text), encoding="utf-8")
        with pytest.raises(UserErrors) as problem:
            settings.load(folder, chain.ROOT / "config")
        assert any(expected in str(error) for error in problem.value.errors)


def test_a_flux_station_that_is_used_must_say_what_it_measures(tmp_path):
    spec = specs.minimal()
    folder = with_tables(simulate(spec).write(tmp_path / "campaign"), spec, latent_heat="flux_station")
    text = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
    text["station"] = {}
    (folder / "campaign.yaml").write_text(yaml.safe_dump(text), encoding="utf-8")
    with pytest.raises(UserErrors) as problem:
        settings.load(folder, chain.ROOT / "config")
    assert "station.surface" in str(problem.value)


def test_bad_lines_are_named_by_file_and_line(tmp_path):
    spec = specs.minimal()
    folder = with_tables(simulate(spec).write(tmp_path / "campaign"), spec)
    lines = (folder / "ground.csv").read_text(encoding="utf-8").splitlines()
    lines[3] = lines[3].replace("45,0000", "much")
    lines[5] = lines[5].replace("Lower meadow", "Lower medow")
    (folder / "ground.csv").write_text("\n".join(lines), encoding="utf-8")
    outcome = chain.run(folder, to="summarise")
    found = {(one.code, one.variant, one.file, one.line) for _, one in outcome.found}
    assert ("value-invalid", "", "ground.csv", 4) in found
    assert ("measured-place", "unknown", "ground.csv", 6) in found


def test_a_station_s_gap_may_be_either_flux(beside):
    """The interval lies about the middle between LE as measured and what H as measured leaves."""
    row = flux(beside.result.measured, "flux_station", "latent_heat")
    available = row["measured"] / (LATENT / (LATENT + SENSIBLE))
    middle = (LATENT + available - SENSIBLE) / 2.0
    assert (row["measured_low"] + row["measured_high"]) / 2.0 == pytest.approx(middle, abs=6.0)
    assert row["measured_low"] < LATENT + 10.0 and row["measured_high"] > available - SENSIBLE - 10.0
