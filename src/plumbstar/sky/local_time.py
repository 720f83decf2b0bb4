"""Clock time at the site, for a person to read and write. Inside the program every moment is UTC.

A zone is text: a name of the IANA time zone database (the system's copy, or that of the package
``tzdata`` where the system has none), a fixed offset as ``+05:30``, or ``""`` for UTC.
"""

from __future__ import annotations

import datetime as dt
import difflib
import functools
import re
import zoneinfo

from plumbstar.errors import UserError
from plumbstar.sky.naming.names import either
from plumbstar.sky.times import Instant

_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
           "October", "November", "December")  # fmt: skip
_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([+-]?)(\d{1,2})(?::?([0-5]\d))?", re.ASCII | re.IGNORECASE)
_CLOCK = re.compile(r"(\d{4}-\d{2}-\d{2})[T ]\s*(\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)", re.ASCII)
#: No zone's clocks are further from UTC than this (Kiribati's; memory).
_FARTHEST = dt.timedelta(hours=14)


@functools.lru_cache(maxsize=64)
def _rules(zone: str) -> dt.tzinfo:
    """UTC for no zone, and for a name that this computer's database does not hold."""
    if not zone:
        return dt.UTC
    fixed = _fixed(zone)
    if fixed is not None:
        return dt.timezone(fixed)
    try:
        return zoneinfo.ZoneInfo(zone)
    except (KeyError, ValueError, OSError):
        return dt.UTC


def _fixed(text: str) -> dt.timedelta | None:
    """The offset ahead of UTC that is written as ``+01:00``, ``-3``, ``UTC+5:30``; else None."""
    m = _OFFSET.fullmatch(text.strip().replace("−", "-"))
    if m is None:
        return None
    size = dt.timedelta(hours=int(m[2]), minutes=int(m[3] or 0))
    return None if size > _FARTHEST else -size if m[1] == "-" else size


def _at(instant: Instant, zone: str) -> dt.datetime:
    # Cut to the second as Instant.iso rounds it, so that UTC and local time show the same minutes.
    seconds = round(instant.jd2 * 86400.0) + (instant.jd1 - 2440587.5) * 86400.0
    return (_EPOCH + dt.timedelta(seconds=seconds)).astimezone(_rules(zone))


def _ahead_s(moment: dt.datetime) -> int:
    ahead = moment.utcoffset()
    return round(ahead.total_seconds()) if ahead is not None else 0


def offset_s(instant: Instant, zone: str) -> int:
    """Seconds by which the zone's clocks are ahead of UTC at that moment."""
    return _ahead_s(_at(instant, zone))


def offset_by_clock_s(day: dt.date, seconds: float, zone: str) -> int:
    """The same, when the zone's own clock shows so many seconds after that day's midnight.

    Of the two moments that an hour has which comes twice, the earlier.
    """
    moment = dt.datetime.combine(day, dt.time()) + dt.timedelta(seconds=seconds)
    return _ahead_s(moment.replace(tzinfo=_rules(zone)))


def at_clock_of(text: str, zone: str) -> Instant:
    """The moment when the zone's clock showed that date and time: ``2027-01-28 19:05:12``.

    A text that names its own offset (``+01:00``, ``Z``) means that. Raises :class:`UserError`.
    """
    m = _CLOCK.fullmatch(text.strip())
    if m is None:
        try:
            return Instant.parse(text)
        except UserError:
            raise UserError(
                f"the time '{text[:60]}'",
                "date and time by the site's clock, as 2027-01-28 19:05:12",
                "Write year-month-day, then hours:minutes:seconds",
            ) from None
    told = Instant.parse(f"{m[1]}T{m[2]}Z")
    day = dt.date.fromisoformat(m[1])
    midnight = Instant.parse(f"{m[1]}T00:00:00Z")
    return told.plus_seconds(-offset_by_clock_s(day, told.minus(midnight), zone))


def offset_words(instant: Instant, zone: str) -> str:
    """The offset at that moment as ``UTC+1``, ``UTC−3:30``, or ``UTC``."""
    minutes = round(offset_s(instant, zone) / 60.0)
    hours, rest = divmod(abs(minutes), 60)
    sign = "−" if minutes < 0 else "+"
    return f"UTC{sign}{hours}" + (f":{rest:02d}" if rest else "") if minutes else "UTC"


def next_full_hour(instant: Instant, zone: str) -> Instant:
    """The first full hour of the zone's clock after the moment."""
    seconds = instant.to_unix() + offset_s(instant, zone)
    return instant.plus_seconds(3600.0 - seconds % 3600.0)


def abbreviation(instant: Instant, zone: str) -> str:
    """``CET`` or ``CEST``, whichever then holds; ``UTC+03`` where the zone has no letters."""
    short = _at(instant, zone).tzname() or "UTC"
    return f"UTC{short}" if short[0] in "+-" else short


def local(instant: Instant, zone: str, with_zone: bool = False) -> str:
    """``21:40``, or ``21:40 CET``: what a clock in the zone shows. No zone: UTC.

    In the hour that comes twice when summer time ends, only the abbreviation tells the two apart.
    """
    text = _at(instant, zone).strftime("%H:%M")
    return f"{text} {abbreviation(instant, zone)}" if with_zone else text


def iso_date(instant: Instant, zone: str) -> str:
    """The day by the clock there: "2027-09-08"."""
    return _at(instant, zone).strftime("%Y-%m-%d")


def local_date(instant: Instant, zone: str) -> str:
    """The day by the clock there: "8 September 2027"."""
    moment = _at(instant, zone)
    return f"{moment.day} {_MONTHS[moment.month - 1]} {moment.year}"


def spans(start: Instant, end: Instant, zone: str) -> list[tuple[Instant, int, str]]:
    """From when which offset (seconds ahead of UTC) and abbreviation hold, from start to end.

    For a page that turns UTC into local time by itself. The turns are found to the second.
    """

    def state(t: Instant) -> tuple[int, str]:
        return offset_s(t, zone), abbreviation(t, zone)

    out = [(start, *state(start))]
    t = start
    while t < end:
        later = min(t.plus_seconds(3600.0), end)
        if state(later) != state(t):
            low, high = 0.0, later.minus(t)
            while high - low > 0.5:
                middle = (low + high) / 2.0
                if state(t.plus_seconds(middle)) == state(t):
                    low = middle
                else:
                    high = middle
            at = t.plus_seconds(high)
            turn = Instant.from_unix(round(at.to_unix()))
            out.append((turn, *state(later)))
        t = later
    return out


def zone_or_offset(text: str) -> str:
    """A zone for one evening: a name as :func:`zone_named` reads it, or hours ahead of UTC.

    ``+1``, ``-3:30``, ``UTC+5:30``; ``""`` for UTC. Raises :class:`UserError`.
    """
    if text.strip().upper() in ("", "UTC", "UT", "Z", "GMT"):
        return ""
    fixed = _fixed(text)
    if fixed is None:
        try:
            return zone_named(text)
        except UserError as e:
            raise UserError(
                e.came, "hours ahead of UTC as +1 or -3:30, or a name as Europe/Rome", e.remedy
            ) from None
    minutes = round(fixed.total_seconds() / 60.0)
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def zone_named(text: str) -> str:
    """The zone's exact name; ``""`` for none. Capitals and spaces are forgiven.

    Raises :class:`UserError` for a name that is in no database, with the likeliest ones.
    """
    wanted = re.sub(r"\s+", "_", text.strip())
    if not wanted:
        return ""
    known = _known()
    exact = known.get(wanted.lower())
    if exact is not None:
        return exact
    # A town alone will do, if only one zone is called so: "berlin".
    tails = [n for k, n in known.items() if k.rpartition("/")[2] == wanted.lower() and "/" in n]
    if len(tails) == 1:
        return tails[0]
    near = tails or [known[k] for k in difflib.get_close_matches(wanted.lower(), known, 3, 0.6)]
    raise UserError(
        f"the time zone '{text.strip()[:60]}'",
        "an area and a town, as Europe/Rome or America/Denver, or UTC",
        f"Did you mean {either(near)}?" if near else "Leave it out to see times in UTC",
    )


@functools.lru_cache(maxsize=1)
def _known() -> dict[str, str]:
    return {n.lower(): n for n in sorted(zoneinfo.available_timezones()) if not _oddity(n)}


def _oddity(name: str) -> bool:
    # "Etc/GMT+3" is three hours behind UTC, not ahead: nobody should meet that by accident.
    return name.startswith(("posix", "right", "Etc/GMT", "SystemV")) or name == "localtime"
