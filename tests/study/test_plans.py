"""The study of plans in small: two days, each with a campaign that follows the plan and one that does not."""

import pytest

from study import plans, plans_page


@pytest.fixture(scope="module")
def rows():
    return plans.study((101, 102), draws=500)


def test_predicted_half_widths_are_those_that_the_chain_reports(rows):
    found = plans_page.agreement(rows).set_index("quantity")
    assert (found["compared"] >= 6).all() and found["median"].sub(1.0).abs().max() <= plans_page.WITHIN, found
    assert found.loc["together", "within"] >= 0.7


def test_the_plan_keeps_its_promise_and_without_it_fewer_are_told(rows):
    found = plans_page.told_apart(rows).set_index("pairs")
    assert found.loc["promised", "number"] >= 10 and found.loc["promised", "followed"] >= plans_page.KEPT
    assert found.loc["promised", "not followed"] <= found.loc["promised", "followed"] - 0.15, found
