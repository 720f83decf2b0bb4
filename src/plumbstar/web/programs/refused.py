"""A program's wish that is not granted: the reason as a fact, and in words."""

from __future__ import annotations

from enum import Enum

from plumbstar.errors import UserError


class Why(Enum):
    """What each protocol has a number, or a state, for."""

    UNKNOWN = "there is no sighting yet, so nobody knows where it points"
    IMPOSSIBLE = "it cannot be done now"
    NOT_TAKEN = "what was sent is not taken"


class Refused(Exception):
    """``message`` is a sentence for whoever sits at the program."""

    def __init__(self, why: Why, message: str) -> None:
        super().__init__(message)
        self.why = why
        self.message = message


def refused(e: UserError, why: Why = Why.NOT_TAKEN) -> Refused:
    """What the evening says to a person, to a program."""
    return Refused(why, e.on_pages())
