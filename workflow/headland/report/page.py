"""Fills the HTML templates: one style sheet for all pages, everything that a user wrote escaped, figures and
tables numbered.
"""

from __future__ import annotations

import base64
import json
import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import jinja2
from markupsafe import Markup

from headland.report.wording import breakable, soft, units

HERE = Path(__file__).resolve().parent
STYLE = HERE / "style.css"


@cache
def environment() -> jinja2.Environment:
    """The templates beside this module. A name that a template uses and nobody gives is an error."""
    result = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    result.filters |= {"breakable": breakable, "soft": soft, "units": units}
    result.globals["style"] = Markup(STYLE.read_text(encoding="utf-8"))
    return result


def page(name: str, values: Mapping) -> str:
    """The page of a template: `report`, `plan`, `season` and so on.

    Parameters
    ----------
    name : the template's file name before `.html.jinja`
    values : what the template prints; texts are escaped, `Markup` goes in as it is

    Returns
    -------
    The page as HTML, in one file: it loads nothing.
    """
    return filled(environment().get_template(f"{name}.html.jinja"), values)


def filled(template: jinja2.Template, values: Mapping) -> str:
    """A template with its values, its figures and tables numbered."""
    return numbered(template.render(**values) + "\n")


def embedded(svg: str) -> str:
    """An SVG as the base64 text of a data address, so that the page is one file."""
    return base64.b64encode(svg.encode("utf-8")).decode("ascii")


def as_json(held: Mapping) -> Markup:
    """Values as JSON that can be inside a page: no text in it can end the element that holds it."""
    text = json.dumps(held, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return Markup(text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e"))


def numbered(text: str) -> str:
    """The page with its figures and tables numbered in their order, in captions and wherever the text refers
    to them.
    """
    names: dict[str, str] = {}
    for kind, word in (("figure", "Figure"), ("table", "Table")):
        ids = re.findall(rf'<{kind} id="([^"]+)"', text)
        names |= {name: f"{word} {place}" for place, name in enumerate(ids, 1)}

    def caption(match: re.Match) -> str:
        return f'<b class="number">{names[match[1]]}.</b>'

    def reference(match: re.Match) -> str:
        return f'<a class="ref" href="#{match[1]}">{names[match[1]]}</a>'

    text = re.sub(r'<b class="number" data-of="([^"]+)"></b>', caption, text)
    return re.sub(r'<a class="ref" href="#([^"]+)"></a>', reference, text)
