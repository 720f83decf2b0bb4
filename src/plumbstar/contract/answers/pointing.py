"""Answers about the mount tonight: the fix, the push, which stars to sight, the demo."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import InUnit, Report
from plumbstar.contract.answers.naming import FoundStarReport, InsteadReport, NextLookReport
from plumbstar.contract.answers.sky import SiteReport


class TakenReport(Report, frozen=True, kw_only=True):
    """What a command took from the logbook as it was not told: kit and site are null where they
    were given. ``outings``: those that taught something of the mount."""

    logbook: str
    kit: str | None
    site: SiteReport | None
    outings: tuple[int, ...]
    sentence: str


class TermReport(Report, frozen=True, kw_only=True):
    """A term of the mount. ``from_data``: the share of what is known that the sightings told."""

    value_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    value_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET
    from_data: float


class SightingInFixReport(Report, frozen=True, kw_only=True):
    """One sighting and what the fix leaves of it, true place minus solved.

    ``star``: as named, or as found where it was "?"; ``named_probability``: that it is that one,
    null where the observer named it; ``or_star``: what else it may be. ``it_was``: the star that
    fits where the one named does not.
    """

    star: str
    utc: str | None
    true_az_deg: float
    true_alt_deg: float
    az_reading_deg: float
    alt_reading_deg: float
    residual_across_arcsec: float
    residual_up_arcsec: float
    residual_arcsec: float
    set_aside: bool
    named_probability: float | None = None
    or_star: tuple[FoundStarReport, ...] = ()
    it_was: InsteadReport | None = None


class MisclosureReport(Report, frozen=True, kw_only=True):
    """The angle between two stars, and by how much the readings make it another."""

    stars: tuple[str, str]
    true_deg: float
    misclosure_deg: float


class SuspectReport(Report, frozen=True, kw_only=True):
    star: str
    probability: float


class MovedReport(Report, frozen=True, kw_only=True):
    """Something seems to have moved between two sightings; ``sight_again`` would tell.

    ``by_deg``: how far the one circle's zero moved; null where more than one number did.
    """

    between: tuple[str, str]
    what: tuple[str, ...]
    by_deg: float | None
    probability: float
    sight_again: str | None


class FixReport(Report, frozen=True, kw_only=True):
    """A solved mount; terms by name, and those that the kit holds at zero left out.

    ``mean_hit_chance``: over the sky above 20 degrees, in a true field of ``field_deg``.
    """

    sentence: str | msgspec.UnsetType = msgspec.UNSET
    mean_hit_chance: float | msgspec.UnsetType = msgspec.UNSET
    field_deg: float | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET
    terms: dict[str, TermReport]
    rms_arcsec: float
    centring_arcmin: float
    centring_from_data: bool
    misfit_probability: float | None
    sightings: tuple[SightingInFixReport, ...]
    misclosures: tuple[MisclosureReport, ...]
    set_aside: tuple[str, ...]
    suspects: tuple[SuspectReport, ...]
    moved: MovedReport | None
    next_look: NextLookReport | None = None
    notes: tuple[str, ...]
    advice: tuple[str, ...]


class PushNumbers(Report, frozen=True, kw_only=True):
    """From a reading to a target's. Positive ``push_az_deg`` is to the right (clockwise seen from
    above). ``patch_*``: the ellipse in which the target lies with the chance of one sigma.
    """

    target: str
    to_az_deg: float
    to_alt_deg: float
    push_az_deg: float
    push_alt_deg: float
    target_az_deg: float
    target_alt_deg: float
    hit_chance: float
    field_deg: float
    patch_major_deg: float
    patch_minor_deg: float
    patch_angle_deg: float
    seconds: float


class PushReport(PushNumbers, frozen=True, kw_only=True):
    """A push with its sentence, and what the command adds."""

    sentence: str
    warnings: tuple[str, ...] = ()
    utc: str | msgspec.UnsetType = msgspec.UNSET
    field: str | msgspec.UnsetType = msgspec.UNSET
    notes: tuple[str, ...] | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class LookAlikeReport(Report, frozen=True, kw_only=True):
    """A star that may be taken for another; ``right_deg``, ``up_deg`` from that one."""

    name: str
    distance_deg: float
    right_deg: float
    up_deg: float
    v_mag: float
    colour: str
    sentence: str


class CandidateReport(Report, frozen=True, kw_only=True):
    star: str
    key: str
    v_mag: float
    colour: str
    az_deg: float
    alt_deg: float
    where: str
    visible_from_utc: str | None
    lookalikes: tuple[LookAlikeReport, ...]


class StarSetReport(Report, frozen=True, kw_only=True):
    """A pair or triple; ``after_costs`` is its hit chance less the trouble of sighting it."""

    stars: tuple[str, ...]
    mean_hit_chance: float
    after_costs: float
    hit_chance_trusting_stop: float
    push_deg: float
    cautions: tuple[str, ...]


class NextStarReport(Report, frozen=True, kw_only=True):
    star: str
    mean_hit_chance_now: float
    mean_hit_chance_after: float
    sentence: str
    notes: tuple[str, ...]


class ChoiceReport(Report, frozen=True, kw_only=True):
    utc: str
    field_deg: float
    field: str
    asked_utc: str
    sun_alt_deg_when_asked: float
    sets: tuple[StarSetReport, ...]
    common_practice: StarSetReport | None
    stars: tuple[CandidateReport, ...]
    sets_scored: int
    next_star: NextStarReport | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class DemoVisitReport(Report, frozen=True, kw_only=True):
    """One object of the demo: the push, and where it really landed."""

    push: PushReport
    off_deg: float
    in_field: bool
    off_trusting_stop_deg: float
    in_field_trusting_stop: bool


class TruthReport(Report, frozen=True, kw_only=True):
    """A term as hidden and as found."""

    term: str
    truth_deg: InUnit = msgspec.UNSET
    estimate_deg: InUnit = msgspec.UNSET
    sigma_deg: InUnit = msgspec.UNSET
    truth_percent: InUnit = msgspec.UNSET
    estimate_percent: InUnit = msgspec.UNSET
    sigma_percent: InUnit = msgspec.UNSET


class DemoReport(Report, frozen=True, kw_only=True):
    site: str
    choice: StarSetReport
    common_practice: StarSetReport | None
    fix: FixReport
    objects: tuple[DemoVisitReport, ...]
    in_field: int
    in_field_trusting_stop: int
    truth: tuple[TruthReport, ...]
