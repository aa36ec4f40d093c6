"""What tests of the report share."""

import pytest

from headland.report import page_methods

from .report_made import PICTURE


@pytest.fixture
def quick_equations(monkeypatch):
    """Drawing 22 equations for each page takes seconds; one test draws them."""
    monkeypatch.setattr(page_methods, "equation", lambda text: PICTURE)
