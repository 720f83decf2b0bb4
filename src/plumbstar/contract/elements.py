"""Which files of orbital elements are here, as the pages ask for it."""

from __future__ import annotations

from typing import Literal

from plumbstar.contract.record import Record


class ElementsFileLine(Record, frozen=True, kw_only=True):
    """One file: what it holds and how old that is, in words; ``bad_count`` lines of it could not
    be read, the first of them named in ``bad``."""

    name: str
    words: str
    bad_count: int
    bad: str


class ElementsAnswer(Record, frozen=True, kw_only=True):
    """``/data/elements``: ``short`` for a fold's head; ``state`` the oldest of all; ``deed``: what
    to do, empty where nothing is to be done."""

    short: str
    state: Literal["none", "fresh", "old", "too old"]
    deed: str
    files: tuple[ElementsFileLine, ...]
