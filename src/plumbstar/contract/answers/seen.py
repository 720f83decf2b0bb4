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


class ListReport(Report, frozen=True, kw_only=True):
    """A list to work through: how many of its ``objects`` were seen, and the labels of the rest.
    ``left_this_month`` is empty where no site is known; ``unknown``: names that mean nothing."""

    name: str
    objects: int
    seen: int
    left: tuple[str, ...]
    left_this_month: tuple[str, ...]
    unknown: tuple[str, ...]


class ListsReport(Report, frozen=True, kw_only=True):
    lists: tuple[ListReport, ...]


class OwnEyeReport(Report, frozen=True, kw_only=True):
    """What the looks taught: magnitudes that the eye needs more than assumed, by how much the sky
    is darker than stated, one sigma of each, and the spread of a verdict. ``learnt``: whether there
    were enough looks to judge by it."""

    learnt: bool
    looks: int
    not_seen: int
    evenings: int
    eye_mag: float
    eye_sigma_mag: float
    sky_mag: float
    sky_sigma_mag: float
    spread_mag: float
