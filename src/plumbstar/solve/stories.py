"""What may have happened to a handful of sightings, as stories to be weighed against each other.

All are good; one is bad; something moved between two of them; the hand centres less well, or
better, than stated; the mount is further off than the kit expects. A story is a record of facts:
:mod:`plumbstar.solve.weighing` solves and weighs them, words are made elsewhere.

Every rate and size here is common practice, no source: judgement by people who observe. The size of
a fault is not known beforehand, so it is drawn from two or three scales.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount.priors import EarlierPart, MayHaveChanged, Noise, OneOf, Priors
from plumbstar.mount.slips import Axis
from plumbstar.mount.terms import INDEX, N_TERMS, SCALES
from plumbstar.units import Array

#: A sighting is careless or of the wrong star once in thirty.
BAD_RATE = 0.03
#: So often is the star another after all where it could not be what it was called and the observer,
#: asked, said that it was.
DOUBTED_BAD_RATE = 0.3
#: (share, degrees): how far off a bad one is, 1 sigma on each axis. At the field's edge; a
#: neighbouring star; anything bright.
BAD_DEG = ((0.5, 0.6), (0.4, 7.0), (0.1, 30.0))
#: Between one sighting and the next something moves once in fifty.
MOVED_RATE = 0.02
#: Who says that nothing moved is wrong once in fifty.
WRONGLY_DENIED = 0.02
#: (share, what moved, how far its numbers go, degrees): of the base its turn, and both leans.
MOVED_DEG: tuple[tuple[float, tuple[Axis, ...], tuple[float, ...]], ...] = (
    (0.25, ("azimuth",), (2.0,)),
    (0.20, ("azimuth",), (25.0,)),
    (0.17, ("altitude",), (2.0,)),
    (0.15, ("altitude",), (12.0,)),
    (0.01, ("azimuth", "altitude"), (10.0, 6.0)),
    (0.19, ("azimuth", "base"), (0.7, 0.5, 0.5)),
    (0.03, ("azimuth", "base"), (5.0, 1.2, 1.2)),
)
#: (share, times): how many times less well than stated a hand centres on an evening. By it
#: diagnose/hand.py learns; the rate of a coarse hand in diagnose/explain/causes/rates.py is its
#: share beyond what is ordinary there; ``USUAL_HANDS`` beside a controller
#: (controller/mistakes.py) is held to it by tests/solve/test_one_hand.py.
COARSER = (
    (0.05, 0.5), (0.02, 0.25), (0.01, 0.1), (0.005, 0.03), (0.04, 1.5), (0.02, 2.3), (0.01, 3.5),
    (0.006, 6.0), (0.003, 12.0), (0.002, 30.0), (0.001, 80.0),
)  # fmt: skip
#: Who centred so much less well than stated in an earlier part of the evening (under accounts that
#: say so) centres no better in the next: so surely. The rest is for another hand at the telescope,
#: and for what no account names.
HAND_STAYS = 0.9
#: A hand known to a smaller factor than exp(this) is taken as known: chances change by under a
#: hundredth.
KNOWN_HAND = 0.05
#: The mount, or a circle's scale, is off as no kit expects: so often, and by so much. What is set
#: up anew each evening may be so alone, all else being as expected: the stop, and the base.
FAR_OFF_RATE, FAR_OFF_TIMES = 0.005, 4.0
FAR_OFF_ALONE: tuple[tuple[float, tuple[str, ...]], ...] = (
    (0.01, ("altitude_zero",)),
    (0.005, ("lean_north", "lean_west")),
)
SCALE_RATE, SCALE_SIGMA = 0.01, 0.1

#: The numbers that a move adds, by what moved.
_MOVED_TERMS: dict[tuple[Axis, ...], tuple[str, ...]] = {
    ("azimuth",): ("azimuth_zero",),
    ("altitude",): ("altitude_zero",),
    ("azimuth", "altitude"): ("azimuth_zero", "altitude_zero"),
    ("azimuth", "base"): ("azimuth_zero", "lean_north", "lean_west"),
}


@dataclass(frozen=True, slots=True)
class Jump:
    """Something moved just before sighting ``first``: ``axes``, by ``sigmas``, radians."""

    first: int
    axes: tuple[Axis, ...]
    sigmas: tuple[float, ...]

    @property
    def terms(self) -> tuple[int, ...]:
        """The terms that differ from then on, one for each of ``sigmas``."""
        return tuple(INDEX[name] for name in _MOVED_TERMS[self.axes])


@dataclass(frozen=True, slots=True)
class Story:
    """One account of the sightings, with the log of its probability before looking at them.

    ``bad``: (index, 1 sigma of how far off, radians). ``coarser``: how many times less well than
    stated the hand centres. ``far_off``, ``scales``: the mount, or a circle's scale, is off as no
    kit expects; ``far_terms``: of the mount only these, unless empty. ``changed``: the term at that
    place, and by how much (1 sigma, radians) it may differ from what was learnt of it. ``naming``:
    by which naming of nameless stars, 0 the likeliest (:mod:`plumbstar.nameless`). ``as_one``:
    which of several values a term has. ``handed``: which of several accounts of the evening's
    earlier part it goes on from; ``unexpected_before``: that is of a mount that the kit does not
    expect.
    """

    log_prior: float
    bad: tuple[tuple[int, float], ...] = ()
    moves: tuple[Jump, ...] = ()
    coarser: float = 1.0
    far_off: bool = False
    scales: bool = False
    far_terms: tuple[int, ...] = ()
    changed: tuple[int, float] | None = None
    naming: int = 0
    as_one: OneOf | None = None
    handed: int = 0
    unexpected_before: bool = False

    @property
    def unexpected(self) -> bool:
        """Whether it is of a mount that the kit does not expect."""
        return self.far_off or self.scales or self.unexpected_before

    @property
    def what(self) -> tuple[object, ...]:
        """Which stars they were of, which are bad, what moved, and what is far off: the same for
        stories that differ in size."""
        moved = tuple((m.first, m.axes) for m in self.moves)
        return tuple(i for i, _ in self.bad), moved, self.far_off, self.scales, self.naming

    def noise(self, stated: Noise) -> Noise:
        """How well the hand centres and the circles read in this story."""
        if self.coarser == 1.0:
            return stated
        return replace(stated, centring=stated.centring * self.coarser)

    def priors(self, stated: Priors) -> Priors:
        """What is believed of the mount in this story."""
        stated = stated.either[self.handed].belief if stated.either else stated
        if not (self.far_off or self.scales or self.changed or self.as_one):
            return stated
        out = Priors(stated.mean, stated.sigma, correlation=stated.correlation)
        if self.as_one is not None:
            out = out.anew(self.as_one.term, self.as_one.mean, self.as_one.sigma)
        if self.changed is not None:
            out = out.loosened(*self.changed)
        if self.far_off:
            out = replace(out, sigma=out.sigma * self._far_times)
        for name in SCALES if self.scales else ():
            at = INDEX[name]
            if out.sigma[at] < SCALE_SIGMA:
                out = out.loosened(at, math.sqrt(SCALE_SIGMA**2 - out.sigma[at] ** 2))
        return out

    @property
    def _far_times(self) -> Array:
        times = np.full(N_TERMS, 1.0 if self.far_terms else FAR_OFF_TIMES)
        times[list(self.far_terms)] = FAR_OFF_TIMES
        return times

    def and_also(self, other: Story) -> Story:
        """Both at once."""
        return Story(
            self.log_prior + other.log_prior,
            tuple(sorted((*self.bad, *other.bad))),
            tuple(sorted((*self.moves, *other.moves), key=lambda m: m.first)),
            max(self.coarser, other.coarser),
            self.far_off or other.far_off,
            self.scales or other.scales,
            self.far_terms if self.far_off else other.far_terms,
            changed=self.changed or other.changed,
            as_one=self.as_one or other.as_one,
            handed=self.handed,
            unexpected_before=self.unexpected_before,
        )


def single(
    n: int,
    still: Collection[int] = (),
    tried: Iterable[int] | None = None,
    doubted: Collection[int] = (),
    spread: float = 0.0,
    changed: Iterable[MayHaveChanged] = (),
    one_of: Sequence[OneOf] = (),
    told: Collection[int] = (),
) -> tuple[Story, ...]:
    """All good first, then every story of one fault among ``n`` sightings.

    ``still``: indices of sightings just before which nothing moved, as the observer says.
    ``tried``: the sightings that may be bad, all by default. ``doubted``: those that the observer
    was asked about. ``spread``: one sigma of the logarithm of how well the hand centres.
    ``changed``: what may have happened to the mount since it was learnt. ``one_of``: which values
    one of its terms may have; each is a story where nothing went wrong. ``told``: the terms of
    which an earlier part of the evening has told, and whether they are far off with them.
    """
    others = [
        *_bad(range(n) if tried is None else dict.fromkeys([*tried, *doubted]), doubted),
        *_moved(n, still),
        *(Story(math.log(p), coarser=f) for p, f in COARSER),
        *_far_off(told),
        *(Story(math.log(c.chance), changed=(c.term, c.sigma)) for c in changed),
    ]
    good = max(1.0 - float(np.sum(np.exp([s.log_prior for s in others]))), 0.3)
    if spread < KNOWN_HAND:
        return *_each_of(one_of, Story(math.log(good))), *others
    # Three points of the normal law of a hand that is not known well (Gauss and Hermite's).
    hands = [
        Story(math.log(good / 6), coarser=math.exp(f * spread * math.sqrt(3))) for f in (-1, 1)
    ]
    sound = Story(math.log(good * 2 / 3))
    return *(s for hand in (sound, *hands) for s in _each_of(one_of, hand)), *others


def after(accounts: Sequence[EarlierPart], stories: Sequence[Story]) -> tuple[Story, ...]:
    """Every story told after each account of an earlier part; the stories as they are without.

    It is the same hand: an account by which it was far coarser than stated goes on with that hand.
    Told anew in each part, "a hand thirty times as rough" forgave what the first two stars showed
    and cost nothing after: it took the place of what had really gone wrong.
    """
    if not accounts:
        return tuple(stories)
    usual = [s for s in stories if s.coarser == 1.0]
    mass = math.log(sum(math.exp(s.log_prior) for s in usual))
    out = []
    for k, (chance, _, coarser, unexpected) in enumerate(accounts):
        on = [replace(s, handed=k, unexpected_before=unexpected) for s in stories]
        p = math.log(chance)
        if coarser > 1.0:
            stays = p + math.log(HAND_STAYS) - mass
            for s in on:
                if s.coarser == 1.0:
                    out.append(replace(s, log_prior=s.log_prior + stays, coarser=coarser))
            p += math.log(1.0 - HAND_STAYS)
        out += [replace(s, log_prior=s.log_prior + p) for s in on]
    return tuple(out)


def _each_of(one_of: Sequence[OneOf], story: Story) -> Iterator[Story]:
    if not one_of:
        yield story
    for one in one_of:
        yield replace(story, log_prior=story.log_prior + math.log(one.chance), as_one=one)


def _bad(tried: Iterable[int], doubted: Collection[int]) -> Iterator[Story]:
    for i in tried:
        rate = DOUBTED_BAD_RATE if i in doubted else BAD_RATE
        for share, deg in BAD_DEG:
            yield Story(math.log(rate * share), bad=((i, math.radians(deg)),))


def _moved(n: int, still: Collection[int]) -> Iterator[Story]:
    for first in range(1, n):
        rate = MOVED_RATE * (WRONGLY_DENIED if first in still else 1.0)
        for share, axes, deg in MOVED_DEG:
            sigmas = tuple(math.radians(d) for d in deg)
            yield Story(math.log(rate * share), moves=(Jump(first, axes, sigmas),))


def _far_off(told: Collection[int]) -> Iterator[Story]:
    """The mount, or a scale, is off as no kit expects: all evening, from its first star on. So an
    earlier part has put it to the test, and its accounts hold what is left of it. Told anew after
    each slip, a scale that three stars had found right took the place of a second slip.
    """
    if not told:
        yield Story(math.log(FAR_OFF_RATE), far_off=True)
    for p, names in FAR_OFF_ALONE:
        terms = tuple(INDEX[name] for name in names)
        if not set(terms) & set(told):
            yield Story(math.log(p), far_off=True, far_terms=terms)
    if not {INDEX[name] for name in SCALES} & set(told):
        yield Story(math.log(SCALE_RATE), scales=True)


def double(leaders: Iterable[Story], singles: Iterable[Story]) -> tuple[Story, ...]:
    """Each leading story with a second, different fault; ``singles`` are told after no account, the
    leaders may be: an account's chance counts once."""
    out: dict[Story, None] = {}
    for a, b in itertools.product(leaders, singles):
        told = not (a.bad or a.moves) or not (b.bad or b.moves)
        twice = {i for i, _ in a.bad} & {i for i, _ in b.bad} or (
            {m.first for m in a.moves} & {m.first for m in b.moves}
        )
        if not told and not twice:
            out.setdefault(a.and_also(b))
    return tuple(out)
