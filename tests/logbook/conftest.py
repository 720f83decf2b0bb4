"""A logbook of its own for each test, and the command that reads it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from plumbstar.commands.log import command
from plumbstar.errors import UserError
from plumbstar.logbook import ENVIRONMENT, Logbook


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite3"


@pytest.fixture
def book(path: Path) -> Iterator[Logbook]:
    with Logbook.open(path) as b:
        yield b


@pytest.fixture
def log(path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., str]:
    monkeypatch.setenv(ENVIRONMENT, str(path))

    def call(*words: str, fails: bool = False) -> str:
        result = CliRunner().invoke(command, list(words))
        if fails:
            assert isinstance(result.exception, UserError), result.output
            return str(result.exception)
        assert result.exit_code == 0, (result.output, result.exception)
        return result.output

    return call
