"""The type check of the pages' scripts, against declarations made from the contract.

The checker is TypeScript's, as the ``deno`` wheel brings it: no other download is needed. It reads
the scripts as they are served, with their types in comments; nothing is compiled.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import needs

from .declarations import ROOT, declarations

STATIC = ROOT / "src" / "plumbstar" / "web" / "static"
PASSED_ON = Path(__file__).parent / "page.d.ts"
CONFIG = {
    "compilerOptions": {
        "checkJs": True,
        "strict": True,
        "lib": ["dom", "dom.iterable", "esnext"],
        "types": ["./contract.d.ts", "./page.d.ts"],
    }
}


def deno() -> str | None:
    """The program, beside this Python or on the path."""
    beside = Path(sys.executable).parent / "deno"
    return str(beside) if beside.exists() else shutil.which("deno")


def run(where: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    """Deno in a folder, without a network, a cache of its own, or colours."""
    program = needs.program(deno(), "deno")
    quiet = {"NO_COLOR": "1", "DENO_DIR": str(where / ".deno"), "DENO_NO_UPDATE_CHECK": "1"}
    return subprocess.run(
        [program, *arguments], cwd=where, env={**os.environ, **quiet},
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip


def lay_out(where: Path) -> None:
    """The scripts and what they are checked against, in an empty folder."""
    for script in STATIC.glob("*.js"):
        shutil.copy(script, where)
    shutil.copy(PASSED_ON, where)
    (where / "contract.d.ts").write_text(declarations(), encoding="utf-8")
    (where / "deno.json").write_text(json.dumps(CONFIG), encoding="utf-8")


def faults(where: Path) -> list[str]:
    """What the checker finds in the folder's scripts: "find.js:12: Property ... does not exist"."""
    done = run(where, "check", "--no-lock", *sorted(p.name for p in where.glob("*.js")))
    if done.returncode == 0:
        return []
    said = r"TS\d+ \[ERROR\]: (.+)\n(?:.*\n)*?\s+at file://\S+/(\w+\.js):(\d+)"
    found = re.findall(said, done.stderr)
    assert found, done.stderr
    return [f"{name}:{line}: {what}" for what, name, line in found]
