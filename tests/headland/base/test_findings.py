"""Findings: every one that a step can raise has its sentence, every sentence is raised somewhere, and its
facts are supplied."""

import ast
import re
import string
from pathlib import Path

import pytest

from headland.base import findings
from headland.base.findings import Finding
from headland.base.words import did_you_mean, nearest
from headland.files import config_tables

PROJECT = Path(__file__).parents[3]
TABLE = config_tables.read_config_table(PROJECT / "workflow/headland/checks/findings.csv").to_dict("records")
ROWS = {(row["code"], row["variant"]): row for row in TABLE}
FOR_EACH = {"channel", "set"}  # `describe` always supplies these


def calls():
    """Each `Finding(...)`, and each `report(...)` of ingest.py, that is written somewhere: (file and line,
    code, variant, names of its facts)."""
    for path in sorted([*(PROJECT / "workflow").rglob("*.py"), *(PROJECT / "scripts").rglob("*.py")]):
        text = path.read_text(encoding="utf-8")
        if not re.search(r"\b(Finding|report)\s*\(", text):
            continue
        nodes = list(ast.walk(ast.parse(text)))
        assigned = [
            (node.lineno, target.id, node.value)
            for node in nodes
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        ]
        for node in nodes:
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.args):
                continue
            if node.func.id == "Finding" or (
                node.func.id == "report" and path.name.startswith(("ingest", "logger_"))
            ):
                given = {keyword.arg: keyword.value for keyword in node.keywords}
                variant = node.args[1] if len(node.args) > 1 else given.get("variant", ast.Constant(""))
                above = {
                    name: value
                    for line, name, value in sorted(assigned, key=lambda item: item[0])
                    if line < node.lineno
                }
                yield (
                    f"{path.name}:{node.lineno}",
                    node.args[0],
                    variant,
                    keys(given.get("facts"), above, None in given),
                )


def keys(node, named, unpacked):
    """Names of the facts that a call supplies where they are written out; None where that can't be told."""
    if node is None:
        return None if unpacked else set()
    if isinstance(node, ast.Name):
        return keys(named[node.id], {}, False) if isinstance(named.get(node.id), ast.Dict) else None
    if not isinstance(node, ast.Dict):
        return None
    result = set()
    for key, value in zip(node.keys, node.values, strict=True):
        if key is None:
            inner = keys(value, named, True)
            if inner is None:
                return None
            result |= inner
        elif isinstance(key, ast.Constant):
            result.add(key.value)
    return result


def matches(code, variant):
    """The rows that a call may mean: a text as it stands, an f-string by its fixed parts, any other
    expression by the texts in it, or anything."""
    return [row for row in ROWS if fits(row[0], code) and fits(row[1], variant)]


def fits(text, node):
    if isinstance(node, ast.Constant):
        return text == node.value
    if isinstance(node, ast.JoinedStr):
        return (
            re.fullmatch(
                "".join(
                    re.escape(part.value) if isinstance(part, ast.Constant) else ".+" for part in node.values
                ),
                text,
            )
            is not None
        )
    if isinstance(node, ast.IfExp):
        return fits(text, node.body) or fits(text, node.orelse)
    return True


CALLS = list(calls())


def test_calls_are_found():
    assert len(CALLS) > 60 and {where.split(":")[0] for where, *_ in CALLS} >= {
        "ingest.py",
        "notes.py",
        "user_tables.py",
        "calibrate.py",
        "segment.py",
    }


@pytest.mark.parametrize(
    "where, code, variant, facts", CALLS, ids=[f"{call[0]}-{n}" for n, call in enumerate(CALLS)]
)
def test_each_finding_has_a_row(where, code, variant, facts):
    assert matches(code, variant), (
        f"{where}: {ast.unparse(code)}, {ast.unparse(variant)} has no row in findings.csv"
    )


@pytest.mark.parametrize(
    "where, code, variant, facts", CALLS, ids=[f"{call[0]}-{n}" for n, call in enumerate(CALLS)]
)
def test_each_sentence_gets_its_facts(where, code, variant, facts):
    if facts is None or not isinstance(code, ast.Constant) or not isinstance(variant, ast.Constant):
        return  # held by the tests that raise it
    row = ROWS[code.value, variant.value]
    missing = names_in(row) - facts - FOR_EACH
    assert not missing, f"{where}: {code.value} {variant.value} is raised without {missing}"


def test_each_row_is_raised_somewhere():
    """A code that comes out of a variable must be written as text somewhere in the module."""
    exact = {
        row
        for _, code, variant, _ in CALLS
        if isinstance(code, (ast.Constant, ast.JoinedStr, ast.IfExp))
        for row in matches(code, variant)
    }
    text = "\n".join(
        path.read_text(encoding="utf-8")
        for path in [*(PROJECT / "workflow").rglob("*.py"), *(PROJECT / "scripts").rglob("*.py")]
    )
    for code, variant in set(ROWS) - exact:
        assert f'"{code}"' in text, f"no step raises {code} {variant}"
    for code, variant in ROWS:
        assert not variant or f'"{variant}"' in text, f"no step raises the variant {variant} of {code}"


def names_in(row):
    return {
        name
        for template in (row["what"], row["remedy"])
        for _, name, _, _ in string.Formatter().parse(template)
        if name is not None
    }


def test_rows_are_sound():
    assert len(ROWS) == len(TABLE)
    steps = {
        "",
        "ingest",
        "calibrate",
        "correct_longwave",
        "screen",
        "segment",
        "summarise",
        "balance",
        "propagate",
        "diagnose",
        "report",
    }
    for row in TABLE:
        where = f"{row['code']} {row['variant']}"
        assert (
            row["severity"] in findings.SEVERITIES
            and row["step"] in steps
            and row["what"]
            and row["remedy"]
            and row["source"]
        ), where
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", row["code"]), where
        assert all(re.fullmatch(r"[a-z_]+", name) for name in names_in(row)), where


@pytest.mark.parametrize("row", TABLE, ids=[f"{row['code']}-{row['variant']}" for row in TABLE])
def test_a_finding_becomes_one_plain_line(row):
    found = Finding(
        row["code"],
        row["variant"],
        "heron",
        "notes.csv",
        7,
        channel="lw_in",
        facts={name: "X" for name in names_in(row)},
    )
    check = findings.describe(found, "ingest", ROWS)
    assert (
        check["severity"] == row["severity"]
        and check["step"] == (row["step"] or "ingest")
        and (check["file"], check["line"]) == ("notes.csv", 7)
    )
    for text in (check["what"], check["remedy"]):
        assert "{" not in text and "\n" not in text and text.endswith((".", "?"))


def test_a_user_s_text_is_never_a_template():
    table = {("c", ""): {"severity": "note", "step": "", "what": "Found {value}", "remedy": "Mend {value}"}}
    check = findings.describe(Finding("c", facts={"value": "{0.__class__} {set}\n{"}), "segment", table)
    assert check["what"] == "Found {0.__class__} {set} {." and check["step"] == "segment"


def test_a_code_without_a_row_is_our_bug():
    with pytest.raises(KeyError):
        findings.describe(Finding("nothing-such"), "ingest", ROWS)


def test_order_is_errors_warnings_notes_and_stable():
    rows = [{"severity": s, "n": n} for n, s in enumerate(["note", "error", "warning", "error", "note"])]
    assert [row["n"] for row in findings.in_order(rows)] == [1, 3, 2, 0, 4]


@pytest.mark.parametrize(
    "name, expected",
    [("wlak", "walk"), ("STAND", "stand"), ("Walk", "walk"), ("zzz", ""), ("", ""), (12, "")],
)
def test_the_nearest_name(name, expected):
    assert nearest(name, ("walk", "stand", "dark")) == expected
    assert did_you_mean(name, ("walk", "stand", "dark")) == (
        f'; did you mean "{expected}"?' if expected else ""
    )


# Withheld --------------------------------------------------------------------------------------------


def test_errors_that_mislead_withhold_channels():
    one = findings.withheld(
        [
            Finding("longwave-not-corrected", set="heron", channel="lw_in lw_out"),
            Finding("rows-duplicated", "different", "heron"),
            Finding("body-temperature-unit", set="heron", channel="body_temperature"),
            Finding("notes-shifted", "undecided"),
            Finding("notes-sets-swapped", facts={"a": "heron", "b": "curlew"}),
            Finding("channel-frozen", set="heron", channel="sw_in", start_utc="x", end_utc="y"),
            Finding("clock-against-sun", set="heron", channel="sw_in"),
            Finding("clock-against-sun", "noted", set="heron", channel="sw_in"),
        ]
    )
    assert [(w.sets, w.channels) for w in one] == [
        (("heron",), ("lw_in", "lw_out")),
        (("heron",), ("lw_in", "lw_out")),
        (("heron", "curlew"), ("sw_in", "sw_out", "lw_in", "lw_out")),
        (("heron",), ("sw_in",)),
    ]
    assert (one[-1].start_utc, one[-1].end_utc) == ("x", "y")


def test_only_errors_withhold_and_each_such_code_is_in_the_table():
    rows = [row for row in TABLE if row["code"] in findings.WITHHELD]
    assert all(
        row["severity"] == "error"
        for row in rows
        if row["variant"] not in findings.DOUBTS and (row["code"], row["variant"]) not in findings.STAND
    )
    assert all(row["severity"] != "error" for row in rows if row["variant"] in findings.DOUBTS)
    assert {(row["code"], row["variant"]) for row in rows} >= findings.STAND
    far = findings.withheld(
        [Finding("clock-against-sun", "far", "heron", start_utc="x", end_utc="y", channel="sw_in")]
    )
    assert far == [findings.Withheld(("heron",), ("sw_in", "sw_out", "lw_in", "lw_out"))]
    assert {row["code"] for row in rows} == findings.WITHHELD
