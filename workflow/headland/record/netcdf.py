"""Samples and segments as one NetCDF file with CF conventions (classic format, so that any reader of NetCDF
opens it).

Two dimensions: `sample`, all sets one after the other, and `segment`. Units and meanings are those of the
tables' schemas, standard names those of quantities.csv. Flags are bits, named in `flag_meanings`. The ends of
a 95 % interval are ancillary variables of their quantity.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd
from scipy.io import netcdf_file

CONVENTIONS = "CF-1.8"
FLUX = "W m-2"
STANDARD_NAMES = {"solar_elevation": "solar_elevation_angle", "solar_azimuth": "solar_azimuth_angle"}
"""CF standard names of columns that are no quantities of quantities.csv."""
EPOCH = "seconds since 1970-01-01 00:00:00 UTC"
MOST_FLAGS = 31
"""Bits of the format's whole numbers, without their sign."""
_FILL = 9.969209968386869e36  # the format's own default for a missing number


def dataset(
    samples: Mapping[str, pd.DataFrame],
    segments: pd.DataFrame,
    *,
    fields: Mapping[str, Sequence[Mapping]],
    standard_names: Mapping[str, str],
    flags: Sequence[str],
    site: Mapping,
    attributes: Mapping[str, str],
) -> bytes:
    """The bytes of the file. samples: by set, as the segmenting step leaves them. segments: the table that
    users get. fields: of the schemas of both, by `samples` and `segments`. standard_names: CF names by
    quantity. flags: every name a flag may have, at most MOST_FLAGS. attributes: of the whole file, such as
    its title.
    """
    stream = io.BytesIO()
    file = netcdf_file(stream, "w", version=2)
    put_attributes(file, {"Conventions": CONVENTIONS, **attributes})
    whole = pd.concat(list(samples.values()), ignore_index=True)
    names = segments["segment"].tolist()
    file.createDimension("sample", len(whole))
    file.createDimension("segment", len(names))
    file.createDimension("two", 2)
    longest = max(
        len(text.encode("utf-8"))
        for text in [*names, *segments["field"].fillna(""), *segments["surface"].fillna(""), "-"]
    )
    file.createDimension("text", longest)
    for name, unit, standard in (
        ("latitude", "degrees_north", "latitude"),
        ("longitude", "degrees_east", "longitude"),
        ("altitude", "m", "altitude"),
    ):
        variable(
            file,
            name,
            (),
            float(site["elevation" if name == "altitude" else name]),
            {
                "standard_name": standard,
                "long_name": f"{name} of the site",
                "units": unit,
                **({"positive": "up", "axis": "Z"} if name == "altitude" else {}),
            },
        )
    variable(
        file,
        "time",
        ("sample",),
        _seconds(whole["time_utc"]),
        {
            "standard_name": "time",
            "long_name": "moment that the logger stamped",
            "units": EPOCH,
            "calendar": "standard",
        },
    )
    numbers = np.concatenate(
        [np.full(len(frame), number, "i4") for number, frame in enumerate(samples.values())]
    )
    variable(
        file,
        "set",
        ("sample",),
        numbers,
        {
            "long_name": "set that the sample is from",
            "flag_values": np.arange(len(samples), dtype="i4"),
            "flag_meanings": " ".join(samples),
        },
    )
    index = {name: number for number, name in enumerate(names)}
    variable(
        file,
        "segment_of_sample",
        ("sample",),
        whole["segment"].map(index).fillna(-1).to_numpy("i4"),
        {
            "long_name": "place of the sample's segment along the dimension segment, from 0; "
            "missing where no note covers it",
            "_FillValue": np.int32(-1),
        },
    )
    bits = {flag: 1 << number for number, flag in enumerate(flags)}
    sums = {
        text: sum(bits[flag] for flag in set(text.split())) for text in whole["flags"].fillna("").unique()
    }
    variable(
        file,
        "flags",
        ("sample",),
        whole["flags"].fillna("").map(sums).to_numpy("i4"),
        {
            "long_name": "flags of the sample",
            "standard_name": "quality_flag",
            "flag_masks": np.array(list(bits.values()), "i4"),
            "flag_meanings": " ".join(bits),
        },
    )
    coordinates = "time latitude longitude altitude"
    for field in fields["samples"]:
        if field["type"] == "number" and field["name"] in whole:
            variable(
                file,
                field["name"],
                ("sample",),
                whole[field["name"]].to_numpy(float),
                {
                    **described(field, standard_names),
                    "coordinates": coordinates,
                    "ancillary_variables": "flags",
                },
            )
    ends = np.column_stack([_seconds(segments["start_utc"]), _seconds(segments["end_utc"])]).reshape(
        len(names), 2
    )
    variable(
        file,
        "segment_time",
        ("segment",),
        ends.mean(axis=1),
        {
            "standard_name": "time",
            "long_name": "middle of the noted interval",
            "units": EPOCH,
            "calendar": "standard",
            "bounds": "segment_time_bounds",
        },
    )
    variable(file, "segment_time_bounds", ("segment", "two"), ends, {})
    for name, column, meaning in (
        ("segment_name", "segment", "name of the segment"),
        ("segment_field", "field", "where, as noted"),
        ("segment_surface", "surface", "surface class"),
    ):
        variable(
            file,
            name,
            ("segment", "text"),
            letters(segments[column].fillna("").tolist(), longest),
            {"long_name": meaning},
        )
    columns = {field["name"] for field in fields["segments"]}
    for field in fields["segments"]:
        if field["type"] not in ("number", "integer"):
            continue
        beside = [
            f"segment_{field['name']}{end}" for end in ("_low", "_high") if field["name"] + end in columns
        ]
        variable(
            file,
            f"segment_{field['name']}",
            ("segment",),
            segments[field["name"]].to_numpy(float),
            {
                **described({"unit": "1", **field}, standard_names),
                "coordinates": "segment_time segment_name latitude longitude altitude",
                **({"ancillary_variables": " ".join(beside)} if beside else {}),
            },
        )
    file.flush()
    return stream.getvalue()


def described(field: Mapping, standard_names: Mapping[str, str]) -> dict[str, object]:
    """A column's attributes from its schema."""
    standard = standard_names.get(field.get("quantity", field["name"]), "") or STANDARD_NAMES.get(
        field["name"], ""
    )
    return {
        **({"standard_name": standard} if standard else {}),
        "long_name": field["description"],
        "units": field.get("unit", "1"),
        "_FillValue": np.float64(_FILL),
    }


def _seconds(times: pd.Series) -> np.ndarray:
    return times.astype("datetime64[us, UTC]").astype("int64").to_numpy() / 1e6


def letters(texts: Sequence[str], length: int) -> np.ndarray:
    """Texts as rows of single letters (bytes of UTF-8), filled up with blanks to a length."""
    rows = [list(text.encode("utf-8").ljust(length)) for text in texts]
    return np.array(rows, "u1").reshape(len(texts), length).view("S1")


KINDS = {"f": "d", "i": "i", "S": "S1"}
"""Types of the format by the kind of numpy's: double, whole number of 32 bits, letter."""


def variable(file, name: str, dimensions: tuple, values, attributes: Mapping[str, object]) -> None:
    """Add a variable to an open file. values: shape of `dimensions`; NaN becomes the fill value."""
    kind = KINDS[np.asarray(values).dtype.kind]
    made = file.createVariable(name, kind, dimensions)
    if "_FillValue" in attributes and kind == "d":
        values = np.where(np.isfinite(values), values, _FILL)
    made.data[...] = values
    put_attributes(made, attributes)


def put_attributes(target, attributes: Mapping[str, object]) -> None:
    """Give a file or a variable its attributes; text as UTF-8."""
    for name, value in attributes.items():
        setattr(target, name, value.encode("utf-8") if isinstance(value, str) else value)
