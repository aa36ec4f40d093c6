"""Step 9, last part: the report's page laid out on A4."""

import datetime
import gc
import logging
import os
import sys
from collections.abc import Sequence
from pathlib import Path

import matplotlib
import package_path  # noqa: F401
from headland import step
from headland.tables import whole

FONTS = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
"""The fonts that matplotlib ships, so that the pages are the same on every machine."""
UNDATED = datetime.datetime(2000, 1, 1, tzinfo=datetime.timezone.utc)
"""The date that attachments bear, so that equal tables give equal bytes."""


ACCESSIBLE = b"""<rdf:Description xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" rdf:about="" pdfuaid:part="1"/>
<rdf:Description xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#" rdf:about="">
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema><pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI><pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name><pdfaProperty:valueType>Integer</pdfaProperty:valueType><pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 that the file follows</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property></rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>
"""
"""That the file follows PDF/UA-1 (ISO 14289-1) as well, and what this says, which an archive asks for (ISO 19005-3, 6.6.2.3)."""


def declared(document, pdf) -> None:
    """Completes what the file says of itself, and leaves it readable without decompression, as ISO 19005-3 asks (6.6.2.1)."""
    metadata = pdf.objects[int(pdf.catalog["Metadata"].split()[0])]
    metadata.compress = False
    metadata.stream = [part.replace(b"</rdf:RDF>", ACCESSIBLE + b"</rdf:RDF>") for part in metadata.stream]


class Complaints(logging.Handler):
    """What the layout complains of: a missing alternative text or font is only logged, but no page should go out with it."""

    def __init__(self):
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        # where a machine has Pango but not this library, fonts are cut down another way, with no harm to the page
        if not (line := record.getMessage()).startswith("Using fontTools instead of HarfBuzz-Subset"):
            self.lines.append(line)


def lay_out(page: Path, pdf: Path, tables: Sequence[Path] = ()) -> None:
    """A page of ours as a PDF for the archive (PDF/A-3a) and for readers of all kinds (PDF/UA-1), with tables attached. OSError where Pango is not to be had; ends the program where the page can't be laid out as it should."""
    import weasyprint
    from weasyprint.text.fonts import FontConfiguration

    complaints = Complaints()
    for name in ("weasyprint", "fontTools"):
        logging.getLogger(name).addHandler(complaints)
    fonts = FontConfiguration()
    faces = "".join(f'@font-face {{ font-family: "{family}"; src: url("{(FONTS / file).as_uri()}"); font-weight: {weight}; font-style: {style} }}\n'
                    for family, file, weight, style in (
                        ("Headland Text", "DejaVuSans.ttf", "normal", "normal"), ("Headland Text", "DejaVuSans-Bold.ttf", "bold", "normal"),
                        ("Headland Text", "DejaVuSans-Oblique.ttf", "normal", "italic"), ("Headland Mono", "DejaVuSansMono.ttf", "normal", "normal"),
                        ("DejaVu Sans", "DejaVuSans.ttf", "normal", "normal"), ("DejaVu Sans", "DejaVuSans-Bold.ttf", "bold", "normal")))
    sheet = weasyprint.CSS(string=faces, font_config=fonts)
    laid = weasyprint.HTML(string=page.read_text(encoding="utf-8"), base_url=None)
    attached = [weasyprint.Attachment(string=path.read_text(encoding="utf-8"), name=path.name, description=f"The table {path.name}", created=UNDATED, modified=UNDATED, relationship="Data")
                for path in tables]
    # nothing is given back before the end, and looking for what could be costs a tenth of the time
    gc.disable()
    os.environ["SOURCE_DATE_EPOCH"] = "0"       # else a font that is cut down by fontTools holds the time of day
    with whole(pdf) as part:
        laid.write_pdf(part, stylesheets=[sheet], font_config=fonts, pdf_identifier=b"headland", pdf_variant="pdf/a-3a", attachments=attached, finisher=declared)
        if complaints.lines:
            pdf.unlink(missing_ok=True)
            sys.exit("The page can't be laid out as it should: " + "; ".join(complaints.lines[:5]))


def main() -> None:
    args = step.arguments(one=("page", "pdf"), many=("tables",))
    try:
        lay_out(args.page, args.pdf, args.tables)
    except OSError as problem:      # Pango, or what it needs, is not where it should be
        sys.exit(f"No PDF: the text-layout library (Pango) can't be used ({str(problem).splitlines()[0]}); report.html says the same.")


if __name__ == "__main__":
    main()
