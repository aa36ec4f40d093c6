"""A workbook as bytes that depend on its contents alone, whatever the computer's clock says."""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import openpyxl
from openpyxl.writer.excel import ExcelWriter

NEVER = b"1980-01-01T00:00:00Z"
CORE = "docProps/core.xml"
_DATES = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")


class _Undated(zipfile.ZipFile):
    """A zip whose files have no date: it can hold none before 1980 or after 2107, which a clock may show."""

    def writestr(self, zinfo_or_arcname, data, compress_type=None, compresslevel=None) -> None:
        if zinfo_or_arcname == CORE:
            data = _DATES.sub(rb"\g<1>" + NEVER, data if isinstance(data, bytes) else data.encode())
        super().writestr(zipfile.ZipInfo(str(zinfo_or_arcname)), data, zipfile.ZIP_DEFLATED)

    def write(self, filename, arcname=None, compress_type=None, compresslevel=None) -> None:
        self.writestr(arcname, Path(filename).read_bytes())


def saved(book: openpyxl.Workbook) -> bytes:
    """A workbook as bytes: no date of saving, no name of who saved it."""
    book.properties.creator = "Headland"
    stream = io.BytesIO()
    ExcelWriter(book, _Undated(stream, "w")).save()
    return stream.getvalue()
