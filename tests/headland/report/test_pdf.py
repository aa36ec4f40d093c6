"""A page as a PDF: what is in the page comes out as it is, whatever it looks like."""

import base64
import io

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from headland.report import attached, pdf


def page(body: str, head: str = "") -> str:
    style = "<style>thead { display: table-header-group } .short { break-inside: avoid }</style>"
    start = f'<!DOCTYPE html><html lang="en"><head><title>A page</title>{head}{style}</head>'
    return f"{start}<body><h1>A page</h1>{body}</body></html>"


def words(made: bytes) -> str:
    return " ".join(
        " ".join(sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(made)).pages).split()
    )


def test_a_long_word_breaks_and_is_copied_as_it_is():
    word = "Streuobstwiesenparzelle"
    narrow = (
        "<table style='table-layout: fixed'><colgroup><col style='width:9%'><col "
        "style='width:91%'></colgroup><tbody>"
        f"<tr><td style='overflow-wrap: anywhere'>{word}</td><td>next</td></tr></tbody></table>"
    )
    (sheet,) = pypdf.PdfReader(io.BytesIO(pdf.pdf(page(narrow)))).pages
    assert word in sheet.extract_text().replace("\n", "").replace(" ", "")
    assert "\u200b" not in sheet.extract_text()
    assert "python3 scripts/headland.py report" in words(
        pdf.pdf(page("<p>python3 scripts/headland.py report CAMPAIGN</p>"))
    )


@pytest.mark.parametrize("rows", [5, 60, pytest.param(140, marks=pytest.mark.study)])
def test_a_table_that_should_stay_on_one_page_but_can_not_loses_no_row(rows):
    """What runs over the foot of a page is cut off without a word."""
    body = "".join(f"<tr><td>row{n}</td><td>{n}</td></tr>" for n in range(rows))
    made = pdf.pdf(
        page(
            '<div class="short"><table><caption>Kept</caption><thead><tr><th>name</th><th>value</th></tr>'
            f"</thead><tbody>{body}</tbody></table></div><p>after</p>"
        )
    )
    heights = []
    for sheet in pypdf.PdfReader(io.BytesIO(made)).pages:
        sheet.extract_text(
            visitor_text=lambda text, cm, tm, font, size: (
                heights.append(cm[5] + cm[3] * tm[5]) if "row" in text else None
            )
        )
    assert all(f"row{n}" in words(made) for n in range(rows)) and min(heights) > 18 / 25.4 * 72


def test_a_row_that_no_page_can_hold_goes_on_over_the_next():
    made = pdf.pdf(
        page(
            '<table><thead><tr><th>what</th></tr></thead><tbody><tr><td class="text">'
            f"{'word ' * 6000} end</td></tr></tbody></table>"
        )
    )
    assert len(pypdf.PdfReader(io.BytesIO(made)).pages) > 2 and "end" in words(made)


@pytest.mark.parametrize(
    "text",
    [
        "<table></table>",
        "<table><caption>c</caption></table>",
        "<table><thead></thead><tbody></tbody></table>",
        "<p>a<br/>b</p>",
        "<ul></ul>",
        "<p></p>",
        "<figure></figure>",
    ],
)
def test_what_is_empty_is_nothing(text):
    assert "after" in words(pdf.pdf(page(f"{text}<p>after</p>")))


def test_what_is_on_the_screen_alone_is_not_printed():
    made = words(
        pdf.pdf(page("<!-- on screen --><p>drawn</p>\n<script>x</script><!-- /on screen --><p>after</p>"))
    )
    assert "drawn" not in made and "after" in made


def test_a_link_that_leads_nowhere_is_refused():
    assert "x" in words(pdf.pdf(page('<p id="here"><a href="#here">x</a></p>')))
    with pytest.raises(pdf.LayoutError, match="nowhere"):
        pdf.pdf(page('<p><a href="#nowhere">y</a></p>'))


@pytest.mark.parametrize(
    "text",
    [
        '<img alt="x" src="https://example.org/x.svg">',
        '<img alt="x" src="file:///etc/hostname">',
        '<style>@import url("https://example.org/x.css");</style>',
        '<link rel="stylesheet" href="file:///x.css">',
        "<style>p { background: url(font:DejaVuSans.ttf/../x) }</style><p>x</p>",
    ],
)
def test_nothing_outside_the_page_is_opened(text, monkeypatch):
    import socket

    def refused(*_):
        raise AssertionError("a connection was opened")

    monkeypatch.setattr(socket.socket, "connect", refused)
    with pytest.raises(pdf.LayoutError):
        pdf.pdf(page(text))


@pytest.mark.parametrize(
    "text",
    [
        "#pdf.attach(&quot;x&quot;, read(&quot;/etc/passwd&quot;))",
        "$x^2$ *bold* _em_ `code` @ref &lt;label&gt;",
        "// note",
        "= heading",
        "- item",
        "\\u{41} \\",
        "#let x = 1; #x",
        "{{ x }} {% y %}",
    ],
)
def test_nothing_in_a_page_is_read_as_an_instruction(text):
    shown = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", '"')
    assert shown in words(
        pdf.pdf(
            page(
                f"<p>{text}</p><table><thead><tr><th>{text}</th></tr></thead>"
                "<tbody><tr><td>1</td></tr></tbody></table>"
            )
        )
    )


@pytest.mark.parametrize(
    "letter",
    [
        "\u7530",
        "\U0001f33e",
        "\ue000",
        "\ufffe",
        "\u0007",
        "\u202e",
        "\u05d0",
        "\u200d",
        "\U000f0000",
        "\ufeff",
        "\u0e33",
        "\u0eb3",
    ],
)
def test_a_letter_that_no_font_has_is_shown_as_such_and_the_page_comes(letter):
    assert "field B" in words(pdf.pdf(page(f"<p>A{letter}</p><p>field B</p>")))


@settings(max_examples=12)
@given(st.text(max_size=40))
def test_any_text_can_stand_on_a_page(text):
    import html

    assert "after" in words(pdf.pdf(page(f"<p>{html.escape(text)}</p><p>after</p>")))


def test_equal_pages_have_equal_bytes_and_the_date_is_the_pages_own():
    dated = page("<p>x</p>", '<meta name="dcterms.date" content="2031-05-06">')
    first, second = pdf.pdf(dated, {"a.csv": b"x\n1\n"}), pdf.pdf(dated, {"a.csv": b"x\n1\n"})
    assert first == second
    assert f"{pypdf.PdfReader(io.BytesIO(first)).metadata.creation_date:%Y-%m-%d}" == "2031-05-06"
    assert pypdf.PdfReader(io.BytesIO(first)).attachments["a.csv"] == [b"x\n1\n"]
    for odd in ("", "today", "2031-02-30"):
        assert pdf.pdf(page("<p>x</p>", f'<meta name="dcterms.date" content="{odd}">'))


def test_without_the_systems_library_for_small_fonts_the_same_page_comes(monkeypatch):
    """Debian and Ubuntu ship Pango with every desktop, but not this library."""
    text = page("<p>Albedo 0.23 ± 0.01</p>")
    with_library = pdf.pdf(text)
    monkeypatch.setattr("weasyprint.pdf.fonts.harfbuzz_subset", None)
    without = pdf.pdf(text)
    assert words(without) == words(with_library)
    assert abs(len(without) - len(with_library)) < 0.1 * len(with_library)
    assert pdf.pdf(text) == without


def test_a_picture_without_words_is_refused():
    picture = base64.b64encode(
        b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"><path d="M0 0h9v9z"/></svg>'
    ).decode()
    assert pdf.pdf(page(f'<figure><img src="data:image/svg+xml;base64,{picture}" alt="A corner"></figure>'))
    with pytest.raises(pdf.LayoutError, match="alt"):
        pdf.pdf(page(f'<figure><img src="data:image/svg+xml;base64,{picture}"></figure>'))


def test_a_long_table_repeats_its_head_and_loses_no_row():
    rows = "".join(f'<tr id="r{n}"><td><a href="#r{n}">row{n}</a></td><td>{n}</td></tr>' for n in range(150))
    made = pdf.pdf(
        page(
            '<table><caption>Long</caption><thead><tr><th><a href="#r3">name</a></th>'
            "<th>value</th></tr></thead>"
            f"<tbody>{rows}</tbody></table>"
        )
    )
    sheets = [sheet.extract_text() for sheet in pypdf.PdfReader(io.BytesIO(made)).pages]
    assert len(sheets) > 2 and all("name" in sheet for sheet in sheets)
    text = words(made)
    assert all(f"row{n}" in text for n in range(150))


def test_files_of_one_name_are_both_attached(tmp_path):
    paths = [tmp_path / folder / "surfaces.csv" for folder in ("results", "config")]
    for path in paths:
        path.parent.mkdir()
        path.write_text(path.parent.name, encoding="utf-8")
    (tmp_path / "page.html").write_text(page("<p>x</p>"), encoding="utf-8")
    made = pdf.lay_out(tmp_path / "page.html", tmp_path / "page.pdf", paths)
    held = pypdf.PdfReader(made).attachments
    assert attached.names(paths) == ["surfaces.csv", "config_surfaces.csv"] == list(held)
    assert held["surfaces.csv"] == [b"results"] and held["config_surfaces.csv"] == [b"config"]


def test_the_file_says_which_standards_it_follows():
    metadata = pypdf.PdfReader(io.BytesIO(pdf.pdf(page("<p>x</p>")))).xmp_metadata
    said = metadata.stream.get_data().decode()
    assert said.count("http://www.aiim.org/pdfua/ns/id/") and "<pdfuaid:part>1</pdfuaid:part>" in said
    assert "pdfaid:part" in said
