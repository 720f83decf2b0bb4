"""Help stands there at once: written down beforehand, and as the commands would say it now."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest
from click.testing import CliRunner

from plumbstar.cli import COMMANDS, group
from plumbstar.commands import written_help

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def tool() -> ModuleType:
    spec = importlib.util.spec_from_file_location("help_tool", ROOT / "tools/help.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_what_is_written_down_is_what_the_commands_say(tool: ModuleType) -> None:
    text = written_help.FILE.read_text(encoding="utf-8")
    assert text == tool.all_of_them(), "run: python tools/help.py"
    read = written_help.read(text)
    assert read == dict(tool.helps())
    assert len(read) > len(COMMANDS) + 30
    assert set(COMMANDS) < set(read)


@pytest.mark.parametrize("typed", ["log show -h", "site --help"])
def test_it_says_what_click_says(typed: str) -> None:
    told = CliRunner().invoke(group, typed.split(), prog_name="plumbstar", terminal_width=80)
    assert written_help.written(typed.split()) == told.output.rstrip("\n")


@pytest.mark.parametrize(
    "typed",
    [
        "--help",  # needs no file
        "log note hello",
        "log note --text --help",  # the value of an option
        "log note -- --help",
        "tonight --help --json",
        "tonigt --help",  # the command line says what was meant
        "",
    ],
)
def test_whatever_else_may_be_meant_goes_the_usual_way(typed: str) -> None:
    assert written_help.written(typed.split()) is None


def test_a_narrow_terminal_has_it_set_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "60")
    assert written_help.written(["tonight", "--help"]) is None


def test_help_of_a_command_imports_no_numpy() -> None:
    code = (
        "import sys\nsys.argv = ['plumbstar', 'tonight', '--help']\n"
        "from plumbstar.cli import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "assert 'numpy' not in sys.modules and 'erfa' not in sys.modules, 'heavy import'\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("Usage: plumbstar tonight")
