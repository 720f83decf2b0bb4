"""A newcomer's few numbers, in whatever form they were written, and a reply to paste.

Nothing is guessed silently: every sighting carries a sentence on how its numbers were understood.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar import mount, words
from plumbstar.errors import UserError
from plumbstar.explain import Cause, Explanation, in_hundred
from plumbstar.explain.check import TELLING, clear_of_sun
from plumbstar.explain.stars import CHECK_MAGNITUDE
from plumbstar.sighting import Sighting
from plumbstar.sky import catalogue, local_time, places
from plumbstar.sky.bodies import Body
from plumbstar.sky.local_time import offset_by_clock_s
from plumbstar.sky.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

_N = r"\d{1,3}(?:[.,]\d+)?"
_ANGLE = (
    rf"(?:(?P<sign>[-+−])\s*)?(?P<d>{_N})(?:\s*(?:°|º|degrees|degree|deg|d(?![a-z])))?"
    r"(?:\s*:?\s*(?P<m>[0-5]?\d(?:[.,]\d+)?)\s*(?P<mu>['′’]|arcmin|min|m(?![a-z]))"
    r"(?:\s*(?P<s>[0-5]?\d(?:[.,]\d+)?)\s*(?:[\"″”]|''|s(?![a-z])))?"
    r"|:(?P<m2>[0-5]\d(?:[.,]\d+)?)(?::(?P<s2>[0-5]\d(?:[.,]\d+)?))?"
    r"|(?!)(?P<m3>))?"
)
_SPACED = _ANGLE.replace(r"(?!)(?P<m3>)", r"\s+(?P<m3>[0-5]\d)(?=\s*(?:$|[,;)]|[A-Za-z(]))")
_IS = r"(?:is|was|reads?|of|[:=])?"
_AZ_LABEL = r"\b(?:azimuth|azi|az|bearing|across|sideways|left-?right)\b\.?"
_ALT_LABEL = r"\b(?:altitude|alti|alt|elevation|elev|el|height|up-?down)\b\.?"
#: Clockwise from north, 22.5 deg apart.
_POINTS = (
    "n", "nne", "ne", "ene", "e", "ese", "se", "sse",
    "s", "ssw", "sw", "wsw", "w", "wnw", "nw", "nnw",
)  # fmt: skip
_POINT = (
    r"(?:(?:north|south|east|west)(?:[\s-]*(?:north|south|east|west)){0,2}|"
    r"[NSEW]{1,3}(?![A-Za-z]))"
)
_FILLER = re.compile(
    r"\b(?:at|on|the|star|reads?|reading|was|is|i|got|have|had|and|then|local|time|from|to|of|in|"
    r"degrees?|deg|about|pointed|sighted|centred|centered|circle|scope|says?|up|high|first|second|"
    r"third|next|also|showed?|said|time|my|telescope|centring|centering|numbers?)\b",
    re.IGNORECASE,
)
#: A date that could be day first or month first, and zones by letters, of which many mean several.
_LOOSE_DATE = re.compile(r"(?<![\d.:])\d{1,2}[./]\d{1,2}[./](?:\d{4}|\d{2})(?![\d.:])")
_LETTERS = re.compile(
    r"\b(?:(?:[ECMPA]|A[CEKW]|NZ|HA?|WE?|EE|CE|SA|I|J|K|B|MS)[SD]?T|CES?T|EES?T|MSK|MEZ|MESZ)\b"
)
_OFFSET = re.compile(r"\b(?:UTC|UT|GMT)\s*(?P<zone>[-+−]\s*\d{1,2}(?::?[0-5]\d)?)(?![\d.:])")


#: Stars to this magnitude are recognised in spite of a slip of the pen. Common practice, no source.
_KNOWN_BY_NAME = 2.6


@dataclass(frozen=True)
class Heard:
    """One sighting and how it was understood. ``grain_deg``: the steps to which it was given."""

    sighting: Sighting
    grain_deg: tuple[float, float]
    understood: str
    local: str
    #: The zone of its clock (local_time): as written beside it, else as given for all, else None.
    zone: str | None = None


@dataclass(frozen=True)
class _Angle:
    degrees: float
    grain: float
    text: str


def zone_words(zone: str, t: Instant) -> str:
    """What the times are: the zone's name, or ``UTC+1``."""
    return zone if zone[:1].isalpha() else local_time.offset_words(t, zone)


def listen(text: str, site: Site, when: Instant, whole_day: bool, zone: str | None) -> list[Heard]:
    """Read free text into sightings. ``when``: the date (``whole_day``) or the present moment.

    ``zone`` is that of the times (local_time); None when nobody said, and UTC is taken.
    Sightings are separated by semicolons or lines. Raises :class:`UserError` naming the piece that
    could not be read.
    """
    out = []
    for piece in _pieces(text):
        try:
            out.append(_hear_either(piece, site, when, whole_day, zone))
        except UserError as e:
            raise UserError(f"In '{piece.strip()}': {e.came}", e.wanted, e.remedy) from None
    if not out:
        raise UserError(
            "no sightings in the text",
            "star, time and two readings",
            'For example "Capella 7:42pm az 61.2 alt 55.0; Rigel 7:44pm az 141 alt 28"',
        )
    return out


def _hear_either(piece: str, site: Site, when: Instant, whole_day: bool, zone: str | None) -> Heard:
    """Commas as decimal marks, and if that makes no sense, as marks between the columns."""
    piece = re.sub(r"(?<!\d),(?=\S)", ", ", piece)
    apart = re.sub(r"(?<=\d),(?=[\d+-])", ", ", piece)
    if apart == piece:
        return _hear(piece, site, when, whole_day, zone)
    if re.search(r"\d\.\d", _unclocked(piece)):
        return _hear(apart, site, when, whole_day, zone)
    try:
        return _hear(piece, site, when, whole_day, zone)
    except UserError:
        try:
            return _hear(apart, site, when, whole_day, zone)
        except UserError:
            pass
        raise


def _unclocked(text: str) -> str:
    """The text without its clock time: the dot of "7.42 pm" is no decimal point."""
    return re.sub(r"\d{1,2}\.\d{2}\s*[ap]\.?\s?m\b", " ", text, flags=re.IGNORECASE)


def _columns(line: str) -> bool:
    """Whether semicolons part the columns of a line, not sightings: no part has two numbers."""
    parts = line.split(";")
    return len(parts) > 2 and all(
        len(re.findall(r"(?<![\w.,:])[-+−]?\d[\d.,:°'′\"″]*", part)) < 2 for part in parts
    )


def _pieces(text: str) -> list[str]:
    """One piece for each sighting: by semicolons and lines, else by commas where a name begins."""
    out = []
    lines = [x.replace(";", " ") if _columns(x) else x for x in text.splitlines()]
    for part in re.split(r"[;\n|]+|\s/\s+(?=[^\W\d])", "\n".join(lines)):
        if not part.strip() or part.lstrip().startswith("#"):
            continue
        if len(re.findall(_ALT_LABEL, part, re.IGNORECASE)) < 2:
            out.append(part)
            continue
        # Several altitudes in one run of text: a new sighting begins after each.
        current = ""
        for bit in re.split(r"(?:,|\band\b|\bthen\b|\.)\s+(?=[^\W\d])", part):
            starts_name = not re.match(rf"(?:{_AZ_LABEL}|{_ALT_LABEL})", bit, re.IGNORECASE)
            if current and starts_name and re.search(_ALT_LABEL, current, re.IGNORECASE):
                out.append(current)
                current = bit
            else:
                current = f"{current}, {bit}" if current else bit
        out.append(current)
    return out


def _hear(piece: str, site: Site, when: Instant, whole_day: bool, zone: str | None) -> Heard:
    rest = re.sub(r"\b(?:north|pole) star\b", "Polaris", piece, flags=re.IGNORECASE)
    rest = re.sub(r"^\s*\(?\d{1,2}[.)]\s+(?=[^\W\d])", "", rest)  # "1. Capella ..."
    said: list[str] = []
    loose = _LOOSE_DATE.search(rest)
    if loose:
        raise UserError(
            f"the date '{loose[0]}'",
            "year-month-day, or no date in the text",
            "Give the date of the evening once, with --utc 2027-01-28",
        )
    own = _OFFSET.search(rest)
    if own:
        zone = local_time.zone_or_offset(own["zone"].replace(" ", ""))
        rest = rest[: own.start()] + " " + rest[own.end() :]
    letters = _LETTERS.search(rest)
    if letters:
        if zone is None:
            raise UserError(
                f"the zone '{letters[0]}'",
                "hours ahead of UTC: such letters mean different zones in different countries",
                "Add --zone, for example --zone +1 or --zone Europe/Rome",
            )
        said.append(f"'{letters[0]}' left aside, as --zone says {zone_words(zone, when)}")
        rest = rest[: letters.start()] + " " + rest[letters.end() :]
    both = re.search(_ALT_LABEL, rest, re.IGNORECASE) and re.search(_AZ_LABEL, rest, re.IGNORECASE)
    # "61 12" is degrees and minutes only where every number has its name.
    angle = _SPACED if both else _ANGLE
    az, rest = _azimuth(rest, angle, said)
    alt, rest = _labelled(rest, _ALT_LABEL, angle)
    if alt is None:
        m = re.search(rf"{_ANGLE}\s*(?:up|high|alt)\b", rest, re.IGNORECASE)
        if m:
            alt, rest = _angle(m), rest[: m.start()] + " " + rest[m.end() :]
    clock, rest = _clock(rest, zone, said)
    if az is None or alt is None:
        numbers = [m for m in re.finditer(_ANGLE, rest) if _stands_alone(rest, m)]
        wanted = [x for x in ("az", "alt") if (az if x == "az" else alt) is None]
        if len(numbers) < len(wanted):
            what = "azimuth" if az is None else "altitude"
            raise UserError(f"no {what}", "an azimuth and an altitude", 'Write "az 61.2 alt 55.0"')
        picked = [_angle(m) for m in numbers[-len(wanted) :]]
        if len(wanted) == 2:
            said.append("the first number taken as azimuth, the second as altitude")
            if picked[1].degrees > 90 >= picked[0].degrees:
                picked.reverse()
                said[-1] = "the second number is over 90°, so it was taken as azimuth"
        else:
            word = {"az": "azimuth", "alt": "altitude"}[wanted[0]]
            said.append(f"the number without a name taken as {word}")
        found = dict(zip(wanted, picked, strict=True))
        az, alt = found.get("az", az), found.get("alt", alt)
        for m in reversed(numbers[-len(wanted) :]):
            rest = rest[: m.start()] + " " + rest[m.end() :]
    assert az is not None  # both were just found
    assert alt is not None
    if not -180 <= alt.degrees <= 180:
        raise UserError(f"an altitude of {alt.degrees:g}°", "degrees up, 0 to 90", "Check it")
    if not -5 <= alt.degrees <= 95:
        said.append("an altitude that no tube has, kept as it was written")
    name = " ".join(re.sub(r"[^\w\s+*'-]", " ", _FILLER.sub(" ", rest)).split()).strip("-' ")
    if not name:
        raise UserError(
            "no star's name", "which star it was", 'Write "Capella 7:42pm az 61.2 alt 55"'
        )
    target = _star(name, said)
    utc = _moment(clock, when, whole_day, zone, site, target, alt.degrees, said)
    true_az, true_alt = places.place_of(target, utc, site)
    if true_alt < -2.0:
        raise UserError(
            f"{target.label} was {-true_alt:.0f}° below the horizon at {utc.iso()[:16]}Z",
            "a star that was up",
            "Check the time, --zone, the date, and the site (east is positive)",
        )
    local = local_time.local(utc, zone or "")
    clock_words = f"{local} {zone_words(zone or '', utc)}"
    if zone:
        clock_words += f" ({utc.iso()[11:16]} UTC)"
    understood = (
        f"{target.label} at {clock_words} on {utc.iso()[:10]}: "
        f"azimuth {az.degrees:.{_digits(az)}f}° ({az.text.strip()}), "
        f"altitude {alt.degrees:.{_digits(alt)}f}° ({alt.text.strip()})"
    )
    if zone is None and not (clock is not None and clock.utc):
        said.append("no zone was given, so the time was taken as UTC")
    if said:
        understood += "; " + "; ".join(said)
    sighting = Sighting(target.label, true_az, true_alt, az.degrees, alt.degrees, utc)
    return Heard(sighting, (az.grain, alt.grain), understood + ".", local, zone)


def _star(name: str, said: list[str]) -> places.Target:
    """The star or planet that the words left over name, with whatever had to be assumed said.

    First as written; then without words that name nothing; then a bright star spelt nearly so.
    Raises :class:`UserError`, as written, when that finds nothing or several.
    """
    try:
        return find_target(name)
    except UserError as e:
        as_written = e
    tokens = name.split()
    for size in range(min(3, len(tokens) - 1), 0, -1):
        found: dict[str, tuple[str, places.Target]] = {}
        for i in range(len(tokens) - size + 1):
            part = " ".join(tokens[i : i + size])
            if len(part) < 4 or not part[0].isalpha() or not part[-1].isalnum():
                continue
            try:
                thing = find_target(part)
            except UserError:
                continue
            if isinstance(thing, catalogue.Star | Body):
                found[thing.label] = (part, thing)
        if len(found) == 1:
            part, thing = next(iter(found.values()))
            aside = " ".join(name.replace(part, " ", 1).split())
            said.append(f"'{aside}' left aside")
            return thing
        if found:
            raise as_written
    stars = catalogue.load()
    bright = {
        stars[int(i)].label.lower(): stars[int(i)] for i in stars.brighter_than(_KNOWN_BY_NAME)
    }
    near = difflib.get_close_matches(name.lower(), list(bright), n=2, cutoff=0.75)
    if near and len(name) >= 4:
        score = [difflib.SequenceMatcher(None, name.lower(), x).ratio() for x in near]
        if len(near) == 1 or score[0] - score[1] > 0.08:
            star = bright[near[0]]
            said.append(f"'{name}' taken as {star.label}")
            return star
    raise as_written


def _digits(a: _Angle) -> int:
    return max(0, min(3, round(-math.log10(a.grain)))) if a.grain < 0.5 else 0


def _number(text: str | None) -> float:
    return float(text.replace(",", ".")) if text else 0.0


def _angle(m: re.Match[str]) -> _Angle:
    minutes = m["m"] or m["m2"] or m["m3"]
    seconds = m["s"] or m["s2"]
    value = _number(m["d"]) + _number(minutes) / 60.0 + _number(seconds) / 3600.0
    if m["sign"] and m["sign"] != "+":
        value = -value
    unit = 1.0 / 3600.0 if seconds else 1.0 / 60.0 if minutes else 1.0
    last = (seconds or minutes or m["d"]).replace(",", ".")
    return _Angle(value, unit * 10.0 ** -len(last.partition(".")[2]), m[0])


def _shown(m: re.Match[str]) -> _Angle:
    """The angle, with its own text as it was written (the label left out)."""
    a = _angle(m)
    start = m.start("sign") if m["sign"] else m.start("d")
    return _Angle(a.degrees, a.grain, m.string[start : m.end()])


def _labelled(text: str, label: str, angle: str) -> tuple[_Angle | None, str]:
    m = re.search(rf"\b{label}\s*{_IS}\s*{angle}", text, re.IGNORECASE)
    if m is None:
        return None, text
    return _shown(m), text[: m.start()] + " " + text[m.end() :]


def _azimuth(text: str, angle: str, said: list[str]) -> tuple[_Angle | None, str]:
    """Azimuth from a label, a quadrant (N 61 E), or a compass point."""
    quarter = re.search(
        rf"(?:\b{_AZ_LABEL}\s*[:=]?\s*)?\b(?P<from>[NSEW]|north|south|east|west)\s*{_ANGLE}\s*"
        r"(?P<to>[NSEW]|north|south|east|west)\b",
        text,
    )
    if quarter is None:
        quarter = re.search(
            rf"(?:\b{_AZ_LABEL}\s*[:=]?\s*)?{_ANGLE}\s*(?P<to>[NSEW]|north|south|east|west)\s+of\s+"
            r"(?P<from>[NSEW]|north|south|east|west)\b",
            text,
            re.IGNORECASE,
        )
    if quarter:
        base = 90.0 * "nesw".index(quarter["from"][0].lower())
        toward = 90.0 * "nesw".index(quarter["to"][0].lower())
        a = _angle(quarter)
        turn = 1.0 if (toward - base) % 360.0 == 90.0 else -1.0
        value = (base + turn * a.degrees) % 360.0
        said.append(f"'{quarter[0].strip()}' taken as azimuth {value:g}°")
        return _Angle(value, a.grain, quarter[0]), text[: quarter.start()] + " " + text[
            quarter.end() :
        ]
    m = re.search(rf"\b{_AZ_LABEL}\s*{_IS}\s*{angle}", text, re.IGNORECASE)
    if m is not None:
        a = _shown(m)
        tail = text[m.end() :]
        side = re.match(r"\s*(?P<side>E|W|east|west)\b", tail)
        if side:
            west = side["side"][0].lower() == "w"
            value = (360.0 - a.degrees) % 360.0 if west else a.degrees
            way = "west" if west else "east"
            said.append(f"'{a.text.strip()} {side['side']}' taken as {way} of north: {value:g}°")
            a = _Angle(value, a.grain, f"{a.text.strip()} {side['side']}")
            tail = tail[side.end() :]
        rest = text[: m.start()] + " " + tail
        # A compass point beside the number is a remark: compare, then drop it.
        point = re.search(rf"\(?\s*\b{_POINT}\b\s*\)?", rest)
        if point:
            where = _point_deg(point[0].strip("() "))
            if where is not None:
                if abs((where - a.degrees + 180.0) % 360.0 - 180.0) > 50.0:
                    said.append(
                        f"'{point[0].strip('() ')}' does not go with azimuth {a.degrees:g}°"
                    )
                rest = rest[: point.start()] + " " + rest[point.end() :]
        return a, rest
    m2 = re.search(rf"(?:\b{_AZ_LABEL}\s*[:=]?\s*)?\b(?P<p>{_POINT})\b", text)
    if m2 is None:
        return None, text
    bearing = _point_deg(m2["p"])
    if bearing is None:
        return None, text
    value = bearing
    letters = sum(m2["p"].lower().count(w) for w in ("north", "south", "east", "west"))
    grain = 22.5 if (letters or len(m2["p"])) == 3 else 45.0
    said.append(
        f"'{m2['p']}' is only a compass point: taken as {value:g}°, give or take {grain / 2:g}°"
    )
    return _Angle(value, grain, m2["p"]), text[: m2.start()] + " " + text[m2.end() :]


def _point_deg(text: str) -> float | None:
    """Azimuth of a compass point, or None."""
    short = re.sub(r"[\s-]", "", text.lower())
    for word in ("north", "south", "east", "west"):
        short = short.replace(word, word[0])
    return 22.5 * _POINTS.index(short) if short in _POINTS else None


def _stands_alone(text: str, m: re.Match[str]) -> bool:
    """A number that is no part of a designation (58 Ori, HIP 27989, pi3 Ori)."""
    before, after = text[: m.start()], text[m.end() :]
    if re.search(r"(?:[^\W\d]|HIP\s*|NGC\s*)$", before, re.IGNORECASE):
        return False
    flamsteed = re.match(r"\s+[A-Z][a-z]{2}", after)
    return not (flamsteed and "." not in m[0] and before.strip() == "")


@dataclass(frozen=True)
class _Clock:
    seconds: float
    utc: bool
    half: str  # "am", "pm", or "" when not said
    full: Instant | None = None


def _clock(text: str, zone: str | None, said: list[str]) -> tuple[_Clock | None, str]:
    iso = re.search(
        r"(?P<day>\d{4}-\d{2}-\d{2})[T ]\s*(?P<time>\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?)"
        r"\s*(?P<zone>(?:Z|UTC|UT|GMT)\b|[+-]\d{2}:?\d{2})?",
        text,
    )
    if iso:
        mark = iso["zone"] or ""
        moment = f"{iso['day']}T{iso['time']}"
        full = Instant.parse(f"{moment}{mark if mark[:1] in '+-' and mark else 'Z'}")
        if not mark and zone:
            # Written on the clock that --zone names, as every other time in the text is.
            day = dt.date.fromordinal(int(full.jd1 + full.jd2 - 1721424.5))
            seconds = Instant.parse(f"{day.isoformat()}T00:00:00Z").minus(full)
            full = full.plus_seconds(-offset_by_clock_s(day, -seconds, zone))
        return (
            _Clock(0.0, bool(mark), "", full),
            text[: iso.start()] + " " + text[iso.end() :],
        )
    half = r"\s*(?P<half>[ap]\.?\s?m\.?(?![a-z]))"
    for pattern in (
        rf"(?<![\d.,])(?P<h>\d{{1,2}})\s*[:.h]?\s*(?P<m>\d{{2}})(?:[:.](?P<s>\d{{2}}))?{half}",
        rf"(?<![\d.,])(?P<h>\d{{1,2}})(?P<m>)(?P<s>){half}",
        r"(?<![\d.,:])(?P<h>\d{1,2})[:h](?P<m>\d{2})(?::(?P<s>\d{2}))?(?P<half>)(?![\d.])",
        r"\bat\s+(?P<h>\d{1,2})[.:]?(?P<m>\d{2})(?P<s>)(?P<half>)\b",
        # Four digits alone, as 1942: no reading has four, but a catalogue number may.
        r"(?<![\d.,:°])(?<!NGC )(?<!NGC)(?<!IC )(?<!IC)(?<!HIP )(?<!HIP)"
        r"(?P<h>[01]\d|2[0-3])(?P<m>[0-5]\d)(?P<s>)(?P<half>)(?![\d.,:°])",
    ):
        m = re.search(pattern, text, re.IGNORECASE)
        if m is None:
            continue
        hour, minute, second = int(m["h"]), int(m["m"] or 0), int(m["s"] or 0)
        word = re.sub(r"[.\s]", "", (m["half"] or "").lower())
        if word and not 1 <= hour <= 12:
            raise UserError(f"the time '{m[0].strip()}'", "1 to 12 with am or pm", "Correct it")
        if hour > 24 or minute > 59 or second > 59:
            raise UserError(f"the time '{m[0].strip()}'", "hours:minutes", "Correct it")
        if word:
            hour = hour % 12 + (12 if word == "pm" else 0)
        rest = text[: m.start()] + " " + text[m.end() :]
        tail = re.search(r"\b(?:UTC|UT|Z|GMT)\b", rest)
        if tail:
            rest = rest[: tail.start()] + " " + rest[tail.end() :]
        written_24 = hour > 12 or m["h"].startswith("0") or hour == 0
        label = word or ("24" if written_24 else "")
        return _Clock(hour * 3600.0 + minute * 60 + second, tail is not None, label), rest
    return None, text


def _moment(
    clock: _Clock | None,
    when: Instant,
    whole_day: bool,
    zone: str | None,
    site: Site,
    target: places.Target,
    alt_deg: float,
    said: list[str],
) -> Instant:
    """UTC of a written time, with each assumption said."""
    if clock is None:
        if whole_day:
            raise UserError("no time", "when the star was centred", 'Write "7:42pm" beside it')
        said.append("no time was given, so the time of --utc (or now) was taken")
        return when
    if clock.full is not None:
        return clock.full
    choices = [clock.seconds]
    if not clock.half and not clock.utc:
        choices.append((clock.seconds + 43200.0) % 86400.0)
    use = "" if clock.utc else zone or ""
    moments = [_dated(s, when, whole_day, use) for s in choices]
    chosen = choices[0]
    if len(moments) == 1:
        t = moments[0]
    else:
        up = [places.place_of(target, m, site)[1] for m in moments]
        best = min(range(2), key=lambda k: abs(up[k] - alt_deg))
        t, chosen = moments[best], choices[best]
        hour = choices[best] / 3600.0
        said.append(
            f"no am or pm was written; {int(hour):02d}:{round(hour % 1 * 60):02d} was taken, when "
            f"{target.label} stood nearer the altitude given"
        )
    if whole_day and chosen < 43200.0:
        said.append("after midnight, so the next day was taken")
    return t


def _dated(seconds: float, when: Instant, whole_day: bool, zone: str) -> Instant:
    day = dt.date.fromordinal(int(when.jd1 - 1721424.5))
    ahead = offset_by_clock_s(day, seconds, zone)
    midnight = Instant(when.jd1, 0.0)
    if whole_day:
        # The date is the evening's: a morning hour belongs to the next day.
        shift = 86400.0 if seconds < 43200.0 else 0.0
        return midnight.plus_seconds(seconds + shift - ahead)
    days = [midnight.plus_seconds(seconds + k * 86400.0 - ahead) for k in (-1, 0, 1)]
    return min(days, key=lambda t: abs(t.minus(when)))


# ---- the reply -----------------------------------------------------------------------------------

_WHAT = {
    "nothing": "Your numbers fit together well. Nothing looks wrong with your telescope.",
    "coarse_centring": "Nothing is broken. The stars were only roughly in the middle when you took "
    "the numbers, so the numbers do not quite fit together.",
    "stop_off": "Your up-and-down number starts from the wrong place: it is about {stop} too "
    "{stop_low} all over the sky.",
    "slip": "Your {axis} circle seems to have slipped between {first} and {second}: everything "
    "from {second} on is shifted.",
    "base_moved": "The telescope's base seems to have been nudged or to have sunk a little between "
    "{first} and {second}.",
    "cone": "The tube does not point quite square from its mounting: it looks to one side.",
    "squareness": "One side of the tube's mounting sits lower than the other.",
    "runout": "The circle for left and right seems to sit off centre.",
    "several": "The numbers do not fit the sky, and no single slip explains them.",
    "base_leaning": "The base stands on quite a slope. That is allowed for, but less is better.",
}
_DO = {
    "nothing": "Go on and enjoy it.",
    "coarse_centring": "Use your strongest eyepiece and make the star blurry; a blurry disc is "
    "easier to put in the middle. Then take the numbers again.",
    "stop_off": "Check where the tube stands when you set the up-and-down number; a spirit level "
    "along the tube shows it.",
    "slip": "Tighten whatever clamps that circle or sensor, then start again with two stars.",
    "base_moved": "Make the feet firm, push the tube gently, and start again with two stars.",
    "cone": "Check that the tube sits straight in its cradle.",
    "squareness": "Lay a spirit level across the two supports of the tube and pad the lower one.",
    "runout": "Turn the base slowly round and see whether the circle wobbles against its pointer.",
    "several": "Start again with two stars you are sure of, and note the time, the star and both "
    "numbers for each at once.",
    "base_leaning": "Put something flat under the low side of the base until a spirit level is "
    "happy, then start again with two stars.",
}


def _plainly(c: Cause) -> str:
    """What happened, for somebody who knows no terms."""
    d = c.detail
    if c.kind == "wrong_star":
        return (
            f"One of the stars was probably another one: the numbers you wrote for "
            f"{d['sighted_as']} fit {d['star']}, {d['apart_deg']:.0f} degrees away, much better."
        )
    if c.kind == "careless_sighting":
        if d["how"] == "misread":
            axis = "left-right" if d["axis"] == "azimuth" else "up-down"
            return (
                f"The {axis} number for {d['sighted_as']} looks misread: it fits if it was "
                f"{abs(d['amount_deg']):g} degree{'' if abs(d['amount_deg']) == 1 else 's'} "
                f"{'less' if d['amount_deg'] > 0 else 'more'}."
            )
        return f"The numbers for {d['sighted_as']} do not fit the others."
    if c.kind == "ticks":
        both = {"azimuth": "left-right", "altitude": "up-down", "both": "left-right and up-down"}
        if d["factor"] == -1:
            return f"Your {both[d['axis']]} numbers run backwards."
        pace = "too fast or too slowly"
        if not d["fitted"]:
            size = max(d["factor"], 1 / d["factor"])
            pace = f"{size:.3g} times too {'fast' if d['factor'] > 1 else 'slowly'}"
        return f"Your {both[d['axis']]} numbers grow {pace} as the telescope turns."
    if c.kind == "clock_or_site":
        if "late_s" in d:
            size, unit = abs(d["late_s"]) / 3600.0, "hour"
            if size < 0.99:
                size, unit = size * 60.0, "minute"
            way = "later" if d["late_s"] > 0 else "earlier"
            amount = f"{size:g} {unit}{'' if size == 1 else 's'}"
            return f"The time looks wrong: the sky fits if it was really {amount} {way}."
        place = "The place you gave for the telescope looks wrong"
        mixed = {
            "longitude_sign": "; perhaps east and west were mixed up",
            "latitude_sign": "; perhaps north and south were mixed up",
            "exchanged": "; perhaps its two numbers were exchanged",
        }
        return f"{place}{mixed.get(d['how'], '')}."
    terms = d["terms_deg"]
    stop = terms.get("altitude_zero", 0.0)
    first, second = d.get("between", ("", ""))
    return _WHAT[c.kind].format(
        stop=f"{abs(stop):.1f} degrees",
        stop_low="low" if stop > 0 else "high",
        first=first,
        second=second,
        axis={"azimuth": "left-right", "altitude": "up-down"}.get(str(d.get("axis")), ""),
    )


def _do(c: Cause) -> str:
    d = c.detail
    if c.kind in ("wrong_star", "careless_sighting"):
        return (
            f"Point at {d['sighted_as']} once more, make sure it is the right star, and take both "
            "numbers again."
        )
    if c.kind == "ticks":
        if d["axis"] == "altitude":
            return (
                "Lift the tube from level to straight up: the up-down number must grow by 90. Tell "
                "me what it does."
            )
        return (
            "Turn the telescope once all the way round to the right: the left-right number must "
            "grow, and come back to where it began. Tell me what it does."
        )
    if c.kind == "clock_or_site":
        return "Check the time and the date, whether it is summer or winter time, and the place."
    return _DO[c.kind]


def reply(e: Explanation, heard: Sequence[Heard], site: Site, zone: str | None) -> str:
    """A short reply to paste: what was understood, what happened, one thing to try next."""
    lines = ["Thank you for the numbers. I read them as:"]
    for h in heard:
        s = h.sighting
        lines.append(
            f"- {s.star} at {h.local}: left-right {s.reading_az_deg:g}, "
            f"up-down {s.reading_alt_deg:g}"
        )
    lines += ["If any of that is wrong, tell me.", ""]
    first = e.causes[0]
    if e.can_tell:
        lines += [f"What happened: {_plainly(first)} (I am {_sure(first.probability)}.)", ""]
        lines.append(f"Try next: {_do(first)}")
    else:
        close = [c for c in e.causes if c.probability > 0.15][:2] or [first]
        lines.append("What happened: I cannot tell yet.")
        lines += [f"- Perhaps ({in_hundred(c.probability)}): {_plainly(c)}" for c in close]
        lines += ["", f"Try next: {_next_star(e, heard, site, zone)}"]
    return "\n".join(lines)


def _sure(p: float) -> str:
    return "nearly certain" if p > 0.95 else "fairly sure" if p > 0.8 else "not quite sure"


def _next_star(e: Explanation, heard: Sequence[Heard], site: Site, zone: str | None) -> str:
    """The star that would tell most: the computed check, else a bright star well away."""
    check = e.causes[0].detail.get("check")
    last = heard[-1].sighting.utc
    assert last is not None  # listen() times every sighting
    zone = zone if heard[-1].zone is None else heard[-1].zone
    if check and check["sigmas"] > TELLING and check["utc"]:
        utc = Instant.parse(check["utc"])
        az, alt = places.place_of(find_target(check["star"]), utc, site)
        mine, other = check["reading_deg"], check["rival_reading_deg"]
        return (
            f"Find {check['star']}, {words.where(az, alt)}, put it in the middle and write down "
            f"both numbers and the time. Around {local_time.local(utc, zone or '')} I expect about "
            f"{mine[0]:.1f} and {mine[1]:.1f} if the first guess is right, {other[0]:.1f} and "
            f"{other[1]:.1f} if the second is."
        )
    if len(heard) > 2 and e.causes[0].kind in ("cone", "squareness"):
        return (
            "Lay a spirit level across the two supports of the tube, note which side the bubble "
            "is on, turn the telescope half round and look again. Tell me both sides, as seen from "
            "behind the tube."
        )
    stars = catalogue.load()
    index = stars.brighter_than(CHECK_MAGNITUDE)
    columns = places.Directions.take(stars, index)
    az_all, alt_all = places.observed_many(columns, [last], site, grid=True)
    clear = clear_of_sun(np.stack([az_all[0], alt_all[0]], axis=-1), last, site)
    high = (np.degrees(alt_all[0]) > 25) & (np.degrees(alt_all[0]) < 70)
    up = np.flatnonzero(high & clear)
    if not len(up):
        return (
            "Wait until it is dark and point at one more bright star, well away from the others. "
            "Never point the telescope at or near the Sun."
        )
    there = mount.unit(az_all[0][up], alt_all[0][up])
    been = mount.unit(
        np.radians([h.sighting.true_az_deg for h in heard]),
        np.radians([h.sighting.true_alt_deg for h in heard]),
    )
    k = int(up[int(np.argmin(np.max(there @ been.T, axis=1)))])
    star = stars[int(index[k])]
    where = words.where(float(np.degrees(az_all[0][k])), float(np.degrees(alt_all[0][k])))
    return (
        f"Find {star.label}, {where}, well away from the others. Put it in the middle, and send me "
        "both numbers and the time."
    )
