"""Sizes of errors, and faults in their table."""

import math

import numpy as np
import pandas as pd
import pytest

from headland.base.errors import UserErrors
from headland.files import config_tables
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty.terms import of_term

from .made import PROJECT


def test_a_range_has_its_half_width_over_the_root_of_three():
    size = of_term({"distribution": "rectangular", "low": "0", "high": "0.08", "sigma": ""})
    ends = size.middle + size.sigma * size.distribution.quantiles(np.array([0.0, 0.5, 1.0]))
    assert (size.middle, size.sigma) == pytest.approx((0.04, 0.04 / math.sqrt(3.0)))
    assert ends == pytest.approx([0.0, 0.04, 0.08])
    normal = of_term({"distribution": "normal", "sigma": "0.2", "low": "", "high": ""})
    assert (normal.middle, normal.sigma) == (0.0, 0.2)


@pytest.mark.parametrize(
    "change, part",
    [
        ({"enabled": "yes"}, "true or false"),
        ({"sigma": "much"}, "size of zero"),
        ({"distribution": "normale"}, "distribution of zero"),
        ({"sigma": "-1"}, "size of zero"),
    ],
)
def test_a_faulty_table_of_terms_is_told_plainly(tmp_path, change, part):
    table = config_tables.read_config_table(PROJECT / "config/uncertainty.csv")
    for column, value in change.items():
        table.loc[table["term"] == "zero", column] = value
    table.to_csv(tmp_path / "uncertainty.csv", index=False)
    with pytest.raises(UserErrors, match=part):
        uncertainty_terms(tmp_path / "uncertainty.csv")


def test_a_term_that_acts_on_nothing_and_one_that_is_missing_are_told(tmp_path):
    table = config_tables.read_config_table(PROJECT / "config/uncertainty.csv")
    table = pd.concat(
        [
            table[table["term"] != "noise"],
            pd.DataFrame([{**table.iloc[0], "term": "dirt", "acts_on": "factor_sw", "shared_by": "sets"}]),
        ]
    )
    table.to_csv(tmp_path / "uncertainty.csv", index=False)
    with pytest.raises(UserErrors) as problem:
        uncertainty_terms(tmp_path / "uncertainty.csv")
    told = str(problem.value)
    assert (
        "acts_on of dirt" in told
        and 'did you mean "factor_sw_in"' in told
        and "shared_by of dirt" in told
        and "no row for noise" in told
    )
