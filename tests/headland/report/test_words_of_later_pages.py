"""Sentences and cells of the third to fifth page, each from the facts it is made of."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.report import (
    measured_words,
    page_balance,
    page_recorded,
    page_uncertainty,
)
from headland.report.differences import COMMON

NAN = math.nan
NAMES = {"a": "short grass", "b": "paving", "c": "stubble"}


def given(**fields):
    return SimpleNamespace(name=lambda name: NAMES.get(name, name), surfaces={}, **fields)


def texts(made):
    return [[(cell["text"], cell["below"]) for cell in row] for row in made["rows"]]


# Third page


def recorded(**changes):
    flags = pd.Series(["edge", "frozen", "edge cover", "", "", "edge"])
    frame = pd.DataFrame(
        {
            "segment": ["s", "s", "s", "s", "", ""],
            "flags": flags,
            "sw_in": [5.0, 801.6, 7.0, 8.0, 9.0, 10.0],
            "lw_in": 330.0,
        }
    )
    excluded = np.array([True, True, True, False, False, True])
    fields = {
        "samples": {"heron": frame, "teal": frame[:0]},
        "excluded": {"heron": excluded, "teal": excluded[:0]},
        "settings": {"sets": {"heron": {"raw": ["x", "y"]}, "teal": {"raw": []}}},
    }
    return given(**fields | changes)


def test_samples_are_counted_from_stored_to_used_and_said():
    counts = page_recorded.sample_counts(recorded())
    assert counts.to_numpy().tolist() == [["heron", 2, 6, 4, 2, 1, 1], ["teal", 0, 0, 0, 0, 0, 0]]
    assert page_recorded.used_words(counts) == (
        "The numbers of this report come from 1 of 6 stored samples: 4 were stored in a noted interval, 2 of "
        "these near the edge of a field or before the heads had settled, and 1 failed a test."
    )
    assert page_recorded.used_words(counts[1:]) == "No sample was stored."
    assert page_recorded.record_words(recorded(), counts) == (
        "On one time axis: set heron: 6 samples stored, 1 used; shortwave in 5 to 802, longwave in 330 W m⁻²."
    )
    assert page_recorded.record_words(recorded(), counts[1:]) == "Nothing was recorded."


def test_passes_scatter_by_the_median_of_the_surfaces_standard_deviations():
    """Deviations of 2, 4 and 12 K; the fourth surface was passed once, the fifth has no value."""
    rows = [
        ("a", 20.0, 9.0),
        ("a", 20.0 + 2.0 * math.sqrt(2.0), 9.0),
        ("b", 20.0, 1.0),
        ("b", 20.0 + 4.0 * math.sqrt(2.0), 1.0),
        ("c", 20.0, 5.0),
        ("c", 20.0 + 12.0 * math.sqrt(2.0), 5.0),
        ("d", 50.0, 5.0),
        ("c", 90.0, 0.0),
        ("z", 0.0, 1.0),
        ("z", 99.0, 1.0),
    ]
    means = pd.DataFrame(rows, columns=["surface", "surface_temperature", "weight"]).assign(
        albedo=NAN, net_radiation_common_sky=NAN
    )
    one = given(means=means, ranked=pd.DataFrame({"surface": ["a", "b", "c", "d", "e"]}))
    assert page_recorded.passes_words(one) == (
        "Passes over one surface scatter by 4.0 °C in surface temperature (standard deviation, "
        "median of the surfaces)."
    )
    one.means = means[means["surface"] == "d"]
    assert page_recorded.passes_words(one).startswith("No surface was passed twice")


# Fourth page


ENTRY = {"low": 0.05, "high": 0.2, "source": "Oke 1987, table 2", "value": 0.1}
GROUP = {
    "surface": "a",
    "reason": "",
    "method": "class_fraction",
    "fraction": 0.104,
    "day": True,
    "split": "priestley_taylor",
    "coefficient": 1.08,
}


def fractions(surfaces=None, **changes):
    one = given(ranked=pd.DataFrame({"surface": ["a"]}), balances=pd.DataFrame([GROUP | changes]))
    day, night = ENTRY, ENTRY | {"source": "Stull 1988", "low": 0.3, "high": 0.7}
    one.surfaces = {
        "a": surfaces
        or {
            "ground_heat_fraction_day": day,
            "ground_heat_fraction_night": night,
            "priestley_taylor_coefficient": ENTRY | {"source": "own words"},
        }
    }
    return texts(page_balance.fractions(one))[0]


def test_each_fraction_has_its_value_range_and_source():
    assert fractions() == [
        ("short grass", ""),
        ("0.10", "0.05 to 0.2"),
        ("Oke 1987", ""),
        ("Priestley-Taylor coefficient", "1.08, 0.05 to 0.2"),
        ("own words", ""),
    ]
    assert fractions(day=False)[1:3] == [("0.10", "0.3 to 0.7"), ("Stull 1988", "")]
    assert fractions(reason="melt")[1:3] == [("–", ""), ("no estimate (see the findings)", "")]
    assert fractions(fraction=NAN)[1:3] == [("–", ""), ("", "")]
    assert fractions(method="plate; class_fraction")[1:3] == [("–", ""), ("measured: plate and storage", "")]
    assert fractions(method="plate", reason="melt")[2] == ("no estimate (see the findings)", "")
    assert fractions(split="none")[3:] == [("nothing evaporates", ""), ("", "")]
    assert fractions(split="none; two_heights")[3][0] == "nothing evaporates and air at two heights"
    assert fractions({"priestley_taylor_coefficient": {"low": "", "high": "", "source": "x"}})[3] == (
        "Priestley-Taylor coefficient",
        "1.08, ",
    )


FLUXES = {
    "surface": ["b", "a"],
    "net_radiation": [480.4, 500.0],
    "ground_heat": [200.0, 50.0],
    "sensible_heat": [NAN, 100.0],
    "latent_heat": [NAN, 350.0],
}


def test_the_balance_in_words_closes_for_the_first_surface_that_has_one():
    one = given(ranked=pd.DataFrame(FLUXES))
    assert page_balance.closes_words(one).startswith(
        "Short grass: 500 = 50 + 100 + 350 W m⁻². The balance always closes"
    )
    assert page_balance.balance_words(one) == (
        "Fluxes in W m⁻². paving: net radiation 480, ground 200, sensible –, latent –; "
        "short grass: net radiation 500, ground 50, sensible 100, latent 350."
    )
    one.ranked = one.ranked[:1]
    assert page_balance.closes_words(one) == "For no surface is a whole balance estimated."


def measured(*rows):
    names = ("surface", "way", "quantity", "gap", "gap_low", "gap_high", "used")
    table = pd.DataFrame(rows, columns=names).assign(because="why", visits=3)
    for part, value in (("estimated", 100.0), ("measured", 120.4)):
        table = table.assign(**{part: value, f"{part}_low": value - 30.0, f"{part}_high": value + 30.0})
    return table


def test_measurements_in_words_are_of_the_flux_that_a_way_shows():
    rows = measured(
        ("a", "plate", "ground_heat", 10.0, -5.0, 20.0, True),
        ("b", "plate", "ground_heat", -30.4, -50.0, -4.0, False),
        ("c", "plate", "ground_heat", 20.0, 4.0, 30.0, "true"),
        ("a", "two_heights", "latent_heat", 5.0, NAN, NAN, False),
        ("a", "flux_station", "sensible_heat", 90.0, 80.0, 100.0, False),
        ("b", "flux_station", "latent_heat", 5.0, -1.0, 9.0, False),
    )
    one = given(tables={"measured": rows}, ranked=pd.DataFrame({"surface": ["c", "b", "a"]}))
    assert measured_words.measured_words(one, rows) == (
        "Ground heat by plate and storage agrees with the estimate on 1 of 3 surfaces, furthest off on "
        "paving (30 W m⁻² less than estimated). Latent heat by flux station agrees with the estimate on "
        "1 of 1 surface."
    )
    assert (
        measured_words.lead_words(rows)
        == "Net radiation Q* is measured, and so are some of the fluxes: by plate and storage."
    )
    assert measured_words.lead_words(rows[1:2]) == "Only net radiation Q* is measured."
    ordered = measured_words.of_report(one)
    assert ordered["surface"].tolist() == ["c", "b", "b", "a", "a", "a"]
    first = texts(measured_words.beside(one, rows[:1]))[0]
    assert first == [
        ("short grass", "plate and storage (used)"),
        ("ground heat", "3 visits"),
        ("100", "[70, 130]"),
        ("120", "[90, 150]"),
        ("10", "[−5, 20]"),
        ("why", ""),
    ]
    shown = measured_words.measured_context(one)
    assert len(shown["measured"]["rows"]) == 5 and len(shown["measured_all"]["rows"]) == 6
    assert shown["diamond_words"] == "plate and storage, flux station and air at two heights"


@pytest.mark.parametrize("count, shown", [(8, 8), (9, 8)])
def test_eight_rows_of_measured_fluxes_are_on_the_page(count, shown):
    rows = measured(*[(str(n), "plate", "ground_heat", 1.0, 0.0, 2.0, False) for n in range(count)])
    one = given(tables={"measured": rows}, ranked=pd.DataFrame({"surface": [str(n) for n in range(count)]}))
    made = measured_words.measured_context(one)
    assert len(made["measured"]["rows"]) == shown and len(made["measured_all"]["rows"]) == count


# Fifth page


def linear(*ratios):
    names = ["albedo", "net_radiation", "sw_in", "lw_in"]
    return pd.DataFrame(
        {
            "quantity": names[: len(ratios)],
            "half_width_linear": 10.0,
            "half_width_draws": [10.0 * r for r in ratios],
        }
    )


@pytest.mark.parametrize(
    "ratios, named",
    [((1.0, 1.09, 0.91), ""), ((1.0, 1.11), "net radiation"), ((0.89, 1.2), "albedo and net radiation")],
)
def test_linear_propagation_agrees_within_a_tenth(ratios, named):
    words = page_uncertainty.linear_words(linear(*ratios))
    assert words.startswith("Linear propagation of the same errors agrees within a tenth")
    assert (f"except for {named}, where" in words) if named else words.endswith("everywhere.")
    none = linear(1.0).assign(half_width_linear=0.0)
    assert page_uncertainty.linear_words(none) == "Linear propagation has nothing to compare with here."
    assert (
        page_uncertainty.linear_words(linear(NAN)) == "Linear propagation has nothing to compare with here."
    )


def test_three_sources_are_named_and_two_values_with_their_difference():
    table = pd.DataFrame(
        [(COMMON, "a", f"s{n}", 10.0 - n) for n in range(5)],
        columns=["quantity", "surface", "source", "half_width_95"],
    )
    groups = pd.DataFrame(
        {
            "surface": ["a", "b"],
            COMMON: [500.0, 400.0],
            f"{COMMON}_low": [470.0, 360.0],
            f"{COMMON}_high": [530.0, 440.0],
        }
    )
    rows = pd.DataFrame(
        {
            "surface_a": ["b"],
            "surface_b": ["a"],
            "quantity": COMMON,
            "difference": -100.0,
            "difference_low": -120.0,
            "difference_high": -80.0,
            "distinguishable": True,
        }
    )
    one = given(tables={"uncertainty_budget": table, "surfaces": groups, "differences": rows})
    one.surfaces = {"a": {}}
    assert (
        page_uncertainty.sources_words(one)
        == "Largest: s0 (± 10.0 W m⁻²), s1 (± 9.0 W m⁻²) and s2 (± 8.0 W m⁻²)."
    )
    assert page_uncertainty.shared_words(one) == (
        "Short grass is known to ± 30 W m⁻² and paving to ± 40 W m⁻². If their errors had nothing in common, "
        "the difference would be known to ± 50 W m⁻²; it is known to ± 20 W m⁻²."
    )
    one.tables["differences"] = rows[:0]
    assert page_uncertainty.shared_words(one) == "No two surfaces have intervals, so nothing can be compared."
