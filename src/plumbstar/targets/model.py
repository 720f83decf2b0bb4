"""The objects that travel between what can be seen, in what order, the card and the pages."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum, IntEnum, auto
from typing import Literal

from plumbstar.kit import Filter, Kit
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.targets.learnt_eye import LearntEye

#: How hard it is to see, from the chance of seeing it (see verdict.py).
Difficulty = Literal["easy", "fair", "hard", "unlikely"]


#: Spread of what eye, catalogue and night make of a threshold, magnitudes. Judgement; Blackwell's
#: observers alone had 0.4 (contrast 1.6 times as high for 90 % as for 50 %; memory).
SPREAD_MAG = 0.6


class SeenPart(IntEnum):
    """Which part of an object stands out most: its whole glow, the inner half of the light, the
    core, or stars."""

    WHOLE = 0
    HALF = 1
    CORE = 2
    STARS = 3


@dataclass(frozen=True, slots=True)
class Conditions:
    """The sky over the site and the eye at the telescope.

    ``zenith_mag`` is the darkest zenith sky there without Moon, V magnitudes a square arcsecond;
    ``extinction_mag`` V magnitudes an air mass, None to take it from the site's elevation;
    ``seeing_arcsec`` the width of a star's image; ``pupil_mm`` the widest the observer's pupil
    opens; ``practice`` how used the eye is to faint things.
    """

    zenith_mag: float = 21.0
    extinction_mag: float | None = None
    seeing_arcsec: float = 2.5
    pupil_mm: float = 6.5
    practice: Literal["new", "some", "much"] = "some"
    #: Learnt: magnitudes that this observer's eye needs more, and the spread of one verdict.
    eye_mag: float = 0.0
    spread_mag: float = SPREAD_MAG


def conditions_of(
    site: Site,
    kit: Kit,
    *,
    zenith_mag: float | None = None,
    seeing_arcsec: float | None = None,
    extinction_mag: float | None = None,
    own: LearntEye | None = None,
) -> Conditions:
    """The sky and the eye, from site and kit, with what is stated tonight before them. ``own``:
    what the observer's looks taught of both."""
    usual = Conditions()
    if own is not None and own.learnt:
        stated = zenith_mag or (site.zenith_mag or usual.zenith_mag) + own.sky_mag
        told = conditions_of(
            site, kit, zenith_mag=stated, seeing_arcsec=seeing_arcsec, extinction_mag=extinction_mag
        )
        return replace(told, eye_mag=own.eye_mag, spread_mag=own.spread_mag)
    return Conditions(
        zenith_mag=zenith_mag or site.zenith_mag or usual.zenith_mag,
        extinction_mag=extinction_mag,
        seeing_arcsec=seeing_arcsec or usual.seeing_arcsec,
        pupil_mm=kit.eye.pupil_mm,
        practice=kit.eye.practice,
    )


@dataclass(frozen=True, slots=True)
class Prospect:
    """One object tonight: whether it will be seen, with what, when, and why.

    ``chance`` is that of seeing it at ``best``, centred, in ``eyepiece``; ``margin_mag`` how far
    it stands over the eye's threshold there, ``moon_loss_mag`` and ``air_loss_mag`` what Moon and
    air take of that (:mod:`.reasons` says what decides it). ``parts`` are the margins of each
    :class:`SeenPart` there, -inf for what it has not. ``second`` is the second best eyepiece,
    ``filter`` the filter to use, each empty for none. ``first`` to ``last`` is when it is
    worth pointing at (dark enough, above the skyline, the chance not much below the best);
    ``sets`` when it is lost for the night, None if it is not.
    Azimuth and altitude are those at ``best``, degrees. ``minutes`` is the time to give it;
    ``interest`` how much an evening gains by it when it is seen (1 for an unknown faint one).
    ``company`` is what shares its field and is one visit with it; ``led_by`` the key of the object
    that it comes with, empty for none.
    """

    target: Target
    difficulty: Difficulty
    chance: float
    margin_mag: float
    moon_loss_mag: float
    air_loss_mag: float
    aperture_mm: float
    parts: tuple[float, float, float, float]
    eyepiece: str
    second: str
    filter: Filter | Literal[""]
    magnification: float
    field_arcmin: float
    minutes: float
    best: Instant
    first: Instant
    last: Instant
    sets: Instant | None
    az_deg: float
    alt_deg: float
    interest: float = 1.0
    company: tuple[Target, ...] = ()
    led_by: str = ""

    @property
    def shows_by(self) -> SeenPart:
        """The part of it that stands out most."""
        return max(SeenPart, key=lambda part: self.parts[part])

    @property
    def glow_mag(self) -> float:
        """The margin of its glow; -inf where it has none."""
        return max(self.parts[: SeenPart.STARS])


class Hitch(Enum):
    """What the observer should know about a visit."""

    #: the Moon was looked at just before
    DAZZLED = auto()
    #: a bright planet was
    BRIGHT_BEFORE = auto()
    #: it cannot be seen at its best then
    NOT_AT_ITS_BEST = auto()
    #: nothing to do until it is high enough, or the sky dark enough
    WAIT_FOR_HEIGHT = auto()
    WAIT_FOR_DARKNESS = auto()
    #: it goes down soon
    GOES_DOWN = auto()


@dataclass(frozen=True, slots=True)
class VisitNote:
    """A hitch, with the ``chance`` to see the object then and the ``gap`` before it, minutes."""

    hitch: Hitch
    chance: float
    gap: float


class LeftOut(Enum):
    """Why an object found no place in the order."""

    NO_TIME = auto()
    BETTER_LATER = auto()
    PAST_ITS_BEST = auto()


@dataclass(frozen=True, slots=True)
class Visit:
    """One object's place in the evening's order; ``push_deg`` is the push that leads to it."""

    prospect: Prospect
    start: Instant
    minutes: float
    az_deg: float
    alt_deg: float
    push_deg: float
    note: VisitNote | None = None


@dataclass(frozen=True, slots=True)
class Route:
    """The evening's order. ``left_out`` holds what found no room, each with the reason."""

    visits: tuple[Visit, ...]
    left_out: tuple[tuple[Prospect, LeftOut], ...]
    worth: float
    push_deg: float
