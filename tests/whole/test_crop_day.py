"""The measured crop day: every hour's estimate with its interval beside plate and station
(../shared/real/README.md).
"""

import numpy as np
import pandas as pd
import pytest

import chain
from study import crop_day
from whole.test_measured import REAL, campaign

pytestmark = pytest.mark.skipif(
    not REAL.is_dir(), reason="the measured days (../shared/real) are not on this machine"
)


@pytest.fixture(scope="module")
def hours(tmp_path_factory):
    return crop_day.estimated_hours(tmp_path_factory.mktemp("crop") / "crop")


def test_nine_hours_in_ten_are_held(hours):
    found = {term: crop_day.held(hours, term) for term in crop_day.TERMS}
    print(found)
    inside, count = (sum(getattr(one, part) for one in found.values()) for part in ("inside", "count"))
    assert count >= 30 and inside / count >= 0.9, found
    assert np.isfinite(hours["ground_heat"]).sum() >= 18


def test_the_page_says_what_the_day_gives(hours):
    told = "run PYTHONPATH=tests:workflow python -m study.crop_day"
    assert crop_day.PAGE.read_text(encoding="utf-8") == crop_day.page(hours), told


def station(folder) -> None:
    """The day's radiation, plates and fluxes as station.csv, each time the end of its half hour."""
    ours = pd.read_csv(REAL / "crop_30min" / "radiation_and_soil.csv", parse_dates=["time_utc"])
    fluxes = pd.read_csv(REAL / "crop_30min" / "turbulent_fluxes_start_stamped.csv", parse_dates=["time_utc"])
    fluxes = fluxes.assign(time_utc=fluxes["time_utc"] + crop_day.HALF_HOUR).set_index("time_utc")
    ours = ours.set_index("time_utc").join(fluxes)
    columns = {
        **{name: f"{name}_W_m2" for name in ("sw_in", "sw_out", "lw_in", "lw_out")},
        **{name: f"{name}_W_m2" for name in ("sensible_heat", "latent_heat")},
    }
    table = pd.DataFrame({name: ours[column] for name, column in columns.items()})
    table["soil_heat_flux"] = -ours["file_surface_soil_heat_flux_avg_W_m2_up_positive"]
    table.index = table.index.strftime("%Y-%m-%dT%H:%M:%SZ")
    table.to_csv(folder / "station.csv", index_label="time_utc")


def test_the_station_stands_beside_the_estimates_with_its_closure(tmp_path):
    """Read as a flux station: plates and closed fluxes are those that were worked out here, by other code."""
    notes = "".join(f"mast,{h:02d}:00,{h + 1:02d}:00,plot,tall_crop\n" for h in range(13, 23))
    folder = campaign(tmp_path / "crop", "crop", "corrected", notes)
    (folder / "weather.csv").write_text("time_utc,air_temperature\n2019-06-01T18:00:00Z,27\n")
    station(folder)
    with (folder / "campaign.yaml").open("a", encoding="utf-8") as stream:
        stream.write("station: {surface: tall_crop}\n")
    result = chain.run(folder, draws=512).result
    table = result.measured_visits
    expected = crop_day.measured_hours()
    assert len(table[table["way"] == "flux_station"]) == 2 * 10
    for row in table[table["way"].isin(["station_ground", "flux_station"])].to_dict("records"):
        known = expected.loc[row["start_utc"].tz_localize(None), row["quantity"]]
        # 2 %: net radiation is that of the corrected heads
        assert row["measured"] == pytest.approx(known, rel=0.02, abs=0.5), (row["start_utc"], row["quantity"])
    assert result.measured["closure"].dropna().to_numpy() == pytest.approx([0.59, 0.59], abs=0.05)
