"""The fix of sightings that were not all named: the mixture over their namings."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.nameless.brightness import Compared
from plumbstar.nameless.deciding import Next, next_look
from plumbstar.nameless.eligible import Eligible, eligible
from plumbstar.nameless.namings import (
    AS_NAMED,
    NAMED_SURELY,
    NONE,
    Naming,
    namings,
    probabilities,
)
from plumbstar.sky.site import Site
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.weighing import SURE, Weighed, covariance_about, leading, share_of, suspects_of
from plumbstar.turns import one_turn_deg

#: Namings of less than this are no part of the fix, nor more than so many.
_PART, _MOST = 0.003, 8
#: Of their stories so many, the likeliest: each costs its time in every chance.
_STORIES = 40


@dataclass(frozen=True, slots=True)
class FoundName:
    """Which star a sighting was of: ``star`` is None where none fits. ``probability`` of that;
    ``others``: (star, probability), likeliest first."""

    star: str | None
    probability: float
    others: tuple[tuple[str, float], ...] = ()

    @property
    def sure(self) -> bool:
        return self.star is not None and self.probability >= NAMED_SURELY


@dataclass(frozen=True)
class NamedFix:
    """``fix``: over all namings that count; ``names``: of each entry, None for what was named by
    the observer; ``rows``: the sightings as the likeliest naming has them, None for an entry that
    is none of the stars looked at. ``next``: what would decide, None when the names are sure."""

    fix: Fix
    names: tuple[FoundName | None, ...]
    rows: tuple[Sighting | None, ...]
    next: Next | None

    @property
    def sure(self) -> bool:
        return all(n is None or n.sure for n in self.names)


def solve_nameless(
    entries: Sequence[Sighting | Unnamed],
    site: Site,
    prior: Priors,
    noise: Noise,
    *,
    noise_from_data: bool = False,
    still: Collection[int] = (),
    doubted: Collection[int] = (),
    compared: Compared = (),
    not_asked: Compared = (),
) -> NamedFix:
    """Name what was not named, and solve. Raises :class:`UserError` where nothing can be named.

    ``still``, ``doubted``: as :func:`plumbstar.solve.fix.solve` has them; ``compared``: as
    :func:`~plumbstar.nameless.namings.namings`; ``not_asked``: pairs that nobody could compare.
    """
    sky = sky_of(entries, site)
    found = namings(entries, sky, prior, noise, compared=compared)
    rows = rows_of(entries, found[0], sky) if found else ()
    kept = [i for i, row in enumerate(rows) if row is not None]
    if not kept:
        raise UserError(
            "No bright star fits that reading",
            "",
            "Check the time (UTC, not local), the site and the upright stop; then centre another "
            "bright star",
        )
    fixes = []
    for naming in found[:_MOST]:
        these = rows_of(entries, naming, sky)
        same = [i for i, row in enumerate(these) if row is not None] == kept
        if naming.probability < _PART or not same:
            continue
        fix = solve(
            [row for row in these if row is not None],
            prior,
            noise,
            noise_from_data=noise_from_data,
            still=[kept.index(i) for i in still if i in kept],
            doubted=[kept.index(i) for i in doubted if i in kept],
        )
        fixes.append((naming.probability, fix))
    names = found_names(entries, found, sky)
    sure = all(n is None or n.sure for n in names)
    known = (*compared, *not_asked)
    return NamedFix(
        mixed(fixes), names, rows, None if sure else next_look(entries, found, sky, site, known)
    )


def sky_of(entries: Sequence[Sighting | Unnamed], site: Site) -> Eligible:
    """What stood where at each entry's moment; one without a time has that of its neighbour."""
    times = [e.utc for e in entries if e.utc is not None]
    if not times:
        raise UserError("The sightings have no times", "", "Fill in the column utc")
    return eligible([e.utc or times[0] for e in entries], site)


def rows_of(
    entries: Sequence[Sighting | Unnamed], naming: Naming, sky: Eligible
) -> tuple[Sighting | None, ...]:
    """The sightings by that naming."""
    return tuple(row_of(e, i, k, sky) for i, (e, k) in enumerate(_pairs(entries, naming)))


def row_of(entry: Sighting | Unnamed, i: int, star: int, sky: Eligible) -> Sighting | None:
    """Sighting i as of that star of the list."""
    if star == NONE:
        return None
    if star == AS_NAMED:
        assert isinstance(entry, Sighting)
        return entry
    az, alt = np.degrees(sky.places[i, star])
    return Sighting(
        sky.names[star],
        one_turn_deg(float(az)),
        float(alt),
        entry.az_reading_deg,
        entry.alt_reading_deg,
        entry.utc,
        entry.eyepiece,
    )


def _pairs(
    entries: Sequence[Sighting | Unnamed], naming: Naming
) -> list[tuple[Sighting | Unnamed, int]]:
    return list(zip(entries, naming.stars, strict=True))


def found_names(
    entries: Sequence[Sighting | Unnamed], found: Sequence[Naming], sky: Eligible
) -> tuple[FoundName | None, ...]:
    """Of each entry by the likeliest naming, with the probability summed over all."""
    out: list[FoundName | None] = []
    for e, lead, told in zip(entries, found[0].stars, probabilities(found), strict=True):
        if isinstance(e, Sighting):
            out.append(None)
            continue
        others = sorted(
            ((sky.names[k], p) for k, p in told.items() if k >= 0 and k != lead),
            key=lambda row: -row[1],
        )
        star = sky.names[lead] if lead != NONE else None
        out.append(FoundName(star, told[lead], tuple(o for o in others if o[1] > 0.005)[:4]))
    return tuple(out)


def mixed(fixes: Sequence[tuple[float, Fix]]) -> Fix:
    """One fix whose stories are those of all, each by the share (p, fix) of its naming; the first
    is the likeliest."""
    lead = fixes[0][1]
    total = sum(p for p, _ in fixes)
    if len(fixes) == 1 or not all(fix.stories for _, fix in fixes):
        return lead
    stories: list[Weighed] = [
        replace(w, share=w.share * p / total, story=replace(w.story, naming=k))
        for k, (p, fix) in enumerate(fixes)
        for w in fix.stories
    ]
    stories.sort(key=lambda w: -w.share)
    kept = sum(w.share for w in stories[:_STORIES])
    stories = [replace(w, share=w.share / kept) for w in stories[:_STORIES]]
    first = leading([w for w in stories if w.story.naming == 0])
    what = first[0].story.what
    sure = share_of(w for w in stories if w.story.what == what) > SURE
    return replace(
        lead,
        covariance=covariance_about(lead.mean, first if sure else stories),
        suspects=suspects_of(stories),
        stories=tuple(stories),
    )
