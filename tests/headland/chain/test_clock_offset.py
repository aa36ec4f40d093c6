"""How far a logger's clock was ahead, between clock checks and beyond them."""

import pandas as pd
import pytest

from headland.chain import notes


def at(*clocks):
    return pd.Series(pd.to_datetime([f"2026-05-21T{clock}Z" for clock in clocks]))


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1], [2, 1, 0]])
def test_it_drifts_from_check_to_check_in_whatever_order_they_were_noted(order):
    """Ahead by 10 s at eight, 20 s at nine and 0 at ten, by the logger's own time."""
    checks = pd.DataFrame(
        {"start_utc": at("08:00:00", "09:00:00", "10:00:00"),
         "logger_utc": at("08:00:10", "09:00:20", "10:00:00")}
    ).iloc[order]  # fmt: skip
    moments = at("07:00:00", "08:00:10", "08:30:15", "09:00:20", "09:30:10", "12:00:00")
    assert notes.clock_offset(checks, moments).tolist() == pytest.approx([10.0, 10.0, 15.0, 20.0, 10.0, 0.0])


def test_without_a_check_it_is_taken_as_right():
    none = pd.DataFrame({"start_utc": at(), "logger_utc": at()})
    assert notes.clock_offset(none, at("08:00:00", "09:00:00")).tolist() == [0.0, 0.0]
