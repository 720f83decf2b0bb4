"""The Sun: what is never pointed at, and what is refused while it is up.

Every path by which the program names a place to point to asks here (docs/sun.md lists them, with
the test that holds each). Guidance only: a clock or a site may be wrong, and the eye at the
telescope decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.solve.fix import Fix
from plumbstar.units import Array, Bools

#: The tube is never guided to within this of the Sun, filter or not. Common practice, no source.
SUN_KEEP_OUT_DEG = 20.0
#: The Sun counts as up from the moment its upper edge may show: refraction 34', radius 16'.
SUN_UP_DEG = -0.9
#: Below this neither the Sun nor the sky near it is a danger, even from a hill's edge.
SUN_WELL_DOWN_DEG = -5.0
#: The tube may land this many sigma of the fix nearer to the Sun than it is sent. Common practice,
#: no source.
DOUBT_SIGMAS = 3.0

#: Azimuth and observed altitude, degrees.
Spot = tuple[float, float]


#: Said in place of where a thing stands, while the Sun is up or hardly down.
TOO_NEAR = "too near the Sun to point at"
#: The same while it is not known where the Sun is.
NOT_KNOWN = "not said until the time is settled"


class SunRefusal(UserError):
    """Refused because of the Sun; ``banned`` tells what, where that is one of the kinds below."""

    banned: Banned | None = None


class Ban(Enum):
    """What the Sun, or not knowing where it is, forbids."""

    BY_DAY = auto()  # anything, without a filter
    TARGET = auto()  # too near it
    STOP = auto()  # a field of the search
    WAY = auto()  # the push there passes it
    HERE = auto()  # the tube points there already
    THE_SUN = auto()  # itself, without a filter
    SIGHTED = auto()  # a star said to be centred, too near it, by day and without a filter
    WAY_UNKNOWN = auto()  # by day, and nobody knows from where the push would begin
    CLOCK = auto()  # the moment is not known
    CLOCKS = auto()  # the clocks disagree whether it is up, and the question is not answered


@dataclass(frozen=True, slots=True)
class Banned:
    """One thing forbidden. ``apart_deg``: from the Sun; ``reach_deg``: how much nearer the field
    and the fix's doubt may bring it. Both 0 where they do not matter."""

    ban: Ban
    apart_deg: float = 0.0
    reach_deg: float = 0.0

    def refusal(self) -> SunRefusal:
        """The same as an error, with what to do."""
        remedy = _WORDS[self.ban][1].format(keep=SUN_KEEP_OUT_DEG)
        said = SunRefusal(self._came(), "", remedy)
        said.banned = self
        return said

    def told(self) -> SunTold:
        """A place or a way that is forbidden, for a page: the answer first, the figures last."""
        figures = self.ban in (Ban.TARGET, Ban.STOP, Ban.WAY, Ban.HERE)
        return SunTold(*_SHORT[self.ban], f"{self._came()}." if figures else "")

    def _came(self) -> str:
        reach = (
            f", and the field and the doubt of the fix reach {self.reach_deg:.1f}° further"
            if self.reach_deg >= 0.05 and self.apart_deg + 0.05 >= SUN_KEEP_OUT_DEG
            else ""
        )
        return _WORDS[self.ban][0].format(
            apart=_rounded(self.apart_deg), keep=SUN_KEEP_OUT_DEG, reach=reach
        )


@dataclass(frozen=True, slots=True)
class SunTold:
    """What is forbidden in one short line, the caution with what to do, and more (or empty)."""

    answer: str
    caution: str
    more: str


_BLINDS = "The Sun in an eyepiece blinds at once and for good. "
_ROUND = (
    "Cap the tube and the finder, and bring it round by hand, well away from the Sun, until the "
    "way is shown again"
)
_WORDS: dict[Ban, tuple[str, str]] = {
    Ban.BY_DAY: (
        "The Sun is up, and no solar filter over the whole front of the tube is confirmed",
        "A sweep across the Sun blinds at once and for good. Wait for sunset, or fit the filter "
        "and confirm it",
    ),
    Ban.TARGET: (
        "The target is {apart}° from the Sun{reach}, and nothing nearer than {keep:.0f}° is guided "
        "to",
        _BLINDS + "Choose another target, or wait until the Sun is well down",
    ),
    Ban.STOP: (
        "The next field of the search is {apart}° from the Sun{reach}, and nothing nearer than "
        "{keep:.0f}° is guided to",
        _BLINDS + "Choose another target, or wait until the Sun is well down",
    ),
    Ban.WAY: (
        "The push there may pass {apart}° from the Sun{reach}, and nothing nearer than {keep:.0f}° "
        "is guided through",
        _BLINDS + _ROUND,
    ),
    Ban.HERE: (
        "By its readings the tube points {apart}° from the Sun{reach}, and no way is shown from "
        "nearer than {keep:.0f}°",
        "Do not look into it. " + _ROUND,
    ),
    Ban.THE_SUN: (
        "The Sun must not be sighted: no solar filter over the whole front of the tube is "
        "confirmed",
        "Cap the tube and turn it away. Nothing was recorded",
    ),
    Ban.SIGHTED: (
        "The Sun is up, and this is {apart}° from it",
        "Cap the tube and turn it away. Nothing was recorded: nearer than {keep:.0f}° to the Sun "
        "nothing is sighted without a solar filter. If it is dark where you stand, set the time or "
        "the site right, then press again",
    ),
    Ban.WAY_UNKNOWN: (
        "The Sun is up, and it is not known where the tube points. So the push may pass the Sun",
        "Type what the circles read now, then the way is shown",
    ),
    Ban.CLOCK: (
        "The clock may be wrong, so it is not known where the Sun stands",
        "No way is shown until the time is settled",
    ),
    Ban.CLOCKS: (
        "The clocks or places known here disagree whether the Sun is up",
        "No way is shown until somebody at the telescope has answered the question about the Sun",
    ),
}

_ELSEWHERE = _BLINDS + "Choose another, or wait until it is well down."
_CAPPED = (
    "Cap the tube and the finder, and bring it round by hand, well away from the Sun. Then the "
    "way is shown again."
)
#: Of places and ways: the answer, and the caution with what to do.
_SHORT: dict[Ban, tuple[str, str]] = {
    Ban.BY_DAY: (
        "The Sun is up: nothing is pointed to.",
        "A sweep across it blinds at once and for good. Wait for sunset, or fit a solar filter "
        "over the whole front of the tube and confirm it.",
    ),
    Ban.TARGET: ("Too near the Sun.", _ELSEWHERE),
    Ban.STOP: ("The next field is too near the Sun.", _ELSEWHERE),
    Ban.WAY: ("The way there may pass the Sun.", _CAPPED),
    Ban.HERE: ("The tube points near the Sun: do not look into it.", _CAPPED),
    Ban.WAY_UNKNOWN: (
        "The Sun is up: from where does the push begin?",
        "Type what the circles read now: the way there must not pass the Sun.",
    ),
    Ban.CLOCK: (
        "Where the Sun stands is not known.",
        "The clock may be wrong. No way is shown until the time is settled.",
    ),
    Ban.CLOCKS: (
        "Whether the Sun is up is not known.",
        "No way is shown until somebody at the telescope has answered the question about the Sun.",
    ),
}


def _rounded(apart_deg: float) -> str:
    """Never rounded to the limit itself from the wrong side."""
    whole = f"{apart_deg:.0f}"
    return f"{apart_deg:.1f}" if abs(apart_deg - SUN_KEEP_OUT_DEG) < 3.0 else whole


def apart_deg(az_a: float, alt_a: float, az_b: float, alt_b: float) -> float:
    """Angle between two directions, degrees."""
    a = kinematics.unit(np.radians(az_a), np.radians(alt_a))
    b = kinematics.unit(np.radians(az_b), np.radians(alt_b))
    return math.degrees(math.acos(float(np.clip(a @ b, -1, 1))))


def doubts_deg(fix: Fix, az: Array, alt: Array, near_az_deg: float | None = None) -> Array:
    """How far from true places (...), radians, the tube may land when pushed there, degrees."""
    cov = fix.pointing_covariance(az, alt, near_az_deg)
    largest = np.maximum(np.linalg.eigvalsh(cov)[..., -1], 0.0)
    out: Array = DOUBT_SIGMAS * np.degrees(np.sqrt(largest))
    return out


def doubt_deg(fix: Fix, az_deg: float, alt_deg: float, near_az_deg: float | None = None) -> float:
    """The same of one place, degrees."""
    return float(doubts_deg(fix, np.radians(az_deg), np.radians(alt_deg), near_az_deg))


def reach_deg(
    fix: Fix | None, az_deg: float, alt_deg: float, field_deg: float, near_az: float | None = None
) -> float:
    """How much nearer to the Sun than it is sent the edge of the field may come, degrees: half the
    field and the fix's doubt there. Without a fix nothing leads there: half the field."""
    doubt = doubt_deg(fix, az_deg, alt_deg, near_az) if fix is not None else 0.0
    return field_deg / 2.0 + doubt


def reaches_deg(fix: Fix | None, directions: Array, field_deg: float) -> Array:
    """:func:`reach_deg` of many directions (n, 3): (n,) degrees."""
    half = np.full(len(directions), field_deg / 2.0)
    if fix is None:
        return half
    places = kinematics.az_alt(directions)
    return half + doubts_deg(fix, places[..., 0], places[..., 1])


def banned(
    place: Spot,
    sun: Spot,
    filter_confirmed: bool,
    reach: float = 0.0,
    near: Ban = Ban.TARGET,
) -> Banned | None:
    """What forbids a place at one moment: being near the Sun, or any place by day without a filter.

    ``reach``: see :func:`reach_deg`. ``near``: what to call it where it is too near.
    """
    apart = apart_deg(*place, *sun)
    if apart - reach < SUN_KEEP_OUT_DEG and sun[1] > SUN_WELL_DOWN_DEG:
        return Banned(near, apart, reach)
    if sun[1] > SUN_UP_DEG and not filter_confirmed:
        return Banned(Ban.BY_DAY)
    return None


def sighting_banned(
    place: Spot, sun: Spot, filter_confirmed: bool, field_deg: float, itself: bool = False
) -> Banned | None:
    """Whether what is said to be centred may not have been looked at: the Sun, or what stands near
    it by day, without a filter. ``itself``: it is the Sun."""
    if filter_confirmed:
        return None
    if itself:
        return Banned(Ban.THE_SUN)
    apart, reach = apart_deg(*place, *sun), field_deg / 2.0
    if sun[1] > SUN_UP_DEG and apart - reach < SUN_KEEP_OUT_DEG:
        return Banned(Ban.SIGHTED, apart, reach)
    return None


def check_sun(
    target_az_deg: float,
    target_alt_deg: float,
    sun_az_deg: float,
    sun_alt_deg: float,
    filter_confirmed: bool,
    reach: float = 0.0,
) -> None:
    """Refuse a target near the Sun, and any target by day without a filter. Raises SunRefusal.

    With a full-aperture filter confirmed the Sun itself may be the target of a filtered telescope,
    but this program does not guide to it: finding it is done by the tube's shadow.
    """
    found = banned(
        (target_az_deg, target_alt_deg), (sun_az_deg, sun_alt_deg), filter_confirmed, reach
    )
    if found is not None:
        raise found.refusal()


def clear_of(directions: Array, reach: Array | float, sun: Spot) -> Bools:
    """Which directions (n, 3) may be led to as far as nearness to the Sun goes; ``reach`` (n,) or
    one number, degrees."""
    if sun[1] <= SUN_WELL_DOWN_DEG:
        return np.ones(len(directions), dtype=np.bool_)
    at = kinematics.unit(np.radians(sun[0]), np.radians(sun[1]))
    apart = np.degrees(np.arccos(np.clip(directions @ at, -1.0, 1.0)))
    far: Bools = apart - reach >= SUN_KEEP_OUT_DEG
    return far


def may_be_sighted(az: Array, alt: Array, sun_az_deg: float, sun_alt_deg: float) -> Bools:
    """Which places (n,), radians, a star may be sighted at: none while the Sun is up, and none
    near it until it is well down."""
    if sun_alt_deg > SUN_UP_DEG:
        return np.zeros(len(az), dtype=np.bool_)
    return clear_of(kinematics.unit(az, alt), 0.0, (sun_az_deg, sun_alt_deg))
