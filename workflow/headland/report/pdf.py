"""A page as a PDF, through WeasyPrint, from the same HTML and style sheet as the screen.

The file says that it follows PDF/A-3a (archives, ISO 19005-3) and PDF/UA-1 (readers of all kinds, ISO
14289-1).
Equal pages give equal bytes: dates are the page's own, and nothing outside the page is opened.
"""

from __future__ import annotations

import datetime
import gc
import hashlib
import logging
import os
import re
import sys
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from headland.files.writing import whole
from headland.report.attached import names
from headland.report.fonts import FONT_FOLDER
from headland.report.pango import HOW_TO_INSTALL

try:
    import weasyprint
except OSError:  # Pango is missing; `pango` says how to get it
    weasyprint = None

FONTS = (
    ("DejaVu Sans", "DejaVuSans.ttf", "normal", "normal"),
    ("DejaVu Sans", "DejaVuSans-Bold.ttf", "bold", "normal"),
    ("DejaVu Sans", "DejaVuSans-Oblique.ttf", "normal", "italic"),
    ("DejaVu Sans", "DejaVuSans-BoldOblique.ttf", "bold", "italic"),
    ("DejaVu Sans Mono", "DejaVuSansMono.ttf", "normal", "normal"),
)
"""Family, file, weight and style of each font."""
FONT_ADDRESS = "font:"
ON_SCREEN = re.compile(r"<!-- on screen -->.*?<!-- /on screen -->", re.DOTALL)
"""Parts of a page that no printer gets; without them a page is laid out in a third of the time."""
UNDATED = datetime.date(2000, 1, 1)
"""The date of a page without one: an archive wants a date, and equal bytes want one that never changes."""
MIDDAY = datetime.time(12, tzinfo=datetime.UTC)
NO_GLYPH = re.compile(r"^\.notdef glyph .*\(U\+([0-9A-F]+)\)$")
"""How WeasyPrint warns of a letter that no font has."""
OTHER_SUBSETTER = "Using fontTools instead of HarfBuzz-Subset"
"""How WeasyPrint says that it makes the fonts small by fontTools, because a library of the system is missing:
the page looks the same, with other bytes.
"""
CLOCK = "SOURCE_DATE_EPOCH"
"""The environment's name for the time that made files carry, in seconds since 1970."""
EQUATION = "Equation "
"""How the alternative text of an equation begins; other pictures are figures."""
KEPT = set("\t\n\r\u00ad\u200b")
"""White space, and what only says where a line may break."""
REFUSED = ("Cc", "Cf", "Co", "Cn", "Cs", "Zl", "Zp")
"""Kinds of characters that steer text or mean something to one program alone."""
UNBROKEN = re.compile(r"(?<=\d) (?=%|°C|K\b|W m⁻²)|(?<=±) (?=\d)|(?<=W) (?=m⁻²)")
"""Blanks between a number and its sign or unit, and within a unit."""
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
"""Printed for a character that an archive refuses: one that steers text, or means something to one program
alone.
"""
UA_SCHEMA = """<rdf:Description rdf:about="" xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
 xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"><pdfuaid:part>1</pdfuaid:part></rdf:Description>
<rdf:Description rdf:about="" xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"
 xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
 xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
"""


class LayoutError(Exception):
    """A page can't be laid out as it should; the message says why, in one line."""


def pdf(page: str, attached: Mapping[str, bytes] | None = None) -> bytes:
    """A page as a PDF. Equal pages give equal bytes.

    Parameters
    ----------
    page : the page as HTML
    attached : contents of the files that go along with it, by name

    Returns
    -------
    The bytes of the PDF. LayoutError where WeasyPrint warns of anything: an image without alternative text is
    enough. A letter that no font has is printed as a sign of replacement.
    """
    text = _printable(ON_SCREEN.sub("", page))
    made, warned = _laid_out(text, attached or {})
    lacking = {chr(int(letter, 16)) for line in warned for letter in NO_GLYPH.findall(line)}
    if lacking:
        made, warned = _laid_out(_replaced(text, lacking), attached or {})
    if warned:
        raise LayoutError("; ".join(dict.fromkeys(warned[:5])))
    return made


def _replaced(text: str, lacking: set[str]) -> str:
    """A page's text with the sign of replacement for each letter that is drawn with a glyph that no font has.

    Some letters are drawn in parts (Thai sara am as nikhahit and sara aa), and the warning names the part.
    """
    without = {
        ord(letter): REPLACEMENT
        for letter in set(text)
        if lacking.intersection(letter + unicodedata.normalize("NFKD", letter))
    }
    return text.translate(without)


def _laid_out(text: str, attached: Mapping[str, bytes]) -> tuple[bytes, list[str]]:
    """A page's PDF, and what WeasyPrint warned of."""
    moment = datetime.datetime.combine(_day(text), MIDDAY)
    with _warnings() as warned, _no_collection(), _still_clock(moment):
        fetcher = _fetcher()
        configuration = weasyprint.text.fonts.FontConfiguration()
        fonts = weasyprint.CSS(string=_font_faces(), url_fetcher=fetcher, font_config=configuration)
        document = weasyprint.HTML(string=text, url_fetcher=fetcher).render(
            font_config=configuration, stylesheets=[fonts], pdf_variant="pdf/a-3a"
        )
        document.metadata.created = document.metadata.modified = moment.isoformat()
        made = document.write_pdf(
            pdf_variant="pdf/a-3a",
            pdf_identifier=hashlib.sha256(text.encode("utf-8")).digest()[:16],
            attachments=[_attachment(name, content, moment) for name, content in attached.items()],
            finisher=_finish,
        )
    return made, warned


def lay_out(page: Path, target: Path, attached: Sequence[Path] = ()) -> Path:
    """Write a page as a PDF with files attached, and return its path; end the program where that can't be
    done as it should.
    """
    try:
        contents = [path.read_bytes() for path in attached]
        made = pdf(page.read_text(encoding="utf-8"), dict(zip(names(attached), contents, strict=True)))
    except LayoutError as problem:
        target.unlink(missing_ok=True)
        sys.exit(f"{page.name} can't be laid out as it should: {problem}")
    with whole(target) as part:
        part.write_bytes(made)
    return target


def beside(pages: Sequence[Path]) -> list[str]:
    """Lay out pages as PDFs beside them; returns what to say: their paths, or how to get Pango."""
    if weasyprint is None:
        return [HOW_TO_INSTALL]
    return [str(lay_out(page, page.with_suffix(".pdf"))) for page in pages]


def _printable(page: str) -> str:
    """The page with every character replaced that an archive refuses, and no line break within a number with
    its unit.
    """
    refused = {letter for letter in set(page) - KEPT if unicodedata.category(letter) in REFUSED}
    return UNBROKEN.sub("\N{NO-BREAK SPACE}", page.translate(dict.fromkeys(map(ord, refused), REPLACEMENT)))


def _day(page: str) -> datetime.date:
    """The day that the page names in its head."""
    named = re.search(r'<meta name="dcterms\.date" content="([^"]*)">', page)
    try:
        return datetime.date.fromisoformat(named[1]) if named else UNDATED
    except ValueError:
        return UNDATED


def _font_faces() -> str:
    return "".join(
        f"@font-face {{ font-family: '{family}'; src: url({FONT_ADDRESS}{file}); "
        f"font-weight: {weight}; font-style: {style} }}\n"
        for family, file, weight, style in FONTS
    )


def _fetcher():
    """What opens an address of a page: our fonts and data within the page, nothing else."""
    from weasyprint.urls import URLFetcher, URLFetcherResponse

    class Fetcher(URLFetcher):
        def fetch(self, url, headers=None):
            file = url.removeprefix(FONT_ADDRESS)
            if url.startswith(FONT_ADDRESS) and file in {name for _, name, *_ in FONTS}:
                return URLFetcherResponse(
                    url, (FONT_FOLDER / file).read_bytes(), {"Content-Type": "font/ttf"}
                )
            return super().fetch(url, headers)

    return Fetcher(allowed_protocols={"data"})


def _attachment(name: str, content: bytes, moment: datetime.datetime):
    return weasyprint.Attachment(
        string=content,
        name=name,
        description=f"The file {name}",
        created=moment,
        modified=moment,
        relationship="Data",
    )


def _finish(document, pdf) -> None:
    """What PDF/UA-1 asks for and WeasyPrint leaves out: its mark, the scope of header cells, and equations
    that say that they are.
    """
    _identify(pdf)
    elements: list[Any] = [
        item for item in pdf.objects if isinstance(item, dict) and item.get("Type") == "/StructElem"
    ]
    by_reference = {element.reference: element for element in elements}
    for element in elements:
        if element["S"] == "/TH" and "A" in element:
            group = by_reference[by_reference[element["P"]]["P"]]
            # a cell over all columns heads the rows below it
            heads_columns = group["S"] == "/THead" or "ColSpan" in element["A"]
            element["A"]["Scope"] = "/Column" if heads_columns else "/Row"
        elif element["S"] == "/Figure" and "Alt" in element:
            is_equation = element["Alt"].string.startswith(EQUATION)
            element["S"] = "/Formula" if is_equation else "/Figure"


def _identify(pdf) -> None:
    """Add to the metadata that the file follows PDF/UA-1; WeasyPrint writes one standard's mark, here that
    of PDF/A-3a.
    """
    metadata = pdf.objects[int(pdf.catalog["Metadata"].split()[0])]
    content = b"".join(part if isinstance(part, bytes) else part.encode() for part in metadata.stream)
    end = content.rindex(b"</", 0, content.rindex(b"</x:xmpmeta>"))
    metadata.stream = [content[:end], UA_SCHEMA.encode(), content[end:]]
    metadata.compress = False


@contextmanager
def _warnings() -> Iterator[list[str]]:
    """What WeasyPrint warns of meanwhile that changes the page, one line each."""
    warned: list[str] = []

    class Keeping(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            message = " ".join(record.getMessage().split())
            if not message.startswith(OTHER_SUBSETTER):
                warned.append(message)

    logger = logging.getLogger("weasyprint")
    before = logger.handlers[:]
    logger.handlers = [Keeping(logging.WARNING)]
    try:
        yield warned
    finally:
        logger.handlers = before


@contextmanager
def _still_clock(moment: datetime.datetime) -> Iterator[None]:
    """The page's own moment for fontTools, which writes the time into a font that it makes small."""
    before = os.environ.get(CLOCK)
    os.environ[CLOCK] = str(int(moment.timestamp()))
    try:
        yield
    finally:
        if before is None:
            del os.environ[CLOCK]
        else:
            os.environ[CLOCK] = before


@contextmanager
def _no_collection() -> Iterator[None]:
    """No search for garbage meanwhile: a page makes a million objects, and nearly all live to the end."""
    enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if enabled:
            gc.enable()
