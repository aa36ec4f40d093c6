"""Sentences of the page on uncertainty: their numbers."""

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure

from headland.report import figures_map
from headland.report.page_uncertainty import ends_words


def test_how_well_the_draws_settle_an_end_is_the_median_and_the_95th_of_100():
    frame = pd.DataFrame({"end_error": np.arange(0.0, 0.0505, 0.0005)})
    assert "uncertain by 2.5 % of the interval" in ends_words(frame)
    assert "below 4.8 %" in ends_words(frame) or "below 4.7 %" in ends_words(frame)
    assert ends_words(pd.DataFrame({"end_error": [np.nan]})) == ""


@pytest.mark.parametrize("shown, least", [("albedo", 0.02), ("temperature", 1.0)])
@pytest.mark.parametrize("spread", [0.0, 0.5, 2.0])
def test_colours_of_a_map_span_at_least_so_much_that_even_ground_looks_even(shown, least, spread):
    values = np.linspace(0.2 - spread * least / 2.0, 0.2 + spread * least / 2.0, 201)
    points = pd.DataFrame(
        {"east": np.arange(201.0), "north": 0.0, "set": "a", "albedo": np.nan, "temperature": np.nan}
    )
    drawn, _ = figures_map._points(Figure().subplots(), points.assign(**{shown: values}))
    # the middle 96 of 100 points
    wanted = max(0.96 * spread * least, least)
    assert drawn.get_clim() == pytest.approx((0.2 - wanted / 2.0, 0.2 + wanted / 2.0))
