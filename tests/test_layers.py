"""The promises about structure: imports run one way, and help is instant."""

from __future__ import annotations

import ast
import graphlib
import os
import re
import subprocess
import sys
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
    "logbook", "encoders", "clock.gps_port", "clock.clock", "simulate.hand", "simulate.telescope",
    "simulate.wire", "simulate.conversations", "simulate.closed_page",
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
def imports(path: Path) -> frozenset[str]:
    out: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            out |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            out.add(node.module)
            if node.module == "plumbstar":
                out |= {f"plumbstar.{a.name}" for a in node.names}
    return frozenset(out)


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
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                places.setdefault(node.name, []).append(dotted(path))
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


def lowest_first() -> list[str]:
    """Every module and package by its full name, what it imports before it."""
    paths = {}
    for path in SRC.rglob("*.py"):
        parts = path.relative_to(SRC.parent).with_suffix("").parts
        paths[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    order: list[str] = []
    seen: set[str] = set()

    def visit(name: str) -> None:
        if name in paths and name not in seen:
            seen.add(name)
            for needed in (name.rpartition(".")[0], *sorted(imports(paths[name]))):
                visit(needed)
            order.append(name)

    seen.add("plumbstar")  # what it imports it imports when asked, and all are below it
    for name in sorted(paths):
        visit(name)
    return ["plumbstar", *order]


def alone(path: Path, names: list[str]) -> str:
    """What ``alone.py`` complains of when it imports these with this folder on the path."""
    done = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("alone.py")), *names],
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(path)},
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    assert (done.returncode == 0) == (not done.stderr), done.stderr
    return done.stderr


def test_each_module_imports_alone() -> None:
    names = lowest_first()
    assert set(names) >= {f"plumbstar.{dotted(p)}" for p in FILES}
    assert alone(SRC.parent, names) == ""


#: Not written out in the planted sources: what a string imports is looked for elsewhere.
US = "plumbstar"


@pytest.mark.parametrize("order", ["abc", "cba", "bca"])
@pytest.mark.parametrize(
    ("modules", "wrong"),
    [
        # b uses what only c loads; a circle that breaks from one side only.
        ({"a": "", "b": f"import {US}\n{US}.a", "c": f"from {US} import a, b"}, "b"),
        ({"a": "", "b": f"from {US}.c import x", "c": f"x = 1\nimport {US}.b"}, ""),
        ({"a": "", "b": f"import {US}.c\nx = 1", "c": f"from {US}.b import x"}, "b"),
        ({"a": "x = 1", "b": f"from {US}.a import x", "c": f"from {US}.b import x"}, ""),
    ],
)
def test_what_does_not_import_alone_is_seen(
    tmp_path: Path, modules: dict[str, str], wrong: str, order: str
) -> None:
    (tmp_path / "plumbstar").mkdir()
    (tmp_path / "plumbstar" / "__init__.py").write_text("")
    for name, text in modules.items():
        (tmp_path / "plumbstar" / f"{name}.py").write_text(text)
    said = alone(tmp_path, ["plumbstar", *(f"plumbstar.{n}" for n in order)])
    assert f"plumbstar.{wrong} alone:" in said if wrong else said == ""


def test_every_room_stands_in_the_map_of_the_code() -> None:
    """docs/code.md has a row for each, in this order."""
    rows = [r for r in (SRC.parents[1] / "docs/code.md").read_text().splitlines() if r[:3] == "| `"]
    told = [re.findall(r"`(\w+)/?`", r.split("|")[1])[0] for r in rows]
    assert [n for n in told if n in ROOMS] == [r for r in ROOMS if r != "__main__"]
    for inner in WITHIN.values():
        assert [n for n in told if n in inner] == list(inner)
