"""Answers about which stars were sighted."""

from __future__ import annotations

from plumbstar.contract.answers.base import Report


class FoundStarReport(Report, frozen=True, kw_only=True):
    """A star that a nameless sighting may have been of."""

    star: str
    probability: float


class InsteadReport(Report, frozen=True, kw_only=True):
    """The star that a sighting was of in place of the one it names."""

    star: str
    apart_deg: float
    probability: float


class NextLookReport(Report, frozen=True, kw_only=True):
    """What would tell which stars they were: any bright star in a part of the azimuth circle (it
    may pass 0), over 38 degrees up or under; or the answer to a question."""

    from_az_reading_deg: float | None
    to_az_reading_deg: float | None
    upper: bool | None
    sentence: str | None
    question: str | None
