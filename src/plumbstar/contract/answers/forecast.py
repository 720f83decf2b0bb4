"""Answers about an evening beside a controller that shows a number and what is left to push."""

from __future__ import annotations

import msgspec

from plumbstar.contract.answers.base import Report
from plumbstar.contract.answers.pointing import CandidateReport, TakenReport


class BeyondReport(Report, frozen=True, kw_only=True):
    """Where one object lies beyond the controller's zero, on the circles, right and up positive.

    ``hit_chance``: after the push on; ``hit_chance_at_zero``: without it. ``set_to``: what to
    choose on the controller: the object, or the nearest that it knows.
    """

    name: str
    set_to: str
    push_az_deg: float
    push_alt_deg: float
    sigma_az_deg: float
    sigma_alt_deg: float
    hit_chance: float
    hit_chance_at_zero: float
    alt_deg: float


class StopForecastReport(Report, frozen=True, kw_only=True):
    """The upright stop, true minus reading."""

    value_deg: float
    sigma_deg: float


class SharingReport(Report, frozen=True, kw_only=True):
    """How likely it is that the controller makes the first star exact, halves the contradiction
    between its two stars, makes the second exact, or does anything in between."""

    first: float
    shared: float
    second: float
    between: float


class MistakeReport(Report, frozen=True, kw_only=True):
    """What may have gone wrong: ``kind`` is none, star, number, find, slip, hand (rougher than the
    kit says) or mount (further off than it expects); ``index`` counts the stars, or what was
    centred, from one."""

    kind: str
    index: int
    probability: float


class ForecastReport(Report, frozen=True, kw_only=True):
    """Where objects lie beyond a controller's zero."""

    utc: str
    field_deg: float
    sentence: str
    targets: tuple[BeyondReport, ...]
    stop: StopForecastReport
    sharing: SharingReport
    clockless_probability: float
    mistakes: tuple[MistakeReport, ...]
    notes: tuple[str, ...]


class ControllerPairReport(Report, frozen=True, kw_only=True):
    """Two stars in the order in which a controller is told them: the mean chances over the targets
    that one is in the field, pushed on by its number and a look back, and at its zero."""

    stars: tuple[str, str]
    hit_chance: float
    hit_chance_at_zero: float
    push_deg: float
    cautions: tuple[str, ...]


class ControllerChoiceReport(Report, frozen=True, kw_only=True):
    """Pairs of a controller's own stars, the best first; ``own_pair``: the one asked about."""

    utc: str
    asked_utc: str
    field_deg: float
    field: str
    pairs: tuple[ControllerPairReport, ...]
    own_pair: ControllerPairReport | None
    stars: tuple[CandidateReport, ...]
    pairs_scored: int
    notes: tuple[str, ...]
    from_logbook: TakenReport | msgspec.UnsetType = msgspec.UNSET
