"""A star that was named and that the geometry contradicts: which one it was instead.

By the same arithmetic as a nameless star is named, only that the name given counts for much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.nameless.namings import namings, probabilities
from plumbstar.nameless.solved import row_of, sky_of
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.site import Site
from plumbstar.solve.fix import Fix
from plumbstar.solve.weighing import share_of

#: It is said from this on.
_SAID = 0.5


@dataclass(frozen=True, slots=True)
class ItWas:
    """Sighting ``index``, called ``called``, was of ``row.star``, ``apart_deg`` from it."""

    index: int
    called: str
    row: Sighting
    apart_deg: float
    probability: float


def contradicted(
    fix: Fix, site: Site | None, prior: Priors, noise: Noise, most: int = 8
) -> tuple[ItWas, ...]:
    """The named stars of a doubtful fix that were another one, likeliest first.

    Empty where the site or a time is not known, and where something moved is the likelier story.
    Of a long evening the last ``most`` sightings are looked at, with every suspect among them.
    """
    if site is None or not (fix.doubtful or fix.contradictory):
        return ()
    suspected = {i for i, _ in fix.suspects} | set(fix.set_aside)
    n = len(fix.sightings)
    kept = sorted(suspected | set(range(max(0, n - most), n)))[-most:]
    entries = [fix.sightings[i] for i in kept]
    if len(entries) < 2 or any(e.utc is None for e in entries):
        return ()
    sky = sky_of(entries, site)
    found = namings(entries, sky, prior, noise, doubt_names=True)
    still = 1.0 - share_of(w for w in fix.stories if w.story.moves)
    out = []
    for k, (i, told) in enumerate(zip(kept, probabilities(found), strict=True)):
        star, p = max(((s, q) for s, q in told.items() if s >= 0), default=(-1, 0.0), key=_second)
        if p * still < _SAID:
            continue
        row = row_of(entries[k], k, star, sky)
        assert row is not None  # a star of the list
        out.append(ItWas(i, entries[k].star, row, _apart_deg(entries[k], row), p * still))
    return tuple(sorted(out, key=lambda x: -x.probability))


def _second(pair: tuple[int, float]) -> float:
    return pair[1]


def _apart_deg(a: Sighting, b: Sighting) -> float:
    four = (math.radians(x) for x in (a.true_az_deg, a.true_alt_deg, b.true_az_deg, b.true_alt_deg))
    return math.degrees(float(separation_rad(*four)))
