"""Text on one line: its length and its characters."""

import pytest

from headland.base.words import LONGEST_LINE, plain


@pytest.mark.parametrize("length", [LONGEST_LINE - 1, LONGEST_LINE])
def test_a_text_as_long_as_a_line_may_be_stays(length):
    assert plain("x" * length) == "x" * length


def test_a_longer_text_ends_in_dots_and_is_no_longer_than_a_line():
    cut = plain("x" * (LONGEST_LINE + 1))
    assert len(cut) == LONGEST_LINE and cut.endswith("x...")


def test_blanks_and_ends_of_lines_are_one_blank_and_codes_are_written_out():
    assert plain(" a\n\tb  c ") == "a b c"
    assert plain("a\u202eb\x1b") == "a\\u202eb\\x1b"
