"""What an action of the pages answers (``/do/NAME``), and what a refusal says."""

from __future__ import annotations

from plumbstar.contract.mending import CheckVerdict
from plumbstar.contract.record import Record


class Done(Record, frozen=True, kw_only=True):
    """It was done; the picture of this version shows it."""

    ok: bool = True
    version: int


class SightedDone(Done, frozen=True, kw_only=True):
    """A press was taken; ``again``: it had come before. ``asked``: it cannot be what it says, and
    the picture asks about it; without an id it is not saved, or not yet."""

    sighting_id: int | None
    again: bool
    residual_arcmin: float | None
    asked: bool


class CheckDone(Done, frozen=True, kw_only=True):
    """A check's numbers were judged."""

    result: CheckVerdict


class RehearsalDone(Done, frozen=True, kw_only=True):
    """A rehearsal is up at that port of the same computer."""

    port: int


class ControllerShown(Done, frozen=True, kw_only=True):
    """The two lines of a simulated controller's display; ``eye``: what the eyepiece shows, in
    words, and ``error``: what could not be done; or empty."""

    top: str
    bottom: str
    eye: str
    error: str


class Paired(Record, frozen=True, kw_only=True):
    """The phone is in."""

    ok: bool = True


class RefusedAnswer(Record, frozen=True, kw_only=True):
    """Why it was not done, and what to do; ``retry_after_s`` where waiting helps.

    ``wants``: "readings" where a press was refused for its typed readings alone, "nothing" where it
    can be of no star and is not sent again, else empty.
    """

    error: str
    remedy: str
    retry_after_s: float | None = None
    wants: str = ""


class BookChosen(Record, frozen=True, kw_only=True):
    """Which logbook to go on with was answered; ``said``: what was done. The pages come up next."""

    ok: bool = True
    said: str
