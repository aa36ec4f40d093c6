"""Limits of XML that is read piece by piece."""

import io

import pytest

from headland.files.xml_limits import LONGEST_TAG, BeyondLimits, LimitedParser


def read(text, most=1000):
    parser = LimitedParser(most)
    parser.read(io.BytesIO(text))
    return parser


@pytest.mark.parametrize("length, refused", [(LONGEST_TAG - 1000, False), (LONGEST_TAG + 70_000, True)])
def test_a_tag_or_text_may_be_so_long(length, refused):
    text = b"<a>" + b"x" * length + b"</a>"
    if refused:
        with pytest.raises(BeyondLimits, match="longer than 200 kB"):
            read(text)
    else:
        assert read(text).elements == 1


def test_a_long_document_of_short_tags_is_read():
    """What is open counts from the last tag's end on, piece by piece."""
    assert read(b"<a>" + b"<b/>" * 100_000 + b"</a>", 200_000).elements == 100_001


def test_more_elements_than_allowed_are_refused():
    assert read(b"<a><b/></a>", 2).elements == 2
    with pytest.raises(BeyondLimits):
        read(b"<a><b/><b/></a>", 2)


def test_what_is_no_xml_is_refused_with_its_line():
    with pytest.raises(BeyondLimits, match="no XML") as caught:
        read(b"<a>\n<b></a>")
    assert caught.value.line == 2


def test_what_was_closed_before_does_not_count_towards_a_long_text():
    assert read(b"<a>" + b"<b/>" * 16_000 + b"x" * 150_000 + b"</a>", 20_000).elements == 16_001
