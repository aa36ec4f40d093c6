"""Single changes to the package, drawn at random from its syntax trees.

A mutant replaces one piece of one module's text. Kinds of change are equally likely, and so are rooms and
the places within a room; nothing is listed by hand.
"""

from __future__ import annotations

import ast
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "workflow" / "headland"

COSMETIC = frozenset(
    """
    lw linewidth ls color colour facecolor edgecolor alpha fontsize size figsize zorder hatch layout ms s
    xytext labelpad capsize width_ratios height_ratios pad rotation va ha markersize dpi frameon loc ncols
    handlelength bbox_to_anchor wspace hspace w_pad h_pad strict encoding stacklevel maxsize kind copy sort
    observed errors newline frozen slots exist_ok parents check text textcoords weight style margin indent
    ensure_ascii
    """.split()  # noqa: SIM905
)
"""Keywords whose value is looks, speed or a safeguard of the language: no number follows from them."""
LOOKS = frozenset(["grid", "set_visible", "tick_params", "set_axisbelow", "margins", "set_linewidth"])
"""Calls that change the looks of a figure."""
MESSAGES = frozenset(
    ("UserError", "ValueError", "TypeError", "KeyError", "RuntimeError", "Finding", "Untold")
)
"""Calls whose text is a message."""
OPERATORS = {ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.BitAnd: ("&", "|"), ast.BitOr: ("|", "&")}
FLIPPED = {
    ast.Lt: ("<", ">="),
    ast.LtE: ("<=", ">"),
    ast.Gt: (">", "<="),
    ast.GtE: (">=", "<"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
}
EXCHANGED = {
    "mean": "median", "median": "mean", "nanmean": "nanmedian", "nanmedian": "nanmean", "min": "max",
    "max": "min", "nanmin": "nanmax", "nanmax": "nanmin", "minimum": "maximum", "maximum": "minimum",
    "floor": "ceil", "ceil": "floor", "sin": "cos", "cos": "sin", "any": "all", "all": "any",
    "first": "last", "last": "first", "idxmin": "idxmax", "idxmax": "idxmin", "argmin": "argmax",
    "argmax": "argmin", "cumsum": "cumprod", "ffill": "bfill", "bfill": "ffill",
}  # fmt: skip
"""Names of functions that are taken for each other."""
PAIRS = (("_low", "_high"), ("_in", "_out"), ("start_utc", "end_utc"), ("_a", "_b"), ("lower", "upper"))
"""Parts of column names that are taken for each other."""
TYPES = frozenset(["float", "int", "str", "bool", "list", "tuple", "dict", "set"])


@dataclass(frozen=True)
class Mutant:
    """One change: the bytes from `start` to `end` of a module become `after`.

    module: path within the package. where: the function, dotted; empty on the module's level.
    """

    module: str
    line: int
    where: str
    kind: str
    start: int
    end: int
    before: str
    after: str

    @property
    def room(self) -> str:
        return self.module.split("/")[0]

    @property
    def name(self) -> str:
        return f"{self.module}:{self.line}:{self.kind}:{self.start}:{self.after}"

    def applied(self, source: bytes) -> bytes:
        """The module's text with the change."""
        assert source[self.start : self.end].decode() == self.before
        return source[: self.start] + self.after.encode() + source[self.end :]


class Sites(ast.NodeVisitor):
    """Every change that one module allows."""

    def __init__(self, module: str, source: bytes):
        self.module, self.source = module, source
        starts = [0]
        for text in source.splitlines(keepends=True):
            starts.append(starts[-1] + len(text))
        self.line_starts, self.names, self.found = starts, [], []
        self.visit(ast.parse(source))

    def place(self, node: ast.AST) -> tuple[int, int]:
        return (
            self.line_starts[node.lineno - 1] + node.col_offset,
            self.line_starts[node.end_lineno - 1] + node.end_col_offset,
        )

    def text(self, node: ast.AST) -> str:
        start, end = self.place(node)
        return self.source[start:end].decode()

    def add(self, kind: str, node: ast.AST, after: str, place: tuple[int, int] | None = None) -> None:
        start, end = place or self.place(node)
        before = self.source[start:end].decode()
        where = ".".join(self.names)
        if before != after:
            self.found.append(Mutant(self.module, node.lineno, where, kind, start, end, before, after))

    def between(self, left: ast.AST, right: ast.AST, operator: str) -> tuple[int, int] | None:
        """Where an operator is written."""
        start, end = self.place(left)[1], self.place(right)[0]
        at = self.source[start:end].find(operator.encode())
        return None if at < 0 else (start + at, start + at + len(operator))

    # What is visited, and what is not ----------------------------------------------------------------------

    def visit_FunctionDef(self, node) -> None:
        self.names.append(node.name)
        for one in [*node.args.defaults, *filter(None, node.args.kw_defaults), *node.body]:
            self.visit(one)
        self.names.pop()

    visit_AsyncFunctionDef = visit_FunctionDef

    def visit_ClassDef(self, node) -> None:
        self.names.append(node.name)
        for one in node.body:
            self.visit(one)
        self.names.pop()

    def visit_AnnAssign(self, node) -> None:
        if node.value:
            self.visit(node.value)

    def visit_Raise(self, node) -> None:
        pass

    visit_Assert = visit_Import = visit_ImportFrom = visit_JoinedStr = visit_Raise

    def visit_Expr(self, node) -> None:
        if isinstance(node.value, ast.Constant):
            return
        if isinstance(node.value, ast.Call) and self.names and _called(node.value) not in LOOKS:
            self.add("step dropped", node, "pass")
        self.generic_visit(node)

    def visit_AugAssign(self, node) -> None:
        self.add("step dropped", node, "pass")
        self.generic_visit(node)

    def visit_keyword(self, node) -> None:
        if node.arg not in COSMETIC:
            self.visit(node.value)

    # Changes -----------------------------------------------------------------------------------------------

    def visit_BinOp(self, node) -> None:
        if not any(_is_text(side) for side in (node.left, node.right)):
            self.of_operation(node)
        self.generic_visit(node)

    def of_operation(self, node) -> None:
        left, right = self.text(node.left), self.text(node.right)
        if type(node.op) in OPERATORS:
            old, new = OPERATORS[type(node.op)]
            place = self.between(node.left, node.right, old)
            if place:
                self.add("sign" if old in "+-" else "logic", node, new, place)
        if isinstance(node.op, ast.Add | ast.Sub):
            self.add("term dropped", node, f"({left})")
            if isinstance(node.op, ast.Add):
                self.add("term dropped", node, f"({right})")
        if isinstance(node.op, ast.Mult):
            self.add("factor dropped", node, f"({left})")
            self.add("factor dropped", node, f"({right})")
        if isinstance(node.op, ast.Div | ast.Pow):
            self.add("factor dropped", node, f"({left})")

    def visit_UnaryOp(self, node) -> None:
        inner = self.text(node.operand)
        if isinstance(node.op, ast.USub) and not isinstance(node.operand, ast.Constant):
            self.add("sign", node, f"({inner})")
        if isinstance(node.op, ast.Not | ast.Invert):
            self.add("logic", node, f"({inner})")
        self.generic_visit(node)

    def visit_Compare(self, node) -> None:
        sides = [node.left, *node.comparators]
        for left, op, right in zip(sides, node.ops, sides[1:], strict=False):
            if type(op) in FLIPPED:
                old, new = FLIPPED[type(op)]
                place = self.between(left, right, old)
                if place:
                    self.add("comparison flipped", node, new, place)
        if len(node.ops) == 1 and isinstance(node.ops[0], ast.In | ast.NotIn | ast.Is | ast.IsNot):
            self.add("comparison flipped", node, f"(not ({self.text(node)}))")
        self.generic_visit(node)

    def visit_BoolOp(self, node) -> None:
        old, new = ("and", "or") if isinstance(node.op, ast.And) else ("or", "and")
        place = self.between(node.values[0], node.values[1], old)
        if place:
            if len(node.values) == 2:
                self.add("logic", node, new, place)
            self.add("condition dropped", node, f"({self.text(node.values[0])})")
        self.generic_visit(node)

    def visit_If(self, node) -> None:
        refuses = isinstance(node.body[-1], ast.Raise | ast.Return | ast.Continue)
        if (refuses or any(map(_reports, node.body))) and not node.orelse and self.names:
            self.add("refusal removed", node.test, "False")
        self.generic_visit(node)

    def visit_Constant(self, node) -> None:
        if isinstance(node.value, bool):
            self.add("flag", node, str(not node.value))
        elif isinstance(node.value, int | float) and node.value != 0:
            self.of_number(node)
        elif isinstance(node.value, str) and re.fullmatch(r"[a-z][a-z0-9_]*", node.value):
            self.of_column(node)

    def of_number(self, node) -> None:
        kind = "constant" if self.names else "threshold"
        if isinstance(node.value, float):
            for times in (1.5, 1 / 1.5):
                self.add(kind, node, repr(float(f"{node.value * times:.6g}")))
        else:
            self.add(kind, node, str(round(node.value * 1.5) if abs(node.value) > 1 else node.value + 1))

    def of_column(self, node) -> None:
        for one, other in PAIRS:
            for old, new in ((one, other), (other, one)):
                if re.search(old + r"(?![a-z])", node.value):
                    self.add("column swapped", node, repr(re.sub(old + r"(?![a-z])", new, node.value)))

    def visit_Call(self, node) -> None:
        name = _called(node)
        if name in MESSAGES:
            return
        if name in EXCHANGED:
            end = self.place(node.func)[1]
            self.add("statistic", node, EXCHANGED[name], (end - len(name), end))
        if len(node.args) == 2 and all(_is_name(one) for one in node.args):
            first, second = node.args
            place = self.place(first)[0], self.place(second)[1]
            self.add("arguments exchanged", node, f"{self.text(second)}, {self.text(first)}", place)
        if name in ("groupby", "duplicated", "drop_duplicates", "sort_values", "merge"):
            for one in [*node.args, *(keyword.value for keyword in node.keywords)]:
                if isinstance(one, ast.List) and len(one.elts) > 1:
                    kept = ", ".join(self.text(part) for part in one.elts[:-1])
                    self.add("key dropped", one, f"[{kept}]")
        if self.module.startswith("uncertainty/") and name in ("Source", "of_term", "sources_of"):
            self.of_sharing(node)
        self.generic_visit(node)

    def of_sharing(self, node) -> None:
        """The name of a source of error says what shares it: a part of the name is dropped."""
        for one in [*node.args, *(keyword.value for keyword in node.keywords)]:
            if isinstance(one, ast.JoinedStr):
                for part in re.findall(r"\{[^{}]+\}", self.text(one)):
                    self.add("sharing", one, self.text(one).replace(part, "", 1))


def _is_text(node: ast.AST) -> bool:
    """Whether an operand is text or a list: their sum is no arithmetic."""
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str | bytes)
    if isinstance(node, ast.BinOp):
        return _is_text(node.left) or _is_text(node.right)
    if isinstance(node, ast.Call):
        return _called(node) in ("join", "str", "list", "repr", "sorted", "tuple", "encode", "format")
    return isinstance(node, ast.JoinedStr | ast.List | ast.Tuple | ast.ListComp)


def _is_name(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) or (isinstance(node, ast.Name) and node.id not in TYPES)


def _called(node: ast.Call) -> str:
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def _reports(node: ast.AST) -> bool:
    """Whether a statement puts down a finding, or a check that could not be made."""
    said = ("tell", "can_t_tell", "report", "append", "add")
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Call) and _called(node.value) in said


def sites(package: Path = PACKAGE) -> Iterator[Mutant]:
    """Every change that the package allows, module by module; a few do not compile."""
    for path in sorted(package.glob("*/*.py")):
        source = path.read_bytes()
        yield from Sites(path.relative_to(package).as_posix(), source).found


def compiles(one: Mutant, package: Path = PACKAGE) -> bool:
    try:
        compile(one.applied((package / one.module).read_bytes()), one.module, "exec")
    except (SyntaxError, ValueError):
        return False
    return True


def drawn(seed: int, count: int, package: Path = PACKAGE) -> list[Mutant]:
    """So many different changes: first a room, then a kind that the room has, then a place, each as likely
    as another. No place is changed twice."""
    by_room: dict[str, dict[str, list[Mutant]]] = {}
    for one in sites(package):
        by_room.setdefault(one.room, {}).setdefault(one.kind, []).append(one)
    rng, chosen, places = random.Random(seed), [], set()
    while len(chosen) < count:
        kinds = by_room[rng.choice(sorted(by_room))]
        one = rng.choice(kinds[rng.choice(sorted(kinds))])
        if (one.module, one.start) not in places and compiles(one, package):
            places.add((one.module, one.start))
            chosen.append(one)
    return chosen


def relocated(one: Mutant, package: Path = PACKAGE) -> Mutant | None:
    """The same change in a package that has changed since it was drawn; None where its text is gone."""
    path = package / one.module
    if not path.exists():
        return None
    alike = [
        other
        for other in Sites(one.module, path.read_bytes()).found
        if (other.where, other.kind, other.before, other.after)
        == (one.where, one.kind, one.before, one.after)
    ]
    return min(alike, key=lambda other: abs(other.line - one.line), default=None)
