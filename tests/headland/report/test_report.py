"""The report: one page, everything escaped, the same bytes each time, on the screen and as a PDF."""

import base64
import importlib
import re

import pytest

from headland.report import page, page_methods, wording

from .figures_made import NASTY, frame, groups
from .report_made import (
    EQUATIONS,
    FIGURES,
    OURS,
    PICTURE,
    QUANTITIES,
    ROOT,
    Page,
    finding,
    given,
    html,
    segments,
    with_tables,
)

pytestmark = pytest.mark.usefixtures("quick_equations")


# The page
# ----------------------------------------------------------------------------------------------------------


def test_the_page_is_whole_and_the_same_each_time():
    text = html()
    shown = Page(text)
    assert not shown.wrong and not shown.open
    assert text == html()
    assert ("html", {"lang": "en"}) in shown.tags
    assert "A day" in shown.text and "estimated from textbook fractions, not measured" in shown.text


def test_nothing_outside_is_loaded_and_every_image_has_a_text():
    text = html()
    for tag, attributes in Page(text).tags:
        for key in ("src", "href", "action", "data"):
            assert attributes.get(key, "#").startswith(("#", "data:image/svg+xml;base64,")), (tag, attributes)
        if tag == "img":
            assert len(attributes["alt"]) > 10
    assert "url(" not in text and "@import" not in text and "http" not in re.sub(r"base64,[^\"]*", "", text)


def test_figures_are_embedded_byte_for_byte():
    images = re.findall(r'base64,([^"]*)"', html())
    dots = len(groups("surfaces")) + 1
    assert len(images) == len(FIGURES) + len(EQUATIONS) + dots
    kept = [base64.b64decode(image).decode() == PICTURE for image in images]
    assert sum(kept) == len(FIGURES) + len(EQUATIONS)


def test_every_table_fits_a_phone():
    """A table becomes cards there, or slides in a frame."""
    for template in sorted(OURS.glob("*.jinja")):
        text = template.read_text(encoding="utf-8")
        frames = re.findall(r'<div class="(scroll|times)\b', text)
        tables = re.findall(r"<table([^>]*)", text)
        slide = [table for table in tables if "cards" not in table]
        assert len(frames) >= len(slide), template.name


def test_no_part_of_the_page_holds_the_tab_key():
    """What only slides takes no stop: browsers give one to frames that really slide."""
    for template in sorted(OURS.glob("*.jinja")):
        assert "tabindex" not in template.read_text(encoding="utf-8"), template.name
    assert '<a class="skip" href="#answer">' in html()


def test_figures_and_tables_are_numbered_in_order_and_referred_to_by_number():
    text = html()
    for word in ("Figure", "Table"):
        numbers = [int(n) for n in re.findall(rf'<b class="number">{word} (\d+)\.</b>', text)]
        assert numbers == list(range(1, len(numbers) + 1)) and numbers
    ids = set(re.findall(r' id="([^"]+)"', text))
    assert len(ids) == len(re.findall(r' id="([^"]+)"', text))
    assert set(re.findall(r'href="#([^"]+)"', text)) <= ids
    given_page = (
        '<figure id="fig-x"><b class="number" data-of="fig-x"></b></figure><a class="ref" href="#fig-x"></a>'
    )
    assert 'href="#fig-x">Figure 1</a>' in page.numbered(given_page)


def test_a_reference_to_nothing_is_our_fault_and_seen():
    with pytest.raises(KeyError):
        page.numbered('<a class="ref" href="#fig-gone"></a>')


@pytest.mark.parametrize(
    "name",
    [
        NASTY,
        "<script>alert(1)</script>",
        "</table></style></title>",
        "{{ 7 * 7 }} {% raw %}",
        '<a class="ref" href="#x"></a>',
        "\u202eabc",
        "x" * 300,
    ],
)
def test_what_users_write_stays_text(name):
    settings = {**given().settings, "title": name, "site": {**given().settings["site"], "name": name}}
    text = html(
        settings=settings,
        tables=with_tables(
            segments=segments(field=name),
            fields=groups("fields").assign(field=name),
            checks=frame("checks", [finding(what=name, file=name)]),
        ),
    )
    shown, plain = Page(text), Page(html(tables=with_tables(checks=frame("checks", [finding()]))))
    assert not shown.wrong and not shown.open
    assert [tag for tag, _ in shown.tags if tag != "wbr"] == [tag for tag, _ in plain.tags if tag != "wbr"]
    assert " ".join(name.split()) in shown.text


def test_fonts_of_the_style_sheet_survive():
    assert 'font-family: "DejaVu Sans", Verdana' in html()


# Equations, quantities, the page on the method
# ---------------------------------------------------------------------


def test_each_equation_has_its_number_and_its_quantity():
    assert EQUATIONS["number"].tolist() == [str(n) for n in range(1, 23)]
    assert {row["equation"] for row in QUANTITIES if row["equation"]} == set(EQUATIONS["number"])
    assert (EQUATIONS[["mathtext", "spoken", "words"]] != "").all(axis=None)


def test_a_printed_number_leads_to_a_function_in_two_hops():
    keys = {row["key"]: row for row in QUANTITIES}
    for title, _, _, key in wording.SHOWN.values():
        module, function = keys[key]["function"].rsplit(".", 1)
        assert callable(getattr(importlib.import_module(f"headland.{module}"), function)), title


def test_every_function_of_the_quantities_exists():
    for row in QUANTITIES:
        module, function = row["function"].rsplit(".", 1)
        assert callable(getattr(importlib.import_module(f"headland.{module}"), function)), row["key"]


def test_equations_are_drawn(monkeypatch):
    monkeypatch.undo()
    for row in page_methods.equations(EQUATIONS, QUANTITIES):
        assert row["functions"] and row["source"] and row["width"] > 5
        assert base64.b64decode(row["image"]).decode().startswith("<?xml")


def test_the_page_on_the_method_says_the_same():
    text = (ROOT / "docs" / "method.md").read_text(encoding="utf-8")
    parts = dict(re.findall(r"^### \((\d+)\)\n(.*?)(?=^##|\Z)", text, flags=re.S | re.M))
    assert list(parts) == EQUATIONS["number"].tolist()
    for row in EQUATIONS.to_dict("records"):
        own = [q for q in QUANTITIES if q["equation"] == row["number"]]
        part = parts[row["number"]]
        assert f"$${row['mathtext']}$$" in part and wording.units(row["words"]) in part, row["number"]
        assert all(f"`{q['function']}`" in part and q["source"] in part for q in own), row["number"]
