"""Two archives of one campaign: differences are listed with their column."""

import io

import pytest

from headland.record import bag, compare

from .made import TABLE, packed, payload


@pytest.mark.parametrize(
    "old, new, apart, rounding",
    [
        (
            b"0.2500",
            b"0.2501",
            [],
            ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now 0.2501"],
        ),
        (
            b"0.2500",
            b"0.2510",
            ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now 0.2510"],
            [],
        ),
        (b"0.2500", b"", ["surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now empty"], []),
        (
            b"sw_in\n",
            b"sw_out\n",
            ["surfaces.csv, columns: surface, albedo, sw_in became surface, albedo, sw_out"],
            [],
        ),
        (b"stubble,0.2500,801.00\n", b"", ["surfaces.csv, rows: 2 became 1"], []),
    ],
)
def test_differences_are_listed_with_their_column(old, new, apart, rounding):
    first, other = (
        bag.opened(io.BytesIO(packed(payload(**{"results/surfaces.csv": text}))))
        for text in (TABLE, TABLE.replace(old, new))
    )
    result = compare.compared(first, other)
    assert (result.apart, result.rounding) == (apart, rounding)
    assert compare.compared(first, first).apart == []


@pytest.mark.parametrize("again, words", [(b"a,\xff\n1,2\n", "UTF-8"), (b"a,b\x00\x1b[2J\n1,2\n", "columns")])
def test_a_table_that_is_no_text_any_more_is_told_in_a_plain_line(again, words):
    (line,), rounding = compare.columns_apart(io.BytesIO(b"a,b\n1,2\n"), io.BytesIO(again))
    assert words in line and line.isprintable() and not rounding
