"""Which tests enter a changed block, in the order in which they are tried."""

from __future__ import annotations

import ast
from pathlib import Path

from study.mutants import Mutant
from study.reached import PROCESS, blocks


def block_of(mutant: Mutant, tree: Path) -> set[str]:
    """Names of the blocks that a change is in; on the module's level, of those that use the name."""
    package = tree / "workflow" / "headland"
    parsed = ast.parse((package / mutant.module).read_bytes())
    around = [one for one in blocks(mutant.module, parsed) if one[0] <= mutant.line <= one[1]]
    if around and mutant.where:
        return {min(around, key=lambda one: one[1] - one[0])[2]}
    used = _names_at(parsed, mutant.line)
    found: set[str] = set()
    for path in package.glob("*/*.py"):
        other = ast.parse(path.read_bytes())
        for _, _, name, body in blocks(path.relative_to(package).as_posix(), other):
            if used & {text for part in body for text in _uses(part)}:
                found.add(name)
        for node in ast.walk(other):  # a default is no part of the body
            if isinstance(node, ast.FunctionDef) and used & set(_uses(node.args)):
                start = f"{path.relative_to(package).as_posix()}:"
                here = [one for one in blocks(start[:-1], other) if one[3] is node.body]
                found |= {one[2] for one in here}
    return found


def _names_at(parsed: ast.Module, line: int) -> set[str]:
    """The names that a line on the module's level defines, and those defined with their help."""
    names: set[str] = set()
    for _ in range(3):
        for part in parsed.body:
            here = part.lineno <= line <= (part.end_lineno or 0) or names & set(_uses(part))
            if here and isinstance(part, ast.Assign | ast.AnnAssign):
                targets = part.targets if isinstance(part, ast.Assign) else [part.target]
                names |= {
                    one.id for target in targets for one in ast.walk(target) if isinstance(one, ast.Name)
                }
            elif here and isinstance(part, ast.ClassDef | ast.FunctionDef):
                names.add(part.name)
    return names


def _uses(node: ast.AST) -> list[str]:
    found = [one.id for one in ast.walk(node) if isinstance(one, ast.Name)]
    return found + [one.attr for one in ast.walk(node) if isinstance(one, ast.Attribute)]


def stages(mutant: Mutant, tree: Path, known: dict[str, dict]) -> list[list[str]]:
    """Tests that enter the changed block: first those of the module's own room, then the others; within each,
    file by file, those that do least first."""
    places = block_of(mutant, tree)
    whole = {place.rpartition("#")[0] for place in places}
    hit = {name for name, one in known.items() if one["ok"] and places & set(one["in"])}
    if not hit:
        room = f"tests/headland/{mutant.room}/"
        hit = {
            name
            for name, one in known.items()
            if one["ok"] and name.startswith(room) and PROCESS in one["in"]
        }
    if not hit:
        hit = {
            name
            for name, one in known.items()
            if one["ok"] and whole & {place.rpartition("#")[0] for place in one["in"]}
        }
    broad: dict[str, float] = {}
    for name in hit:
        file = name.partition("::")[0]
        broad[file] = broad.get(file, 0.0) + known[name]["s"] * len(known[name]["in"])
    ranked = sorted(hit, key=lambda name: (broad[name.partition("::")[0]], name))
    own = f"tests/headland/{mutant.room}/"
    return [
        [name for name in ranked if name.startswith(own)],
        [name for name in ranked if not name.startswith(own)],
    ]


LONGEST = 2.0
"""s of one test that count: a fixture that many share was paid by the first of them."""


def within(tests: list[str], known: dict[str, dict], most: float) -> list[str]:
    """As many of the tests as take no longer together, about."""
    kept, spent = [], 0.0
    for name in tests:
        spent += min(known[name]["s"], LONGEST)
        if spent > most and kept:
            break
        kept.append(name)
    return kept
