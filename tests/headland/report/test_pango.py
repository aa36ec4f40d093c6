"""Whether the libraries that a PDF needs can be loaded."""

import pytest

from headland.report import pango


@pytest.mark.parametrize("names", [("no-such-library-1.0",), (*pango.LIBRARIES, "no-such-library-1.0")])
def test_a_library_that_is_not_there_is_missed(names, monkeypatch):
    monkeypatch.setattr(pango, "LIBRARIES", names)
    assert pango.is_missing()


def test_where_a_pdf_can_be_made_nothing_is_missing():
    pytest.importorskip("weasyprint", exc_type=OSError)
    assert not pango.is_missing()
