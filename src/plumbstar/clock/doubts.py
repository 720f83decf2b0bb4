"""Whether the computer's clock can be believed: each doubt a fact (say.py words them).

A small board beside the telescope may have no battery for its clock and no network to set it by.
The sky turns 15 arcsec in a second of time, so a clock must be known to some seconds. Pure: times
come in as numbers, seconds since 1970 UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Kind = Literal["unset", "behind", "jumped", "differs"]

#: From here on a difference matters: 4 s turn the sky by 1 arcmin, a sixth of the half field (6
#: arcmin) of a strong eyepiece; below it lie a phone's own error and the way over the network.
MATTERS_S = 4.0
#: Behind the last entry by less says nothing: two computers may have written to one logbook.
BEHIND_S = 60.0
#: Over a slower link than this no time can be taken (half of it is the error).
SLOWEST_LINK_S = 4.0

Kinds = tuple[Kind, ...]
#: With one of these the moment is unknown, and with it where the Sun stands.
UNKNOWN: Kinds = ("unset", "behind")


@dataclass(frozen=True, slots=True)
class Finding:
    """One doubt: by how many seconds the clock must be moved (None: unknown).

    ``unix`` is what the computer's clock said then, ``last_entry`` the logbook's last.
    """

    kind: Kind
    seconds: float | None
    unix: float
    last_entry: float | None = None


def look(
    server_unix: float,
    *,
    not_before: float,
    last_entry: float | None = None,
    jumped_s: float = 0.0,
) -> tuple[Finding, ...]:
    """What the computer alone can know of its clock; the gravest first, empty if nothing.

    ``not_before``: the program's own tables are of that day, so it cannot be earlier.
    ``last_entry``: when the logbook was last written to. ``jumped_s``: by how much the clock was
    set since the start, as the steady clock saw it.
    """
    if server_unix < not_before:
        return (Finding("unset", None, server_unix),)
    if last_entry is not None and server_unix < last_entry - BEHIND_S:
        return (Finding("behind", None, server_unix, last_entry),)
    if abs(jumped_s) >= MATTERS_S:
        return (Finding("jumped", jumped_s, server_unix),)
    return ()


def against_phone(server_unix: float, phone_unix: float, round_trip_s: float) -> Finding | None:
    """Whether a phone's clock differs so much that it matters.

    ``phone_unix`` is the phone's time when its question left, ``server_unix`` ours when it came;
    half the round trip lies between, give or take another half.
    """
    off = phone_unix + round_trip_s / 2.0 - server_unix
    if abs(off) < MATTERS_S + round_trip_s / 2.0:
        return None
    return Finding("differs", off, server_unix)
