"""From the logbook to learnt priors. Apart from the store, so that logging alone loads no numpy.

What an outing says, and what all of them teach, is worked out once for each state of the logbook
(:mod:`plumbstar.logbook.worked_out`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from plumbstar import kit as kits
from plumbstar.diagnose import learn
from plumbstar.diagnose.evidence import Evidence, evidence_from, hand_from
from plumbstar.diagnose.hand import NEWEST, LearntHand, learn_hand, noise_of
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.fingerprint import fingerprint
from plumbstar.logbook.records import Outing
from plumbstar.logbook.slips import cuts, slips_in
from plumbstar.logbook.store import Logbook
from plumbstar.logbook.worked_out import WorkedOut, kind
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import STOP
from plumbstar.sky.times import Instant
from plumbstar.units import Array

#: Of a closed set of old outings one in three tells of the hand that was theirs: ten in all.
EVERY = 3

_EVIDENCE, _HAND, _LEARNT = kind(Evidence | None), kind(Array | None), kind(learn.Learnt)


@dataclass(frozen=True)
class OutingsTold:
    """What the outings with a kit say: of the mount, each by itself; ``left_out``: those whose
    sightings contradict one another; ``hand``: how well the observer centres, by the newest."""

    said: tuple[Evidence, ...]
    left_out: tuple[int, ...]
    hand: LearntHand | None

    def noise(self, kit: Kit) -> Noise:
        """The kit's errors, with the hand as learnt."""
        return noise_of(kit, self.hand)


_TOLD = kind(OutingsTold)


@dataclass(frozen=True)
class _Sighted:
    """An outing's sightings, where something moved among them, and its kit as it was then."""

    outing: Outing
    sightings: tuple[Sighting, ...]
    cuts: tuple[tuple[int, tuple[str, ...]], ...]
    kit: Kit

    def stated(self, kit: Kit) -> Noise:
        """The grain of the circles as they were, and the hand that the kit states now."""
        return replace(Noise.from_kit(self.kit), centring=Noise.from_kit(kit).centring)


def kit_then(o: Outing, kit: Kit) -> Kit:
    """The kit as it was in that outing; ``kit`` where that was not kept, or today's rules refuse
    it."""
    return _kit_in(o.kit_text) or kit


@lru_cache(maxsize=64)
def _kit_in(text: str) -> Kit | None:
    try:
        return kits.loads(text) if text else None
    except UserError:
        return None


def sighted(book: Logbook, kit: Kit, before: Instant | None = None) -> Iterator[_Sighted]:
    """Each outing with this kit that has sightings, by its start."""
    for o in book.outings(kit=kit.name):
        if before is not None and o.started >= before:
            continue
        used = book.sightings(o.id, active=True)
        if not used:
            continue
        cut = cuts(slips_in(book.state(o.id)), [s.id for s in used])
        yield _Sighted(o, tuple(s.sighting for s in used), tuple(cut), kit_then(o, kit))


def evidence_of(
    book: Logbook, kit: Kit, before: Instant | None = None, known: WorkedOut | None = None
) -> OutingsTold:
    """What each outing with this kit (by name) says, and the outings left out.

    Each is solved anew from its raw sightings, with the kit as it was that evening and the hand as
    the newest show it (of old ones: as those show it that were made with it, :data:`NEWEST` at a
    time), so nothing depends on fixes kept before. Where something moved among the
    sightings, each part is taken by itself. Left out are those whose sightings contradict one
    another. ``before`` passes over outings begun then or later. ``known``: what is worked out
    already.
    """
    if known is None:
        with WorkedOut.beside(book) as known:
            return evidence_of(book, kit, before, known)
    told: OutingsTold = known.under(
        _TOLD,
        lambda: ("evidence", fingerprint(book, kit.name, before), kit),
        lambda: _evidence_of(book, kit, before, known),
    )
    return told


def _evidence_of(book: Logbook, kit: Kit, before: Instant | None, known: WorkedOut) -> OutingsTold:
    """:func:`evidence_of`, outing by outing."""
    outings = list(sighted(book, kit, before))
    own, shut = Noise.from_kit(kit), len(outings) // NEWEST * NEWEST

    def hand_of(asked: Sequence[_Sighted]) -> LearntHand | None:
        told = [
            known.of(_HAND, hand_from, x.sightings, x.kit, x.stated(kit), x.cuts) for x in asked
        ]
        return learn_hand([y for y in told if y is not None], own)

    hand = hand_of(outings[-NEWEST:])
    # Old outings are solved with the hand as it was then: another outing does not change it.
    hands = [hand_of(outings[k : k + NEWEST : EVERY]) for k in range(0, shut, NEWEST)]
    found, left_out = [], []
    for i, x in enumerate(outings):
        then = hands[i // NEWEST] if i < shut else hand
        stated, at = x.stated(kit), (x.outing.id, x.outing.started)
        noise = stated if then is None else then.nearly(stated)
        one = known.of(_EVIDENCE, evidence_from, x.sightings, x.kit, *at, x.cuts, noise)
        if one is None:
            left_out.append(x.outing.id)
        else:
            found.append(one)
    return OutingsTold(tuple(found), tuple(left_out), hand)


#: How well a mend does what was told of it, 1 sigma: the stop is taken apart and bears anew; arm
#: and thickness are known to a tenth; and how often a kit has the direction the wrong way round.
#: Common practice, no source.
RESEATING, SHARE, WRONG_WAY = math.radians(0.05), 0.1, 0.05


def mends_of(
    book: Logbook, kit: Kit, before: Instant | None = None
) -> tuple[list[tuple[Instant, tuple[str, ...]]], list[learn.StopMoved]]:
    """The mends of a kit: those after which terms start anew, and those that moved its stop.

    As the kit has arm and direction now: what was put under the stop is what stays true.
    ``before`` passes over those made then or later: an evening long ago knew nothing of them.
    """
    anew: list[tuple[Instant, tuple[str, ...]]] = []
    moved = []
    for m in book.mends(kit.name):
        if before is not None and m.utc >= before:
            continue
        size = kit.stop.raised_by(m.put_mm) if m.put else None
        terms = m.terms
        if size is not None and STOP in terms:
            terms = tuple(t for t in terms if t != STOP)
            sigma = math.hypot(RESEATING, SHARE * size)
            doubt = 0.5 if kit.stop.adding == "unknown" else WRONG_WAY
            moved.append(learn.StopMoved(m.utc, m.put_mm, size, sigma, doubt))
        if terms:
            anew.append((m.utc, terms))
    return anew, moved


def learnt_priors(
    book: Logbook, kit: Kit, before: Instant | None = None, known: WorkedOut | None = None
) -> learn.Learnt:
    """What the outings with this kit teach, since its last mends.

    ``before``: give the current outing's start, or its own sightings would count twice. ``known``:
    what is worked out already.
    """
    if known is None:
        with WorkedOut.beside(book) as known:
            return learnt_priors(book, kit, before, known)
    learnt: learn.Learnt = known.under(
        _LEARNT,
        lambda: ("learnt", fingerprint(book, kit.name, before), kit, before),
        lambda: _learnt_priors(book, kit, before, known),
    )
    return learnt


def _learnt_priors(
    book: Logbook, kit: Kit, before: Instant | None, known: WorkedOut
) -> learn.Learnt:
    """:func:`learnt_priors`, from the outings' evidence."""
    told = evidence_of(book, kit, before, known)
    anew, moved = mends_of(book, kit, before)
    learnt: learn.Learnt = known.of(
        _LEARNT, learn.learn, told.said, Priors.from_kit(kit), anew, moved
    )
    return replace(learnt, left_out=told.left_out, hand=told.hand)
