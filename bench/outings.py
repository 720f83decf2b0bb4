"""What many outings cost: a command over all of them, and the learning as the next one starts.

    python bench/outings.py [outings ...]

Processor time. "Anew": nothing was kept of the reckoning; "one more": an outing came since;
"again": nothing has changed. The commands are run as a person runs them, Python's start included;
the ratio against ``plumbstar --version`` in the same run is what to read.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from timing import seconds

from plumbstar import kit as kits
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.logbook import Logbook
from plumbstar.logbook.worked_out import place
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.sky.times import Instant

START = Instant.parse("2024-01-03T19:00:00Z")


def outing(book: Logbook, i: int, mount: HiddenMount) -> None:
    """Four stars, all round, the stop a little different each time."""
    rng = mount.rng
    terms = mount.terms.copy()
    terms[0], terms[2:4] = rng.uniform(-3, 3), rng.normal(0, np.radians(1.0), 2)
    terms[1] += rng.normal(0, np.radians(0.05))
    tonight = HiddenMount(terms, mount.noise, rng)
    utc = START.plus_seconds(4 * 86400.0 * i)
    o = book.start_outing(None, kits.example(), kits.example_text(), utc)
    az = rng.uniform(0, 360) + np.cumsum(rng.uniform(60, 140, 4))
    for n, s in enumerate(tonight.sight_all(zip(az % 360, rng.uniform(20, 70, 4), strict=True))):
        book.add_sighting(o.id, s, "typed", request=f"{i} {n}")
    book.end_outing(o.id, utc.plus_seconds(3600.0))


def run(args: Sequence[str]) -> float:
    """Processor time of a command, seconds, its own process and all."""
    before = os.times()
    command = [sys.executable, "-m", "plumbstar", *args]
    subprocess.run(command, check=True, capture_output=True)
    after = os.times()
    used = after.children_user - before.children_user
    return used + after.children_system - before.children_system


def least(args: Sequence[str], times: int = 3) -> float:
    return min(run(args) for _ in range(times))


def row(n: int, folder: Path, plain: float) -> None:
    path = folder / f"{n}.sqlite3"
    kit, rng = kits.example(), np.random.default_rng(5)
    mount = HiddenMount(draw_terms(Priors.from_kit(kit), rng), Noise.from_kit(kit), rng)
    with Logbook.open(path) as book:
        for i in range(n):
            outing(book, i, mount)
    for command in (("log", "priors"), ("mount",)):
        asked = (*command, "--logbook", str(path))
        place(path).unlink(missing_ok=True)
        anew = run(asked)
        again = least(asked)
        print(
            f"{n:>5} outings  {' '.join(command):<11} anew {anew:5.2f} s, again {again:5.2f} s: "
            f"{again / plain:4.1f} times plumbstar --version"
        )
    with Logbook.open(path) as book:
        outing(book, n, mount)
        more = seconds(lambda: learnt_priors(book, kit), 1)
        again = min(seconds(lambda: learnt_priors(book, kit), 1) for _ in range(5))
    print(f"{n:>5} outings  learning    one more {more:5.2f} s, again {again:5.3f} s")


def main() -> None:
    plain = least(["--version"], 5)
    print(f"plumbstar --version {plain:.2f} s; the goal: 0.5 s a command, 0.1 s for the learning")
    with tempfile.TemporaryDirectory() as folder:
        for n in [int(x) for x in sys.argv[1:]] or [12, 50, 200]:
            row(n, Path(folder), plain)


if __name__ == "__main__":
    main()
