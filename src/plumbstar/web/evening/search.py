"""Looking for a target that is not in the field: the path, and what each empty field teaches.

Path and misses lie on the desk. Both belong to one fix: whether they still hold is not kept but
follows from the sightings made since.
"""

from __future__ import annotations

import msgspec
import numpy as np

from plumbstar.errors import UserError
from plumbstar.guide.searching import search
from plumbstar.guide.sweep import Allowed
from plumbstar.logbook import short
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.web.evening.desk import DeskKeeper, Miss, SearchUnderWay
from plumbstar.web.evening.display import ControllerDisplay
from plumbstar.web.evening.guidance import Guidance
from plumbstar.web.evening.sightings import Sightings

MOST_MISSES = 20


class Search:
    """The search for the present target with the present sightings."""

    def __init__(
        self,
        keeper: DeskKeeper,
        guidance: Guidance,
        sightings: Sightings,
        display: ControllerDisplay,
    ) -> None:
        self._keeper, self._guidance, self._sightings = keeper, guidance, sightings
        self._display = display

    @property
    def _basis(self) -> tuple[int, ...]:
        """What the place looked at rests on: sightings, or what a controller showed."""
        return (*self._sightings.used_ids, *(-round(e.at_unix) for e in self._display.entries))

    @property
    def under_way(self) -> SearchUnderWay | None:
        """The search, unless target or fix have changed since: then it led elsewhere."""
        path, target = self._keeper.desk.sweep, self._guidance.target
        if path is None or target is None or path.target != target.key:
            return None
        return path if path.basis == self._basis else None

    @property
    def stop_deg(self) -> tuple[float, float] | None:
        """Where to look now, (right, up) of the target; None while nothing is searched."""
        path = self.under_way
        return path.stops[path.index] if path is not None else None

    @property
    def misses(self) -> tuple[Miss, ...]:
        """Those made with the present fix. Another sighting puts what they told to the test, and
        the fix that they were counted against is gone."""
        ids = self._basis
        return tuple(m for m in self._keeper.desk.misses if m.basis == ids)

    def next_step(
        self,
        target: Target,
        fix: Fix,
        az_deg: float,
        alt_deg: float,
        field_deg: float,
        now: Instant,
        allowed: Allowed | None = None,
        push: int = 1,
    ) -> tuple[SearchUnderWay, tuple[Miss, ...]]:
        """What becomes of path and misses when it is not in this field; nothing is changed yet.

        The first time it is a miss for the fix, and a path begins whose first stop is that very
        field. After its last stop the path is over. ``allowed``: which stops may be looked at; the
        others are passed over. ``push``: in which push since the last sighting.
        """
        path, misses = self.under_way, self._keeper.desk.misses
        if path is None:
            ids = self._basis
            stops, found_by = search(fix, az_deg, alt_deg, field_deg, allowed)
            path = SearchUnderWay(ids, target.key, 0, stops, found_by)
            miss = Miss(short(now), ids, target.key, az_deg, alt_deg, field_deg, push)
            misses = (*self.misses, miss)[-MOST_MISSES:]
        return msgspec.structs.replace(path, index=_next(path, allowed)), misses

    def begin(
        self, target: Target, stops: tuple[tuple[float, float], ...], found_by: tuple[float, ...]
    ) -> None:
        """A path beside a controller: the first of the stops was looked at, and is empty."""
        path = SearchUnderWay(self._basis, target.key, 1, stops, found_by)
        self._keeper.change(sweep=path)

    def take(self, path: SearchUnderWay, misses: tuple[Miss, ...]) -> None:
        """Go on so."""
        self._keeper.change(sweep=None if path.over else path, misses=misses)

    def back(self) -> None:
        """The last "not in the field" was a slip of the thumb: back to the field before it."""
        path = self.under_way
        if path is None:
            raise UserError("No search is under way", "", "There is nothing to go back to")
        if path.index > 1:
            self._keeper.change(sweep=msgspec.structs.replace(path, index=path.index - 1))
            return
        # The first of them also told the fix that it was not there.
        mine = [m for m in self.misses if m.target == path.target][-1:]
        rest = tuple(m for m in self._keeper.desk.misses if m not in mine)
        self._keeper.change(sweep=None, misses=rest)

    def end(self) -> None:
        """Found, or given up."""
        if self._keeper.desk.sweep is not None:
            self._keeper.change(sweep=None)


def _next(path: SearchUnderWay, allowed: Allowed | None) -> int:
    """The index of the next stop that may be looked at; past the last if none may."""
    after = range(path.index + 1, len(path.stops))
    if allowed is None or not after:
        return path.index + 1
    may = allowed(np.array(path.stops[path.index + 1 :]))
    return next((k for k, ok in zip(after, may, strict=True) if ok), len(path.stops))
