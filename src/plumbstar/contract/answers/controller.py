"""Answers about the one number that a controller shows after two stars."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import Report
from plumbstar.contract.answers.mending import ShimPlanReport, ShimsLackingReport
from plumbstar.contract.answers.pointing import TakenReport


class NumberPartReport(Report, frozen=True, kw_only=True):
    """What one cause gives to the number."""

    what: str
    deg: float
    sigma_deg: float
    known: bool


class WrongStarReport(Report, frozen=True, kw_only=True):
    """Another star, sighted for the one meant, and what the number would then be."""

    meant: str
    star: str
    probability: float
    would_show_deg: float


class RuleReport(Report, frozen=True, kw_only=True):
    """A rule of thumb; ``agrees``: whether the arithmetic does, null where it cannot say."""

    rule: str
    source: str
    says: str
    agrees: bool | None
    because: str


class PairReport(Report, frozen=True, kw_only=True):
    """Two stars of a controller's number; ``seconds`` from the first to the second."""

    star_a: str
    star_b: str
    a_az_deg: float
    a_alt_deg: float
    b_az_deg: float
    b_alt_deg: float
    true_deg: float
    drift_deg: float
    air_deg: float
    seconds: float
    upright_seconds: float | None


class NumberReport(Report, frozen=True, kw_only=True):
    """What one number says. ``sensitivity``: how much of a stop's offset it shows."""

    shown_deg: float
    misclosure_deg: float
    sensitivity: float
    parts: tuple[NumberPartReport, ...]
    rest_deg: float
    rest_sigma_deg: float
    stop_alone_deg: float | None
    stop_deg: float
    stop_sigma_deg: float
    stop_prior_sigma_deg: float
    right_stars_probability: float
    fumbled_probability: float
    wrong_stars: tuple[WrongStarReport, ...]
    clockless_probability: float
    decides: bool
    sentence: str
    next_step: str
    rules: tuple[RuleReport, ...]
    pair: PairReport
    notes: tuple[str, ...]
    shims: ShimPlanReport | msgspec.UnsetType = msgspec.UNSET
    shims_lacking: ShimsLackingReport | msgspec.UnsetType = msgspec.UNSET
    reply: str | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class NightReport(Report, frozen=True, kw_only=True):
    label: str
    shown_deg: float
    sensitivity: float
    drift_deg: float
    left_deg: float
    bad_probability: float


class NumbersReport(Report, frozen=True, kw_only=True):
    """What the numbers of several nights say together."""

    stop_deg: float
    stop_sigma_deg: float
    stop_prior_sigma_deg: float
    clockless_probability: float
    centring_deg: float
    centring_sigma_deg: float
    evenings: tuple[NightReport, ...]
    decides: bool
    sentence: str
    next_step: str
    rules: tuple[RuleReport, ...]
    notes: tuple[str, ...]
    shims: ShimPlanReport | msgspec.UnsetType = msgspec.UNSET
    shims_lacking: ShimsLackingReport | msgspec.UnsetType = msgspec.UNSET
    reply: str | msgspec.UnsetType = msgspec.UNSET
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET


class SignReport(Report, frozen=True, kw_only=True):
    """What a shim's effect on the number says of its sign."""

    measured_minus_true_probability: float
    sign: str | None
    adding_if_measured_minus_true: str
    per_mm_deg: float
    per_mm_sigma_deg: float
    to_zero_mm: float | None
    size_ratio: float | None
    sentence: str
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET
