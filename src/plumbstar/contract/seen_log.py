"""What was seen on any evening, as the pages ask for it; and lists to work through."""

from __future__ import annotations

from plumbstar.contract.record import Record
from plumbstar.contract.seen import HowSeen


class LoggedSketch(Record, frozen=True, kw_only=True):
    """A sketch: ``path`` as SVG in thousandths of the field's radius where it was drawn by finger,
    else empty, and ``/data/sketch/ID`` has the picture."""

    id: int
    path: str


class LoggedLookLine(Record, frozen=True, kw_only=True):
    """A look of an outing, with what was drawn of it."""

    target: str
    label: str
    utc: str
    seen: HowSeen
    eyepiece: str
    words: str
    sketches: tuple[LoggedSketch, ...]


class SeenBefore(Record, frozen=True, kw_only=True):
    """An object on one occasion: ``day`` by the site's clock; ``how`` in words, with what."""

    outing: int
    name: str
    label: str
    kind: str
    day: str
    seen: HowSeen
    how: str
    words: str
    sketches: int


class SeenAnswer(Record, frozen=True, kw_only=True):
    """``/data/seen``: the newest first, ``more_count`` of them left out; ``sentence``: how much
    that is, or when it was last seen."""

    sentence: str
    #: Whose verdicts the pages give, where the looks taught it.
    eye: str
    looks: tuple[SeenBefore, ...]
    more_count: int


class ListedThing(Record, frozen=True, kw_only=True):
    name: str
    label: str


class ListProgress(Record, frozen=True, kw_only=True):
    """A list to work through; ``left_this_month``: what of it is left and stands well, in the order
    in which it goes down; without a site empty. ``unknown``: names of it that no list here has."""

    name: str
    objects: int
    seen: int
    left: tuple[ListedThing, ...]
    left_this_month: tuple[ListedThing, ...]
    unknown: tuple[str, ...]


class ListsAnswer(Record, frozen=True, kw_only=True):
    """``/data/lists``."""

    lists: tuple[ListProgress, ...]
