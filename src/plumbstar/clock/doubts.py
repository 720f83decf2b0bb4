"""Whether the computer's clock can be believed: each doubt in a sentence, with what to do.

A small board beside the telescope may have no battery for its clock and no network to set it by.
The sky turns 15 arcsec in a second of time, so a clock must be known to some seconds. Pure: times
come in as numbers, seconds since 1970 UTC.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from plumbstar.sky.times import Instant

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
    """One doubt: by how many seconds the clock must be moved (None: unknown), and in words."""

    kind: Kind
    seconds: float | None
    sentence: str
    remedy: str


def length(seconds: float) -> str:
    """A length of time in two units at most: "12 min 23 s", "57 years"."""
    s = abs(seconds)
    if s < 60.0:
        return f"{s:.0f} s" if s >= 10.0 else f"{s:.1f} s"
    units = (("min", 60.0), ("h", 3600.0), ("days", 86400.0), ("years", 365.25 * 86400.0))
    k = max(i for i, (_, size) in enumerate(units) if s >= size)
    name, size = units[k]
    if name == "years":
        n = round(s / size)
        return f"{n} year{'s' if n != 1 else ''}"
    lower, small = units[k - 1] if k else ("s", 1.0)
    whole = int(s // size)
    rest = int((s - whole * size) // small)
    shown = "day" if name == "days" and whole == 1 else name
    return f"{whole} {shown} {rest} {lower}" if rest else f"{whole} {shown}"


def turn(seconds: float) -> str:
    """How far the sky turns meanwhile at most, at the celestial equator."""
    arcsec = abs(seconds) * 15.041  # mean sidereal rate (Explanatory Supplement, 2013; memory)
    if arcsec < 60.0:
        return f"{arcsec:.0f} arcsec"
    if arcsec < 3600.0:
        return f"{arcsec / 60.0:.0f} arcmin"
    return f"{arcsec / 3600.0:.1f} degrees" if arcsec < 1.8e5 else "far round"


def _when(unix: float) -> str:
    return Instant.from_unix(unix).iso()[:16].replace("T", " ") + " UTC"


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
    found: list[Finding] = []
    if server_unix < not_before:
        found.append(
            Finding(
                "unset",
                None,
                f"This computer's clock is not set: it says {_when(server_unix)}, before this "
                "program was made.",
                "Use this phone's time, or set the clock; until then nobody knows where stars and "
                "Sun stand.",
            )
        )
    elif last_entry is not None and server_unix < last_entry - BEHIND_S:
        found.append(
            Finding(
                "behind",
                None,
                f"This computer's clock says {_when(server_unix)}, which is before the last entry "
                f"in the logbook ({_when(last_entry)}).",
                "Use this phone's time, or set the clock; if it is right after all, say so.",
            )
        )
    elif abs(jumped_s) >= MATTERS_S:
        found.append(
            Finding(
                "jumped",
                jumped_s,
                f"This computer's clock was set {'forward' if jumped_s > 0 else 'back'} by "
                f"{length(jumped_s)} since the pages were started.",
                "If it is right now, say so; else use this phone's time.",
            )
        )
    return tuple(found)


def against_phone(server_unix: float, phone_unix: float, round_trip_s: float) -> Finding | None:
    """Whether a phone's clock differs so much that it matters.

    ``phone_unix`` is the phone's time when its question left, ``server_unix`` ours when it came;
    half the round trip lies between, give or take another half.
    """
    off = phone_unix + round_trip_s / 2.0 - server_unix
    if abs(off) < MATTERS_S + round_trip_s / 2.0:
        return None
    return Finding(
        "differs",
        off,
        f"This phone's clock is {length(off)} {'ahead of' if off > 0 else 'behind'} the "
        f"telescope's computer, which puts stars off by up to {turn(off)}.",
        "If the phone sets itself by its network, its time is right to a second: use it.",
    )
