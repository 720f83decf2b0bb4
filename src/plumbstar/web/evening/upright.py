"""The upright stop: the observer says that the tube rests on it, and the altitude reads 90 there.

Most encoder boards count from zero where they were switched on. The encoders themselves are the
event loop's (live/readings.py); here is what was said, kept so that it outlives a restart.
"""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.encoders.tracker import UPRIGHT_DEG
from plumbstar.errors import UserError
from plumbstar.sky.times import Instant
from plumbstar.web.evening.desk import DeskKeeper, StopTold
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.resume import FORGOTTEN_S
from plumbstar.web.evening.sightings import Sightings


class UprightStop:
    """``told`` is what was said this evening, or None."""

    def __init__(
        self,
        keeper: DeskKeeper,
        current: OutingInProgress,
        sightings: Sightings,
        now: Callable[[], Instant],
    ) -> None:
        self._keeper, self._current, self._sightings, self._now = keeper, current, sightings, now

    @property
    def told(self) -> StopTold | None:
        """What was said this evening: by the next one the board has been switched off and on."""
        told = self._keeper.desk.stop
        if told is None:
            return None
        old = abs(self._now().minus(Instant.parse(told.utc))) > FORGOTTEN_S
        return None if old and self._current.outing is None else told

    def check(self) -> None:
        """Whether it may be said now. Raises UserError once a star was sighted with the readings
        as they are: the fix would no longer fit them."""
        n = len(self._sightings.used)
        if n:
            raise UserError(
                f"{n} star{'s were' if n > 1 else ' was'} sighted with the readings as they are",
                "",
                "Nothing was changed. If the encoders lost their place, sight one star again. To "
                "begin anew on the stop, undo the sightings or end the outing first",
            )

    def tell(self, read_deg: float) -> None:
        """The tube is on the stop; until now the altitude read that. What the encoders may have
        lost before is settled with it. Raises UserError as :meth:`check` does."""
        self.check()
        self._keeper.change(stop=StopTold(self._now().iso(), read_deg), slips=())
        self.log()

    def forget(self) -> None:
        """Other encoders are heard now."""
        if self._keeper.desk.stop is not None:
            self._keeper.change(stop=None)

    def log(self) -> None:
        """Into the outing's log, if one has begun."""
        told = self.told
        if told is not None:
            self._current.note_unasked(
                f"The tube was put on the upright stop at {told.utc[11:16]} UTC. The altitude read "
                f"{told.read_deg:.2f}° there, and reads {UPRIGHT_DEG:.0f}° since."
            )
