"""How often the tube was pushed on since the last sighting, and how far between lines too far
apart: what came between is unchecked.

It lies on the desk; whether it still holds follows from the sightings made since.
"""

from __future__ import annotations

from plumbstar.web.evening.desk import DeskKeeper, Pushed
from plumbstar.web.evening.sightings import Sightings


class SinceSighting:
    """Counts the objects pushed to; a sighting (a find is one, too) begins anew."""

    def __init__(self, keeper: DeskKeeper, sightings: Sightings) -> None:
        self._keeper, self._sightings = keeper, sightings

    @property
    def _since(self) -> tuple[Pushed, ...]:
        """What was counted since the last sighting that is used: a later one that was taken back
        had begun anew, and checks nothing now."""
        last = max(self._sightings.used_ids, default=0)
        return tuple(p for p in self._keeper.desk.pushes if p.after >= last)

    def _count(self, times: int, target: str, unseen_deg: float) -> None:
        after = self._sightings.last_made  # taken back or not: it may be brought back
        before = [p for p in self._keeper.desk.pushes if p.after < after]
        now = next((p for p in self._keeper.desk.pushes if p.after == after), Pushed(after, 0, ""))
        now = Pushed(after, now.times + times, target, now.unseen_deg + unseen_deg)
        self._keeper.learn(pushes=(*before, now))

    def push_to(self, target: str) -> None:
        """That target was chosen; chosen again it is no other push."""
        if target != self._target:
            self._count(1, target, 0.0)

    def went_unseen(self, deg: float) -> None:
        """The tube went so far in steps between lines that could hide a jump of the count."""
        if self._sightings.used:  # before the first star there is nothing to lose
            self._count(0, self._target, deg)

    @property
    def _target(self) -> str:
        since = self._since
        return since[-1].target if since else ""

    @property
    def unseen_deg(self) -> float:
        """How far since the last sighting."""
        return sum(p.unseen_deg for p in self._since)

    def pushes(self, target: str) -> int:
        """How many there have been when that target is reached, at least one."""
        return max(1, sum(p.times for p in self._since) + (target != self._target))
