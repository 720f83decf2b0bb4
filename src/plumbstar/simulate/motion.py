"""How an arm moves a tube: slow, fast, slow."""

from __future__ import annotations


class Hand:
    """Smooth movement of both axes, degrees of reading: slow, fast, slow, as an arm moves a tube.

    The minimum-jerk path, 10 s^3 - 15 s^4 + 6 s^5 (Flash and Hogan, J. Neurosci. 5, 1688 (1985);
    from memory); its greatest speed is 1.875 times the mean.
    """

    def __init__(self, start: tuple[float, float], peak_deg_s: float, now: float) -> None:
        self._from = self._to = start
        self._peak = peak_deg_s
        self._began = now
        self._lasts = 0.0

    def at(self, now: float) -> tuple[float, float]:
        """Where the tube is, degrees."""
        s = 1.0 if self._lasts == 0.0 else min(1.0, max(0.0, (now - self._began) / self._lasts))
        f = s * s * s * (10.0 - 15.0 * s + 6.0 * s * s)
        (a0, e0), (a1, e1) = self._from, self._to
        return a0 + f * (a1 - a0), e0 + f * (e1 - e0)

    @property
    def goal(self) -> tuple[float, float]:
        """Where it will come to rest."""
        return self._to

    def go(self, goal: tuple[float, float], now: float) -> float:
        """Set out for a new goal from wherever it is; returns how long that takes, seconds."""
        here = self.at(now)
        far = max(abs(goal[0] - here[0]), abs(goal[1] - here[1]))
        self._from, self._to, self._began = here, goal, now
        self._lasts = max(0.25, 1.875 * far / self._peak) if far else 0.0
        return self._lasts

    def left_s(self, now: float) -> float:
        """Seconds until it is at rest."""
        return max(0.0, self._began + self._lasts - now)
