"""The report as a PDF: eight pages, the same bytes, tagged, fit for an archive."""

import re
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pypdf
import pytest

from headland.report import page_answer

from .figures_made import groups
from .report_made import FIGURES, ROOT, given, html, segments, with_tables

pytestmark = pytest.mark.usefixtures("quick_equations")


# The layout
# --------------------------------------------------------------------------------------------------------


def laid_out(tmp_path: Path, page: str, *tables: Path) -> subprocess.CompletedProcess:
    (tmp_path / "page.html").write_text(page, encoding="utf-8")
    return subprocess.run(
        [
            sys.executable,
            str(ROOT / "scripts" / "steps" / "report_pdf.py"),
            "--page",
            str(tmp_path / "page.html"),
            "--pdf",
            str(tmp_path / "page.pdf"),
            "--figures",
            str(tmp_path),
            "--attached",
            *map(str, tables),
        ],
        capture_output=True,
        text=True,
        timeout=300,
    )


def pdf(tmp_path: Path, page: str, *tables: Path):
    run = laid_out(tmp_path, page, *tables)
    assert run.returncode == 0, run.stderr
    return pypdf.PdfReader(tmp_path / "page.pdf"), (tmp_path / "page.pdf").read_bytes()


def test_the_pdf_has_the_same_bytes_each_time_and_says_what_it_is(tmp_path):
    page = html()
    reader, first = pdf(tmp_path, page)
    _, second = pdf(tmp_path, page)
    assert first == second
    root = reader.trailer["/Root"]
    assert reader.metadata.title == "A day" and root["/Lang"] == "en" and root["/MarkInfo"]["/Marked"]
    day = page_answer.days(given())  # of the day that the page is about: the clock's would change the bytes
    assert f"{reader.metadata.creation_date:%Y-%m-%d}" == day
    assert str(ROOT).encode() not in first and str(tmp_path).encode() not in first
    width, height = (float(side) / 72 * 25.4 for side in reader.pages[0].mediabox[2:])
    assert (round(width), round(height)) == (210, 297)
    assert len(reader.pages) == 8
    assert f"{len(reader.pages)} / {len(reader.pages)}" in reader.pages[-1].extract_text()


def test_the_pdf_is_tagged_and_fit_for_an_archive(tmp_path):
    """PDF/A-3 (ISO 19005-3) with the tables attached; and what PDF/UA-1 (ISO 14289-1) asks for that can be
    seen from outside.
    """
    table = tmp_path / "surfaces.csv"
    table.write_text("surface,albedo\npaving,0.2\n", encoding="utf-8")
    reader, _ = pdf(tmp_path, html(), table)
    root = reader.trailer["/Root"]
    assert (
        b'pdfaid:part="3"' in root["/Metadata"].get_data()
        and root["/OutputIntents"][0]["/S"] == "/GTS_PDFA1"
        and root["/ViewerPreferences"]["/DisplayDocTitle"]
    )
    name, attached = root["/Names"]["/EmbeddedFiles"]["/Names"]
    attached = attached.get_object()
    kind = attached["/EF"]["/F"].get_object()["/Subtype"]
    assert (name, attached["/AFRelationship"], kind) == ("surfaces.csv", "/Data", "/text/csv")
    assert attached["/EF"]["/F"].get_object().get_data() == table.read_bytes()
    found, waiting, seen = [], [root["/StructTreeRoot"]], set()
    while waiting:
        item = waiting.pop()
        if getattr(item, "idnum", None) in seen:
            continue
        seen |= {item.idnum} if hasattr(item, "idnum") else set()
        item = item.get_object() if hasattr(item, "get_object") else item
        if isinstance(item, list):
            waiting += item
        elif isinstance(item, dict):
            found.append(item)
            waiting += [item[key] for key in ("/K",) if key in item]

    def of(kind: str) -> list:
        return [item for item in found if item.get("/S") == kind]

    assert len(of("/Figure")) >= len(FIGURES) - 2 and all(item.get("/Alt") for item in of("/Figure"))

    def attributes(item) -> dict:
        own = item["/A"] if isinstance(item["/A"], list) else [item["/A"]]
        return {key: value for part in own for key, value in part.items()}

    heads = {
        item["/ID"] for item in of("/TH")
    }  # a cell names its headers, which serves as well as their scope
    named = [set(attributes(item)["/Headers"]) for item in of("/TD")]
    assert (
        all(names <= heads for names in named)
        and sum(map(bool, named)) > 0.9 * len(named)
        and of("/H1")
        and of("/Caption")
    )
    scopes = [attributes(item).get("/Scope") for item in of("/TH")]
    assert set(scopes) == {"/Column", "/Row"}
    equations = [item for item in of("/Formula") if item["/Alt"].startswith("Equation ")]
    assert equations and not any(item["/Alt"].startswith("Equation ") for item in of("/Figure"))
    for inside, around in (("/LI", "/L"), ("/TR", "/THead /TBody /Table")):
        assert of(inside) and all(item["/P"].get_object()["/S"] in around.split() for item in of(inside))
    fonts = [
        font.get_object()
        for sheet in reader.pages
        for font in (sheet["/Resources"].get("/Font") or {}).values()
    ]
    assert fonts and all("/ToUnicode" in font for font in fonts)
    assert all("/FontFile2" in font["/DescendantFonts"][0]["/FontDescriptor"] for font in fonts)
    assert (
        b"<pdfuaid:part>1<" in root["/Metadata"].get_data()
        and "/Filter" not in root["/Metadata"].get_object()
    )  # a catalogue's metadata lie open
    assert {sheet["/Tabs"] for sheet in reader.pages} == {"/S"}
    links = [link.get_object() for sheet in reader.pages for link in sheet.get("/Annots", [])]
    assert links and all("/StructParent" in link and link.get("/Contents") for link in links)
    levels = [int(level) for level in re.findall(r"<h([1-6])", html())]
    assert levels[0] == 1 and all(after <= before + 1 for before, after in pairwise(levels))
    for sheet in reader.pages[:4]:
        assert not outside_marks(sheet, reader)
    page_validation = pytest.importorskip(
        "page", reason="page-validation, a validator, is not among the libraries that Headland needs"
    )
    for profile in (page_validation.ValidationProfile.PDF_A_3A, page_validation.ValidationProfile.PDF_UA_1):
        outcome = page_validation.validate_pdf(tmp_path / "page.pdf", profile=profile)
        assert outcome.is_compliant, [(failure.rule_id, failure.message) for failure in outcome.failures]


def outside_marks(sheet, reader) -> list[bytes]:
    """What is painted on a page neither as part of its structure nor as an artifact."""
    from pypdf.generic import ContentStream

    depth, bare = 0, []
    for _, operator in ContentStream(sheet.get_contents(), reader).operations:
        depth += {b"BDC": 1, b"BMC": 1, b"EMC": -1}.get(operator, 0)
        if depth == 0 and operator in (b"Tj", b"TJ", b"Do", b"f", b"f*", b"B", b"B*", b"S", b"s", b"sh"):
            bare.append(operator)
    return bare


def test_a_page_that_the_layout_complains_of_fails(tmp_path):
    run = laid_out(
        tmp_path,
        '<html lang="en"><head><title>x</title></head><body><img src="data:image/svg+xml;base64,bm8="></body>'
        "</html>",
    )
    assert run.returncode != 0 and not (tmp_path / "page.pdf").exists()
    assert "page.html can't be laid out as it should" in run.stderr and "Traceback" not in run.stderr


def test_names_of_any_width_stay_on_the_page(tmp_path):
    """The rightmost letters of every page lie inside the paper's margin."""
    long = "Versuchsgutsgrünlandparzellennummerdreiundzwanzig"
    reader, _ = pdf(
        tmp_path,
        html(
            tables=with_tables(
                segments=segments(field=long),
                fields=groups("fields", net_radiation=1234.5, sw_in=1300.0).assign(field=long),
            )
        ),
    )
    edges = []
    for sheet in reader.pages:
        sheet.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                edges.append(cm[4] + cm[0] * tm[4]) if text.strip() else None
            )
        )
    assert max(edges) < 210 / 25.4 * 72 - 15 / 25.4 * 72
