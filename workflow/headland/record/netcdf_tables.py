"""The tables of surfaces and fields as one NetCDF file with CF conventions, for who asks for it.

Two dimensions: `surface` and `field`. Units and meanings are those of the tables' schemas. The ends of a 95 %
interval are ancillary variables of their quantity.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

import pandas as pd
from scipy.io import netcdf_file

from headland.files import options, step
from headland.files.schemas import table_schema
from headland.record.netcdf import CONVENTIONS, described, letters, put_attributes, variable

READS = {"tables": options.TABLES, "quantities": options.ROWS}
DIMENSIONS = {"surfaces": "surface", "fields": "field"}
"""The dimension of each table."""
BESIDE = ("_low", "_high", "_by_hand")
"""Endings of columns that say more about another column."""


def of_files(files: step.Files) -> bytes:
    """The bytes of the file from the files of its step. Settings: title, site, version, credit."""
    given = files.settings
    standard = {row["quantity"]: row["standard_name"] for row in files["quantities"]}
    attributes = {
        "title": given["title"],
        "institution": ", ".join(given["credit"]["authors"]) or "not stated",
        "source": "portable net-radiation sets carried across fields; energy balance estimated",
        "history": f"computed by Headland {given['version']}",
        "comment": "Ends of intervals (_low, _high) hold 95 %. Net radiation is positive downwards.",
    }
    return dataset(files["tables"], standard, given["site"], attributes)


def dataset(
    tables: Mapping[str, pd.DataFrame],
    standard_names: Mapping[str, str],
    site: Mapping,
    attributes: Mapping[str, str],
) -> bytes:
    """The bytes of the file.

    Parameters
    ----------
    tables : the tables that users get, by name; those of DIMENSIONS go in
    standard_names : CF names by quantity
    site : latitude and longitude (degrees), elevation (m)
    attributes : of the whole file, such as its title
    """
    stream = io.BytesIO()
    file = netcdf_file(stream, "w", version=2)
    put_attributes(file, {"Conventions": CONVENTIONS, **attributes})
    wanted = {name: tables[name] for name in DIMENSIONS}
    texts = [text for frame in wanted.values() for column in frame for text in _texts(frame[column])]
    length = max(len(text.encode("utf-8")) for text in [*texts, "-"])
    file.createDimension("text", length)
    for name, unit in (("latitude", "degrees_north"), ("longitude", "degrees_east")):
        said = {"standard_name": name, "long_name": f"{name} of the site", "units": unit}
        variable(file, name, (), float(site[name]), said)
    for name, frame in wanted.items():
        file.createDimension(DIMENSIONS[name], len(frame))
        _add(file, name, frame, length, standard_names)
    file.flush()
    return stream.getvalue()


def _texts(column: pd.Series) -> list[str]:
    """The cells of a column of text; none of a column of numbers."""
    is_number = column.dtype.kind in "if" and column.notna().any()
    return [] if is_number else ["" if pd.isna(cell) else str(cell) for cell in column]


def _add(file, name: str, frame: pd.DataFrame, length: int, standard_names: Mapping[str, str]) -> None:
    """Add the columns of a table, each named after the dimension."""
    dimension, fields = DIMENSIONS[name], table_schema(name)["fields"]
    names = {field["name"] for field in fields} & set(frame.columns)
    for field in fields:
        column = field["name"]
        if column not in names:
            continue
        whole = f"{dimension}_name" if column == dimension else f"{dimension}_{column}"
        if field["type"] in ("number", "integer"):
            said = {**described({"unit": "1", **field}, standard_names), **_beside(column, names, dimension)}
            variable(file, whole, (dimension,), frame[column].to_numpy(float), said)
        else:
            texts = _texts(frame[column]) or [""] * len(frame)
            said = {"long_name": field["description"]}
            variable(file, whole, (dimension, "text"), letters(texts, length), said)


def _beside(column: str, names: Sequence[str] | set[str], dimension: str) -> dict[str, str]:
    """Coordinates of a column, and the columns that say more about it."""
    more = " ".join(f"{dimension}_{column}{end}" for end in BESIDE if column + end in names)
    place = {"coordinates": f"{dimension}_name latitude longitude"}
    return place | ({"ancillary_variables": more} if more else {})
