"""Answers about what is wrong with the mount and what to do about it."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import InUnit, Report
from plumbstar.contract.answers.pointing import TakenReport
from plumbstar.contract.mending import (
    CauseSaid,
    ChangeSaid,
    InputSaid,
    MeasuredSaid,
    PhotographSaid,
    ShimsSaid,
)
from plumbstar.contract.parts import CheckSaid, CheckText


class ShimMoveReport(Report, frozen=True, kw_only=True):
    thickness_mm: float
    count: int


class ShimHitsReport(Report, frozen=True, kw_only=True):
    """Hit chances before and after the shims, with the stop trusted and with it solved."""

    trusting_stop_before: float
    trusting_stop_after: float
    solving_stop_before: float
    solving_stop_after: float
    solving_with_third_star: float


class ShimPlanReport(ShimsSaid, Report, frozen=True, kw_only=True):
    """What to put under the stop or take out; ``short_of``: the shims at hand cannot come near."""

    offset_deg: float
    offset_sigma_deg: float
    deg_per_mm: float
    wanted_mm: float
    wanted_sigma_mm: float
    moves: tuple[ShimMoveReport, ...]
    moved_mm: float
    left_deg: float
    left_sigma_deg: float
    short_of: bool
    field_deg: float
    hit_chance: ShimHitsReport
    verdict: str


class ShimsLackingReport(Report, frozen=True, kw_only=True):
    """Why nothing can be said of shims: the kit does not tell enough."""

    error: str
    remedy: str


class StarToCheck(Report, frozen=True, kw_only=True):
    """A star to sight, and what the circles should then say (azimuth, altitude) if the cause is
    true, and if its rival is; ``sigmas``: how clearly the two differ."""

    star: str
    utc: str | None
    rival: str
    reading_deg: tuple[float, float]
    rival_reading_deg: tuple[float, float]
    apart_deg: float
    sigmas: float


#: One particular of a cause.
Detail = float | int | str | bool | tuple[str, ...] | dict[str, float] | None


class CauseReport(CauseSaid, Report, frozen=True, kw_only=True):
    """One cause of a bad outing. ``detail``: its particulars, which differ by
    kind (docs/why.md), with their units in the names."""

    advice: str
    detail: dict[str, Detail]
    star_check: StarToCheck | None


class MeasuredReport(MeasuredSaid, Report, frozen=True, kw_only=True):
    """A term of the mount well away from zero, or two that are one arrow (then ``value`` is its
    length): told whatever the cause is called."""

    terms: tuple[str, ...]
    value_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    value_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET
    advice: str


class WhyReport(Report, frozen=True, kw_only=True):
    verdict: str
    can_tell: bool
    causes: tuple[CauseReport, ...]
    notes: tuple[str, ...]
    measured: tuple[MeasuredReport, ...]
    understood: tuple[str, ...] | msgspec.UnsetType = msgspec.UNSET
    reply: str | msgspec.UnsetType = msgspec.UNSET
    #: What a message leaves to be asked for.
    asks: str | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class SkyHitsReport(Report, frozen=True, kw_only=True):
    """Hit chances over the sky above 20 degrees, by what is done before the push."""

    one_star: float
    two_stars: float
    trusting_stop: float


class TermPointReport(Report, frozen=True, kw_only=True):
    """What one outing says of a term; null where it says nothing."""

    outing: int
    utc: str | None
    value_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    value_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET


class TermHistoryReport(Report, frozen=True, kw_only=True):
    """A lasting term over the outings: now, in the next outing, and as the kit has it."""

    term: str
    value_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    next_sigma_deg: InUnit = msgspec.UNSET
    kit_value_deg: InUnit = msgspec.UNSET
    kit_sigma_deg: InUnit = msgspec.UNSET
    value_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET
    next_sigma_percent: InUnit = msgspec.UNSET
    kit_value_percent: InUnit = msgspec.UNSET
    kit_sigma_percent: InUnit = msgspec.UNSET
    steady_probability: float
    jumped_probability: float
    drifts_probability: float
    trust: str
    points: tuple[TermPointReport, ...]


class TermChangeReport(ChangeSaid, Report, frozen=True, kw_only=True):
    """A jump between two outings, or a drift over all."""

    kind: str
    term: str
    probability: float
    size_deg: InUnit = msgspec.UNSET
    size_sigma_deg: InUnit = msgspec.UNSET
    size_percent: InUnit = msgspec.UNSET
    size_sigma_percent: InUnit = msgspec.UNSET
    outing: int | None
    before: int | None
    utc: str | None
    outing_probability: float


class JobReport(Report, frozen=True, kw_only=True):
    """Something to mend, and what each way of pointing would gain in hit chance."""

    term: str
    what: str
    advice: str
    gain: float
    gain_one_star: float
    gain_two_stars: float
    gain_trusting_stop: float


class StopMendedReport(Report, frozen=True, kw_only=True):
    """The last mend of the stop whose pieces were told: how much thicker it made what is under the
    stop, by how much that was to move it, the chance that it went the other way, and how many
    outings have told since."""

    utc: str
    added_mm: float
    told_deg: float
    other_way_probability: float
    outings: int
    adding: str


class PushesKeptReport(Report, frozen=True, kw_only=True):
    """Of the last ``pushes`` in the logbook: how many the stated chances promised to land in the
    field, with one sigma of chance alone, and how many did. ``sentence`` is empty for too few."""

    pushes: int
    promised: float
    promised_sigma_pushes: float
    landed: int
    sentence: str


class CentringLearntReport(Report, frozen=True, kw_only=True):
    """How closely this observer centres stars (1 sigma on each axis), learnt from ``outings``;
    ``low`` to ``high``: 1 sigma about it; ``differs``: surely another value than the kit's."""

    centring_arcmin: float
    low_arcmin: float
    high_arcmin: float
    kit_centring_arcmin: float
    outings: int
    differs: bool
    sentence: str


class MountReport(Report, frozen=True, kw_only=True):
    kit: str
    eyepiece: str
    left_out: tuple[int, ...]
    centring: CentringLearntReport | None
    pushes: PushesKeptReport | None
    outings: int
    sentence: str
    steady_probability: float
    field_deg: float
    hit_chance: SkyHitsReport
    terms: tuple[TermHistoryReport, ...]
    changes: tuple[TermChangeReport, ...]
    jobs: tuple[JobReport, ...]
    shims: ShimPlanReport | msgspec.UnsetType = msgspec.UNSET
    shims_lacking: ShimsLackingReport | msgspec.UnsetType = msgspec.UNSET
    stop_mended: StopMendedReport | msgspec.UnsetType = msgspec.UNSET


class MountBesideReport(Report, frozen=True, kw_only=True):
    """``plumbstar mount`` beside a closed controller, which gives no readings: how many of its
    nights teach, where the stop is by them (null without any), and the promises."""

    kit: str
    nights: int
    sentence: str
    stop_deg: float | None
    stop_sigma_deg: float | None
    pushes: PushesKeptReport | None


class LearntTermReport(Report, frozen=True, kw_only=True):
    """What past outings teach of a term, beside the kit's prior."""

    term: str
    value_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    kit_value_deg: InUnit = msgspec.UNSET
    kit_sigma_deg: InUnit = msgspec.UNSET
    scatter_deg: InUnit = msgspec.UNSET
    value_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET
    kit_value_percent: InUnit = msgspec.UNSET
    kit_sigma_percent: InUnit = msgspec.UNSET
    scatter_percent: InUnit = msgspec.UNSET
    outings: tuple[int, ...]
    odd_outings: tuple[int, ...]
    since_utc: str | None


class PriorsReport(Report, frozen=True, kw_only=True):
    """``kit_toml``: what was learnt as lines for a kit file. ``beside``: what nights and pushes
    beside a closed controller tell; null with other kits, or before the first."""

    kit: str
    kit_toml: str
    outings: tuple[int, ...]
    left_out: tuple[int, ...]
    centring: CentringLearntReport | None
    pushes: PushesKeptReport | None
    terms: tuple[LearntTermReport, ...]
    beside: MountBesideReport | None = None


class CheckInputReport(InputSaid, Report, frozen=True, kw_only=True):
    """How many values it takes, and between which bounds each."""

    many: bool
    at_least: int
    low: float
    high: float
    text: bool


class CheckTextReport(CheckText, Report, frozen=True, kw_only=True):
    """A bench check, with what is to be written down."""

    inputs: tuple[CheckInputReport, ...]


class ChecksReport(Report, frozen=True, kw_only=True):
    checks: tuple[CheckTextReport, ...]


class OneCheckReport(Report, frozen=True, kw_only=True):
    check: CheckTextReport


class CheckNumberReport(Report, frozen=True, kw_only=True):
    """A figure of a verdict in ``unit``; ``low`` and ``high`` hold it with 95 in 100."""

    key: str
    label: str
    value: float
    unit: str
    low: float | None
    high: float | None


class VerdictReport(CheckSaid, Report, frozen=True, kw_only=True):
    """What a bench check says of a kit."""

    check: str
    kit: str
    numbers: tuple[CheckNumberReport, ...]


class FindingReport(Report, frozen=True, kw_only=True):
    """One question about this computer, answered."""

    about: str
    state: str
    sentence: str
    remedy: str


class InstallationReport(Report, frozen=True, kw_only=True):
    good: bool
    findings: tuple[FindingReport, ...]


class CircleReport(Report, frozen=True, kw_only=True):
    """A fitted circle in the picture, with 1 sigma of its centre (on each axis) and radius."""

    x_px: float
    y_px: float
    radius_px: float
    centre_sigma_px: float
    radius_sigma_px: float


class CollimationReport(PhotographSaid, Report, frozen=True, kw_only=True):
    """What a picture of a defocused star says; docs/collimate.md explains the numbers.

    ``offset_*``: of the shadow from the disc's middle, in disc radii. ``clock_hours``: the
    direction as on a clock's face. ``obstruction`` and ``burnt`` are parts of the disc.
    """

    reason: str
    verdict: str
    outer: CircleReport | None
    inner: CircleReport | None
    offset_fraction: float | None
    offset_sigma: float | None
    across_sigma: float | None
    offset_right: float | None
    offset_down: float | None
    direction_deg: float | None
    direction_sigma_deg: float | None
    seen_deg: float | None
    obstruction: float | None
    burnt: float
    focal_ratio: float | None
    defocus_mm: float | None
    coma_free_mm: float | None
    axis_diameters: float | None
    axis_mm: float | None
    outside_beyond_mm: float | None
    up_clock_hours: float
    mirrored: bool
    fixed_right: float | None
    fixed_down: float | None
    advice: tuple[str, ...]
