"""A slip that is known, settled by one star: does what is stated allow for a wrong one?

python design/settled_by_one.py [evenings of each kind] [first seed]

Two or three right stars, a known slip of one circle or of both, one star since: right, or another
than it was called (one 3 to 15 degrees away), or hardly centred (up to 1.5 degrees). Pushes are
judged after it; then after one right star more. *Stated* and *landed* are means over all pushes
that nothing is asked before; the last columns count those stated over 80 %, how many missed, and
how many the stated chances allow. The mount is the turned bodies of tools/nights, none of the
program's kinematics. Results in docs/faults.md.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np

from plumbstar.mount.sighting import Sighting
from plumbstar.solve.epochs import solve_parts

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tools"))
sys.path.insert(0, str(Path(__file__).resolve().parent))
from nights.mount import Mount, direction
from two_slips import NOISE, PRIORS, judged, place

BOTH = ("azimuth", "altitude")
#: (name, of how many in a hundred the star since is another, and hardly centred)
KINDS = (
    ("all right", 0, 0),
    ("3 in 100 another", 3, 0),
    ("3 in 100 another, 3 hardly centred", 3, 3),
    ("another, always", 100, 0),
)

Push = tuple[float, bool]


def evening(seed: int, slipped: tuple[str, ...], wrong: int, fumbled: int) -> list[list[Push]]:
    """(stated, missed) of the pushes after one star since the slip, and after two; none where
    something is asked first."""
    rng = np.random.default_rng([5507, seed])
    mount = Mount(rng)
    before = int(rng.integers(2, 4))
    slip = np.array([rng.uniform(-180, 180), rng.uniform(-60, 60)])
    lost, rows, out = np.zeros(2), list[Sighting](), list[list[Push]]()
    which = rng.uniform(0, 100)
    for k in range(before + 2):
        if k == before:
            lost = slip * [axis in slipped for axis in BOTH]
        az, alt = place(rng)
        right, up = rng.normal(0, 0.1, 2)
        if k == before and which < wrong + fumbled:
            far = rng.uniform(3, 15) if which < wrong else rng.uniform(0.3, 1.5)
            turn = rng.uniform(0, 2 * math.pi)
            right, up = right + far * math.cos(turn), up + far * math.sin(turn)
        where = direction(az + right / math.cos(math.radians(alt)), min(alt + up, 88.0))
        read = np.array(mount.circles(*mount.axles_at(where, 180.0))) + lost
        rows.append(Sighting(f"star {k}", az, alt, float(read[0]) % 360.0, float(read[1])))
        if k < before:
            continue
        fix = solve_parts(rows, PRIORS, NOISE, [(before, slipped)])[-1].fix
        asked = fix.contradictory or fix.moved is not None
        out.append([] if asked else judged(fix, mount, lost, rng))
    return out


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    print(
        f"{'':36} {'slipped':10} {'stars':>5} {'pushes':>6} {'stated':>6} {'landed':>6} "
        f"{'>80 %':>6} {'missed':>6} {'allowed':>7}"
    )
    for name, wrong, fumbled in KINDS:
        for slipped in (BOTH, BOTH[:1], BOTH[1:]):
            both = [evening(s, slipped, wrong, fumbled) for s in range(first, first + count)]
            for since in (1, 2):
                rows = [r for pushes in both for r in pushes[since - 1]]
                sure = [r for r in rows if r[0] > 0.8]
                print(
                    f"{name:36} {'both' if slipped == BOTH else slipped[0]:10} {since:5} "
                    f"{len(rows):6} {np.mean([r[0] for r in rows]):6.3f} "
                    f"{np.mean([not r[1] for r in rows]):6.3f} {len(sure):6} "
                    f"{sum(r[1] for r in sure):6} {sum(1 - r[0] for r in sure):7.1f}",
                    flush=True,
                )


if __name__ == "__main__":
    main()
