"""What was found, on the console: at most twenty lines, the same kind folded, the rest in the file."""

import pytest

from front import findings

from .helpers import leave, said


def rows(kinds, each):
    return [
        f"warning,kind-{kind:02},screen,plover,,,,,,The head swings {number}.,Walk slower."
        for kind in range(kinds)
        for number in range(each)
    ]


@pytest.mark.parametrize("kinds, each", [(1, 110_000), (30, 1), (30, 40), (20, 2)])
def test_at_most_twenty_lines_of_findings(project, screen, kinds, each):
    results = leave(*rows(kinds, each))
    assert findings.conclude(results, screen) == 0
    lines = said(screen)
    shown = [line for line in lines if line.startswith("WARNING")]
    assert 1 <= len(shown) <= 20
    assert "All of them: results/day/checks.csv" in lines
    assert f"Found: 0 errors, {kinds * each} warnings, 0 notes." in lines
    if each > 1:
        assert shown[0].endswith(f"Walk slower.  (and {each - 1} more of this kind)")
    if kinds > 20:
        assert f"... and {kinds - 20} kinds more." in lines


def test_few_findings_are_all_shown(project, screen):
    results = leave(*rows(2, 10))
    findings.conclude(results, screen)
    assert len([line for line in said(screen) if line.startswith("WARNING")]) == 20


def test_errors_are_never_behind_warnings(project, screen):
    results = leave(*rows(30, 2), "error,x,,,a.csv,1,,,,It is wrong.,Correct it.")
    assert findings.conclude(results, screen) == 1
    assert said(screen)[0] == "ERROR  x  a.csv:1  It is wrong.  -> Correct it."
