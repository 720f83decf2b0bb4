"""Records that both the picture and other answers hold."""

from __future__ import annotations

from msgspec import field

from plumbstar.contract.record import Record


class SiteRecord(Record, frozen=True, kw_only=True):
    """``words``: its place, to read."""

    lat_deg: float
    lon_deg: float
    elevation_m: float
    name: str
    time_zone: str
    zenith_mag: float | None
    words: str


class ClockSpan(Record, frozen=True, kw_only=True):
    """From this moment on the site's clock is UTC plus the offset; ``short`` as "CET"."""

    from_utc: str
    offset_s: int
    short: str


class SiteClock(Record, frozen=True, kw_only=True):
    """How UTC becomes a site's own time."""

    zone: str
    spans: tuple[ClockSpan, ...]


class ThingRecord(Record, frozen=True, kw_only=True):
    """What can be pointed at. ``name`` is what the log calls it; ``double``: its pair in words."""

    name: str
    label: str
    kind: str
    constellation: str
    v_mag: float | None
    size_arcmin: float | None
    double: str


class SavedSighting(Record, frozen=True, kw_only=True):
    """A sighting as it was saved; ``corrected_by``: by how much its time was, in words."""

    star: str
    utc: str | None
    az_reading_deg: float
    alt_reading_deg: float
    true_az_deg: float
    true_alt_deg: float
    set_aside: bool
    reason: str
    origin: str
    corrected_by: str


class ClockFinding(Record, frozen=True, kw_only=True):
    """A doubt about a clock; ``off_s``: by how much it must be moved, None where unknown."""

    kind: str
    off_s: float | None
    sentence: str
    remedy: str


class CheckText(Record, frozen=True, kw_only=True):
    """A bench check: what it is for and how it is done."""

    id: str
    title: str
    why: str
    needs: tuple[str, ...]
    warning: str
    steps: tuple[str, ...]


class CheckSaid(Record, frozen=True, kw_only=True):
    """What a bench check says: ``state`` is good, mend or unsure."""

    state: str
    sentence: str
    mend: str


class StarSetRecord(Record, frozen=True, kw_only=True):
    """Stars to sight, in that order: the way from one to the next counts. The chances are means
    over the sky."""

    stars: tuple[str, ...]
    mean_hit_chance: float
    mean_hit_chance_words: str
    hit_chance_trusting_stop: float
    hit_chance_trusting_stop_words: str
    cautions: tuple[str, ...]
    push_deg: float


class ChoiceRecord(Record, frozen=True, kw_only=True):
    """The ranking of stars: ``status`` is working or ready.

    ``visible_from_utc``: from when each star shows, None for one that shows already.
    """

    status: str
    asked_utc: str
    pairs: tuple[StarSetRecord, ...] = ()
    triples: tuple[StarSetRecord, ...] = ()
    recipe: StarSetRecord | None = None
    for_objects: int = 0
    visible_from_utc: dict[str, str | None] = field(default_factory=dict)
    sentence: str = ""


class NextStarRecord(Record, frozen=True, kw_only=True):
    """The best next star and what it buys; ``worth_it``: so much that it is advised."""

    star: str
    mean_hit_chance_now: float
    mean_hit_chance_after: float
    sentence: str
    worth_it: bool


class PatchRecord(Record, frozen=True, kw_only=True):
    """The target's likely place, an ellipse of one sigma; the angle from right toward up."""

    major_deg: float
    minor_deg: float
    angle_deg: float


class WasAnotherRecord(Record, frozen=True, kw_only=True):
    """The sighting of that id was probably of ``star``, not of the one it was called."""

    sighting_id: int
    star: str
