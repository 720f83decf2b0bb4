"""Which shims make which thickness, and how far a thickness tips the tube.

A thickness t where the stop bears, at a lever arm L from the altitude axis, tips the tube by
atan(t / L). Dropped: that the bearing point slides along the stop as the tube tips, under 0.001 mm
for a degree at 250 mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.errors import UserError
from plumbstar.kit import Kit, Shim
from plumbstar.text.advice import Advice, Do


@dataclass(frozen=True)
class Move:
    """Shims of one thickness to add (``count`` positive) or take out (negative)."""

    thickness_mm: float
    count: int


def tip(thickness_mm: float, lever_arm_mm: float) -> float:
    """Angle, radians, by which a thickness at a lever arm tips the tube: atan(t / L)."""
    return math.atan(thickness_mm / lever_arm_mm)


def thickness_wanted(offset: float, kit: Kit) -> float:
    """Millimetres to add (minus: to take out) that bring an altitude zero to zero; radians in.

    Raises :class:`UserError` when the lever arm or the direction is not in the kit.
    """
    arm, adding = kit.stop.lever_arm_mm, kit.stop.adding
    if arm <= 0:
        raise UserError(
            "The kit does not say how long the stop's lever arm is (its table [stop]; on the "
            "phone Prepare, Your telescope)",
            "",
            "Measure from the middle of the altitude bearing straight to where the stop bears, "
            "square to the push, in mm",
        )
    if adding == "unknown":
        raise UserError(
            "The kit does not say whether adding thickness raises or lowers the tube",
            "",
            Advice(Do.FIND_OUT_BY_A_CHECK, "stop-direction"),
        )
    if not math.isfinite(offset) or abs(offset) > math.radians(30.0):
        raise UserError(
            f"a stop offset of {math.degrees(offset):g}°",
            "within 30°",
            "Shims cannot mend that: check that the altitude was zeroed at the stop",
        )
    return arm * math.tan(offset) * (1.0 if adding == "lowers" else -1.0)


#: No stack is built of more pieces than this: each face adds its own dirt and burr.
MOST_PIECES = 8


def _sums(shims: Sequence[Shim], limit_um: int) -> dict[int, tuple[int, ...]]:
    """Total thickness in micrometres -> the fewest pieces (count for each entry) that make it."""
    best: dict[int, tuple[int, ...]] = {0: (0,) * len(shims)}
    for i, shim in enumerate(shims):
        step = round(shim.thickness_mm * 1000.0)
        grown = dict(best)
        for total, counts in best.items():
            room = MOST_PIECES - sum(counts)
            for n in range(1, min(shim.count, room) + 1):
                t = total + n * step
                if t > limit_um:
                    break
                new = (*counts[:i], n, *counts[i + 1 :])
                if t not in grown or sum(new) < sum(grown[t]):
                    grown[t] = new
        best = grown
    return best


def best_moves(
    wanted_mm: float,
    on_hand: Sequence[Shim],
    in_place: Sequence[Shim] = (),
    tolerance_mm: float = 0.0,
) -> tuple[Move, ...]:
    """The shims to add and to take out that come nearest to ``wanted_mm``.

    Among those that come within ``tolerance_mm`` of the nearest, the fewest pieces moved. Every
    combination of up to :data:`MOST_PIECES` added and as many removed is considered.
    """
    limit = round(abs(wanted_mm) * 1000.0) + max(
        (round(s.thickness_mm * 1000.0) for s in (*on_hand, *in_place)), default=0
    )
    # A swap may add more than is wanted and take some out: up to all that the other side holds.
    on_hand_um, in_place_um = (
        round(sum(s.thickness_mm * s.count for s in shims) * 1000.0)
        for shims in (on_hand, in_place)
    )
    added = _sums(on_hand, limit + in_place_um)
    removed = _sums(in_place, limit + on_hand_um)
    wanted = round(wanted_mm * 1000.0)
    totals = np.array(sorted(added))
    rows: list[tuple[int, int, int, int]] = []
    for r, r_counts in removed.items():
        target = wanted + r
        near = np.flatnonzero(np.abs(totals - target) <= abs(wanted) + 1)
        if not len(near):
            near = np.array([int(np.argmin(np.abs(totals - target)))])
        for a in totals[near]:
            pieces = sum(added[int(a)]) + sum(r_counts)
            rows.append((abs(int(a) - target), pieces, int(a), r))
    nearest = min(rows)[0]
    close = [x for x in rows if x[0] <= nearest + tolerance_mm * 1000.0]
    _, _, a, r = min(close, key=lambda x: (x[1], x[0]))
    net: dict[float, int] = {}
    for shims, counts, sign in ((on_hand, added[a], 1), (in_place, removed[r], -1)):
        for s, n in zip(shims, counts, strict=True):
            net[s.thickness_mm] = net.get(s.thickness_mm, 0) + sign * n
    return tuple(Move(t, n) for t, n in sorted(net.items(), reverse=True) if n)
