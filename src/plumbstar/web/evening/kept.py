"""What the evening keeps beside its observations, so that a restart changes nothing on screen.

It lies in the outing's state in the logbook, or, while no outing is open, in a setting. Whether a
slip is settled or a sweep still holds is not kept but follows from the sightings made since, so
that nothing can disagree after a power cut or an undo.
"""

from __future__ import annotations

from typing import Any

import msgspec

from plumbstar.logbook.slips import Slip

#: The encoders' raw and continuous counts, a slip's words, and the zeros, as last seen.
Counts = tuple[tuple[int, int], tuple[int, int], str, tuple[float, float]]


class Miss(msgspec.Struct, frozen=True):
    """A target looked for where the fix put it, and not there. Degrees.

    ``basis``: the ids of the sightings that the fix was made of. With others it says nothing.
    """

    utc: str
    basis: tuple[int, ...]
    target: str
    az_deg: float
    alt_deg: float
    field_deg: float


class Sweep(msgspec.Struct, frozen=True):
    """A search under way: ``index`` is the stop to look at now; ``stops`` (right, up) degrees.

    ``basis`` as for :class:`Miss`: with another fix the stops would lead elsewhere.
    """

    basis: tuple[int, ...]
    target: str
    index: int
    stops: tuple[tuple[float, float], ...]
    found_by: tuple[float, ...]


class Desk(msgspec.Struct, frozen=True):
    """All of it. Replaced, never changed in place."""

    eyepiece: str = ""
    plan: tuple[str, ...] = ()
    choice: dict[str, Any] | None = None
    target: str = ""
    sweep: Sweep | None = None
    misses: tuple[Miss, ...] = ()
    slips: tuple[Slip, ...] = ()


class Message(msgspec.Struct, frozen=True):
    """A sentence for the screen, not kept; ``kind`` is "problem" or "info"."""

    id: str
    text: str
    kind: str


class Sighted(msgspec.Struct, frozen=True):
    """What became of a press: the sighting's id, and whether that press had come before."""

    sighting_id: int
    again: bool
    residual_arcmin: float | None


def load(raw: Any) -> Desk:
    """From what the logbook holds; an older or damaged form gives an empty desk, never an error."""
    try:
        return msgspec.convert(raw, Desk) if raw else Desk()
    except msgspec.ValidationError:
        return Desk()


def dump(desk: Desk) -> dict[str, Any]:
    """Plain values for the logbook."""
    out: dict[str, Any] = msgspec.to_builtins(desk)
    return out


def load_counts(raw: Any) -> Counts | None:
    """The encoders' counts from what the logbook holds, or None."""
    try:
        return msgspec.convert(raw, Counts) if raw else None
    except msgspec.ValidationError:
        return None


def unslipped(counts: Counts | None) -> Counts | None:
    """The same counts, with the slip settled."""
    return None if counts is None else (counts[0], counts[1], "", counts[3])
