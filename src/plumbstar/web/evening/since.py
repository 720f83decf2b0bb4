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
    def _now(self) -> Pushed:
        last = max(self._sightings.used_ids, default=0)
        kept = self._keeper.desk.pushed
        return kept if kept is not None and kept.after == last else Pushed(last, 0, "")

    def push_to(self, target: str) -> None:
        """That target was chosen; chosen again it is no other push."""
        now = self._now
        if target != now.target:
            self._keeper.change(pushed=Pushed(now.after, now.times + 1, target, now.unseen_deg))

    def went_unseen(self, deg: float) -> None:
        """The tube went so far in steps between lines that could hide a jump of the count."""
        now = self._now
        if now.after:  # before the first star there is nothing to lose
            more = now.unseen_deg + deg
            self._keeper.change(pushed=Pushed(now.after, now.times, now.target, more))

    @property
    def unseen_deg(self) -> float:
        """How far since the last sighting."""
        return self._now.unseen_deg

    def pushes(self, target: str) -> int:
        """How many there have been when that target is reached, at least one."""
        now = self._now
        return max(1, now.times + (target != now.target))
