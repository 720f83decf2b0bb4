"""What is said of a doubt about the clock, and what to do; what is said of a satellite receiver."""

from __future__ import annotations

from plumbstar.clock.doubts import MATTERS_S, Finding
from plumbstar.clock.gps import LAG_S, LEAP_S, GpsFix, Receiver
from plumbstar.errors import UserError
from plumbstar.sky.times import Instant
from plumbstar.text.advice import Advice, Do
from plumbstar.text.words import many


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
    # Nothing is further off than half a turn.
    deg = min(arcsec / 3600.0, 180.0)
    return f"{deg:.1f} degrees" if deg < 50.0 else f"{deg:.0f} degrees"


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
                "Use this phone's time, or set the clock; until then it is not known where stars "
                "and Sun stand."
            )
        case "behind":
            return "Use this phone's time, or set the clock; if it is right after all, say so."
        case "jumped":
            return "If it is right now, say so; else use this phone's time."
        case "differs":
            return "If the phone sets itself by its network, its time is right to a second: use it."


def gps_notes(fix: GpsFix) -> tuple[str, ...]:
    """What to know of a receiver's fix."""
    out = [f"A receiver's line comes up to {LAG_S:g} s late: the time is good to half of that."]
    if fix.turns:
        out.append(
            f"The receiver's date was {1024 * fix.turns} weeks behind: an old receiver begins its "
            "count of weeks anew every 1024. They were added."
        )
    if fix.elevation_m is None:
        out.append("It gave no height: that is taken as 0 m.")
    return tuple(out)


def no_fix_yet(receiver: Receiver) -> UserError:
    """What a receiver without a fix lacks, and what to do."""
    match receiver.state:
        case "fixed" | "searching":
            n = receiver.satellites
            seen = "" if n is None else f". It hears {many(n, 'satellite')}"
            came = f"The GPS has no fix yet{seen}"
            return UserError(came, "", "Give it a view of the sky and some minutes")
        case "silent":
            return UserError("Nothing comes from the GPS", "", "Check cable, power and port")
        case "unreadable":
            came = "What this port sends is not what a GPS sends: the speed or the port is wrong"
            return UserError(came, "", Advice(Do.CHANGE_THE_GPS_SPEED))


def against_computer(off_s: float) -> str:
    """The computer's clock beside the receiver; ``off_s``: receiver minus computer."""
    if abs(off_s) < LAG_S:
        return "This computer's clock agrees with it."
    side = "behind" if off_s > 0 else "ahead of"
    words = f"This computer's clock is {length(off_s)} {side} it"
    if abs(abs(off_s) - LEAP_S) < 2.0 or abs(off_s) < MATTERS_S:
        return (
            f"{words}. Up to {LEAP_S:g} s may be the receiver's, until it has heard the almanac "
            "(13 min after it was switched on)."
        )
    return f"{words}, which puts stars off by up to {turn(off_s)}."
