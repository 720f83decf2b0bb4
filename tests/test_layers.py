"""The promises about structure: imports run one way, and help is instant."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

SRC = Path(__file__).parent.parent / "src" / "plumbstar"

#: Lower layers may not import higher ones. Modules not named here sit in the layer of "rest".
LAYERS = (
    ("errors",),
    ("sky",),
    ("mount", "skyline", "sighting", "kit"),
    ("chance", "fix", "surroundings"),
    ("score", "simulate", "scenario", "words", "sightings_file"),
    ("choose", "guide", "explain", "faults", "learn", "logbook", "encoders", "shims", "history"),
    ("targets", "eyeview", "card"),
    ("demo", "web"),
    ("commands",),
    ("cli",),
)
LEVEL = {name: i for i, layer in enumerate(LAYERS) for name in layer}
#: Modules that arithmetic may never reach: clock, disk, network.
WORLD = {"time", "socket", "sqlite3", "asyncio", "serial", "subprocess", "urllib", "http"}
PURE = ("mount", "chance", "fix", "score", "choose", "guide", "words", "simulate", "skyline")


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


@pytest.mark.parametrize("path", sorted(SRC.rglob("*.py")), ids=lambda p: str(p.relative_to(SRC)))
def test_imports_run_one_way(path: Path) -> None:
    mine = LEVEL.get(top(path))
    if mine is None:
        return
    for name in imports(path):
        parts = name.split(".")
        if parts[0] == "plumbstar" and len(parts) > 1 and parts[1] in LEVEL:
            assert LEVEL[parts[1]] <= mine, f"{top(path)} imports {name}"


@pytest.mark.parametrize("module", PURE)
def test_arithmetic_never_touches_the_world(module: str) -> None:
    assert not {n.split(".")[0] for n in imports(SRC / f"{module}.py")} & WORLD


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
