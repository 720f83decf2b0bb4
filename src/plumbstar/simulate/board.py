"""The simulated encoder board: from where the tube stands to its lines, faults and all.

Arithmetic only: no clock, no port.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from plumbstar.kit import Kit

DEFAULT_POLL: Final = "?\r"
#: Which counters can stand still, as an order names them.
STUCK: Mapping[object, tuple[bool, bool]] = {
    False: (False, False),
    True: (True, True),
    "az": (True, False),
    "alt": (False, True),
}


@dataclass(frozen=True, slots=True)
class Shape:
    """How the simulated board counts and speaks, beyond what the kit says."""

    line_end: str = "\r\n"
    between: str = " "
    bits: Literal[0, 16, 24, 32] = 0
    """Counter size; 0 never wraps."""
    signed: bool = True
    """The counter runs from minus a half to plus a half, not from zero to all."""
    wraps_each_turn: bool = False
    """The count goes back to zero after each turn (then ``bits`` is not used)."""
    zero_at_power_on: bool = False
    """Count from zero wherever the tube stands at the start; otherwise upright counts as 90 deg."""

    def wrapped(self, count: int, ticks_per_turn: int) -> int:
        """The count as the board would show it."""
        modulus = ticks_per_turn if self.wraps_each_turn else (1 << self.bits if self.bits else 0)
        if not modulus:
            return count
        count %= modulus
        return count - modulus if self.signed and count >= (modulus + 1) // 2 else count


#: The kit's own board: never wraps, upright counts as 90 degrees.
PLAIN: Final = Shape()


class Board:
    """Counts the kit's ticks of both axes and writes them as lines.

    Every method that counts is given where the tube is: (azimuth, altitude) as read, degrees.
    """

    def __init__(self, kit: Kit, shape: Shape, chance: random.Random) -> None:
        c = kit.connection
        self._shape = shape
        self._random = chance
        self.poll = c.poll if c.poll or c.pushed else DEFAULT_POLL
        # A degree circle has no ticks; the simulated board then has the demo's.
        self.ticks = (kit.azimuth.ticks_per_turn or 9216, kit.altitude.ticks_per_turn or 9216)
        self._signs = (-1 if kit.azimuth.reversed else 1, -1 if kit.altitude.reversed else 1)
        self._altitude_first = c.altitude_first
        self._form = "X" if c.base == 16 else "d"
        self._zero = (0, 0)  # what the board takes off its own count
        self._slipped = [0, 0]
        self._frozen: tuple[int | None, int | None] = (None, None)
        self._halves = 0
        #: So many lines to come are garbage.
        self.garbage = 0
        #: Whether lines come in halves, and some without their end.
        self.half_lines = False

    def power_on(self, tube: tuple[float, float]) -> None:
        """Begin to count; as the shape says, from zero or so that upright is 90 degrees."""
        if self._shape.zero_at_power_on:
            self.restart(tube)

    def restart(self, tube: tuple[float, float]) -> None:
        """Count from zero where the tube stands now."""
        self._zero = (0, 0)
        self._zero = self._true_counts(tube)

    def slip(self, axis: int, deg: float) -> None:
        """The encoder of that axis (0 azimuth, 1 altitude) slips on its shaft."""
        self._slipped[axis] += round(deg * self.ticks[axis] / 360.0)

    def freeze(self, which: tuple[bool, bool], tube: tuple[float, float]) -> None:
        """These counters stand still from now on; the others count."""
        self._frozen = (None, None)
        az, alt = self.counts(tube)
        self._frozen = (az if which[0] else None, alt if which[1] else None)

    def _true_counts(self, tube: tuple[float, float]) -> tuple[int, int]:
        """Counts before the counter's size is felt, less what the board started from."""
        a, e = (
            round(s * deg * n / 360.0) + slip - zero
            for s, deg, n, slip, zero in zip(
                self._signs, tube, self.ticks, self._slipped, self._zero, strict=True
            )
        )
        return a, e

    def counts(self, tube: tuple[float, float]) -> tuple[int, int]:
        """Both counts as the board shows them."""
        az, alt = (
            self._shape.wrapped(count, ticks) if frozen is None else frozen
            for count, ticks, frozen in zip(
                self._true_counts(tube), self.ticks, self._frozen, strict=True
            )
        )
        return az, alt

    def pieces(self, tube: tuple[float, float]) -> list[tuple[float, bytes]]:
        """The next line as it goes down the wire: (seconds to wait, bytes), with its faults."""
        if self.garbage > 0:
            self.garbage -= 1
            return [(0.0, self._random.randbytes(self._random.randint(1, 60)))]
        counts = self.counts(tube)
        first, second = reversed(counts) if self._altitude_first else counts
        form, shape = self._form, self._shape
        text = f"{first:{form}}{shape.between}{second:{form}}{shape.line_end}"
        line = text.encode("latin-1")
        if not self.half_lines:
            return [(0.0, line)]
        # By turns: a line in two halves, a line whose end is lost, a whole line, ...
        self._halves += 1
        cut = self._random.randint(1, max(1, len(line) - 1))
        if self._halves % 3 == 0:
            return [(0.0, line[:cut])]
        return [(0.0, line[:cut]), (0.03, line[cut:])]
