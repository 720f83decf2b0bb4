"""The promises about structure: imports run one way, and help is instant."""

from __future__ import annotations

import ast
import graphlib
import re
import subprocess
import sys
from pathlib import Path

import pytest

SRC = Path(__file__).parent.parent / "src" / "plumbstar"

#: Lower layers may not import higher ones. Every module stands here.
LAYERS = (
    ("__init__", "errors"),
    ("sky", "mount", "smallsample", "collimate"),
    ("kit", "skyline", "sunlight", "sighting", "surroundings", "encoders", "clock_check"),
    ("chance", "priors", "posterior", "suspects", "fix"),
    ("score", "worth", "simulate", "scenario", "words", "sightings_file", "gps", "gps_port"),
    ("choose", "guide", "learn", "history", "logbook", "explain", "judging", "checks", "shims"),
    ("shown", "faults", "pretend", "targets", "own_file"),
    ("eyeview", "card"),
    ("demo", "web"),
    ("installation", "commands"),
    ("cli", "__main__"),
)
LEVEL = {name: i for i, layer in enumerate(LAYERS) for name in layer}
#: Modules that arithmetic may never reach: clock, disk, network.
WORLD = {"time", "socket", "sqlite3", "asyncio", "serial", "subprocess", "urllib", "http"}
#: Who else may: those whose job it is.
WORLDLY = {"logbook", "encoders", "gps_port", "pretend", "installation", "web", "commands"}


def top(path: Path) -> str:
    return path.relative_to(SRC).parts[0].removesuffix(".py")


def imports(path: Path) -> set[str]:
    out = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            out |= {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            out.add(node.module)
            if node.module == "plumbstar":
                out |= {f"plumbstar.{a.name}" for a in node.names}
    return out


FILES = sorted(SRC.rglob("*.py"))


def neighbours(path: Path) -> set[str]:
    """The other modules and packages of ours at the top that a file imports."""
    names = {n.split(".")[1] for n in imports(path) if n.startswith("plumbstar.")}
    return (names & set(LEVEL)) - {top(path)}


def test_every_module_has_its_layer() -> None:
    assert {top(p) for p in FILES} == set(LEVEL)


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(SRC)))
def test_imports_run_one_way(path: Path) -> None:
    for name in neighbours(path):
        assert LEVEL[name] <= LEVEL[top(path)], f"{top(path)} imports {name}"


def test_nothing_goes_round() -> None:
    graph: dict[str, set[str]] = {}
    for path in FILES:
        graph.setdefault(top(path), set()).update(neighbours(path))
    graphlib.TopologicalSorter(graph).prepare()  # raises CycleError, with the circle


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(SRC)))
def test_arithmetic_never_touches_the_world(path: Path) -> None:
    if top(path) not in WORLDLY:
        assert not {n.split(".")[0] for n in imports(path)} & WORLD


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


def test_each_module_imports_alone() -> None:
    names = [
        ".".join(p.relative_to(SRC.parent).with_suffix("").parts)
        for p in sorted(SRC.rglob("*.py"))
        if p.name != "__init__.py"
    ]
    code = (
        "import importlib, sys\n"
        f"for n in {names!r}:\n"
        "    for m in [m for m in sys.modules if m.split('.')[0] == 'plumbstar']:\n"
        "        del sys.modules[m]\n"
        "    importlib.import_module(n)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_every_module_stands_in_the_map_of_the_code() -> None:
    """docs/code.md names each in the row of its layer, and the layers in this order."""
    rows = [r for r in (SRC.parents[1] / "docs/code.md").read_text().splitlines() if r[:1] == "|"]
    named = [set(re.findall(r"`(\w+)/?`", r.split("|")[2])) for r in rows if r.count("|") == 4]
    told = [n for n in named if n & set(LEVEL)]
    wanted = [set(x) - {"__init__", "__main__"} for x in (*LAYERS[:-2], LAYERS[-2] + LAYERS[-1])]
    assert told[: len(wanted)] == wanted
