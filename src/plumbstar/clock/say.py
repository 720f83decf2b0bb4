"""What is said of a doubt about the clock, and what to do."""

from __future__ import annotations

from plumbstar.clock.doubts import Finding
from plumbstar.sky.times import Instant


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


def sentence(f: Finding) -> str:
    """What speaks against the clock."""
    match f.kind:
        case "unset":
            return (
                f"This computer's clock is not set: it says {_when(f.unix)}, before this "
                "program was made."
            )
        case "behind":
            assert f.last_entry is not None
            return (
                f"This computer's clock says {_when(f.unix)}, which is before the last entry "
                f"in the logbook ({_when(f.last_entry)})."
            )
        case "jumped":
            assert f.seconds is not None
            return (
                f"This computer's clock was set {'forward' if f.seconds > 0 else 'back'} by "
                f"{length(f.seconds)} since the pages were started."
            )
        case "differs":
            assert f.seconds is not None
            return (
                f"This phone's clock is {length(f.seconds)} "
                f"{'ahead of' if f.seconds > 0 else 'behind'} the telescope's computer, which puts "
                f"stars off by up to {turn(f.seconds)}."
            )


def remedy(f: Finding) -> str:
    """What to do about it."""
    match f.kind:
        case "unset":
            return (
                "Use this phone's time, or set the clock; until then nobody knows where stars and "
                "Sun stand."
            )
        case "behind":
            return "Use this phone's time, or set the clock; if it is right after all, say so."
        case "jumped":
            return "If it is right now, say so; else use this phone's time."
        case "differs":
            return "If the phone sets itself by its network, its time is right to a second: use it."
