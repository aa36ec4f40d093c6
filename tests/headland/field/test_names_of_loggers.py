"""What may be a logger's name in a file's head."""

import pytest

from headland.field.sample import _is_name


@pytest.mark.parametrize(
    "word, name", [("C-11", True), ("heron7", True), ("PLOVER", True), ("meadow", False), ("Station", False)]
)
def test_a_name_has_a_digit_or_is_in_capitals(word, name):
    assert _is_name(word) == name
