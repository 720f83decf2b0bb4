"""The picture: all that the pages show between two changes. One event of the stream."""

from __future__ import annotations

from plumbstar.contract.beside import BesideRecord
from plumbstar.contract.next_action import NextAction
from plumbstar.contract.parts import (
    ChoiceRecord,
    ClockFinding,
    NextStarRecord,
    PatchRecord,
    SavedSighting,
    SiteClock,
    SiteRecord,
    ThingRecord,
    WasAnotherRecord,
)
from plumbstar.contract.record import Record
from plumbstar.contract.seen import SeenTonight


class EyepieceRecord(Record, frozen=True, kw_only=True):
    """An eyepiece of the kit."""

    name: str
    field_deg: float
    magnification: int


class CirclesRecord(Record, frozen=True, kw_only=True):
    """Whether the circles count backwards: readings are sent in the mount's own sense."""

    az_reversed: bool
    alt_reversed: bool


class KitRecord(Record, frozen=True, kw_only=True):
    """The telescope; ``eyepiece`` and ``field_deg`` are those in use. ``presses_kept_s``: how late
    a press may come and still be of use: ten minutes with encoders, half a night without."""

    name: str
    eyepieces: tuple[EyepieceRecord, ...]
    eyepiece: str
    field_deg: float
    connection: str
    presses_kept_s: float
    circles: CirclesRecord
    toml: str


class SkylineRecord(Record, frozen=True, kw_only=True):
    """``points_deg``: azimuth and altitude of each."""

    text: str
    points_deg: tuple[tuple[float, float], ...]


class SunRecord(Record, frozen=True, kw_only=True):
    alt_deg: float
    az_deg: float
    up: bool
    filter_confirmed: bool
    sentence: str


class OutingNow(Record, frozen=True, kw_only=True):
    """The outing in progress."""

    id: int
    number: int
    started_utc: str
    ended_utc: str | None


class LookalikeRecord(Record, frozen=True, kw_only=True):
    """A star easily taken for another: where it stands from that one, as the eye sees it."""

    name: str
    distance_deg: float
    right_deg: float
    up_deg: float
    v_mag: float
    colour: str
    sentence: str


class PlannedStar(Record, frozen=True, kw_only=True):
    """A star chosen for tonight; the readings are where the circles should stand, by the fix.

    ``near_sun``: why its place is not named now; empty where it is.
    """

    star: str
    label: str
    v_mag: float
    colour: str
    done: bool
    az_deg: float | None
    alt_deg: float | None
    where: str
    visible_from_utc: str | None
    lookalikes: tuple[LookalikeRecord, ...]
    az_reading_deg: float | None
    alt_reading_deg: float | None
    near_sun: str = ""


class PictureSighting(SavedSighting, frozen=True, kw_only=True):
    """A sighting of this outing; left out by hand or by the fix, with the reason."""

    id: int
    residual_arcmin: float | None


class TermRecord(Record, frozen=True, kw_only=True):
    """A term of the mount: in degrees or, for a scale, in percent; the other pair is None.

    ``from_data``: the sightings' share of it, 0 to 1, the rest was believed beforehand.
    """

    name: str
    label: str
    value_deg: float | None
    sigma_deg: float | None
    value_percent: float | None
    sigma_percent: float | None
    from_data: float
    meaning: str


class LearntTerm(Record, frozen=True, kw_only=True):
    """A term as past outings teach it; units as in :class:`TermRecord`."""

    name: str
    label: str
    value_deg: float | None
    sigma_deg: float | None
    value_percent: float | None
    sigma_percent: float | None
    outings: int


class MisclosureRecord(Record, frozen=True, kw_only=True):
    """Measured less true angle between two stars."""

    stars: tuple[str, str]
    true_deg: float
    misclosure_deg: float


class CutRecord(Record, frozen=True, kw_only=True):
    """Where the observer said that something moved: after the sighting of that id."""

    after: int
    sentence: str


class FixRecord(Record, frozen=True, kw_only=True):
    """The fix: the sentence first, then the terms, then what is weak."""

    sentence: str
    mean_hit_chance: float
    terms: tuple[TermRecord, ...]
    notes: tuple[str, ...]
    contradictory: bool
    cuts: tuple[CutRecord, ...]
    misclosures: tuple[MisclosureRecord, ...]
    rms_arcmin: float
    others: tuple[WasAnotherRecord, ...] = ()
    others_button: str = ""


class PriorsRecord(Record, frozen=True, kw_only=True):
    """What past outings have taught of this telescope."""

    sentence: str
    outings: int
    terms: tuple[LearntTerm, ...]


class SweepRecord(Record, frozen=True, kw_only=True):
    """A search: ``index`` is the field to look at now, its readings where the circles then stand.

    ``stops_deg`` are right and up of the target's predicted place; ``found_by`` the chance that it
    lies in the fields up to each, and ``found_by_words`` that of the present one.
    """

    index: int
    stops_deg: tuple[tuple[float, float], ...]
    found_by: tuple[float, ...]
    found_by_words: str
    az_reading_deg: float
    alt_reading_deg: float


class SunToldRecord(Record, frozen=True, kw_only=True):
    """What the Sun, or not knowing where it is, forbids: ``answer`` in one short line, ``caution``
    with what to do, ``more`` with the figures, or empty."""

    answer: str
    caution: str
    more: str


class TargetRecord(ThingRecord, frozen=True, kw_only=True):
    """What to push to. The readings are where the circles then stand; None without a push.

    ``refused``: why nothing leads there; ``refused_field``: it is only this field of the search.
    ``way_barred``: why no way there is shown, though it may be looked at.
    ``searching``: a search is under way, though the way to its field may not be shown.
    ``story``: what it is, how far and how old its light, in a line.
    ``doubt``: why the chance should be put to the test before it is relied on, or empty.
    ``seen_before``: when it was seen last, and with what, or empty.
    ``place``: a name for where it leads, with the field of a search; the stream's readings tell
    for which they were worked out.
    """

    az_deg: float
    alt_deg: float
    where: str
    place: str = ""
    az_reading_deg: float | None = None
    alt_reading_deg: float | None = None
    hit_chance: float | None = None
    hit_chance_words: str = ""
    patch: PatchRecord | None = None
    warnings: tuple[str, ...] = ()
    doubt: str = ""
    story: str = ""
    seen_before: str = ""
    refused: SunToldRecord | None = None
    way_barred: SunToldRecord | None = None
    refused_field: bool = False
    searching: bool = False
    sweep: SweepRecord | None = None


class SlipRecord(Record, frozen=True, kw_only=True):
    sentence: str


class DoubtRecord(Record, frozen=True, kw_only=True):
    """A press that cannot be what it says, by the page's name for it; ``yes`` is on the button.
    ``near``: on the button that saves it as of the star that stands there; empty without one.
    ``star``: what was said to be centred; ``typed``: its readings can be typed again;
    ``exchanged``: typed the other way round they would do. ``stop_untold``: the answer is to put
    the tube on its stop and say so; ``yes`` is empty then."""

    id: str
    star: str
    sentence: str
    yes: str
    near: str = ""
    typed: bool = False
    exchanged: bool = False
    stop_untold: bool = False


class StopRecord(Record, frozen=True, kw_only=True):
    """What is known of the upright stop, with encoders; ``asks``: the observer should tell it, if
    the altitude reads less than ``below_deg``, where nothing is looked at (None: in any case)."""

    sentence: str
    asks: bool
    below_deg: float | None


class NamelessRecord(Record, frozen=True, kw_only=True):
    """Stars that were centred and have no name yet: ``names``, what each may be; ``next``, where
    one more would decide; ``question``, or empty: whether that of ``press`` is deep orange, or
    where ``pair`` is not empty, which of those two presses was the brighter, called ``called``."""

    count: int
    sentence: str
    names: tuple[str, ...]
    next: str
    question: str
    press: str
    pair: tuple[str, ...] = ()
    called: tuple[str, ...] = ()


class MovedRecord(Record, frozen=True, kw_only=True):
    """The question whether something moved after that sighting; ``since``: how many came after."""

    after: int
    since: int
    sentence: str


class MessageRecord(Record, frozen=True, kw_only=True):
    """``kind`` is problem or info."""

    id: str
    text: str
    kind: str


class UndoRecord(Record, frozen=True, kw_only=True):
    """What undo would take back: in full, and short enough for a button."""

    words: str
    button: str


class PairingRecord(Record, frozen=True, kw_only=True):
    """The address for another phone; ``secure``: over https."""

    url: str
    secure: bool


class TimesOffer(Record, frozen=True, kw_only=True):
    """Saved times that the present clock shows to be wrong; ``by`` in words."""

    sentence: str
    count: int
    by: str


class TimingRecord(Record, frozen=True, kw_only=True):
    """What is known of the clock; ``compare``: whether a phone's may be held against it."""

    compare: bool
    source: str
    sentence: str
    findings: tuple[ClockFinding, ...]
    offer: TimesOffer | None


class SunQuestionRecord(Record, frozen=True, kw_only=True):
    """Guidance waits for the answer of somebody at the telescope. ``why`` it is asked; ``told``:
    that it was answered with no, empty while nobody has answered."""

    question: str
    why: str
    told: str


class RehearsalRecord(Record, frozen=True, kw_only=True):
    """The telescope is simulated: ``own_kit``: after the observer's own. ``back_port``: where the
    pages are from which it was begun; None where it was not begun from any. ``controller``: there
    is a simulated closed controller, whose display the pages show. ``circles``: simulated circles
    are read by eye, and the pages show them; ``eyepiece``: they tell what it shows."""

    own_kit: bool
    back_port: int | None
    controller: bool = False
    circles: bool = False
    eyepiece: bool = False


class Picture(Record, frozen=True, kw_only=True):
    """Everything the pages show. ``compass``: the eight points from north through east.
    ``aimed_star``: the star of the plan that was picked on a page to be sighted now, or empty.
    ``can_rehearse``: this evening can be gone through with a simulated telescope."""

    version: int
    now_utc: str
    server_unix_ms: int
    loading: bool
    compass: tuple[str, ...]
    site: SiteRecord | None
    sites: tuple[SiteRecord, ...]
    clock: SiteClock
    kit: KitRecord
    skyline: SkylineRecord
    sun: SunRecord | None
    outing: OutingNow | None
    choice: ChoiceRecord | None
    plan: tuple[PlannedStar, ...]
    next_star: NextStarRecord | None
    next: NextAction
    aimed_star: str
    sightings: tuple[PictureSighting, ...]
    fix: FixRecord | None
    priors: PriorsRecord | None
    target: TargetRecord | None
    slip: SlipRecord | None
    stop: StopRecord | None
    doubts: tuple[DoubtRecord, ...]
    nameless: NamelessRecord | None = None
    moved: MovedRecord | None
    messages: tuple[MessageRecord, ...]
    undo: UndoRecord | None
    pairing: PairingRecord | None
    timing: TimingRecord | None
    sun_question: SunQuestionRecord | None = None
    beside: BesideRecord | None = None
    seen: SeenTonight
    rehearsal: RehearsalRecord | None = None
    can_rehearse: bool = False
