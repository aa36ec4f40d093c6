"""What the order of visits leaves open, by hand."""

import numpy as np
import pandas as pd
import pytest

from headland.field import orders, plan_page
from headland.uncertainty.course import CourseSizes


def visits(*rows):
    table = pd.DataFrame(rows, columns=["set", "minute", "activity", "pass"])
    start = pd.Timestamp("2026-05-21T08:00Z") + pd.to_timedelta(table["minute"], unit="min")
    return table.assign(start_utc=start)


TWO = visits(
    ("a", 0, "walk", "1"), ("a", 3, "walk", "2"), ("a", 40, "walk", "1"), ("a", 20, "walk", "1"),
    ("b", 5, "walk", "1"), ("b", 55, "walk", "1"), ("b", 100, "side_by_side", ""),
)  # fmt: skip
"""First passes of a every 20 min, of b 50 min apart: 30 min on average."""


def test_the_step_is_the_mean_time_from_visit_to_visit_of_one_set():
    assert orders.step_of(TWO) == pytest.approx(0.5)
    assert np.isnan(orders.step_of(TWO.iloc[:1])) and np.isnan(orders.step_of(TWO.iloc[:0]))


def test_orders_of_four_fields():
    """A is first and D last: A B C D D C B A, and once more."""
    found = orders.orders_of(4, 2)
    assert found["each field once"] == [(0, 0), (3, 1)]
    assert found["A, B, A"] == [(0, 0), (1, 1), (2, 0)]
    assert found["rounds"] == [(0, 0), (3, 1), (4, 1), (7, 0), (8, 0), (11, 1), (12, 1), (15, 0)]
    assert list(found)[-1].startswith("two sets") and list(found.values())[-1] == [(0, 0), (0, 1)]


def test_what_slopes_of_their_own_leave_open():
    """2 per h of each of two surfaces, 0.5 h from visit to visit. Once each, three visits apart: both are
    0.75 h from the middle, so 1.5 of each. In rounds each slope is known. Two sets at once: nothing."""
    sizes = {"albedo": CourseSizes(0.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0)}
    found = orders.left_open(TWO, 4, 1, sizes).set_index("order")["albedo"]
    assert found["each field once"] == pytest.approx(1.96 * 1.5 * np.sqrt(2.0), rel=1e-4)
    assert found["rounds"] == pytest.approx(0.0, abs=1e-6)
    assert found.iloc[-1] == pytest.approx(0.0, abs=1e-6)
    # A at 0 and 1 h knows its own mean; B is there at the middle of the two
    assert found["A, B, A"] == pytest.approx(0.0, abs=1e-6)


def test_one_field_or_one_visit_has_no_order():
    sizes = {"albedo": CourseSizes(0.0, 2.0, 0.0, 0.0, 0.0, 0.0, 0.0)}
    assert len(orders.left_open(TWO, 2, 1, sizes)) == 4 and len(orders.left_open(TWO, 1, 1, sizes)) == 0
    none = orders.left_open(TWO.iloc[:1], 4, 1, sizes)
    assert len(none) == 0 and list(none) == ["order", "albedo"]


def test_the_page_s_rows_have_each_quantity_under_its_own_title():
    open_ = pd.DataFrame(
        {"order": ["rounds"], "albedo": 0.0123, "surface_temperature": 1.26, "net_radiation": 17.6}
    )
    (row,) = plan_page.order_rows(open_)
    assert row == {
        "order": "rounds",
        "cells": {"albedo": "± 0.012", "surface_temperature": "± 1.3", "net_radiation_common_sky": "± 18"},
    }
