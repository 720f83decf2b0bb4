"""Answers about what was seen."""

from __future__ import annotations

from plumbstar.contract.answers.base import Report
from plumbstar.contract.seen import HowSeen


class SeenLogLine(Report, frozen=True, kw_only=True):
    """One object on one occasion; ``kind`` is empty where no list has it."""

    outing: int
    name: str
    label: str
    kind: str
    constellation: str
    utc: str
    seen: HowSeen
    eyepiece: str
    kit: str
    site: str
    words: str
    sketches: int


class SeenLogReport(Report, frozen=True, kw_only=True):
    """``objects``: how many different ones were seen; ``looks``, the newest first."""

    objects: int
    looks: tuple[SeenLogLine, ...]
