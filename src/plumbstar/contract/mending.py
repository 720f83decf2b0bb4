"""What the Mend page asks for: causes, the mount over its outings, bench checks, mirrors."""

from __future__ import annotations

from msgspec import field

from plumbstar.contract.parts import CheckSaid, CheckText
from plumbstar.contract.record import Record


class CauseRecord(Record, frozen=True, kw_only=True):
    """What may have gone wrong; ``check`` settles it, ``mend`` puts it right."""

    name: str
    sentence: str
    probability: float
    probability_words: str
    evidence: str
    check: str
    mend: str


class MeasuredRecord(Record, frozen=True, kw_only=True):
    """What is measured of the mount well away from zero, what it means, and its mend."""

    sentence: str
    mend: str


class WhyAnswer(Record, frozen=True, kw_only=True):
    """``/data/why``, the likeliest first."""

    sentence: str
    explanations: tuple[CauseRecord, ...]
    measured: tuple[MeasuredRecord, ...]
    notes: tuple[str, ...]


class JobRecord(Record, frozen=True, kw_only=True):
    """What to mend. ``gain_words``: for whom it is worth how much; empty where that is nothing."""

    sentence: str
    gain_in_hit_chance: float
    gain_two_stars: float
    gain_words: str


class ChangeRecord(Record, frozen=True, kw_only=True):
    sentence: str


class ShimAdvice(Record, frozen=True, kw_only=True):
    sentence: str
    steps: tuple[str, ...]


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
    """``/data/mount``."""

    sentence: str
    outings: int
    jobs: tuple[JobRecord, ...] = ()
    changes: tuple[ChangeRecord, ...] = ()
    shims: ShimAdvice | None = None
    left_out: tuple[str, ...] = ()
    hit_chances: dict[str, float] = field(default_factory=dict)
    terms: tuple[TermHistoryRecord, ...] = ()


class CheckInput(Record, frozen=True, kw_only=True):
    """Something to write down; ``kind`` is number, numbers or text; ``choices`` where it is one of
    several."""

    name: str
    label: str
    unit: str
    kind: str
    default: str | float | None
    choices: tuple[str, ...]


class CheckRecord(CheckText, frozen=True, kw_only=True):
    """A bench check, with what is to be written down."""

    inputs: tuple[CheckInput, ...]


class ChecksAnswer(Record, frozen=True, kw_only=True):
    """``/data/checks``."""

    sentence: str
    checks: tuple[CheckRecord, ...]


class CheckVerdict(CheckSaid, frozen=True, kw_only=True):
    """What the numbers written down mean."""

    numbers: tuple[str, ...]


class PhotographAnswer(Record, frozen=True, kw_only=True):
    """``/data/collimate``; ``overlay``: the picture with the circles found, as a data address."""

    sentence: str
    turn: str
    caveats: tuple[str, ...]
    can_judge: bool
    sides: int
    severity: str
    offset_percent: float | None
    offset_sigma_percent: float | None
    clock_hours: float | None
    seen_clock_hours: float | None
    seen: str
    obstruction_percent: float | None
    overlay: str | None
