"""What the logbook hands out: frozen records, times as Instants, angles in degrees."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import msgspec

from plumbstar.errors import UserError
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.text.words import clean as clean

Origin = Literal["encoders", "typed", "imported"]
ORIGINS: tuple[str, ...] = get_args(Origin)
#: Pieces under the upright stop: thickness in mm and how many; minus for those taken out.
Pieces = tuple[tuple[float, int], ...]
#: The longest correction of a time, a century: more is a slip of the finger, and leaves the years
#: that an Instant knows.
MOST_S = 36525.0 * 86400.0


@dataclass(frozen=True, slots=True)
class TimedBy:
    """By which clock a time was told: the UTC (seconds since 1970) that it gave to the zero of the
    computer's steady clock, in that run of the computer.

    The steady clock cannot be set, so two entries of one ``boot`` whose ``zero`` differs were timed
    by clocks that differ by as much.
    """

    boot: str
    zero: float


class NotSaved(UserError):
    """The change asked for is not in the logbook, and nothing of it is."""


@dataclass(frozen=True, slots=True)
class Outing:
    """One evening: ``id`` is what ``log show N`` takes; ``uid`` is the same in every copy.

    ``site`` is None only for an imported list that did not say where it was made. ``kit_text`` is
    the kit file as it was that evening. ``deleted`` is when it was marked, or None. ``started`` and
    ``ended`` hold the corrections ``*_corrected_by_s`` (seconds; 0 for none).
    """

    id: int
    uid: str
    site: Site | None
    kit_name: str
    kit_text: str
    started: Instant
    ended: Instant | None
    solar_filter: bool
    deleted: Instant | None
    sighting_count: int
    find_count: int
    start_corrected_by_s: float = 0.0
    end_corrected_by_s: float = 0.0
    clock: TimedBy | None = None


@dataclass(frozen=True, slots=True)
class LoggedSighting:
    """A sighting as it was made. ``number`` counts from 1 within the outing, never used twice.

    ``typed`` is the star's name as it was typed; ``sighting.star`` is the star it was taken for.
    ``az_count`` and ``alt_count`` are the encoders' raw counts, when there were any.
    ``reason`` says why it was set aside (``active`` False).

    Where its time was found wrong afterwards, ``corrected_by_s`` says by how much, ``sighting`` has
    the right time and the place for it, and ``as_saved`` what was saved then; else 0 and None.
    """

    id: int
    outing_id: int
    number: int
    sighting: Sighting
    typed: str
    origin: str
    az_count: int | None
    alt_count: int | None
    active: bool
    reason: str
    saved: Instant
    deleted: Instant | None
    corrected_by_s: float = 0.0
    as_saved: Sighting | None = None
    clock: TimedBy | None = None


@dataclass(frozen=True, slots=True)
class Find:
    """A target looked for: the reading predicted, and the reading where it was centred.

    ``found_*`` is None when it was looked for and not found.
    """

    id: int
    outing_id: int
    number: int
    target: str
    utc: Instant
    predicted_az_deg: float
    predicted_alt_deg: float
    found_az_deg: float | None
    found_alt_deg: float | None
    field_radius_deg: float
    eyepiece: str
    deleted: Instant | None
    corrected_by_s: float = 0.0
    clock: TimedBy | None = None

    @property
    def found(self) -> bool:
        """Whether it was seen and centred."""
        return self.found_az_deg is not None


@dataclass(frozen=True, slots=True)
class Note:
    """A remark on an outing."""

    id: int
    outing_id: int
    utc: Instant
    text: str
    deleted: Instant | None
    corrected_by_s: float = 0.0
    clock: TimedBy | None = None


@dataclass(frozen=True, slots=True)
class LoggedFix:
    """A fix as it was computed; derived, so it can always be rebuilt from the sightings."""

    id: int
    outing_id: int
    utc: Instant
    body: dict[str, object]


@dataclass(frozen=True, slots=True)
class Mend:
    """Something on the kit was changed at ``utc``: what was learnt of ``terms`` before is void.

    ``put``: the pieces put under the upright stop then, (thickness in mm, how many; minus: taken
    out), where that was told; ``box``: what the kit's box held before, in the same way.
    """

    id: int
    kit_name: str
    utc: Instant
    terms: tuple[str, ...]
    text: str
    deleted: Instant | None
    put: Pieces = ()
    box: Pieces = ()

    @property
    def put_mm(self) -> float:
        """By how much what is under the stop was made thicker."""
        return sum(thickness * count for thickness, count in self.put)


class Changed(msgspec.Struct, frozen=True):
    """What a mend changed, as the file keeps it; older files have the names of the terms alone."""

    terms: tuple[str, ...]
    put: Pieces = ()
    box: Pieces = ()

    @staticmethod
    def read(text: str) -> Changed:
        """Raises msgspec.MsgspecError for what is neither."""
        found = msgspec.json.decode(text, type=Changed | tuple[str, ...])
        return found if isinstance(found, Changed) else Changed(found)

    def written(self) -> str:
        """JSON; the terms alone where nothing was put under the stop."""
        return msgspec.json.encode(self if self.put else self.terms).decode()


def stamp(utc: Instant) -> str:
    """The form in which the file keeps a time: nanoseconds, so that text order is time order."""
    return utc.iso(9)


def to_nanosecond(utc: Instant) -> Instant:
    """The same moment as :func:`stamp` keeps it. Applying it twice changes nothing more."""
    return Instant.parse(stamp(utc))


def short(utc: Instant) -> str:
    """ISO 8601 without needless zeros; :meth:`Instant.parse` gives back the same instant."""
    body = stamp(utc)[:-1]
    return body.rstrip("0").rstrip(".") + "Z"


def when(text: str | None) -> Instant | None:
    """A time as the file keeps it."""
    return Instant.parse(text) if text else None


def timed_by(boot: str | None, zero: float | None) -> TimedBy | None:
    """The clock of an entry as the file keeps it."""
    return TimedBy(boot, zero) if boot is not None and zero is not None else None


def shifted(text: str, shift_s: float | None) -> Instant:
    """A time as the file keeps it, corrected."""
    saved = Instant.parse(text)
    return saved.plus_seconds(shift_s) if shift_s else saved
