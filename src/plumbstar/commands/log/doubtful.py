"""Sightings from elsewhere that cannot be what they say: asked about before they are saved.

The judge is the one of the pages (solve/credible.py): each sighting is judged by those before it,
in the order in which the logbook will hold them, by what the outing's own kit makes possible.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

import click

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook
from plumbstar.logbook.exchange import OutingText
from plumbstar.logbook.slips import cuts, slips_in
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Cut


class Doubtful(UserError):
    """Not imported: it cannot be, and nobody said that it is."""


def of_table(
    sightings: Sequence[Sighting], kit: Kit | None, book: Logbook, into: int | None
) -> list[str]:
    """What cannot be among a table's lines, in sentences; ``into``: the outing that they join,
    whose own kit and sightings then count."""
    before, slips = [], []
    if into is not None:
        used = book.sightings(into, active=True)
        before = [s.sighting for s in used]
        slips = cuts(slips_in(book.state(into)), [s.id for s in used])
        kit = _kit_in(book.outing(into).kit_text) or kit
    return _sentences([*before, *sightings], kit, slips, len(before))


def of_outings(outings: Sequence[OutingText]) -> list[str]:
    """The same of whole outings; what was set aside in them is not judged, and tells nothing."""
    told = []
    for number, o in enumerate(outings, 1):
        used = [k for k, s in enumerate(o.sightings) if s.active]
        slips = [(sum(k < m.after for k in used), m.moved) for m in o.moves]
        found = _sentences(
            [o.sightings[k].sighting() for k in used], _kit_in(o.kit_text), slips, 0, used
        )
        told += [f"Outing {number}, {s[0].lower()}{s[1:]}" for s in found]
    return told


def ask(told: Sequence[str], sure: bool, source: str) -> list[str]:
    """One question for all of them on a terminal; what to say of those that are taken. Raises
    Doubtful for "no", and where nobody can be asked."""
    if not told:
        return []
    if sure:
        return [f"Taken, as you are sure. {t}" for t in told]
    words = " ".join(told)
    if sys.stdin.isatty() and click.confirm(f"{words} Import all the same?", err=True):
        return []
    raise Doubtful(
        f"{source}: {words}", "", "Correct the file, or say --sure. Nothing was imported"
    )


def _kit_in(text: str) -> Kit | None:
    """The kit that an outing holds; None without one, or for one that cannot be read (any more)."""
    try:
        return kits.loads(text) if text else None
    except UserError:
        return None


def _sentences(
    sightings: Sequence[Sighting],
    kit: Kit | None,
    slips: Sequence[Cut],
    start: int,
    numbers: Sequence[int] = (),
) -> list[str]:
    """Without a kit nothing is known that could speak against them. They are numbered from
    ``start`` on, or by ``numbers``, both from zero."""
    if kit is None or start == len(sightings):
        return []
    from plumbstar.mount.priors import Noise, Priors
    from plumbstar.solve.credible import those_far_off
    from plumbstar.solve.say import far_off_sentence

    field_deg = kit.true_field_deg(kit.finder_eyepiece())
    told = []
    for k, far in those_far_off(
        sightings, Priors.from_kit(kit), Noise.from_kit(kit), field_deg, slips, start
    ):
        same = sightings[far.same_as].star if far.same_as is not None else ""
        number = numbers[k] if numbers else k - start
        words = far_off_sentence(sightings[k].star, far, same)
        told.append(f"Sighting {number + 1}: {words}")
    return told
