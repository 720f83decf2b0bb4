"""Completion, tried in a real bash."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.logbook import Logbook
from plumbstar.sky.site import Site

#: What bash does on Tab, with the words typed so far; prints what it would offer.
TAB = """
eval "$(plumbstar completion bash)"
COMP_WORDS=({words}); COMP_CWORD=$(( ${{#COMP_WORDS[@]}} - 1 ))
_plumbstar_completion plumbstar; printf '%s\n' "${{COMPREPLY[@]}}"
"""


@pytest.fixture
def bash(tmp_path: Path):
    if shutil.which("bash") is None:
        pytest.skip("no bash here")
    program = tmp_path / "plumbstar"
    program.write_text(f'#!/bin/sh\nexec {sys.executable} -m plumbstar "$@"\n')
    program.chmod(0o755)
    book = tmp_path / "book.sqlite3"
    with Logbook.open(book) as b:
        b.keep_site(Site(47.2, 11.6, 940.0, name="Ridge"))
    env = os.environ | {
        "PATH": f"{tmp_path}:{os.environ['PATH']}", "PLUMBSTAR_LOGBOOK": str(book),
    }  # fmt: skip

    def tab(words: str) -> list[str]:
        done = subprocess.run(
            ["bash", "-c", TAB.format(words=words)], env=env, capture_output=True, text=True,
            check=False, timeout=60,
        )  # fmt: skip
        assert not done.stderr, done.stderr
        return [x for x in done.stdout.splitlines() if x]

    return tab


def test_tab_in_bash(bash) -> None:
    assert bash("plumbstar to") == ["tonight"]
    assert "--zenith-mag" in bash("plumbstar tonight --z")
    assert bash("plumbstar tonight --site Ri") == ["Ridge"]
    assert "Capella" in bash("plumbstar push Cap")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_has_a_script_and_a_place(shell: str) -> None:
    run = CliRunner()
    assert "_PLUMBSTAR_COMPLETE" in run.invoke(group, ["completion", shell]).output
    assert shell in run.invoke(group, ["completion", shell, "--how"]).output
    assert run.invoke(group, ["completion", "tcsh"]).exit_code == 2
