"""From the logbook to learnt priors. Apart from the store, so that logging alone loads no numpy."""

from __future__ import annotations

from dataclasses import replace

from plumbstar import kit as kits
from plumbstar.diagnose import learn
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook.slips import cuts, slips_in
from plumbstar.logbook.store import Logbook
from plumbstar.mount.priors import Priors
from plumbstar.sky.times import Instant


def evidence_of(
    book: Logbook, kit: Kit, before: Instant | None = None
) -> tuple[list[learn.Evidence], list[int]]:
    """What each outing with this kit (by name) says, and the outings left out.

    Each is solved anew from its raw sightings, with the kit as it was that evening, so nothing
    depends on fixes kept before. Where something moved among the sightings, each part is taken by
    itself. Left out are those whose sightings contradict one another.
    ``before`` passes over outings begun then or later.
    """
    found, left_out = [], []
    for o in book.outings(kit=kit.name):
        if before is not None and o.started >= before:
            continue
        used = book.sightings(o.id, active=True)
        if not used:
            continue
        cut = cuts(slips_in(book.state(o.id)), [s.id for s in used])
        try:
            then = kits.loads(o.kit_text) if o.kit_text else kit
        except UserError:
            then = kit  # a snapshot from an older program that today's rules refuse
        one = learn.evidence_from([s.sighting for s in used], then, o.id, o.started, cut)
        if one is None:
            left_out.append(o.id)
        else:
            found.append(one)
    return found, left_out


def learnt_priors(book: Logbook, kit: Kit, before: Instant | None = None) -> learn.Learnt:
    """What the outings with this kit teach, since its last mends.

    ``before``: give the current outing's start, or its own sightings would count twice.
    """
    found, left_out = evidence_of(book, kit, before)
    mends = [(m.utc, m.terms) for m in book.mends(kit.name)]
    return replace(learn.learn(found, Priors.from_kit(kit), mends), left_out=tuple(left_out))
