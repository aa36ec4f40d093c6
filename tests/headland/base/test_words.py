"""Text on one line: its length and its characters."""

import pytest

from headland.base import words
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


@pytest.mark.parametrize(
    "word, parts",
    [
        ("fourteenletter", ["fourteenletter"]),
        ("fifteen-letters", ["fifteen-", "letters"]),
        ("lower_meadow.csv/x", ["lower_", "meadow.", "csv/", "x"]),
        ("abcdefghijklmnopq", ["abcdefgh", "ijklmnop", "q"]),
        ("----------------", ["--------", "--------"]),
    ],
)
def test_a_long_word_breaks_after_its_punctuation_or_eight_letters(word, parts):
    assert words.word_parts(word) == parts and "".join(parts) == word


@pytest.mark.parametrize("length", [1499, 1500, 1501, 4000])
def test_a_line_has_1500_characters_at_most(length):
    said = words.plain("x" * length)
    assert len(said) == min(length, 1500) and said.endswith("...") == (length > 1500)
    assert said.startswith("x" * min(length, 1497))
