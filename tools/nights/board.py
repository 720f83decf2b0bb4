"""The encoders' board: lines of two counts, and all that goes wrong with it."""

from numpy.random import Generator

from .shapes import Pair

TURN = 1
SIZES: tuple[int, ...] = (0, 0, 16, -16, 24, 32, TURN)


class Board:
    def __init__(self, rng: Generator, ticks: int = 9216) -> None:
        self.rng, self.ticks = rng, ticks
        self.size = SIZES[rng.integers(len(SIZES))]
        self.zero = [0, 0]
        self.slipped = [0.0, 0.0]  # degrees that the encoder missed
        self.interval_s = 0.05
        self.lost_share = 0.0
        self.silent_until = -1.0
        self.lose_power_after = False
        self.next_s = 0.0

    def true_counts(self, circles: Pair) -> list[int]:
        return [
            round((c - m) * self.ticks / 360) for c, m in zip(circles, self.slipped, strict=True)
        ]

    def restart(self, circles: Pair) -> None:
        self.zero = [0, 0]
        self.zero = self.true_counts(circles)

    def shown(self, count: int) -> int:
        if self.size == TURN:
            return count % self.ticks
        if self.size == 0:
            return count
        m = 1 << abs(self.size)
        count %= m
        return count - m if self.size < 0 and count >= m // 2 else count

    def line(self, circles: Pair) -> bytes:
        """The bytes of this beat; empty for none."""
        if self.rng.random() < self.lost_share:
            return b""
        counts = [c - z for c, z in zip(self.true_counts(circles), self.zero, strict=True)]
        text = b"%d %d\r\n" % tuple(self.shown(c) for c in counts)
        if self.rng.random() < self.lost_share / 20:
            return text[: self.rng.integers(1, len(text))]  # half a line: the rest never comes
        return text
