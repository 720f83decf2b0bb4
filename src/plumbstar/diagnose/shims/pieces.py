"""Where the shims are: what is left in the box, and what is known to be under the stop."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from plumbstar.diagnose.shims.thickness import Move
from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim
from plumbstar.logbook.records import Mend, Pieces
from plumbstar.mount.terms import STOP

#: One kind of piece as typed: a sign, how many, how thick.
_PIECE = re.compile(r"([+-]?)(?:(\d+)[x*×])?(\d+(?:[.,]\d+)?|[.,]\d+)(?:mm)?")
#: As the bounds of a kit's shim.
_THINNEST, _THICKEST, _MOST = 0.01, 100.0, 1000


@dataclass(frozen=True)
class ShimsNow:
    """``in_box``: what is left of the kit's shims; ``in_place``: what is known to be under the
    stop.

    ``recorded``: whether any mend told its pieces; without one the box is as the kit has it.
    """

    in_box: tuple[Shim, ...]
    in_place: tuple[Shim, ...]
    recorded: bool


def listed(kit: Kit) -> Pieces:
    """The kit's box as it is written there, as a mend keeps it."""
    return tuple((s.thickness_mm, s.count) for s in kit.shim)


def shims_now(kit: Kit, mends: Iterable[Mend]) -> ShimsNow:
    """What recorded mends of the stop (oldest first) have used of the kit's shims.

    A mend uses pieces of the list that the kit had then. A list that was written anew since is
    taken at its word: nothing is taken out of it twice. A mend of the stop whose pieces nobody told
    leaves unknown what is under it.
    """
    box, place, recorded = Counter(dict(listed(kit))), Counter[float](), False
    for m in mends:
        if STOP not in m.terms:
            continue
        if not m.put:
            place.clear()
            continue
        recorded = True
        for thickness, count in m.put:
            place[thickness] = max(place[thickness] + count, 0)
            if m.box == listed(kit):
                box[thickness] = max(box[thickness] - count, 0)
    return ShimsNow(_shims(box), _shims(place), recorded)


def _shims(pieces: Mapping[float, int]) -> tuple[Shim, ...]:
    return tuple(Shim(thickness_mm=t, count=n) for t, n in sorted(pieces.items()) if n > 0)


def read_pieces(text: str) -> Pieces:
    """Pieces as typed: "3x1 + 0.5", "-2x0.25"; minus for taken out. Raises :class:`UserError`."""
    wrong = UserError(
        f"'{text}' as pieces put under the stop",
        "thicknesses in mm, as 3x1+0.5, with a minus for what was taken out",
        "Write how many of each, as 2x1+1x0.5-1x0.25",
    )
    # A blank between two figures is no separator: "1 0.5" may be 1.5 as well as 1 + 0.5.
    rest = re.sub(r"(?<!\d)\s+|\s+(?!\d)", "", text.replace("−", "-").lower())
    found: list[tuple[float, int]] = []
    first = True
    while rest:
        piece = _PIECE.match(rest)
        if piece is None or not (first or piece[1]):
            raise wrong
        count, thickness = int(piece[2] or 1), float(piece[3].replace(",", "."))
        if not (_THINNEST <= thickness <= _THICKEST and 1 <= count <= _MOST):
            raise wrong
        found.append((thickness, -count if piece[1] == "-" else count))
        rest, first = rest[piece.end() :], False
    try:
        return summed(found)
    except UserError:
        raise wrong from None


def summed(put: Iterable[tuple[float, int]]) -> Pieces:
    """Each thickness once, the thickest first. Raises :class:`UserError` where nothing is left: the
    same pieces put in and taken out are no mend."""
    found: Counter[float] = Counter()
    for thickness, count in put:
        found[thickness] += count
    if not any(found.values()):
        raise UserError(
            "no piece put under the stop and none taken out",
            "at least one, in or out",
            "Write how many of each, as 2x1+1x0.5-1x0.25",
        )
    return tuple((t, n) for t, n in sorted(found.items(), reverse=True) if n)


def typed(moves: Sequence[Move]) -> str:
    """Moves as :func:`read_pieces` reads them."""
    said = "".join(f"{m.count:+d}x{m.thickness_mm:g}" for m in moves)
    return said.removeprefix("+")


def beyond(put: Pieces, now: ShimsNow) -> Pieces:
    """Of the pieces put in, those that the box does not have: thickness and how many too many."""
    have = {s.thickness_mm: s.count for s in now.in_box}
    return tuple((t, n - have.get(t, 0)) for t, n in put if n > have.get(t, 0))
