"""A part that is missing is a fault where the test tools are installed, and only there."""

import re
from pathlib import Path

import pytest

import needs

NO_SUCH = "plumbstar_has_no_such_part"


def test_missing_is_skipped_or_failed() -> None:
    with pytest.raises(ModuleNotFoundError):
        needs.module(NO_SUCH, all_here=True)
    with pytest.raises(pytest.skip.Exception):
        needs.module(NO_SUCH, all_here=False)
    with pytest.raises(pytest.fail.Exception, match="deno"):
        needs.program(None, "deno", all_here=True)
    with pytest.raises(pytest.skip.Exception, match="deno"):
        needs.program(None, "deno", all_here=False)
    assert needs.program("/x/deno", "deno", all_here=True) == "/x/deno"


def test_no_test_skips_a_missing_part_by_itself() -> None:
    """Only what belongs to the system may be asked for with pytest's own word."""
    here = Path(__file__).parent
    asked = {
        (p.name, name)
        for p in here.rglob("*.py")
        if p.name not in ("needs.py", "test_needs.py")
        for name in re.findall(r'importorskip\(\s*"([\w.]+)', p.read_text(encoding="utf-8"))
    }
    assert asked == {("test_gps.py", "pty"), ("test_files.py", "resource")}
