"""The public names: documented, loaded only when asked for, and the examples of docs/api.md run."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
from pathlib import Path

import pytest

import plumbstar

PAGE = Path(__file__).parent.parent / "docs" / "api.md"


def test_every_example_says_what_the_program_says() -> None:
    result = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert result.attempted > 15
    assert result.failed == 0


def test_every_public_name_is_in_the_table_and_nothing_else() -> None:
    rows = [r.split("|")[1] for r in PAGE.read_text(encoding="utf-8").splitlines() if "| `" in r]
    told = {n for row in rows for n in re.findall(r"`(\w+)`", row)}
    assert told == set(plumbstar.__all__) - {"__version__"}
    assert all(getattr(plumbstar, n).__doc__ for n in told)
    assert set(plumbstar.__all__) <= set(dir(plumbstar))


def test_importing_loads_nothing_heavy_and_asking_does() -> None:
    code = (
        "import sys, plumbstar\n"
        "assert not {'numpy', 'erfa', 'msgspec', 'click'} & set(sys.modules), 'heavy import'\n"
        "plumbstar.Site\nassert 'numpy' not in sys.modules\n"
        "plumbstar.solve_fix\nassert 'numpy' in sys.modules\n"
        "from plumbstar import push_to, Fix\nfrom plumbstar import kit, solve\n"
        "assert kit.__name__ == 'plumbstar.kit' and solve.__name__ == 'plumbstar.solve'\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


def test_a_name_that_is_none() -> None:
    with pytest.raises(AttributeError, match="no attribute 'telescope'"):
        plumbstar.telescope  # noqa: B018
