"""A campaign of two days, one south of the equator and one over midnight give, visit by visit, what three
separate campaigns give: each with a third of the notes, through the whole chain.
"""

import csv
import shutil

import numpy as np
import pandas as pd
import pytest

import chain
from headland.chain import weather
from simulate import specs
from simulate.campaign import simulate
from simulate.spec import Sky

SPECS = {
    "two days": specs.two_days(sky=Sky()),
    "south of the equator": specs.southern(),
    "over midnight": specs.over_midnight(),
}
TERMS = ("net_radiation", "ground_heat", "sensible_heat", "latent_heat", "evaporation", "bowen_ratio")
AROUND = ("air_temperature", "pressure", "after_noon", "fraction", "coefficient", "solar_elevation")
SERVES_ALL = ("clock_check", "side_by_side", "sky_monitor")
"""Activities that each of the three campaigns keeps: they serve the instruments."""


def with_rows(folder, target, rows: list[dict]):
    """A campaign with some of the notes of another."""
    shutil.copytree(folder, target)
    with (target / "notes.csv").open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return target


def thirds(folder, into) -> list:
    """Three campaigns, each with a third of the walks."""
    with (folder / "notes.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    walks = [row for row in rows if row.get("activity") not in SERVES_ALL]
    parts = [list(part) for part in np.array_split(np.array(walks, dtype=object), 3)]
    shared = [row for row in rows if row not in walks]
    return [with_rows(folder, into / f"part_{n}", shared + part) for n, part in enumerate(parts)]


def visits(folder) -> pd.DataFrame:
    """Step 8's visits with what their balance follows from, by start and set."""
    outcome = chain.run(folder, draws=2048, to="propagate")
    around = outcome.balances["visits_balance"].set_index("segment")[list(AROUND)]
    table = outcome.result.visits.join(around, on="segment")
    return table.set_index(["set", "start_utc"]).sort_index()


def both(name: str, tmp_path_factory, visits=visits) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Visits of one campaign, and of three. visits: what is asked of each."""
    folder = simulate(SPECS[name]).write(tmp_path_factory.mktemp("campaign") / "campaign")
    apart = [visits(part) for part in thirds(folder, tmp_path_factory.mktemp("parts"))]
    return visits(folder), pd.concat(apart).sort_index()


@pytest.mark.parametrize("name", SPECS)
def test_each_visit_is_what_three_separate_campaigns_give(name, tmp_path_factory):
    whole, apart = both(name, tmp_path_factory)
    assert len(whole) > 6 and whole.index.equals(apart.index)
    for column in (*AROUND, *TERMS):
        expected = whole[column].to_numpy(float)
        assert apart[column].to_numpy(float) == pytest.approx(expected, abs=1e-6, nan_ok=True), column
    for column in (f"{term}{end}" for term in TERMS[:4] for end in ("_low", "_high")):
        # ends of intervals by 2048 draws: another number of sources moves them a little
        expected = whole[column].to_numpy(float)
        assert apart[column].to_numpy(float) == pytest.approx(expected, rel=0.03, abs=4.0, nan_ok=True), (
            column
        )
    assert np.isfinite(whole["ground_heat"]).sum() > 3


def test_weather_of_the_middle_of_the_campaign_would_be_noticed(tmp_path_factory, monkeypatch):
    """The fault that there was: the air of the whole campaign's middle for every visit."""
    own = weather.air_of

    def of_the_middle(middle, table, usual):
        return own(pd.Series([middle.min() + (middle.max() - middle.min()) / 2] * len(middle)), table, usual)

    monkeypatch.setattr(weather, "air_of", of_the_middle)

    def balance(folder) -> pd.DataFrame:
        """Step 7's visits: no interval is looked at."""
        table = chain.run(folder, to="summarise").balances["visits_balance"]
        return table.set_index(["set", "start_utc"]).sort_index()

    whole, apart = both("two days", tmp_path_factory, balance)
    off = (whole["latent_heat"] - apart["latent_heat"]).abs().max()
    assert off > 5.0
