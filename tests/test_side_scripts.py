"""What is run by hand (bench, tools, design) still fits the program that it is about.

mypy reads these folders with the program (`pyproject.toml`), inside functions too: a name that has
moved or a call that no longer fits is told there. Here: that each loads, and the code in strings,
which no checker reads.
"""

from __future__ import annotations

import ast
import importlib
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FOLDERS = ("bench", "tools", "design")
#: Loads each file of the folders under its own name, as an import and not as the main program. In
#: one process, for most of the time goes to what they all load; a name may stand in two folders.
LOAD = """
import importlib, json, pathlib, sys, traceback
wrong = {}
for folder in sys.argv[1:]:
    sys.path.insert(0, folder)
    before = set(sys.modules)
    for path in sorted(pathlib.Path(folder).glob("*.py")):
        try:
            importlib.import_module(path.stem)
        except BaseException:
            wrong[str(path)] = traceback.format_exc()
    for name in set(sys.modules) - before:
        if (getattr(sys.modules[name], "__file__", None) or "").startswith(folder + "/"):
            del sys.modules[name]
    sys.path.remove(folder)
print(json.dumps(wrong))
"""


def test_each_script_loads_without_running() -> None:
    folders = [str(ROOT / folder) for folder in FOLDERS]
    done = subprocess.run(
        [sys.executable, "-c", LOAD, *folders],
        capture_output=True, text=True, check=True, cwd=ROOT, timeout=300,
    )  # fmt: skip
    assert json.loads(done.stdout) == {}, done.stdout


def test_the_type_checker_reads_them() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["mypy"]
    assert set(told["files"]) >= {"src/plumbstar", *FOLDERS}
    assert told["strict"] is True


def in_strings(path: Path) -> Iterator[tuple[str, tuple[str, ...]]]:
    """(module, names) of each import of ours that stands in a string of the file."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not (isinstance(node, ast.Constant) and isinstance(node.value, str)):
            continue
        for module, names in re.findall(r"from (plumbstar[\w.]*) import (\(?[\w, ]+)", node.value):
            yield module, tuple(n.split(" as ")[0].strip(" (") for n in names.split(","))
        for module in re.findall(r"\bimport (plumbstar[\w.]*)", node.value):
            yield module.rstrip("."), ()


SCRIPTS = [p for f in (*FOLDERS, "tests") for p in sorted((ROOT / f).rglob("*.py"))]


def missing(module: str, names: tuple[str, ...]) -> list[str]:
    """Which of these names the module does not have; the module itself where it does not load."""
    try:
        found = importlib.import_module(module)
    except ImportError:
        return [module]

    def there(name: str) -> bool:
        if hasattr(found, name):
            return True
        try:
            importlib.import_module(f"{module}.{name}")
        except ImportError:
            return False
        return True

    return [f"{module}.{n}" for n in names if n and not there(n)]


def test_imports_in_strings_name_what_is_there() -> None:
    wanted = [(p, *found) for p in SCRIPTS for found in in_strings(p)]
    assert len(wanted) > 5
    wrong = [f"{p.relative_to(ROOT)}: {m}" for p, *f in wanted for m in missing(*f)]
    assert wrong == []


def test_a_name_that_moved_is_seen() -> None:
    assert missing("plumbstar.solve.fix", ("solve", "no_such_name")) == [
        "plumbstar.solve.fix.no_such_name"
    ]
    assert missing("plumbstar.no_such_room", ("x",)) == ["plumbstar.no_such_room"]
