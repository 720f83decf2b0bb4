"""Answers that are drawn as well: the night card, and what the eyepiece should show."""

from __future__ import annotations

from typing import Literal

import msgspec

from plumbstar.contract.answers.base import Report
from plumbstar.contract.answers.pointing import TakenReport
from plumbstar.contract.answers.seen import OwnEyeReport


class MomentReport(Report, frozen=True, kw_only=True):
    """One of the evening's times; ``reason`` where it does not come, and its moment is null."""

    key: str
    what: str
    meaning: str
    instant_utc: str | None
    reason: str


class AimReport(Report, frozen=True, kw_only=True):
    """A star to sight; ``shows_utc`` where the twilight shows it only later. ``field``: its
    drawing's number."""

    name: str
    designation: str
    where: str
    az_deg: float
    alt_deg: float
    v_mag: float
    colour: str
    shows_utc: str | None
    field: int | None


class HourReport(Report, frozen=True, kw_only=True):
    """The best pair at that moment, or why there is none."""

    instant_utc: str
    stars: tuple[AimReport, ...]
    chance: float
    note: str


class DotReport(Report, frozen=True, kw_only=True):
    """A star in a drawing: right and up from the middle; a letter for a look-alike."""

    right_deg: float
    up_deg: float
    v_mag: float
    letter: str


class LetterReport(Report, frozen=True, kw_only=True):
    """A look-alike in a drawing, and how it is told."""

    letter: str
    sentence: str


class FieldDrawingReport(Report, frozen=True, kw_only=True):
    """The sky round a star by eye, zenith up."""

    number: int
    name: str
    designation: str
    instant_utc: str
    where: str
    radius_deg: float
    dots: tuple[DotReport, ...]
    alike: tuple[LetterReport, ...]
    way: str


class CardStopReport(Report, frozen=True, kw_only=True):
    """A target in the evening's order."""

    number: int
    key: str
    name: str
    what: str
    kind: str
    start_utc: str
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
    sets_utc: str | None


class CardSkippedReport(Report, frozen=True, kw_only=True):
    name: str
    why: str


class CardContentReport(Report, frozen=True, kw_only=True):
    """Everything on the card. ``zone``: what its times are called."""

    date: str
    night: str
    site: str
    place: str
    telescope: str
    field_name: str
    zone: str
    sky: str
    moments: tuple[MomentReport, ...]
    hours: tuple[HourReport, ...]
    hours_note: str
    fields: tuple[FieldDrawingReport, ...]
    stops: tuple[CardStopReport, ...]
    left_out: tuple[CardSkippedReport, ...]
    has_route: bool
    cautions: tuple[str, ...]


class CardReport(Report, frozen=True, kw_only=True):
    """The card, and the files that it was written to; ``own_eye``: by whose eye its targets were
    judged, null for a nominal one."""

    card: CardContentReport
    written: tuple[str, ...]
    own_eye: OwnEyeReport | None
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class EyeStarReport(Report, frozen=True, kw_only=True):
    """A star in the eyepiece, in field radii: right and up as seen."""

    x: float
    y: float
    v_mag: float
    colour: str
    name: str


class OutlineReport(Report, frozen=True, kw_only=True):
    """An object's ellipse, in field radii; its angle null where it is not known."""

    x: float
    y: float
    half_length: float
    half_breadth: float
    angle_deg: float | None


class DiscReport(Report, frozen=True, kw_only=True):
    """The Moon or a planet, in field radii; ``sunward``: the way to the Sun, right and up.
    ``ring_tilt_deg`` is positive where the north side of Saturn's ring is seen."""

    radius: float
    lit_fraction: float
    sunward: tuple[float, float]
    ring: OutlineReport | None
    ring_tilt_deg: float | None


class EyePairReport(Report, frozen=True, kw_only=True):
    """Two stars: the brighter in the middle, the fainter at ``x, y``; ``shows`` False where it is
    beyond the telescope."""

    mag_a: float
    mag_b: float
    separation_arcsec: float
    position_angle_deg: float
    x: float
    y: float
    shows: bool


class EyeMoonReport(Report, frozen=True, kw_only=True):
    """A moon of Jupiter; ``shadow``: where its shadow lies on the disc."""

    name: str
    x: float
    y: float
    v_mag: float
    state: Literal["open", "in front", "behind", "in shadow"]
    shadow: tuple[float, float] | None


class EyeViewReport(Report, frozen=True, kw_only=True):
    """What the eyepiece should show. Ways are (right, up), of length one; docs/field.md.
    ``own_eye``: by whose eye it was judged whether two stars part, else null."""

    label: str
    kind: str
    utc: str
    az_deg: float
    alt_deg: float
    field_deg: float
    eyepiece: str
    magnification: float
    view: str
    stars: tuple[EyeStarReport, ...]
    outline: OutlineReport | None
    disc: DiscReport | None
    pair: EyePairReport | None
    moons: tuple[EyeMoonReport, ...]
    north: tuple[float, float]
    east: tuple[float, float]
    zenith: tuple[float, float]
    drift: tuple[float, float] | None
    minutes_to_edge: float | None
    parallactic_deg: float
    limit_mag: float
    telescope_limit_mag: float
    list_is_limit: bool
    sentence: str
    notes: tuple[str, ...]
    mirrored: bool
    own_eye: OwnEyeReport | None
