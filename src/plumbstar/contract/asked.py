"""What the pages ask for beside the stream: one answer for each address under ``/data/``."""

from __future__ import annotations

from plumbstar.contract.parts import (
    ClockFinding,
    SavedSighting,
    SiteClock,
    SiteRecord,
    ThingRecord,
)
from plumbstar.contract.record import Record
from plumbstar.contract.seen import SkyTonight
from plumbstar.contract.seen_log import LoggedLookLine


class FoundThing(ThingRecord, frozen=True, kw_only=True):
    """A line of a search: where it stands now; all of it None or empty without a site."""

    az_deg: float | None = None
    alt_deg: float | None = None
    up: bool | None = None
    where: str = ""
    hit_chance: float | None = None
    hit_chance_words: str = ""


class SearchAnswer(Record, frozen=True, kw_only=True):
    """``/data/search`` and ``/data/tonight``."""

    results: tuple[FoundThing, ...]


class StarAround(Record, frozen=True, kw_only=True):
    """A star near another, as the eye sees it: right along azimuth, up along altitude."""

    name: str
    right_deg: float
    up_deg: float
    v_mag: float
    colour: str


class WayAnswer(Record, frozen=True, kw_only=True):
    """``/data/way``: how to find a star with the eye, drawn and in words, at a moment; ``later``:
    when stars can be sighted, not now. All empty where nothing leads there. ``alike``: the stars it
    may be taken for, with the drawing's letters; ``hand``: what a hand is."""

    star: str
    at_utc: str
    later: bool
    svg: str
    way: str
    place: str
    alike: tuple[str, ...]
    hand: str


class AroundAnswer(Record, frozen=True, kw_only=True):
    """``/data/around``."""

    star: str
    stars: tuple[StarAround, ...]
    radius_deg: float


class MapCell(Record, frozen=True, kw_only=True):
    """A patch of the sky round its middle, and the chance to hit there."""

    az_deg: float
    alt_deg: float
    d_az_deg: float
    d_alt_deg: float
    hit_chance: float


class MapStar(Record, frozen=True, kw_only=True):
    name: str
    az_deg: float
    alt_deg: float
    v_mag: float


class MapBody(Record, frozen=True, kw_only=True):
    az_deg: float
    alt_deg: float


class MapSighting(Record, frozen=True, kw_only=True):
    star: str
    az_deg: float
    alt_deg: float
    set_aside: bool


class MapFigure(Record, frozen=True, kw_only=True):
    """A figure of stars that everybody knows: ``lines_deg``, each from azimuth and altitude to
    azimuth and altitude, as far as they are up."""

    name: str
    lines_deg: tuple[tuple[float, float, float, float], ...]


class MapHours(Record, frozen=True, kw_only=True):
    """From when to when stars can be sighted tonight."""

    from_utc: str
    until_utc: str


class MapAnswer(Record, frozen=True, kw_only=True):
    """``/data/map``: the sky at ``at_utc``; ``later``: that is another hour than now.

    ``hours``: those that may be asked for, None where the Sun does not set. ``chosen``: the stars
    to sight, where they then stand. ``predicted`` while there is no fix; ``words``: the map in a
    sentence.
    """

    at_utc: str
    later: bool
    hours: MapHours | None
    chosen: tuple[MapStar, ...]
    figures: tuple[MapFigure, ...]
    cells: tuple[MapCell, ...]
    predicted: bool
    stars: tuple[MapStar, ...]
    skyline_deg: tuple[tuple[float, float], ...]
    moon: MapBody
    sun: MapBody
    sightings: tuple[MapSighting, ...]
    words: str


class HiddenRow(Record, frozen=True, kw_only=True):
    """A term of a simulated mount, in words with its unit; ``solved`` with its sigma, empty without
    a fix."""

    label: str
    hidden: str
    solved: str


class HiddenAnswer(Record, frozen=True, kw_only=True):
    """``/data/hidden``, of a rehearsal: what was hidden, beside what was solved."""

    sentence: str
    rows: tuple[HiddenRow, ...]


class CirclesAnswer(Record, frozen=True, kw_only=True):
    """``/data/circles``, of a rehearsal: what the simulated circles show, as finely as the kit says
    that they are read; ``eye``: what is in the eyepiece, in words."""

    az_deg: float
    alt_deg: float
    eye: str


class TownRecord(Record, frozen=True, kw_only=True):
    label: str
    lat_deg: float
    lon_deg: float
    time_zone: str
    words: str


class PlaceAnswer(Record, frozen=True, kw_only=True):
    """``/data/place``: coordinates read, sites kept, towns; else why nothing was found."""

    read: SiteRecord | None = None
    sites: tuple[SiteRecord, ...] = ()
    towns: tuple[TownRecord, ...] = ()
    error: str = ""


class OwnObjectRecord(Record, frozen=True, kw_only=True):
    name: str
    words: str


class OwnAnswer(Record, frozen=True, kw_only=True):
    """``/data/own``."""

    objects: tuple[OwnObjectRecord, ...]


class WorthRecord(Record, frozen=True, kw_only=True):
    """An object of tonight's order: how hard, why, with what and for how long.

    ``with_what`` names eyepiece and filter, if one helps; ``second_eyepiece`` is empty for none.

    ``target_name`` is its name in the picture once it is the target; ``start`` by the site’s clock.
    """

    name: str
    target_name: str
    label: str
    short: str
    difficulty: str
    reason: str
    what: str
    eyepiece: str
    with_what: str
    second_eyepiece: str
    minutes: int
    chance: float
    chance_words: str
    start: str


class VisitRecord(WorthRecord, frozen=True, kw_only=True):
    """A stop of the order; ``push`` is how far to push to it, in words."""

    soon: bool
    note: str
    push: str
    hit_chance: float | None
    hit_chance_words: str
    where: str
    alt_deg: float
    done: bool


class AgendaAnswer(Record, frozen=True, kw_only=True):
    """``/data/agenda``: tonight's order. ``difficulties``: what each is called on the page.
    ``supposed``: what was supposed of the night in place of what is, empty for nothing; the sky at
    the zenith and the width of a star in the air are those that it was judged by."""

    answer: str
    light: str
    late: str | None
    next: VisitRecord | None
    visits: tuple[VisitRecord, ...]
    more: tuple[WorthRecord, ...]
    more_count: int
    order_note: str
    difficulties: dict[str, str]
    supposed: str
    zenith_mag: float
    seeing_arcsec: float


class LongerAnswer(Record, frozen=True, kw_only=True):
    """``/data/longer``: what so many minutes more at the same object cost of tonight's order, and
    the names of what would be lost."""

    answer: str
    minutes: int
    lost: tuple[str, ...]


class OutingHead(Record, frozen=True, kw_only=True):
    """An outing's place, telescope and hours; ``clock`` is that of its own site and night."""

    id: int
    site: str
    kit: str
    started_utc: str
    ended_utc: str | None
    clock: SiteClock


class OutingLine(OutingHead, frozen=True, kw_only=True):
    """A line of the log, with the numbers of sightings and finds."""

    sightings: int
    finds: int


class LogAnswer(Record, frozen=True, kw_only=True):
    """``/data/log``, newest first."""

    outings: tuple[OutingLine, ...]


class LoggedStar(SavedSighting, frozen=True, kw_only=True):
    number: int
    eyepiece: str


class LoggedFind(Record, frozen=True, kw_only=True):
    """An object looked for: where the fix put it, and where it was."""

    number: int
    target: str
    utc: str
    found: bool
    predicted_az_deg: float | None
    predicted_alt_deg: float | None
    found_az_deg: float | None
    found_alt_deg: float | None
    eyepiece: str


class LoggedNote(Record, frozen=True, kw_only=True):
    utc: str
    text: str


class LoggedShown(Record, frozen=True, kw_only=True):
    """What was tapped beside a closed controller, and what it showed, both in words."""

    utc: str
    what: str
    shown: str


class OutingAnswer(OutingHead, frozen=True, kw_only=True):
    """``/data/log/ID``: one outing in full; ``fix``: the sentence of the last fix, or None.

    ``shown``: beside a closed controller, in place of sightings.
    """

    shown: tuple[LoggedShown, ...]
    sightings: tuple[LoggedStar, ...]
    finds: tuple[LoggedFind, ...]
    looks: tuple[LoggedLookLine, ...]
    sky: SkyTonight | None
    notes: tuple[LoggedNote, ...]
    fix: str | None


class ClockAnswer(Record, frozen=True, kw_only=True):
    """``/data/clock``."""

    server_ms: float
    finding: ClockFinding | None


class VersionAnswer(Record, frozen=True, kw_only=True):
    """``/data/version``."""

    version: int


class MissingBookAnswer(Record, frozen=True, kw_only=True):
    """``/data/missing-book``: the logbook that is not what it was, and the copy beside it. The
    sentences are whole; the last two stand on the two buttons."""

    what: str
    copy: str
    question: str
    nothing_lost: str
    bring_back: str
    go_on_without: str
