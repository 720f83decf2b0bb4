"""The evening's times for a calendar: iCalendar text (RFC 5545), written by hand.

Times are UTC, so that every calendar shows them in its own zone. Each event's UID is made from the
site's name, the night and the event: the card made again changes the events and adds none. The
site's coordinates stay out of it, since calendars are shared (and out of the UID, from which they
could be guessed); its name is in.
"""

from __future__ import annotations

import uuid

from plumbstar.card.model import Card, CardStop, Moment
from plumbstar.sky.times import Instant
from plumbstar.text import words
from plumbstar.turns import rounded_deg

#: Any fixed value would do; this one was drawn at random for this program.
_SPACE = uuid.UUID("5b0c7a52-3a0b-4f4e-9a57-4b6a1f0f2d41")
_LINE_OCTETS = 75
#: The times worth an event; the others are in their descriptions.
EVENTS = (
    "sunset", "civil_dusk", "nautical_dusk", "astronomical_dusk", "moonrise", "moonset",
    "astronomical_dawn", "sunrise",
)  # fmt: skip


def ics(card: Card, made: Instant) -> str:
    """The calendar, lines ended by CR LF. ``made`` is the moment of writing, for DTSTAMP."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Plumbstar//Night card//EN"]
    for m in card.moments:
        if m.key in EVENTS and m.instant is not None:
            lines += _moment(card, m, m.instant, made)
    for s in card.stops:
        lines += _visit(card, s, made)
    lines.append("END:VCALENDAR")
    return "".join(fold(x) + "\r\n" for x in lines)


def _moment(card: Card, m: Moment, instant: Instant, made: Instant) -> list[str]:
    told = " ".join(x for x in (_sentence(m.meaning), card.sky if "moon" in m.key else "") if x)
    return _event(card, m.key, m.what, instant, None, told, made)


def _visit(card: Card, s: CardStop, made: Instant) -> list[str]:
    where = f"Azimuth {rounded_deg(s.az_deg):.0f}°, {round(s.alt_deg)}° up, {s.where}."
    how = f"{s.eyepiece}, {s.magnification:.0f} times. {_sentence(s.difficulty)} {s.reason}"
    end = s.start.plus_seconds(60.0 * s.minutes)
    return _event(card, f"visit {s.key}", s.name, s.start, end, f"{where} {how}", made)


def _event(
    card: Card, key: str, what: str, start: Instant, end: Instant | None, told: str, made: Instant
) -> list[str]:
    """One VEVENT; without an end it is a moment and takes no time (RFC 5545, 3.6.1)."""
    uid = uuid.uuid5(_SPACE, f"{card.site}|{card.date.isoformat()}|{key}")
    out = ["BEGIN:VEVENT", f"UID:{uid}", f"DTSTAMP:{stamp(made)}", f"DTSTART:{stamp(start)}"]
    if end is not None:
        out.append(f"DTEND:{stamp(end)}")
    out.append(f"SUMMARY:{escape(what)}")
    if told:
        out.append(f"DESCRIPTION:{escape(told)}")
    if card.site:
        out.append(f"LOCATION:{escape(card.site)}")
    return [*out, "TRANSP:TRANSPARENT", "END:VEVENT"]


def _sentence(text: str) -> str:
    return words.upper_first(text) + "." if text else ""


def stamp(instant: Instant) -> str:
    """ "20270128T170500Z"."""
    return instant.iso().replace("-", "").replace(":", "")


def escape(text: str) -> str:
    """A TEXT value: backslash, semicolon, comma and line break (RFC 5545, 3.3.11).

    Other control characters are not allowed in one and become spaces.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    text = "".join(c if c == "\n" or (c >= " " and c != "\x7f") else " " for c in text)
    for plain, told in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\n", "\\n")):
        text = text.replace(plain, told)
    return text


def fold(line: str) -> str:
    """Broken so that no line is over 75 octets, and never within a character (3.1)."""
    out, used = [], 0
    for c in line:
        n = len(c.encode("utf-8", "replace"))
        if used + n > _LINE_OCTETS:
            out.append("\r\n ")
            used = 1
        out.append(c)
        used += n
    return "".join(out)
