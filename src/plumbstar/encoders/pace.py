"""Whether a hand can have made a step: judged by the speed before and after it.

Between two lines more than an eighth of a second apart a hand may have moved the tube a good way,
so the distance alone tells little. What tells more: how fast the tube went before and after, and
how fast this observer's hand has gone this evening. A hand's stroke from rest to rest is at its
fastest 1.875 times as fast as on the average (the minimum-jerk path, Flash and Hogan, J. Neurosci.
5, 1688 (1985); from memory). Degrees, seconds. The other limits are common practice, no source;
design/slips_seen.py measures what they do, with strokes of other shapes.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final

Pair = tuple[float, float]

PEAK_OVER_MEAN: Final = 1.875
#: Between lines closer than this no hand sets a tube in motion and stops it again: what goes faster
#: than any hand must be what the speeds before and after lead to expect.
NEAR_S: Final = 0.12
_NEAR_DEG: Final = 1.0
#: So much later than the others may one line arrive, ...
_LATE_S: Final = 0.12
#: ... and so quickly can a hand change the speed, degrees a second, in a second.
_HARDEST_DEG_S2: Final = 600.0
#: A board with more than this between its lines is slow: speeds are means over an interval.
SLOW_S: Final = 0.25
_SLACK_DEG: Final = 2.0
#: No hand is held to be slower than this share of the limit.
_LEAST_SHARE: Final = 1 / 2.4
_FASTER_THAN_SEEN: Final = 1.6
#: The same for means over the intervals of a slow board, and the least that is allowed.
_MEAN_OVER_SEEN: Final = 1.15
_LEAST_MEAN_DEG_S: Final = 12.0
#: Slower than this a tube may be at rest, or turn back, between two lines of a slow board.
_GOING_DEG_S: Final = 3.0
#: And so far for a slow board, of whose strokes few lines tell.
_KNOWN_SLOW_AFTER_DEG: Final = 120.0
#: A longer step between two lines can hide a jump of the count: no hand goes so far from one to the
#: next on a board of 20 lines a second.
_HIDES_FROM_DEG: Final = 3.0
#: So far a hand must have been followed before its speed is known.
_KNOWN_AFTER_DEG: Final = 60.0


@dataclass(frozen=True, slots=True)
class Between:
    """What is known of the time between two lines: its length, the speeds before and after it
    (degrees a second, both circles), and the fastest that this hand, and any, may have gone."""

    seconds: float
    before: Pair
    after: Pair
    hand_deg_s: float
    limit_deg_s: float
    fastest_mean_deg_s: float | None = None
    """On a slow board: the most that this hand may go over a whole interval; None on others."""

    def possible(self, step_deg: float, circle: int) -> bool:
        """Whether a hand can have gone so far on that circle (0 azimuth, 1 altitude)."""
        if self.fastest_mean_deg_s is not None:
            return self._possible_unseen(step_deg, circle, self.fastest_mean_deg_s)
        if self.seconds <= NEAR_S:
            if abs(step_deg) <= self.limit_deg_s * self.seconds:
                return True  # whatever the speeds: no faster than a hand
            if not self._even(step_deg, circle):
                return False
        hand = self.hand_deg_s
        mean = (self.before[circle] + self.after[circle]) / 2.0
        mean = max(-hand, min(hand, mean)) * (1.0 - 1.0 / PEAK_OVER_MEAN)
        reach = hand / PEAK_OVER_MEAN
        low, high = (mean - reach) * self.seconds, (mean + reach) * self.seconds
        return low - _SLACK_DEG <= step_deg <= high + _SLACK_DEG

    def _possible_unseen(self, step_deg: float, circle: int, fastest: float) -> bool:
        """The same where a whole stroke may have begun and ended between the two lines."""
        far, back = fastest * self.seconds + _SLACK_DEG, -_SLACK_DEG
        low, high = sorted((self.before[circle], self.after[circle]))
        if low > _GOING_DEG_S:  # it went on the same way: not back in between
            return back <= step_deg <= far
        if high < -_GOING_DEG_S:
            return -far <= step_deg <= -back
        return abs(step_deg) <= far

    def _even(self, step_deg: float, circle: int) -> bool:
        """Whether it is near what the speeds before and after lead to expect: by a late line and a
        hard pull. For lines close together."""
        before, after = self.before[circle], self.after[circle]
        late = _LATE_S * max(abs(before), abs(after))
        pulled = _HARDEST_DEG_S2 * (self.seconds / 2.0) ** 2
        expected = (before + after) / 2.0 * self.seconds
        return abs(step_deg - expected) <= _NEAR_DEG + late + pulled

    def smooth(self, step_deg: float, circle: int) -> bool:
        """Whether it is just what the speeds before and after lead to expect."""
        expected = (self.before[circle] + self.after[circle]) / 2.0 * self.seconds
        return abs(step_deg - expected) <= 1.0 + 0.25 * abs(expected)

    def begun_meanwhile(self, shown_deg: float, circle: int) -> bool:
        """Whether a count that began at zero meanwhile can have come so far."""
        speeds = (0.0, self.before[circle], self.after[circle])
        low, high = 1.6 * min(speeds) * self.seconds, 1.6 * max(speeds) * self.seconds
        return low - 1.0 <= shown_deg <= high + 1.0


class Pace:
    """The last believed places (degrees, continuous), and how fast the hand has been."""

    def __init__(self, fastest_deg_s: float) -> None:
        self._limit = fastest_deg_s
        self._seen: deque[tuple[float, float, float]] = deque(maxlen=8)
        self._fastest = self._travelled = 0.0
        #: How far the tube went in steps so long that a jump of the count could hide in them,
        #: degrees: what a slow board, or a lost line, leaves unseen.
        self.unseen_deg = 0.0

    def forget(self) -> None:
        """The places before are no longer of the same count."""
        self._seen.clear()

    def note(self, at_s: float, place: Pair, usual_s: float) -> None:
        """The tube was there then."""
        if self._seen:
            _, az, alt = self._seen[-1]
            step = max(abs(place[0] - az), abs(place[1] - alt))
            self._travelled += step
            self.unseen_deg += max(0.0, step - _HIDES_FROM_DEG)
        self._seen.append((at_s, *place))
        while len(self._seen) > 2 and at_s - self._seen[0][0] > max(0.25, 1.5 * usual_s):
            self._seen.popleft()
        if len(self._seen) > 2 or usual_s > SLOW_S:
            self._fastest = max(self._fastest, *(abs(v) for v in self.speed(usual_s)))

    def speed(self, usual_s: float) -> Pair:
        """Of both circles just now, degrees a second."""
        if len(self._seen) < 2:
            return 0.0, 0.0
        (t0, az0, alt0), (t1, az1, alt1) = self._seen[0], self._seen[-1]
        # Lines that were held up come in one moment, though they were not made in one.
        span = max(t1 - t0, 0.8 * usual_s * (len(self._seen) - 1))
        return (az1 - az0) / span, (alt1 - alt0) / span

    def between(self, seconds: float, usual_s: float, after: Pair) -> Between:
        """The time since the last place, ``after`` being the speed from then on."""
        before = self.speed(usual_s)
        limit = hand = self._limit
        # In a push a slow board's speeds say little of the fastest moment between them, but what
        # the hand went over its other intervals tells what it can over this one.
        moving = usual_s > SLOW_S and max(map(abs, (*before, *after))) > 1.0
        if moving:
            known = self._travelled >= _KNOWN_SLOW_AFTER_DEG
            mean = self._fastest_mean if known else limit
            return Between(seconds, before, after, hand, limit, mean)
        if self._travelled >= _KNOWN_AFTER_DEG:
            hand = min(hand, max(_LEAST_SHARE * self._limit, _FASTER_THAN_SEEN * self._fastest))
        return Between(seconds, before, after, hand, limit)

    @property
    def _fastest_mean(self) -> float:
        """The most that this hand is held to go over a whole interval, degrees a second."""
        return min(self._limit, max(_LEAST_MEAN_DEG_S, _MEAN_OVER_SEEN * self._fastest))
