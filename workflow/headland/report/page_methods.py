"""Page 8: the equations used, their sources, and how to reproduce the numbers."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping, Sequence

import pandas as pd

from headland.report.appendix import CLASS_VALUES, terms_in_use
from headland.report.figures import equation
from headland.report.given import Given
from headland.report.page import embedded
from headland.report.wording import works

KEYS_OF_WAYS = {
    "balance.plate": "plate",
    "balance.bowen_from_heights": "two_heights",
    "balance.closure": "flux_station",
    "balance.bulk_transfer": "bulk_transfer",
}
"""Quantities that only a campaign with a way of measuring has."""


def context(given: Given) -> dict:
    """What the eighth page prints."""
    return {
        "equations": equations(given.equations, given.quantities, given.drawn_equations),
        "references": references(given),
        "versions": given.settings["versions"],
        "checksum": checksum(given.settings["inputs"]),
        "input_count": len(given.settings["inputs"]),
        "changed": given.settings["changed"],
        "seed": given.settings["seed"],
    }


def equations(
    table: pd.DataFrame, quantities: Sequence[Mapping], drawn: Mapping[str, str] | None = None
) -> list[dict]:
    """The numbered equations with their pictures and the functions that hold them.

    table: rows of equations.csv. drawn: pictures that are drawn already, by name; others are drawn here.
    """
    result = []
    for row in table.to_dict("records"):
        picture = (drawn or {}).get(f"equation_{row['number']}") or equation(row["mathtext"])
        own = [quantity for quantity in quantities if quantity["equation"] == row["number"]]
        result.append(
            {
                "number": row["number"],
                "spoken": row["spoken"],
                **size(picture),
                "image": embedded(picture),
                "functions": list(dict.fromkeys(quantity["function"] for quantity in own)),
                "source": "; ".join(dict.fromkeys(quantity["source"] for quantity in own)),
                "name": own[0]["meaning"] if own else "",
            }
        )
    return result


def size(picture: str) -> dict[str, float]:
    """Width and height of an SVG, points."""
    found = {side: re.search(rf'{side}="([\d.]+)pt"', picture) for side in ("width", "height")}
    return {side: round(float(match.group(1)), 1) for side, match in found.items() if match}


def references(given: Given) -> list[str]:
    """The sources of the equations, of the surface classes met and of the error sizes, each once."""
    ways = set(given.tables["measured"]["way"])
    unused = {key for key, way in KEYS_OF_WAYS.items() if way not in ways}
    named = [row["source"] for row in given.quantities if row["key"] not in unused]
    terms = terms_in_use(given)
    named += [row["source"] for row in terms.to_dict("records") if row["enabled"] == "true"]
    keys = {key for group in CLASS_VALUES.values() for key in group}
    for surface in given.ranked["surface"]:
        entries = given.surfaces.get(surface, {})
        named += [str(entry["source"]) for key, entry in entries.items() if key in keys]
    found = {work for text in named for work in works(text)}
    return sorted(found, key=str.casefold)


def checksum(inputs: Sequence[Sequence]) -> str:
    """One SHA-256 of all input files: that of the lines `digest  name` in the order of their names."""
    lines = "".join(f"{digest}  {name}\n" for name, _, digest in sorted(map(tuple, inputs)))
    return hashlib.sha256(lines.encode("utf-8")).hexdigest()
