"""Evenings beside a closed controller as their tables: tonight's, and those of earlier outings."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.controller.believed import Believed
from plumbstar.controller.earlier import BetweenNights, after
from plumbstar.controller.evening import EveningBeside, InVain, Remainder, ToldStar, asked_with
from plumbstar.controller.outlook import Asked
from plumbstar.diagnose.teach import mends_of
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.logbook.shown import DisplayEntry, alignments, load_display
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import STOP
from plumbstar.sky.naming import lookup
from plumbstar.sky.times import Instant

#: Earlier evenings that are learnt from: the last so many. Each takes a tenth of a second.
MOST_NIGHTS = 12
#: Said where there is none.
NOT_YET = "No night beside this controller has its two stars and the number yet."


@dataclass(frozen=True)
class EarlierNight:
    """The outing, and all that its controller was told and showed.

    ``mends``: those since the night before.
    """

    outing: int
    asked: Asked
    started: Instant
    mends: tuple[BetweenNights, ...] = ()


def evening_of(entries: tuple[DisplayEntry, ...]) -> EveningBeside | None:
    """One alignment as a table of the evening tells it; None without two stars."""
    stars = [e for e in entries if e.event == "star"]
    if len(stars) < 2:
        return None
    first, second = (ToldStar(lookup.find_target(s.star), s.utc) for s in stars)
    centred = tuple(
        Remainder(
            lookup.find_target(e.star),
            e.utc,
            (e.left_az_deg or 0.0, e.left_alt_deg or 0.0),
            lookup.find_target(e.chosen) if e.chosen else None,
        )
        for e in entries
        if e.event == "centred"
    )
    numbers = [e.number_deg for e in entries if e.event == "number"]
    missed = tuple(
        InVain(
            lookup.find_target(e.star),
            e.utc,
            tuple((-az, -alt) for az, alt in e.looked),
            e.field_deg,
            lookup.find_target(e.chosen) if e.chosen else None,
        )
        for e in entries
        if e.event == "missed" and e.looked
    )
    number = numbers[-1] if numbers else None
    return EveningBeside(None, first, second, number, centred, missed=missed)


def earlier_nights(
    book: Logbook, kit: Kit, priors: Priors, besides: int | None
) -> tuple[EarlierNight, ...]:
    """Those of this kit since its stop was mended by nobody knows how much, oldest first;
    ``besides``: not this one."""
    changes = mends_between(book, kit)
    mended = max((utc for utc, c in changes if STOP in c.anew), default=None)
    found: list[EarlierNight] = []
    for outing in book.outings():
        if outing.id == besides or outing.kit_name != kit.name or outing.site is None:
            continue
        if mended is not None and outing.started < mended:
            continue
        for entries in alignments(load_display(book.state(outing.id))):
            try:
                evening = evening_of(entries)
                if evening is None or evening.number_deg is None:
                    continue
                asked = asked_with(evening, outing.site, kit, priors)
            except UserError:
                continue  # an object that has gone from the lists since
            last = found[-1].started if found else None
            since = tuple(c for utc, c in _since(changes, last) if utc < outing.started)
            found.append(EarlierNight(outing.id, asked, outing.started, since))
    return tuple(found[-MOST_NIGHTS:])


def mends_between(book: Logbook, kit: Kit) -> list[tuple[Instant, BetweenNights]]:
    """The mends of the kit with what each changed, oldest first."""
    anew, moved = mends_of(book, kit)
    found = [(utc, BetweenNights(anew=terms)) for utc, terms in anew]
    found += [
        (m.utc, BetweenNights(moved=m.size, sigma=m.sigma, doubt=m.doubt)) for m in moved if m.size
    ]
    return sorted(found, key=lambda f: f[0])


def mends_since(
    book: Logbook, kit: Kit, nights: tuple[EarlierNight, ...]
) -> tuple[BetweenNights, ...]:
    """Those after the last of these nights."""
    last = nights[-1].started if nights else None
    return tuple(c for _, c in _since(mends_between(book, kit), last))


def _since(
    changes: list[tuple[Instant, BetweenNights]], last: Instant | None
) -> list[tuple[Instant, BetweenNights]]:
    return [(utc, c) for utc, c in changes if last is None or utc >= last]


def tonight_after(
    nights: tuple[EarlierNight, ...], tonight: Asked, since: tuple[BetweenNights, ...] = ()
) -> Asked:
    """Tonight with all of them known; ``since``: the mends after the last of them."""
    return after([n.asked for n in nights], tonight, [*(n.mends for n in nights), since])


def taught_by_nights(
    book: Logbook, kit: Kit, priors: Priors, besides: int | None = None
) -> tuple[Believed, int] | None:
    """What the earlier nights of this kit teach, and how many there are; None without any.
    ``besides``: not this outing."""
    nights = earlier_nights(book, kit, priors, besides)
    if not nights:
        return None
    known = tonight_after(nights, nights[-1].asked, mends_since(book, kit, nights))
    return Believed.of(known), len({n.outing for n in nights})
