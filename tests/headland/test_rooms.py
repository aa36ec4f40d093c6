"""The rooms of the package: nothing imports upwards, and a step calls science in one place."""

import ast
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "workflow" / "headland"
LEVEL = {
    "physics": 0,
    "base": 1,
    "files": 2,
    "uncertainty": 3,
    "checks": 4,
    "chain": 5,
    "report": 6,
    "field": 7,
    "course": 7,
    "record": 7,
}
"""A room may import from rooms of its own level and below. Physics imports from no other room."""

SCIENCE = {
    "files.logger_files.read_logger_file": "chain.ingest",
    "chain.calibrate.choose_certificates": "chain.calibrate",
    "chain.calibrate.calibrate": "chain.calibrate",
    "chain.correct_longwave.corrected": "chain.correct_longwave",
    "chain.screen.flags": "chain.screen",
    "chain.screen.found": "chain.screen",
    "checks.instruments.diagnosed": "chain.screen",
    "chain.notes.intervals": "chain.segment",
    "chain.segment.list_segments": "chain.segment",
    "chain.segment.assign": "chain.segment",
    "chain.unused.counts": "chain.segment",
    "chain.covers.covers": "chain.segment",
    "chain.place.placed": "chain.segment",
    "checks.notes_and_runs.notes_against_runs": "chain.segment",
    "checks.shade.upward_shaded": "chain.segment",
    "checks.shade.shaded_findings": "chain.segment",
    "checks.clocks.clocks_against_sun": "chain.segment",
    "chain.summarise.segments": "chain.summarise",
    "chain.summarise.groups": "chain.summarise",
    "chain.summarise.with_common_sky": "chain.summarise",
    "chain.segment_means.segment_means": "chain.summarise",
    "chain.balance.groups": "chain.balance",
    "uncertainty.propagate.propagate": "chain.propagate",
    "checks.together.checked_together": "chain.diagnose",
}
"""The science functions of the steps, and the module of the one step that calls each."""


def name_of(path: Path) -> str:
    """A module's name in the package, or a script's below `scripts`."""
    base = PACKAGE if path.is_relative_to(PACKAGE) else ROOT
    return ".".join(path.relative_to(base).with_suffix("").parts)


@cache
def modules() -> dict[str, ast.Module]:
    """The syntax tree of every module of the package and of every script."""
    paths = [*PACKAGE.glob("*/*.py"), *(ROOT / "scripts").rglob("*.py")]
    return {name_of(path): ast.parse(path.read_text(encoding="utf-8")) for path in sorted(paths)}


def imported(tree: ast.Module) -> dict[str, str]:
    """What a module imports from the package, wherever the import is: full name by the name that it gets."""
    names = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "headland":
            room = node.module.removeprefix("headland").removeprefix(".")
            for alias in node.names:
                names[alias.asname or alias.name] = f"{room}.{alias.name}".removeprefix(".")
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("headland."):
                    names[alias.asname or alias.name] = alias.name.removeprefix("headland.")
    return names


def upwards(trees: dict[str, ast.Module]) -> set[tuple[str, str]]:
    """Each module with what it imports from a room above its own."""
    found = set()
    for module, tree in trees.items():
        room = module.split(".")[0]
        for name in imported(tree).values() if room in LEVEL else ():
            other = name.split(".")[0]
            if LEVEL[other] > LEVEL[room]:
                found.add((module, ".".join(name.split(".")[:2])))
    return found


def called(module: str, tree: ast.Module) -> list[str]:
    """Full names of the functions of the package that a module calls or hands on, once for each place."""
    names = imported(tree)
    own = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id in names:
            found.append(f"{names[node.value.id]}.{node.attr}")
        elif isinstance(node, ast.Call):
            mapped = isinstance(node.func, ast.Name) and node.func.id == "map"
            named = [one.id for one in (node.func, *node.args[:mapped]) if isinstance(one, ast.Name)]
            found += [f"{module}.{one}" if one in own else names.get(one, "") for one in named]
    return found


@cache
def sites_in_project() -> dict[str, list[str]]:
    """`call_sites` of the package and the scripts."""
    return call_sites(modules())


def call_sites(trees: dict[str, ast.Module]) -> dict[str, list[str]]:
    """The modules and scripts that call each science function, once for each call."""
    sites: dict[str, list[str]] = {function: [] for function in SCIENCE}
    for module, tree in trees.items():
        for function in called(module, tree):
            if function in sites:
                sites[function].append(module)
    return sites


def test_every_module_is_in_a_room():
    rooms = {path.name for path in PACKAGE.iterdir() if path.is_dir() and path.name != "__pycache__"}
    assert rooms == set(LEVEL)
    assert [path.name for path in PACKAGE.glob("*.py")] == ["__init__.py"]


def test_nothing_imports_upwards():
    assert upwards(modules()) == set()


def test_physics_imports_nothing_of_other_rooms():
    for module, tree in modules().items():
        if module.startswith("physics."):
            assert {name.split(".")[0] for name in imported(tree).values()} <= {"physics"}, module


@pytest.mark.parametrize("function", SCIENCE)
def test_a_step_calls_each_of_its_science_functions_in_one_place(function):
    sites = sites_in_project()[function]
    assert sites == [SCIENCE[function]]


def test_an_import_upwards_is_seen_wherever_it_is_written():
    tree = ast.parse(
        "def f():\n    from headland.report import report\n    import headland.course.answers as a\n"
    )
    assert upwards({"chain.made_up": tree}) == {
        ("chain.made_up", "report.report"),
        ("chain.made_up", "course.answers"),
    }


def test_a_second_call_of_a_science_function_is_seen():
    text = "from headland.chain import calibrate as c\nfrom headland.chain.covers import covers\n"
    tree = ast.parse(text + "x = c.calibrate(1)\ny = covers(2)\nz = map(c.calibrate, [])\n")
    sites = call_sites({"field.made_up": tree})
    assert sites["chain.calibrate.calibrate"] == ["field.made_up"] * 2
    assert sites["chain.covers.covers"] == ["field.made_up"]


@pytest.mark.parametrize(
    "script", sorted((ROOT / "scripts" / "steps").glob("*.py")), ids=lambda path: path.stem
)
def test_a_step_s_script_only_reads_runs_and_writes(script):
    """Fewer than 25 lines of code, one function, and no library of numbers."""
    text = script.read_text(encoding="utf-8")
    tree = ast.parse(text)
    code = [line for line in text.splitlines()[tree.body[0].end_lineno :] if line.strip()]
    assert len(code) < 25
    assert [node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)] == ["main"]
    imports = [node for node in ast.walk(tree) if isinstance(node, (ast.Import, ast.ImportFrom))]
    assert all(isinstance(node, ast.ImportFrom) and node.module.startswith("headland.") for node in imports)
