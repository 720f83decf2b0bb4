"""A star that was named and that the geometry contradicts: which one it was instead.

By the same arithmetic as a nameless star is named, only that the name given counts for much. Who
took one star for another may well have done so twice: where two names are likely to be wrong, the
chances of the fix allow for it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from plumbstar.mount.sighting import Sighting
from plumbstar.nameless.eligible import Eligible, by_night
from plumbstar.nameless.namings import AS_NAMED, Naming, namings
from plumbstar.nameless.solved import mixed, row_of, sky_of
from plumbstar.sky.angles import separation_rad
from plumbstar.sky.site import Site
from plumbstar.solve.doubts import WasAnother, doubts_of_stories
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.weighing import SURE, Weighed, share_of

#: It is said from this on.
_SAID = 0.5
#: Two wrong names count from this on; and so many such namings at most, each of so much at least.
_COUNTS, _MOST, _PART = 0.03, 3, 0.01
#: A hand rougher than this is none that a naming thinks of.
_ROUGHEST = 3.5


@dataclass(frozen=True, slots=True)
class ItWas:
    """Sighting ``index``, called ``called``, was of ``row.star``, ``apart_deg`` from it."""

    index: int
    called: str
    row: Sighting
    apart_deg: float
    probability: float


@dataclass(frozen=True)
class Reconsidered:
    """``fix``: as it was, or over two wrong names, too (its sightings are then those of the stars
    that they likeliest were); ``it_was``: the named stars that were another one, likeliest first.
    """

    fix: Fix
    it_was: tuple[ItWas, ...] = ()


def reconsidered(fix: Fix, site: Site | None, most: int = 8) -> Reconsidered:
    """A doubtful fix, should some of its stars have been others.

    Nothing is changed where the site or a time is not known, or by day, and where something moved
    is the likelier story. Of a long evening the last ``most`` sightings are looked at, with every
    suspect among them.
    """
    if site is None or not (fix.doubtful or fix.contradictory) or not fix.stories:
        return Reconsidered(fix)
    suspected = {i for i, _ in fix.suspects} | set(fix.set_aside)
    n = len(fix.sightings)
    kept = sorted(suspected | set(range(max(0, n - most), n)))[-most:]
    entries = [fix.sightings[i] for i in kept]
    if len(entries) < 2 or any(e.utc is None for e in entries):
        return Reconsidered(fix)
    sky = sky_by_night(entries, site)
    if sky is None:
        return Reconsidered(fix)
    found = namings(entries, sky, fix.prior, fix.noise, doubt_names=True)
    if not found:
        return Reconsidered(fix)
    # What the fix thinks of and a naming does not keeps its share beside the namings of old.
    covered = share_of(w for w in fix.stories if _covered(w))
    twice = [m for m in found if sum(k >= 0 for k in m.stars) > 1]
    of_twice = sum(m.probability for m in twice)
    if covered < _PART:
        return Reconsidered(fix)
    total = (1.0 - of_twice) / covered + of_twice
    it_was = _it_was(kept, entries, found, total, sky)
    if of_twice / total < _COUNTS or len(kept) < n:
        others = _others(it_was)
        return Reconsidered(replace(fix, doubts=(*others, *fix.doubts)) if others else fix, it_was)
    fixes = [((1.0 - of_twice) / covered, fix)]
    for naming in [m for m in twice if m.probability / total > _PART][:_MOST]:
        rows = [
            (row_of(e, k, s, sky) or e) if s >= 0 else e
            for k, (e, s) in enumerate(zip(entries, naming.stars, strict=True))
        ]
        fixes.append((naming.probability, solve(rows, fix.prior, fix.noise, still=fix.still)))
    fixes.sort(key=lambda row: -row[0])
    return Reconsidered(replace(_doubting(mixed(fixes), it_was), advice=fix.advice), it_was)


def sky_by_night(entries: Sequence[Sighting], site: Site) -> Eligible | None:
    """What may have been sighted then; None where no time is known, or where by a time the Sun was
    up, as with a clock that is wrong by hours."""
    times = [e.utc for e in entries if e.utc is not None]
    return sky_of(entries, site) if times and by_night(times, site) else None


def _covered(w: Weighed) -> bool:
    s = w.story
    return not (s.moves or s.far_off or s.scales) and s.coarser <= _ROUGHEST


def _it_was(
    kept: Sequence[int],
    entries: Sequence[Sighting],
    found: Sequence[Naming],
    total: float,
    sky: Eligible,
) -> tuple[ItWas, ...]:
    out = []
    for k, i in enumerate(kept):
        told: dict[int, float] = {}
        for naming in found:
            if (star := naming.stars[k]) >= 0:
                told[star] = told.get(star, 0.0) + naming.probability / total
        star = max(told, key=lambda s: told[s], default=AS_NAMED)
        if star == AS_NAMED or told[star] < _SAID:
            continue
        row = row_of(entries[k], k, star, sky)
        assert row is not None  # a star of the list
        out.append(ItWas(i, entries[k].star, row, _apart_deg(entries[k], row), told[star]))
    return tuple(sorted(out, key=lambda x: -x.probability))


def _doubting(fix: Fix, it_was: Sequence[ItWas]) -> Fix:
    """With what all its stories leave in doubt."""
    n = len(fix.sightings)
    aside = tuple(i for i, p in fix.suspects if p > SURE) if n > 2 else ()
    told = doubts_of_stories(n, fix.stories, fix.suspects, fix.moved, fix.noise)
    return replace(fix, set_aside=aside, doubts=(*_others(it_was), *told))


def _others(it_was: Sequence[ItWas]) -> tuple[WasAnother, ...]:
    return tuple(
        WasAnother(x.index, x.called, x.row.star, x.apart_deg, x.probability) for x in it_was
    )


def _apart_deg(a: Sighting, b: Sighting) -> float:
    four = (math.radians(x) for x in (a.true_az_deg, a.true_alt_deg, b.true_az_deg, b.true_alt_deg))
    return math.degrees(float(separation_rad(*four)))
