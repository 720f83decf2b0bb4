"""Help stands there at once: written down beforehand, and as the commands would say it now."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from plumbstar.cli import COMMANDS
from plumbstar.commands import written_help

ROOT = Path(__file__).parents[2]


def test_what_is_written_down_is_what_the_commands_say() -> None:
    """In a process of its own: click keeps a command's help option as it first was, and tests that
    call a command past the program give it another."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "tools/help.py"), "-"], capture_output=True, check=True
    )
    text = done.stdout.decode()
    assert written_help.FILE.read_text(encoding="utf-8") == text, "run: python tools/help.py"
    read = written_help.read(text)
    assert len(read) > len(COMMANDS) + 30
    assert set(COMMANDS) < set(read)
    assert read["log show"].startswith("Usage: plumbstar log show [OPTIONS] OUTING\n")


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
