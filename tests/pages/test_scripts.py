"""What the pages' scripts work out themselves, one file of tests for each script that does."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from . import checker

TESTS = sorted((Path(__file__).parent / "scripts").glob("*.test.js"))


@pytest.mark.parametrize("tests", TESTS, ids=lambda p: p.name)
def test_script(tests: Path, tmp_path: Path) -> None:
    checker.lay_out(tmp_path)
    for helper in tests.parent.glob("*.js"):
        shutil.copy(helper, tmp_path)
    done = checker.run(tmp_path, "test", "--no-check", "--no-lock", tests.name)
    assert done.returncode == 0, done.stdout + done.stderr
    assert int(re.findall(r"\| (\d+) passed", done.stdout)[0]) > 0
