"""The measured crop day: every hour's estimate with its interval beside plate and station
(../shared/real/README.md).
"""

import numpy as np
import pandas as pd
import pytest

import chain
from whole.test_measured import REAL, campaign

pytestmark = pytest.mark.skipif(
    not REAL.is_dir(), reason="the measured days (../shared/real) are not on this machine"
)
TERMS = ("ground_heat", "sensible_heat", "latent_heat")


def measured_hours() -> pd.DataFrame:
    """Hourly means of the plates, and of the station's fluxes closed with their Bowen ratio, W m-2.

    Radiation and plates are stamped at the end of the half hour, the fluxes at its start.
    """
    half_hour = pd.Timedelta(minutes=30)
    ours = pd.read_csv(REAL / "crop_30min" / "radiation_and_soil.csv", parse_dates=["time_utc"])
    ours = ours.assign(start=ours["time_utc"] - half_hour).set_index("start")
    ground = -ours["file_surface_soil_heat_flux_avg_W_m2_up_positive"]
    net = ours["sw_in_W_m2"] - ours["sw_out_W_m2"] + ours["lw_in_W_m2"] - ours["lw_out_W_m2"]
    fluxes = pd.read_csv(
        REAL / "crop_30min" / "turbulent_fluxes_start_stamped.csv", parse_dates=["time_utc"]
    ).set_index("time_utc")
    table = pd.DataFrame({"ground_heat": ground, "net": net}).join(fluxes, how="inner")
    table = table.resample("1h").mean(numeric_only=True)
    share = (table["sensible_heat_W_m2"] + table["latent_heat_W_m2"]) / (table["net"] - table["ground_heat"])
    table["sensible_heat"], table["latent_heat"] = (
        table[f"{name}_W_m2"] / share for name in ("sensible_heat", "latent_heat")
    )
    return table


@pytest.fixture(scope="module")
def hours(tmp_path_factory):
    """Step 8's visits, one an hour, beside what was measured."""
    measured = measured_hours()
    notes = "".join(f"mast,{h:02d}:00,{h + 1:02d}:00,plot,tall_crop\n" for h in range(1, 23))
    folder = campaign(tmp_path_factory.mktemp("crop") / "crop", "crop", "corrected", notes)
    air = measured["temp_degC_analyser"].dropna()
    rows = [f"{at:%Y-%m-%dT%H}:30:00Z,{value:.2f}\n" for at, value in air.items()]
    (folder / "weather.csv").write_text("time_utc,air_temperature\n" + "".join(rows))
    outcome = chain.run(folder, draws=2048)
    visits = outcome.result.visits
    return visits.set_index(visits["start_utc"].dt.tz_localize(None)).join(measured.add_suffix("_measured"))


def held(hours: pd.DataFrame, term: str) -> tuple[int, int, float, float]:
    """Hours held, hours estimated, mean width of the interval, mean of estimate minus measurement, W m-2."""
    known = hours[hours[term].notna() & hours[f"{term}_measured"].notna()]
    inside = known[f"{term}_measured"].between(known[f"{term}_low"], known[f"{term}_high"])
    width = (known[f"{term}_high"] - known[f"{term}_low"]).mean()
    return int(inside.sum()), len(known), width, (known[term] - known[f"{term}_measured"]).mean()


def test_nine_hours_in_ten_are_held(hours):
    found = {term: held(hours, term) for term in TERMS}
    print(found)
    inside, count = (sum(one[part] for one in found.values()) for part in (0, 1))
    assert count >= 30 and inside / count >= 0.9, found
    assert np.isfinite(hours["ground_heat"]).sum() >= 18
