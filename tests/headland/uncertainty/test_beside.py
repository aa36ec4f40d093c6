"""Measured fluxes beside estimated ones: which ways of measuring are looked at."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.uncertainty import beside


@pytest.fixture
def looked_at(monkeypatch):
    """The ways that were looked at, and how many measurements each had; nothing is worked out."""
    seen = []

    def both(given, way, estimated, known, chosen):
        seen.append((way, int((known["way"] == way).sum()), (known["reason"] == "").all()))
        return SimpleNamespace(of_visits=lambda: [], of_surfaces=lambda: [])

    monkeypatch.setattr(beside, "Both", both)
    monkeypatch.setattr(beside, "visits_at", lambda table, segments: table)
    return seen


def given(*rows):
    fluxes = pd.DataFrame(rows, columns=["way", "reason"]) if rows else None
    balances = {"measured_fluxes": fluxes, "visits_estimated": None, "visits": None}
    return SimpleNamespace(inputs=SimpleNamespace(balances=balances, segments=None))


@pytest.mark.parametrize(
    "rows, ways",
    [
        ((), []),
        ((("plate", "no-record"),), []),
        ((("plate", ""),), [("plate", 1, True)]),
        # one that is refused hides neither another one of its way nor another way
        (
            (("plate", ""), ("plate", "no-record"), ("two_heights", ""), ("bulk_transfer", "no-wind")),
            [("plate", 1, True), ("two_heights", 1, True)],
        ),
    ],
)
def test_what_is_known_stands_beside_the_estimate(looked_at, rows, ways):
    visits, surfaces = beside.measured_beside_estimated(given(*rows))
    assert looked_at == ways
    assert list(visits) == list(beside.OF_VISITS) and list(surfaces) == list(beside.OF_SURFACES)


def test_weights_of_visits_sum_to_one_where_there_are_any():
    members = np.array([[1.0, 3.0, 0.0], [0.0, 0.0, 0.0]])
    assert beside.shares(members).tolist() == [[0.25, 0.75, 0.0], [0.0, 0.0, 0.0]]


def test_a_surface_counts_its_own_visits_that_have_both_and_else_all_that_were_measured():
    one = beside.Both.__new__(beside.Both)
    one.estimated = pd.DataFrame({"surface": ["a", "a", "a", "b", "c"], "weight": [1.0, 2.0, 4.0, 8.0, 16.0]})
    one.there = np.array([True, True, False, True, False])  # measured
    one.compared = np.array([True, False, False, False, False])  # and estimated
    asked = []
    one._records = lambda *groups: asked.extend(groups) or [[{}], [{}]]
    rows = one.of_surfaces()
    assert [(row["surface"], row["visits"]) for row in rows] == [("a", 1), ("b", 1)]
    of_estimate, of_measurement = asked
    assert of_estimate.tolist() == [[1.0, 0.0, 0.0, 0.0, 0.0], [0.0] * 5]
    assert of_measurement.tolist() == [[1.0, 0.0, 0.0, 0.0, 0.0], [0.0, 0.0, 0.0, 8.0, 0.0]]
