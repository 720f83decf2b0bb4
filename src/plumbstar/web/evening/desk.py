"""What the evening keeps beside its observations, so that a restart changes nothing on screen.

It lies in the outing's state in the logbook, or, while no outing is open, in a setting. Whether a
slip is settled or a search still holds is not kept but follows from the sightings made since, so
that nothing can disagree after a power cut or an undo.
"""

from __future__ import annotations

import contextlib
from typing import Any, Literal

import msgspec

from plumbstar.encoders.reading import Reading
from plumbstar.logbook import Logbook, LogbookTrouble
from plumbstar.logbook.slips import DESK, Slip
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.ranking import Ranking
from plumbstar.web.evening.sightings import Predicted


class Miss(msgspec.Struct, frozen=True):
    """A target looked for where the fix put it, and not there. Degrees.

    ``basis``: the ids of the sightings that the fix was made of. With others it says nothing.
    ``push``: in which push since the last of them.
    """

    utc: str
    basis: tuple[int, ...]
    target: str
    az_deg: float
    alt_deg: float
    field_deg: float
    push: int = 1


class SearchUnderWay(msgspec.Struct, frozen=True):
    """A search path: ``index`` is the stop to look at now; ``stops`` (right, up) degrees.

    ``basis`` as for :class:`Miss`: with another fix the stops would lead elsewhere.
    """

    basis: tuple[int, ...]
    target: str
    index: int
    stops: tuple[tuple[float, float], ...]
    found_by: tuple[float, ...]

    @property
    def over(self) -> bool:
        """Whether every stop was looked at."""
        return self.index >= len(self.stops)


class StopTold(msgspec.Struct, frozen=True):
    """The observer said that the tube is on the upright stop; ``read_deg`` is what the altitude
    read until then."""

    utc: str
    read_deg: float


class DoubtedPress(msgspec.Struct, frozen=True):
    """A press of "centred" that cannot be what it says, held until the observer has answered.

    ``target`` is its key, ``star`` what the log would call it, ``unix`` its moment. ``off_deg``
    from where it should be, where at most ``bound_deg`` can be; ``same_as``: the star sighted
    earlier with the same reading, or empty. ``predicted`` makes it a find. ``points`` (azimuth,
    altitude): where the tube pointed by the best that was known, the azimuth None before any star;
    ``near``: the star that stands there, or empty; ``stood_alt_deg``: how high the named one stood.
    ``exchanged``: the two typed figures, had each been meant for the other circle, would do.
    ``stop_untold``: by encoders that do not know the upright stop; told, they read it anew.
    ``pushed_deg``: it can be what it says, but the tube went so far just before.
    """

    press: str
    target: str
    star: str
    typed: str
    reading: Reading
    unix: float
    predicted: Predicted | None
    off_deg: float
    bound_deg: float
    altitude_only: bool
    same_as: str
    points: tuple[float | None, float] = (None, 0.0)
    stood_alt_deg: float = 0.0
    near: str = ""
    exchanged: bool = False
    stop_untold: bool = False
    pushed_deg: float = 0.0


class NamelessPress(msgspec.Struct, frozen=True):
    """A press of "centred" on a bright star that nobody knows, kept until it has a name.

    ``unix`` is its moment. ``colour``: what was answered about it, "orange", "white" or nothing.
    ``cuts``: how often something had moved by then: later ones are of another orientation.
    ``beside``: other presses that it was compared with, and how: "brighter", "fainter" than they,
    or "alike".
    """

    press: str
    reading: Reading
    unix: float
    eyepiece: str
    cuts: int
    colour: str = ""
    beside: tuple[tuple[str, Literal["brighter", "fainter", "alike"]], ...] = ()


class Pushed(msgspec.Struct, frozen=True):
    """So many ``times`` another object was pushed to between sighting ``after`` and the next one,
    ``target`` last. ``unseen_deg``: so far meanwhile in steps that could hide a jump of the count.
    """

    after: int
    times: int
    target: str
    unseen_deg: float = 0.0


class Desk(msgspec.Struct, frozen=True):
    """All of it. Replaced, never changed in place. Its keys are those in the logbook.

    ``came_before``: presses beside a controller that found an object or gave it up before the
    target was chosen; with those since, the page tells whether it is done with.
    """

    eyepiece: str = ""
    plan: tuple[str, ...] = ()
    choice: Ranking | None = None
    target: str = ""
    sweep: SearchUnderWay | None = None
    misses: tuple[Miss, ...] = ()
    slips: tuple[Slip, ...] = ()
    stop: StopTold | None = None
    doubted: tuple[DoubtedPress, ...] = ()
    dropped: tuple[str, ...] = ()
    nameless: tuple[NamelessPress, ...] = ()
    pushes: tuple[Pushed, ...] = ()
    came_before: tuple[str, ...] = ()


class DeskKeeper:
    """The desk as it is now, and the one place where a change of it goes into the logbook."""

    def __init__(self, book: Logbook, current: OutingInProgress) -> None:
        self._book, self._current = book, current
        self.desk = Desk()
        self._unsaved = False  # something that was learnt is not on disk yet, ...
        self._of: int | None = None  # ... of that outing, or of none

    def read(self) -> None:
        """From the logbook, where another program may have changed it."""
        with contextlib.suppress(LogbookTrouble):
            self.catch_up()
        outing = self._current.outing
        if self._unsaved and self._of == (outing.id if outing is not None else None):
            return  # what is only here would be lost
        self._unsaved = False
        self.desk = load(
            self._book.state(outing.id).get(DESK) if outing else self._book.get_setting(DESK)
        )

    def change(self, **changes: Any) -> None:
        """Change some of the desk; on disk when it returns. What the disk refuses is not done here
        either: what was answered with "nothing was saved" must not stand on the page."""
        self._put(msgspec.structs.replace(self.desk, **changes))

    def learn(self, **changes: Any) -> None:
        """The same of what nobody asked for and must be known all the same, as a possible slip: it
        holds at once, and is on disk as soon as the disk takes it."""
        try:
            self.change(**changes)
        except LogbookTrouble:
            self.desk = msgspec.structs.replace(self.desk, **changes)
            outing = self._current.outing
            self._unsaved, self._of = True, outing.id if outing is not None else None

    def catch_up(self) -> None:
        """What the disk refused, once more. Raises LogbookTrouble while it refuses still."""
        if self._unsaved:
            self._put(self.desk)

    def _put(self, desk: Desk) -> None:
        outing = self._current.outing
        if outing is not None:
            self._book.update_state(outing.id, **{DESK: dump(desk)})
        else:
            self._book.set_setting(DESK, dump(desk))
        self.desk, self._unsaved = desk, False

    def carry_into_outing(self, slips: tuple[Slip, ...], stop: StopTold | None) -> None:
        """An outing has begun: plan and choice were made for it; a search and what was missed
        belong to sightings past. Of the slips only those stay that are still open, and ``stop`` if
        it was told this evening."""
        self.change(sweep=None, misses=(), slips=slips, stop=stop)
        # What is kept outside of outings must not come back with the next evening.
        self._book.set_setting(DESK, dump(Desk(eyepiece=self.desk.eyepiece)))

    def clear(self) -> None:
        """The outing is over: the eyepiece stays in the focuser, and the encoders count on."""
        self._put(Desk(eyepiece=self.desk.eyepiece, stop=self.desk.stop))


def load(raw: Any) -> Desk:
    """From what the logbook holds; an older or damaged form gives an empty desk, never an error."""
    try:
        return msgspec.convert(raw, Desk) if raw else Desk()
    except msgspec.ValidationError:
        return Desk()


def dump(desk: Desk) -> object:
    """Plain values for the logbook."""
    return msgspec.to_builtins(desk)
