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
#: Lines closer than this are judged by distance alone.
NEAR_S: Final = 0.12
#: A board with more than this between its lines is slow: speeds are means over an interval.
SLOW_S: Final = 0.25
_SLACK_DEG: Final = 2.0
#: No hand is held to be slower than this share of the limit.
_LEAST_SHARE: Final = 1 / 2.4
_FASTER_THAN_SEEN: Final = 1.6
#: So far a hand must have been followed before its speed is known.
_KNOWN_AFTER_DEG: Final = 60.0


@dataclass(frozen=True, slots=True)
class Between:
    """What is known of the time between two lines: its length, the speeds before and after it
    (degrees a second, both circles), and the fastest that the hand may have gone."""

    seconds: float
    before: Pair
    after: Pair
    hand_deg_s: float

    def possible(self, step_deg: float, circle: int) -> bool:
        """Whether a hand can have gone so far on that circle (0 azimuth, 1 altitude)."""
        hand = self.hand_deg_s
        mean = (self.before[circle] + self.after[circle]) / 2.0
        mean = max(-hand, min(hand, mean)) * (1.0 - 1.0 / PEAK_OVER_MEAN)
        reach = hand / PEAK_OVER_MEAN
        low, high = (mean - reach) * self.seconds, (mean + reach) * self.seconds
        return low - _SLACK_DEG <= step_deg <= high + _SLACK_DEG

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

    def forget(self) -> None:
        """The places before are no longer of the same count."""
        self._seen.clear()

    def note(self, at_s: float, place: Pair, usual_s: float) -> None:
        """The tube was there then."""
        if self._seen:
            _, az, alt = self._seen[-1]
            self._travelled += max(abs(place[0] - az), abs(place[1] - alt))
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
        hand = self._limit
        # In a push a slow board's speeds say little of the fastest moment between them.
        moving = usual_s > SLOW_S and max(map(abs, (*before, *after))) > 1.0
        if self._travelled >= _KNOWN_AFTER_DEG and not moving:
            hand = min(hand, max(_LEAST_SHARE * self._limit, _FASTER_THAN_SEEN * self._fastest))
        return Between(seconds, before, after, hand)
