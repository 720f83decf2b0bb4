"""The choice of stars as a job beside the evening: takes frozen things, gives plain values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.choose import ranking as choose
from plumbstar.choose.candidates import Candidate, candidates
from plumbstar.choose.closed import listed, ranked_pairs, turn_deg
from plumbstar.choose.ranking import StarSet
from plumbstar.choose.say import cautions, next_sentence
from plumbstar.controller.believed import Believed
from plumbstar.controller.ranking import over_the_sky
from plumbstar.errors import UserError
from plumbstar.kit import Controller, Telescope
from plumbstar.mount.priors import Noise, Priors
from plumbstar.sky.lists import catalogue
from plumbstar.sky.site import Site
from plumbstar.sky.skyline import Skyline
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.text.words import chance, in_order, joined, upper_first
from plumbstar.units import Array
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.ranking import NextToSight, RankedStars, Ranking

SHOW = 8
#: Triples are made of this many of the brightest: 2024 of them. Of all 57 stars on the ridge in
#: January it would be 29,260, and eight seconds of one core, for a best one that is the same.
TRIPLE_STARS = 24


@dataclass(frozen=True)
class RankingInputs:
    """All that the ranking depends on.

    ``targets`` are the places (azimuth, altitude, degrees) of tonight's order when the page has
    asked for one; empty for the whole sky. ``nights``: what earlier ones beside the controller
    teach.
    """

    utc: Instant
    site: Site
    skyline: Skyline
    telescope: Telescope
    priors: Priors
    noise: Noise
    field_deg: float
    eyepiece: str
    targets: tuple[tuple[float, float], ...] = ()
    controller: Controller | None = None
    nights: Believed | None = None


def inputs_of(e: Evening, utc: Instant) -> RankingInputs:
    """What a ranking depends on, as the evening stands. Raises UserError without a site."""
    return RankingInputs(
        utc,
        e.ground.need_site(),
        e.ground.skyline,
        e.kit.telescope,
        e.instrument.priors,
        e.instrument.noise,
        e.instrument.field_deg,
        e.instrument.eyepiece.name,
        controller=e.kit.controller if e.beside.in_use else None,
        nights=e.beside.believed if e.beside.in_use else None,
    )


def _ranked_stars(s: StarSet) -> RankedStars:
    return RankedStars(
        tuple(c.star.label for c in s.stars),
        round(s.mean_hit_chance, 4),
        round(s.trusting_stop, 4),
        cautions(s.stars),
        round(s.push_deg, 1),
    )


def _candidates(q: RankingInputs) -> tuple[Candidate, ...]:
    found = candidates(catalogue.load(), q.utc, q.site, skyline=q.skyline, telescope=q.telescope)
    if q.controller is None:
        return found
    own = listed(found, q.controller)
    if len(own) < 2:
        raise UserError(
            "Fewer than two stars of the controller's own list are up and in the clear", "",
            "Wait until another one has risen, or tick more of its stars in Kit",
        )  # fmt: skip
    return own


def pairs(q: RankingInputs) -> Ranking:
    """The best pairs, and what common practice would take. For a worker thread: about a second.

    Never raises a user's error: too few stars is an answer, in the sentence.
    """
    utc, count = q.utc.iso(), len(q.targets)
    try:
        stars = _candidates(q)
        if q.controller is not None:
            return _beside(q, q.controller, stars)
        found = _ranked(q, stars, 2)
    except UserError as e:
        why_not = f"{upper_first(e.came)}. {e.remedy_on_pages}."
        return Ranking(asked_utc=utc, for_objects=count, sentence=why_not)
    best, recipe = found.best, found.common_practice
    names = in_order([c.star.label for c in best.stars])
    whose = "of tonight's objects" if q.targets else "targets"
    sentence = (
        f"First {names}: {chance(best.mean_hit_chance)} {whose} would be in the {q.eyepiece} field"
    )
    if recipe is not None and recipe.stars != best.stars:
        usual = joined([c.star.label for c in recipe.stars])
        sentence += f"; {usual}, the usual brightest pair, {chance(recipe.mean_hit_chance)}"
    return Ranking(
        asked_utc=utc,
        pairs=tuple(_ranked_stars(s) for s in found.sets),
        recipe=_ranked_stars(recipe) if recipe is not None else None,
        for_objects=count,
        sentence=f"{sentence}.",
        visible={c.star.label: c.visible_from.iso() if c.visible_from else None for c in stars},
    )


def _beside(q: RankingInputs, box: Controller, stars: Sequence[Candidate]) -> Ranking:
    """Pairs of a closed controller's own stars: the chances at its zero, and pushed on."""
    targets = np.radians(np.array(q.targets)) if q.targets else over_the_sky()
    known = q.nights or Believed(q.priors)
    ranked = ranked_pairs(stars, targets, known, q.noise, q.field_deg, box)
    sets = []
    for p in ranked[:SHOW]:
        two = (stars[p.first], stars[p.second])
        names = (two[0].star.label, two[1].star.label)
        chances = (round(p.pushed_on, 4), round(p.at_zero, 4))
        sets.append(RankedStars(names, *chances, cautions(two), round(turn_deg(*two), 1)))
    best = sets[0]
    return Ranking(
        asked_utc=q.utc.iso(),
        pairs=tuple(sets),
        for_objects=len(q.targets),
        sentence=(
            f"{joined(list(best.stars))}: {chance(best.mean_hit_chance)} in the {q.eyepiece} "
            f"field, {chance(best.hit_chance_trusting_stop)} at the controller's zero alone."
        ),
        visible={c.star.label: c.visible_from.iso() if c.visible_from else None for c in stars},
    )


def triples(q: RankingInputs) -> tuple[RankedStars, ...]:
    """The best triples of the brightest stars. For a worker thread: a second or two."""
    if q.controller is not None:
        return ()
    try:
        return tuple(_ranked_stars(s) for s in _ranked(q, _candidates(q)[:TRIPLE_STARS], 3).sets)
    except UserError:
        return ()


def _ranked(q: RankingInputs, stars: Sequence[Candidate], size: int) -> choose.Choice:
    return choose.choose(
        stars, q.utc, q.priors, q.noise, q.field_deg, size=size, skyline=q.skyline, show=SHOW,
        targets=_targets(q),
    )  # fmt: skip


def _targets(q: RankingInputs) -> tuple[Array, Array] | None:
    if not q.targets:
        return None
    az, alt = np.radians(np.array(q.targets)).T
    return az, alt


def next_star(q: RankingInputs, fix: Fix) -> NextToSight | None:
    """The best next star and what it buys, or None where there is none."""
    try:
        found = choose.next_star(
            fix, _candidates(q), q.field_deg, skyline=q.skyline, targets=_targets(q)
        )
    except UserError:
        return None
    return NextToSight(
        found.candidate.star.label,
        round(found.now, 4),
        round(found.after, 4),
        next_sentence(found),
        found.worth_it,
    )
