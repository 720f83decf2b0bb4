"""What is on the card, as plain frozen objects. Degrees, moments as Instants; words ready to print.

The three pages (paper, phone, calendar) only lay these out: no page works anything out.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from plumbstar.sky.local_time import local
from plumbstar.sky.times import Instant
from plumbstar.turns import rounded_deg


@dataclass(frozen=True, slots=True)
class Moment:
    """One of the evening's times. ``instant`` is None when it does not come; then ``reason``, and
    whether the Sun stays below its height all the time."""

    key: str
    what: str
    meaning: str
    instant: Instant | None
    reason: str = ""
    stays_below: bool = False


@dataclass(frozen=True, slots=True)
class CardStar:
    """A star to sight: where it stands at the hour. ``field`` is the number of its drawing.

    ``shows`` is when the twilight first shows it, if that is after the hour; else None.
    """

    name: str
    designation: str
    where: str
    az_deg: float
    alt_deg: float
    v_mag: float
    colour: str
    shows: Instant | None
    field: int | None


@dataclass(frozen=True, slots=True)
class Hour:
    """The best pair at that moment; no stars and a ``note`` when there is none.

    ``chance`` is the mean chance that a target is then in the field of the card's eyepiece.
    """

    instant: Instant
    stars: tuple[CardStar, ...]
    chance: float
    note: str = ""


@dataclass(frozen=True, slots=True)
class Dot:
    """A star in a drawing: right and up from the middle, degrees; ``letter`` for a look-alike."""

    right_deg: float
    up_deg: float
    v_mag: float
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Field:
    """The sky round a star by eye, zenith up, as it stands at ``instant``.

    ``alike`` holds (letter, sentence) of each look-alike, the most alike first. ``way``: how to
    find it with the eye, from what everybody knows. ``up``: where the zenith lies in it, if it is
    drawn as a finder shows the sky; ``limit_mag`` its faintest star, drawn as a dot.
    """

    number: int
    name: str
    designation: str
    instant: Instant
    where: str
    radius_deg: float
    dots: tuple[Dot, ...]
    alike: tuple[tuple[str, str], ...]
    way: str = ""
    up: tuple[float, float] = (0.0, 1.0)
    limit_mag: float = 4.5


@dataclass(frozen=True, slots=True)
class CardStop:
    """A target in the evening's order: what to push to, and what to expect.

    ``push`` says how to get there from the one before, which by then stands elsewhere than when it
    was found. ``key`` is the target's own, stable; ``kind`` the short form of ``what``.
    ``on``: beside a closed controller, the push on from its zero for +1 degree of its number, by
    the look back; ``chosen``: of an object that is not in its lists, what to choose on it instead,
    and how far to push on besides. ``finder``: as the kit's finder shows the sky about it then.
    """

    number: int
    key: str
    name: str
    what: str
    kind: str
    start: Instant
    minutes: float
    eyepiece: str
    magnification: float
    az_deg: float
    alt_deg: float
    where: str
    push: str
    difficulty: str
    chance: float
    reason: str
    note: str
    sets: Instant | None
    on: tuple[str, ...] = ()
    chosen: str = ""
    finder: Field | None = None


@dataclass(frozen=True, slots=True)
class Card:
    """The whole card. ``sky`` is a sentence on Moon and darkness; ``hours_note`` why no stars.

    ``time_zone`` is that of its times (local_time), ``zone`` what they are called: "UTC+1".
    ``beside``: for whoever stands beside a closed controller.
    """

    date: dt.date
    night: str
    site: str
    place: str
    telescope: str
    field_name: str
    time_zone: str
    zone: str
    sky: str
    moments: tuple[Moment, ...]
    hours: tuple[Hour, ...]
    hours_note: str
    fields: tuple[Field, ...]
    stops: tuple[CardStop, ...]
    left_out: tuple[tuple[str, str], ...]
    has_route: bool
    cautions: tuple[str, ...]
    beside: bool = False

    def time(self, instant: Instant) -> str:
        """ "18:05"."""
        return local(instant, self.time_zone)


def az_alt(az_deg: float, alt_deg: float) -> str:
    """ "126°, 49° up"."""
    return f"{rounded_deg(az_deg):.0f}°, {round(alt_deg)}° up"


def clean(text: str) -> str:
    """A name from outside, fit for every page: one line, no control or broken characters."""
    whole = text.encode("utf-8", "replace").decode("utf-8")
    return " ".join("".join(c if c.isprintable() else " " for c in whole).split())
