"""What the Mend page asks for: causes, the mount over its outings, bench checks, mirrors.

What a command answers too stands here once (``...Said``); each side adds what is its own.
"""

from __future__ import annotations

from typing import Literal

from plumbstar.contract.parts import CheckSaid, CheckText, WasAnotherRecord
from plumbstar.contract.record import Record


class CauseSaid(Record, frozen=True, kw_only=True):
    """What may have gone wrong; ``check`` settles it, ``mend`` puts it right. ``probability``: that
    it was this and nothing else; ``at_all``: that this happened, alone or beside something else; of
    "nothing" (and a stop that is all that shows) that nothing else went wrong that shows."""

    kind: str
    title: str
    probability: float
    at_all: float
    evidence: str
    check: str
    mend: str


class CauseDeed(Record, frozen=True, kw_only=True):
    """Something that a mend advises and one press does: set the sightings ``ids`` aside, enter
    those of ``others`` anew, or let the figures of ``axes`` run the other way; ``asks``: a question
    that the button answers, or empty."""

    do: Literal["set_aside", "enter_as", "turn_circles"]
    ids: tuple[int, ...]
    button: str
    others: tuple[WasAnotherRecord, ...] = ()
    axes: tuple[str, ...] = ()
    asks: str = ""


class CauseRecord(CauseSaid, frozen=True, kw_only=True):
    """``probability_words`` are those of ``at_all``."""

    probability_words: str
    deeds: tuple[CauseDeed, ...] = ()


class MeasuredSaid(Record, frozen=True, kw_only=True):
    """What is measured of the mount well away from zero, what it means, and its mend."""

    sentence: str
    mend: str


class WhyAnswer(Record, frozen=True, kw_only=True):
    """``/data/why``, the likeliest first. ``deeds``: what the sentence itself advises;
    ``star_first``: before any of it comes the star that every page asks for."""

    sentence: str
    causes: tuple[CauseRecord, ...]
    measured: tuple[MeasuredSaid, ...]
    notes: tuple[str, ...]
    deeds: tuple[CauseDeed, ...] = ()
    star_first: bool = False


class CoachAnswer(Record, frozen=True, kw_only=True):
    """``/data/coach``: a newcomer's message answered. ``reply``: fit to send; ``understood``: one
    line for each thing that was read; ``place``: where they are taken to be, empty where nobody
    knows; ``asks``: what the reply asks for."""

    reply: str
    understood: tuple[str, ...]
    place: str
    asks: str


class JobRecord(Record, frozen=True, kw_only=True):
    """What to mend. ``gain_words``: for whom it is worth how much; empty where that is nothing."""

    what: str
    gain_words: str


class ChangeSaid(Record, frozen=True, kw_only=True):
    """A jump or a drift of a term over the outings, beside that of which the lines speak."""

    sentence: str


class ShimsSaid(Record, frozen=True, kw_only=True):
    """What to put under the stop, or take out, and how."""

    sentence: str
    steps: tuple[str, ...]


class PieceSaid(Record, frozen=True, kw_only=True):
    """Shims of one thickness to put under the stop, or to take out (``count`` minus)."""

    thickness_mm: float
    count: int


class LastMend(Record, frozen=True, kw_only=True):
    """The kit's last mend of the stop, in a sentence. ``can_undo``: whether it can be taken back
    here."""

    id: int
    sentence: str
    can_undo: bool


class StopWork(Record, frozen=True, kw_only=True):
    """What may be recorded of the stop. ``advised``: the pieces of the advice, with their words,
    empty for none; ``on_hand_mm``: thicknesses that the kit has or that are in place."""

    advised: tuple[PieceSaid, ...]
    advised_words: str
    on_hand_mm: tuple[float, ...]
    last: LastMend | None


class NightPoint(Record, frozen=True, kw_only=True):
    """A term in one outing, in the unit of its term."""

    outing: int
    value: float
    sigma: float


class TermHistoryRecord(Record, frozen=True, kw_only=True):
    """A term over the outings, in degrees or, for a scale, in percent; the other pair is None."""

    label: str
    value_deg: float | None
    sigma_deg: float | None
    value_percent: float | None
    sigma_percent: float | None
    trust: str
    points: tuple[NightPoint, ...]


class MountAnswer(Record, frozen=True, kw_only=True):
    """``/data/mount``. ``hand``: how closely this observer centres stars; ``pushes``: how many were
    promised to land in the field, and did. Both empty while not known.

    ``picture``: stop, cone and lean over the outings, as SVG; empty for none. ``stop_work``: what
    was done to the stop, and may be recorded. ``lines``: what else is said after the sentence.
    ``adding``: raises or lowers, where outings tell that adding thickness does so and the kit does
    not say it; else empty.
    """

    sentence: str
    outings: int
    lines: tuple[str, ...] = ()
    adding: str = ""
    hand: str = ""
    pushes: str = ""
    jobs: tuple[JobRecord, ...] = ()
    changes: tuple[ChangeSaid, ...] = ()
    shims: ShimsSaid | None = None
    left_out: tuple[str, ...] = ()
    terms: tuple[TermHistoryRecord, ...] = ()
    picture: str = ""
    stop_work: StopWork | None = None


class InputSaid(Record, frozen=True, kw_only=True):
    """Something to write down in a bench check, in ``unit``; ``choices`` where it is one of
    several."""

    key: str
    label: str
    unit: str
    default: str | float | None
    choices: tuple[str, ...]


class CheckInput(InputSaid, frozen=True, kw_only=True):
    """``kind`` is number, numbers or text."""

    kind: str


class CheckRecord(CheckText, frozen=True, kw_only=True):
    """A bench check, with what is to be written down."""

    inputs: tuple[CheckInput, ...]


class ChecksAnswer(Record, frozen=True, kw_only=True):
    """``/data/checks``. ``cannot``: those that a closed controller is too closed for, a sentence
    each."""

    sentence: str
    checks: tuple[CheckRecord, ...]
    cannot: tuple[str, ...]


class CheckVerdict(CheckSaid, frozen=True, kw_only=True):
    """What the numbers written down mean. ``button``: takes it into the kit; empty where nothing
    is to be written there."""

    numbers: tuple[str, ...]
    button: str = ""


class PhotographSaid(Record, frozen=True, kw_only=True):
    """What a picture of a defocused star says of the mirrors; ``turn``: which way to turn them."""

    can_judge: bool
    turn: str
    caveats: tuple[str, ...]
    severity: str
    sides: int
    clock_hours: float | None
    seen_clock_hours: float | None


class PhotographAnswer(PhotographSaid, frozen=True, kw_only=True):
    """``/data/collimate`` and ``/data/mirrors_by_eye``.

    ``overlay``: the picture with the circles found, as a data address.
    """

    sentence: str
    offset_percent: float | None
    offset_sigma_percent: float | None
    seen: str
    obstruction_percent: float | None
    overlay: str | None
