"""What the night after a mend of the stop starts from: told what was put under it, or forgotten.

    python design/after_a_mend.py [telescopes, default 40]

Telescopes of ``weeks.py`` without faults and changes: four outings, then shims that move the stop
by 0.4 to 1.2 degrees either way, a tenth of that and 0.05 degrees more or less than told, then two
stars and twelve pushes in a field of 0.76 degrees, twice. The stop as learnt is given to the fix as
the two values that it may have (the mend did as told, or went the other way: 5 in 100 beforehand),
as one wide law over both, and with the stop forgotten at the mend. Results in docs/mount.md.
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace

import numpy as np
import walked
import weeks
import weeks_pushes

from plumbstar.diagnose import learn
from plumbstar.diagnose.evidence import evidence_from
from plumbstar.diagnose.teach import RESEATING, SHARE, WRONG_WAY

HAND = weeks_pushes.normal(1.0)
WORLD = weeks_pushes.World("after a mend", HAND, faults=0.0, changes=False)


def night(t: int) -> tuple[dict[str, learn.Learnt], np.ndarray]:
    """What is learnt each way, and the mount (12,) after the mend."""
    rng = np.random.default_rng([19, t])
    outings = weeks.weeks(rng, 0.0, False, hand=HAND)[:5]
    when = [weeks.START.plus_seconds(7 * 86400.0 * o.number) for o in outings]
    said = [
        evidence_from(o.sightings, weeks.KIT, o.number, utc)
        for o, utc in zip(outings[:4], when, strict=False)
    ]
    told = [e for e in said if e is not None]
    size = math.radians(rng.uniform(0.4, 1.2)) * rng.choice([-1, 1])
    mount = outings[4].mount.copy()
    mount[walked.E0] += size * (1 + SHARE * rng.standard_normal())
    mount[walked.E0] += RESEATING * rng.standard_normal()
    at = when[4].plus_seconds(-86400.0)
    moved = learn.StopMoved(at, 1.0, size, math.hypot(RESEATING, SHARE * size), WRONG_WAY)
    known = learn.learn(told, weeks.PRIOR, (), [moved])
    return {
        "told, as two values": known,
        "told, as one law": replace(known, priors=replace(known.priors, one_of=())),
        "forgotten": learn.learn(told, weeks.PRIOR, [(at, ("altitude_zero",))]),
    }, mount


def main() -> None:
    telescopes = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    rows: dict[str, list[tuple[float, float]]] = {}
    for t in range(telescopes):
        ways, mount = night(t)
        for name, known in ways.items():
            each = [
                weeks_pushes.landed(known, mount, WORLD, np.random.default_rng([t, s]), False)
                for s in range(2)
            ]
            stated, hit = np.mean(each, axis=(0, 2)).tolist()
            rows.setdefault(name, []).append((stated, hit))
    for name, found in rows.items():
        print(f"{name}: {weeks_pushes.said(np.array(found))}")


if __name__ == "__main__":
    main()
