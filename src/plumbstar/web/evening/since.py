"""How often the tube was pushed on since the last sighting, and how far between lines too far
apart: what came between is unchecked.

It lies on the desk; whether it still holds follows from the sightings made since.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plumbstar.web.evening.desk import DeskKeeper, Pushed
from plumbstar.web.evening.sightings import Sightings


class SinceSighting:
    """Counts the objects pushed to; a sighting (a find is one, too) begins anew."""

    def __init__(self, keeper: DeskKeeper, sightings: Sightings) -> None:
        self._keeper, self._sightings = keeper, sightings

    @property
    def _since(self) -> tuple[Pushed, ...]:
        return counted_since(self._keeper.desk.pushes, self._sightings.used_ids)

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
        return _last_target(self._since)

    @property
    def unseen_deg(self) -> float:
        """How far since the last sighting."""
        return unseen_deg(self._since)

    def pushes(self, target: str) -> int:
        """How many there have been when that target is reached, at least one."""
        return pushes(self._since, target)


def counted_since(counted: Iterable[Pushed], used_ids: Iterable[int]) -> tuple[Pushed, ...]:
    """Of what was counted, that since the last sighting that is used: a later one that was taken
    back had begun anew, and checks nothing now."""
    last = max(used_ids, default=0)
    return tuple(p for p in counted if p.after >= last)


def unseen_deg(since: Iterable[Pushed]) -> float:
    """How far the tube went in steps that could hide a jump of the count, degrees."""
    return sum(p.unseen_deg for p in since)


def pushes(since: Sequence[Pushed], target: str) -> int:
    """How many there have been when that target (its key) is reached, at least one."""
    return max(1, sum(p.times for p in since) + (target != _last_target(since)))


def _last_target(since: Sequence[Pushed]) -> str:
    return since[-1].target if since else ""
