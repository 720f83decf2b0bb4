"""What the page's template (``page.typ``) lays out: strings only, and lists of them."""

from __future__ import annotations

from msgspec import Struct


class PageMoment(Struct, frozen=True, kw_only=True):
    """A moment of the night."""

    what: str
    at: str
    meaning: str


class PageStar(Struct, frozen=True, kw_only=True):
    """A star of an hour; ``field``: the number of the drawing of it, or nothing."""

    name: str
    where: str
    numbers: str
    field: str


class PageHour(Struct, frozen=True, kw_only=True):
    """Which stars to sight in an hour."""

    at: str
    chance: str
    note: str
    stars: tuple[PageStar, ...]


class PageField(Struct, frozen=True, kw_only=True):
    """The drawing of the sky round a star; ``alike``: its look-alikes, a sentence each; ``way``:
    how to find it with the eye."""

    number: str
    name: str
    designation: str
    at: str
    svg: str
    alike: tuple[str, ...]
    way: str


class PageStop(Struct, frozen=True, kw_only=True):
    """One object of the order."""

    number: str
    at: str
    name: str
    what: str
    kind: str
    eyepiece: str
    power: str
    numbers: str
    where: str
    push: str
    difficulty: str
    reason: str
    note: str
    sets: str
    on: tuple[str, ...]
    chosen: str


class PageFinder(Struct, frozen=True, kw_only=True):
    """What the finder shows about an object of the order."""

    name: str
    at: str
    svg: str


class PageContent(Struct, frozen=True, kw_only=True):
    """The whole card; ``both``: two sides; ``beside``: the lines to fill in beside a closed
    controller, and what its pushes mean."""

    both: bool
    night: str
    site: str
    place: str
    telescope: str
    field: str
    zone: str
    sky: str
    times: tuple[PageMoment, ...]
    hours: tuple[PageHour, ...]
    hours_note: str
    fields: tuple[PageField, ...]
    across: str
    route: bool
    stops: tuple[PageStop, ...]
    finders: tuple[PageFinder, ...]
    finder_across: str
    left_out: tuple[str, ...]
    cautions: tuple[str, ...]
    beside: tuple[str, ...]
    beside_note: str
