"""Where something moved among an outing's sightings: what was reported, told or denied.

The pages keep it in the outing's state, beside what else lies on their desk; whoever solves an
outing anew reads it here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from plumbstar.mount.slips import Axis, Cut, SlipCause, slip_words

#: Under this key of an outing's state the pages keep their desk, and in it the slips.
DESK = "desk"


class Slip(msgspec.Struct, frozen=True):
    """A possible slip, of what ``axes`` names.

    ``after``: the id of the last sighting before it; the next one settles it. Not its time: a clock
    may be set in mid-evening. ``told``: the sightings told of it, and the observer was asked.
    ``seen``: the id of the sighting that could not be what it said unless something had moved
    before it, and was, as the observer answered; without that sighting there is no such slip.
    ``number``: that of the counts' own slip, 0 for one of which they did not tell. ``why``: the
    cause in words, only as older versions kept it.
    """

    after: int
    axes: tuple[Axis, ...]
    why: str = ""
    nothing_moved: bool = False
    told: bool = False
    causes: tuple[SlipCause, ...] = ()
    number: int = 0
    seen: int = 0

    @property
    def words(self) -> str:
        """What made it possible, without advice."""
        return slip_words(self.causes) or self.why


class _Desk(msgspec.Struct, frozen=True):
    slips: tuple[Slip, ...] = ()


def slips_in(state: dict[str, Any]) -> tuple[Slip, ...]:
    """Those in an outing's state; of an older or damaged form none."""
    try:
        return msgspec.convert(state.get(DESK) or {}, _Desk).slips
    except msgspec.ValidationError:
        return ()


def cuts(slips: Iterable[Slip], ids: Sequence[int]) -> list[Cut]:
    """Where they cut the used sightings of these ids, oldest first."""
    real = sorted(_real(slips, ids), key=lambda s: s.after)
    return [(sum(i <= s.after for i in ids), s.axes) for s in real]


def _real(slips: Iterable[Slip], ids: Sequence[int]) -> list[Slip]:
    return [s for s in slips if not s.nothing_moved and (not s.seen or s.seen in ids)]


def doubted(slips: Iterable[Slip], ids: Sequence[int]) -> list[int]:
    """Indices of the used sightings of these ids that could not be what they said unless something
    had moved before them, and were, as the observer answered."""
    seen = {s.seen for s in _real(slips, ids)}
    return [k for k, i in enumerate(ids) if i in seen]


def denied(slips: Iterable[Slip]) -> frozenset[int]:
    """After which sightings, by id, the observer knows that nothing moved."""
    return frozenset(s.after for s in slips if s.told and s.nothing_moved)


def still(slips: Iterable[Slip], ids: Sequence[int]) -> list[int]:
    """Indices of the used sightings of these ids just before which nothing moved, as known."""
    known = denied(slips)
    return [k for k in range(1, len(ids)) if ids[k - 1] in known]
