"""The promises about structure: imports run one way, and help is instant."""

from __future__ import annotations

import ast
import graphlib
import re
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

SRC = Path(__file__).parent.parent / "src" / "plumbstar"

#: The rooms, from the ground up. A file imports from its own room and from those before it.
ROOMS = (
    "errors", "units", "turns", "text", "contract", "sky", "kit", "mount", "collimate", "encoders",
    "solve", "logbook", "targets", "eyeview", "clock", "guide", "nameless", "controller", "choose",
    "starway", "interface", "diagnose", "coach", "card", "simulate", "web", "commands", "cli",
    "__main__",
)  # fmt: skip
#: Rooms with rooms of their own, under the same rule.
WITHIN = {
    "diagnose": (
        "weeks",
        "evidence",
        "hand",
        "learn",
        "explain",
        "teach",
        "own_eye",
        "nights",
        "score",
        "checks",
        "history",
        "shims",
    ),
    "web": ("door", "evening", "views", "live", "routes", "app", "programs", "alpaca", "indi"),
}
#: Loose modules beside the packages, at the most.
MOST_LOOSE = 8
#: Lines in one file, at the most; and dictionaries of anything in all of them.
MOST_LINES, MOST_SHAPELESS = 400, 20
#: Modules that arithmetic may never reach: clock, disk, network.
WORLD = {"time", "socket", "sqlite3", "asyncio", "serial", "subprocess", "urllib", "http"}
#: Who else may: those whose job it is.
WORLDLY = (
    "logbook", "encoders", "clock.gps_port", "clock.clock", "simulate.hand", "simulate.tube",
    "simulate.telescope", "simulate.wire", "simulate.conversations", "simulate.closed_page",
    "web", "commands",
)  # fmt: skip
FILES = sorted(p for p in SRC.rglob("*.py") if p.name != "__init__.py")


def dotted(path: Path) -> str:
    """A file's name below the package: "web.door.security"."""
    return ".".join(path.relative_to(SRC).with_suffix("").parts)


def storey(name: str) -> tuple[int, int]:
    """How high a module stands: its room, and the room in that."""
    room, _, rest = name.partition(".")
    inner = WITHIN.get(room, ())
    part = rest.partition(".")[0]
    return ROOMS.index(room), inner.index(part) if part in inner else -1


@cache
def names_in(path: Path) -> tuple[frozenset[str], tuple[str, ...]]:
    """What a file imports, and its public classes: read once for all that look at it."""
    out: set[str] = set()
    classes = []
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            classes.append(node.name)
        if isinstance(node, ast.Import):
            out |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            out.add(node.module)
            if node.module == "plumbstar":
                out |= {f"plumbstar.{a.name}" for a in node.names}
    return frozenset(out), tuple(classes)


def imports(path: Path) -> frozenset[str]:
    return names_in(path)[0]


def ours(path: Path) -> set[str]:
    """What a file imports of ours: dotted names below the package."""
    names = {n.removeprefix("plumbstar.") for n in imports(path) if n.startswith("plumbstar.")}
    return {n for n in names if n.partition(".")[0] in ROOMS}


def test_every_module_has_its_room() -> None:
    assert {dotted(p).partition(".")[0] for p in FILES} == set(ROOMS)
    for room, inner in WITHIN.items():
        there = {dotted(p).split(".")[1] for p in FILES if dotted(p).startswith(f"{room}.")}
        assert there == set(inner)


def test_few_modules_lie_loose() -> None:
    assert len(list(SRC.glob("*.py"))) <= MOST_LOOSE


def test_no_file_is_longer_than_a_reader_keeps_in_mind() -> None:
    lines = {dotted(p): len(p.read_text().splitlines()) for p in FILES}
    assert {name: n for name, n in lines.items() if n > MOST_LINES} == {}


def test_a_class_name_means_one_thing() -> None:
    places: dict[str, list[str]] = {}
    for path in FILES:
        for name in names_in(path)[1]:
            places.setdefault(name, []).append(dotted(path))
    assert {name: where for name, where in places.items() if len(where) > 1} == {}


def test_few_dictionaries_are_without_a_shape() -> None:
    held = {dotted(p): p.read_text().count("dict[str, Any]") for p in FILES}
    assert sum(held.values()) <= MOST_SHAPELESS, {k: n for k, n in held.items() if n}


def test_imports_run_one_way() -> None:
    up = [
        f"{dotted(path)} imports {name}"
        for path in FILES
        for name in ours(path)
        if storey(name) > storey(dotted(path))
    ]
    assert up == []


def test_nothing_goes_round() -> None:
    names = {dotted(p) for p in FILES}
    graph = {dotted(p): ours(p) & names for p in FILES}
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError, with the circle


def test_arithmetic_never_touches_the_world() -> None:
    touching = {
        dotted(path): worldly
        for path in FILES
        if not f"{dotted(path)}.".startswith(tuple(f"{w}." for w in WORLDLY))
        and (worldly := {n.split(".")[0] for n in imports(path)} & WORLD)
    }
    assert touching == {}


def test_help_imports_no_numpy() -> None:
    code = (
        "import sys\nsys.argv = ['plumbstar', '--help']\nfrom plumbstar.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "assert 'numpy' not in sys.modules and 'erfa' not in sys.modules, 'heavy import'\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert "demo" in done.stdout
    assert "collimate" in done.stdout


def test_the_logbook_imports_no_numpy() -> None:
    code = "import sys, plumbstar.logbook\nassert 'numpy' not in sys.modules"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def by_full_name(src: Path) -> dict[str, Path]:
    """Every module and package of the package that this folder is: full name -> file."""
    found = {}
    for path in src.rglob("*.py"):
        parts = path.relative_to(src.parent).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


def at_import(node: ast.AST) -> Iterator[ast.AST]:
    """What is executed when a module is imported: not what stands in a function or for types."""
    for inner in ast.iter_child_nodes(node):
        for_types = isinstance(inner, ast.If) and "TYPE_CHECKING" in ast.unparse(inner.test)
        if not for_types and not isinstance(inner, ast.FunctionDef | ast.AsyncFunctionDef):
            yield inner
            yield from at_import(inner)


def above(name: str) -> set[str]:
    """The packages that a module lies in, which are imported before it."""
    parts = name.split(".")
    return {".".join(parts[:n]) for n in range(1, len(parts))}


def begins_with(node: ast.expr) -> str:
    """ "a" of a.b.c, empty where that is no name."""
    while isinstance(node, ast.Attribute):
        node = node.value
    return node.id if isinstance(node, ast.Name) else ""


def cannot_be_imported_first(src: Path) -> list[str]:
    """Why a module may fail that is the first of all to be imported: none may.

    Where imports, with the packages that they bring, never go round, whatever a module imports is
    there, and whole, when its next line runs, whoever asked first. What may be missing then is
    only what a module uses by way of a package and has not imported itself. (To import each of six
    hundred alone told the same in a quarter of a minute.)
    """
    files = by_full_name(src)
    graph: dict[str, set[str]] = {}
    wrong = []
    for name, path in files.items():
        tree = ast.parse(path.read_text())
        imported: set[str] = set()
        packages: dict[str, str] = {}
        for node in at_import(tree):
            if isinstance(node, ast.Import):
                imported |= {a.name for a in node.names}
                packages |= {a.name.split(".")[0]: a.name.split(".")[0] for a in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module:
                full = {f"{node.module}.{a.name}": a.asname or a.name for a in node.names}
                imported |= {f if f in files else node.module for f in full}
                packages |= {short: f for f, short in full.items() if f in files}
        brought = imported | set().union(*map(above, imported)) - above(name)
        graph[name] = brought & files.keys() - {name}
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and begins_with(node) in packages:
                root, _, rest = ast.unparse(node).partition(".")
                if root in packages and f"{packages[root]}.{rest}" in files:
                    wrong.append(f"{name} uses {packages[root]}.{rest} by way of its package")
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as e:
        wrong.append(f"imports in a circle: {', '.join(sorted(set(e.args[1])))}")
    return wrong


def test_each_module_can_be_the_first_imported() -> None:
    assert len(by_full_name(SRC)) >= len(FILES)
    assert cannot_be_imported_first(SRC) == []


#: Not written out in the planted sources: what a string imports is looked for elsewhere.
US = "plumbstar"


@pytest.mark.parametrize(
    ("modules", "wrong"),
    [
        ({"a": "", "b": f"import {US}\n{US}.a", "c": f"from {US} import a, b"}, "b uses"),
        ({"a": f"import {US}.b", "b": "", "c": f"import {US}.b\n{US}.b.x"}, "c uses"),
        ({"a": "", "b": f"import {US}.c\nx = 1", "c": f"from {US}.b import x"}, "b, plumbstar.c"),
        ({"a/__init__": f"from {US}.b import x", "a/c": "x = 1", "b": f"from {US}.a.c import x"},
         "a, plumbstar.b"),
        ({"a/__init__": f"from {US}.a.c import x", "a/c": f"from {US}.a import d"},
         "a, plumbstar.a.c"),
        ({"a": "x = 1", "b": f"from {US}.a import x", "c": f"from {US}.b import x"}, ""),
        ({"a": f"def f():\n    from {US}.b import x", "b": f"from {US}.a import f"}, ""),
        ({"a/__init__": f"from {US}.a.c import x", "a/c": f"from {US}.a import d", "a/d": ""}, ""),
    ],
)  # fmt: skip
def test_what_cannot_be_the_first_imported_is_seen(
    tmp_path: Path, modules: dict[str, str], wrong: str
) -> None:
    src = tmp_path / US
    for name, text in {"__init__": "", **modules}.items():
        (src / name).parent.mkdir(parents=True, exist_ok=True)
        (src / f"{name}.py").write_text(text)
    found = cannot_be_imported_first(src)
    if wrong:
        assert len(found) == 1
        assert f"plumbstar.{wrong}" in found[0]
    else:
        assert found == []


def test_every_room_stands_in_the_map_of_the_code() -> None:
    """docs/code.md has a row for each, in this order."""
    rows = [r for r in (SRC.parents[1] / "docs/code.md").read_text().splitlines() if r[:3] == "| `"]
    told = [n.strip("/") for r in rows for n in re.findall(r"^ `([\w/]+)` $", r.split("|")[1])]
    assert [n for n in told if n in ROOMS] == [r for r in ROOMS if r != "__main__"]
    for room, inner in WITHIN.items():
        assert [n for n in told if n.startswith(f"{room}/")] == [f"{room}/{n}" for n in inner]
