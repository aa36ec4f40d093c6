"""A page of ours on paper: the same text, tables and figures as an A4 PDF for the archive (PDF/A-3a) and for readers of all kinds (PDF/UA-1).

The page is read into a tree, which workflow/headland/report/paper.typ lays out. Whatever stands in the page reaches it as data, never as instructions.
"""

from __future__ import annotations

import base64
import datetime
import io
import json
import re
import sys
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from html.parser import HTMLParser
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font

from headland.base.words import word_parts
from headland.files.writing import whole

FONT_FOLDER = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
"""The fonts that matplotlib ships, so that the pages are the same on every machine."""
LAYOUT = Path(__file__).resolve().parent / "paper.typ"
EMPTY = ("br", "col", "img", "meta", "wbr")
INLINE = ("a", "b", "code", "em", "span", "wbr")
UNPRINTED = ("head", "script", "style")
PASSED = "\t\n\f\r\u200b\u00ad"
"""White space, and what only says where a line may break: no font needs to have it."""
REPLACEMENT = "\N{REPLACEMENT CHARACTER}"
"""Stands on paper for a letter that no font has, or that an archive does not take (ISO 19005-3): one that steers, or means nothing to others."""
UNDATED = datetime.date(2000, 1, 1)
"""An archive wants a date, equal bytes one that is not the clock's: where a page tells of no day, this."""


class LayoutError(Exception):
    """A page can't be laid out as it should; says why, in a line."""


class _Reader(HTMLParser):
    """Builds the tree: an element is its tag, its classes, some attributes, and `in`, what stands in it: strings and elements."""

    def __init__(self):
        super().__init__()
        self.open: list[dict] = [{"tag": "", "class": [], "in": []}]
        self.head: dict[str, str] = {}

    def handle_starttag(self, tag: str, attrs: Sequence[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        node = {"tag": tag, "class": given.get("class", "").split(), "in": []} | {
            key: given[key] for key in ("id", "alt") if key in given
        }
        if given.get("href", "").startswith("#"):
            node["to"] = given["href"][1:]
        if "colspan" in given:
            node["colspan"] = int(given["colspan"])
        if width := re.match(r"width:\s*([\d.]+)(pt|%)", given.get("style", "")):
            node["points" if width[2] == "pt" else "percent"] = float(width[1])
        if tag == "img":
            node["svg"] = base64.b64decode(given["src"].partition("base64,")[2]).decode("utf-8")
        if tag == "html":
            self.head["language"] = given.get("lang", "")
        if tag == "meta" and "name" in given:
            self.head[given["name"]] = given["content"]
        if "hidden" not in given:
            self.open[-1]["in"].append(node)
        if tag not in EMPTY:
            self.open.append(node)

    handle_startendtag = handle_starttag

    def handle_endtag(self, tag: str) -> None:
        if self.open[-1]["tag"] != tag:
            raise LayoutError(
                f"line {self.getpos()[0]}: </{tag}> where </{self.open[-1]['tag']}> was expected"
            )
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if self.open[-1]["tag"] == "title":
            self.head["title"] = self.head.get("title", "") + data
        self.open[-1]["in"].append(data)


def tree(page: str) -> dict:
    """What a page says: `language`, `title`, what its meta elements name, and `body`, a tree with white space as a browser shows it and without links that lead nowhere.

    LayoutError where an element is not closed or there is no body.
    """
    reader = _Reader()
    reader.feed(page)
    reader.close()
    root = reader.open[0]
    body = next((node for node in _elements(root) if node["tag"] == "body"), None)
    if len(reader.open) > 1 or body is None:
        raise LayoutError(f"<{reader.open[-1]['tag'] or 'body'}> is not closed")
    _as_shown(body, True)
    named = {node["id"] for node in _elements(body) if "id" in node}
    for node in _elements(body):
        if node.get("to") not in named:
            node.pop("to", None)
    return {**reader.head, "body": body}


def _elements(node: dict) -> Iterator[dict]:
    yield node
    for child in node["in"]:
        if isinstance(child, dict):
            yield from _elements(child)


def _is_block(node: dict) -> bool:
    return node["tag"] not in INLINE or "second" in node["class"]


def _as_shown(node: dict, spaced: bool) -> bool:
    """Make runs of white space one space, with none at the ends of a block, and let long words break. spaced: whether a space or an edge comes before; returns whether one comes after."""
    kept: list = []
    spaced = spaced or _is_block(node)
    for child in node["in"]:
        if isinstance(child, str):
            text = re.sub(r"[ \t\r\n\f]+", " ", child)
            text = text.removeprefix(" ") if spaced else text
            if text:
                kept += _breakable(text)
                spaced = text.endswith(" ")
        elif child["tag"] not in UNPRINTED:
            if _is_block(child):
                _end_block(kept)
            spaced = _as_shown(child, spaced)
            kept.append(child)
    if _is_block(node):
        _end_block(kept)
    node["in"] = kept
    return spaced or _is_block(node)


def _breakable(text: str) -> list:
    """A text with an element `wbr` wherever a line may break in a long word; one that is no letter would be copied with the text."""
    result: list = [""]
    for word in re.split(r"(?<= )", text):
        first, *rest = word_parts(word)
        result[-1] += first
        for part in rest:
            result += [{"tag": "wbr", "class": [], "in": []}, part]
    return result


def _end_block(kept: list) -> None:
    if kept and isinstance(kept[-1], str):
        kept[-1] = kept[-1].removesuffix(" ")
        if not kept[-1]:
            kept.pop()


def pdf(page: str, tables: Mapping[str, str] = {}) -> bytes:
    """A page of ours as a PDF, and tables (their names, their texts) attached to it. Equal pages give equal bytes.

    LayoutError where the page can't be laid out as it should: an image without alternative text is enough.
    """
    import typst

    ours = FT2Font(str(FONT_FOLDER / "DejaVuSans.ttf")).get_charmap()
    never = {letter for letter in set(page) - set(PASSED) if unicodedata.category(letter).startswith("C")}
    lacking = {letter for letter in set(page) - set(PASSED) - never if ord(letter) not in ours}
    # the machine's own fonts are asked only for letters that ours lack
    tries = [(never, bool(lacking)), (never | lacking, False)] if lacking else [(never, False)]
    for replaced, others in tries:
        told = tree(page.translate(dict.fromkeys(map(ord, replaced), REPLACEMENT)))
        told["date"] = _day(told.get("dcterms.date", "")).isoformat()
        compiler = typst.Compiler(
            LAYOUT, root=LAYOUT.parent, font_paths=[FONT_FOLDER], ignore_system_fonts=not others
        )
        try:
            made, warnings = compiler.compile_with_warnings(
                format="pdf",
                pdf_standards=["a-3a", "ua-1"],
                sys_inputs={"page": json.dumps(told), "tables": json.dumps(tables)},
            )
            break
        except typst.TypstError as problem:
            why = problem.message
    else:
        raise LayoutError(_line(why))
    if warnings:
        raise LayoutError("; ".join(_line(warning.message) for warning in warnings[:5]))
    return packed(made)


def _day(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return UNDATED


def packed(made: bytes) -> bytes:
    """The same PDF with its many small objects compressed together, which its structure for readers makes worth while."""
    import pikepdf

    small = io.BytesIO()
    with pikepdf.open(io.BytesIO(made)) as whole:
        whole.save(
            small,
            object_stream_mode=pikepdf.ObjectStreamMode.generate,
            deterministic_id=True,
            fix_metadata_version=False,
        )
    return small.getvalue()


def _line(text: str) -> str:
    return " ".join(text.split())


def lay_out(page: Path, target: Path, tables: Sequence[Path] = ()) -> Path:
    """Write a page of ours as a PDF, with tables attached, and return its path; ends the program where the page can't be laid out as it should."""
    try:
        made = pdf(
            page.read_text(encoding="utf-8"), {path.name: path.read_text(encoding="utf-8") for path in tables}
        )
    except LayoutError as problem:
        target.unlink(missing_ok=True)
        sys.exit(f"{page.name} can't be laid out as it should: {problem}")
    with whole(target) as part:
        part.write_bytes(made)
    return target
