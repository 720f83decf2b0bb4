"""A newcomer's few numbers, in whatever form they were written, as sightings.

Nothing is guessed silently: every sighting carries a sentence on how its numbers were understood.
:mod:`.written` reads the angles and times, :mod:`.reply` answers.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from dataclasses import dataclass

from plumbstar.diagnose.explain import written
from plumbstar.diagnose.explain.written import (
    ALT_LABEL,
    ANGLE,
    AZ_LABEL,
    SPACED,
    Angle,
    ClockTime,
    without,
)
from plumbstar.errors import UserError
from plumbstar.mount.sighting import Sighting
from plumbstar.sky import local_time, places
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

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
            raise e.within(f"In '{piece.strip()}'") from None
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
        if len(re.findall(ALT_LABEL, part, re.IGNORECASE)) < 2:
            out.append(part)
            continue
        # Several altitudes in one run of text: a new sighting begins after each.
        current = ""
        for bit in re.split(r"(?:,|\band\b|\bthen\b|\.)\s+(?=[^\W\d])", part):
            starts_name = not re.match(rf"(?:{AZ_LABEL}|{ALT_LABEL})", bit, re.IGNORECASE)
            if current and starts_name and re.search(ALT_LABEL, current, re.IGNORECASE):
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
    zone, rest = _own_zone(rest, zone, when, said)
    both = re.search(ALT_LABEL, rest, re.IGNORECASE) and re.search(AZ_LABEL, rest, re.IGNORECASE)
    # "61 12" is degrees and minutes only where every number has its name.
    angle = SPACED if both else ANGLE
    az, rest = written.azimuth(rest, angle, said)
    alt, rest = written.altitude(rest, angle)
    clock, rest = written.clock(rest, zone)
    az, alt, rest = _unnamed(rest, az, alt, said)
    if not -180 <= alt.degrees <= 180:
        raise UserError(f"an altitude of {alt.degrees:g}°", "degrees up, 0 to 90", "Check it")
    if not -5 <= alt.degrees <= 95:
        said.append("an altitude that no tube can have; it was kept as it was written")
    name = " ".join(re.sub(r"[^\w\s+*'-]", " ", _FILLER.sub(" ", rest)).split()).strip("-' ")
    if not name:
        raise UserError(
            "no star's name", "which star it was", 'Write "Capella 7:42pm az 61.2 alt 55"'
        )
    target = _star(name, said)
    utc = moment(clock, when, whole_day, zone, site, target, alt.degrees, said)
    true_az, true_alt = places.place_of(target, utc, site)
    if true_alt < -2.0:
        raise UserError(
            f"{target.label} was {-true_alt:.0f}° below the horizon at {utc.iso()[:16]}Z",
            "",
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


def _own_zone(
    text: str, zone: str | None, when: Instant, said: list[str]
) -> tuple[str | None, str]:
    """The zone of the times in the text, and what is left of it: UTC+1 beside a time counts.

    Raises :class:`UserError` for what means different things to different people: a date with the
    day or the month first, and letters without ``zone``.
    """
    loose = _LOOSE_DATE.search(text)
    if loose:
        raise UserError(
            f"the date '{loose[0]}'",
            "year-month-day, or no date in the text",
            "Give the date of the evening once, with --utc 2027-01-28",
        )
    own = _OFFSET.search(text)
    if own:
        zone = local_time.zone_or_offset(own["zone"].replace(" ", ""))
        text = without(text, own)
    letters = _LETTERS.search(text)
    if letters is None:
        return zone, text
    if zone is None:
        raise UserError(
            f"the zone '{letters[0]}'",
            "hours ahead of UTC: such letters mean different zones in different countries",
            "Add --zone, for example --zone +1 or --zone Europe/Rome",
        )
    said.append(f"'{letters[0]}' was not used: the clock is that of {zone_words(zone, when)}")
    return zone, without(text, letters)


def _unnamed(
    text: str, az: Angle | None, alt: Angle | None, said: list[str]
) -> tuple[Angle, Angle, str]:
    """Azimuth and altitude, those still wanted taken from the last numbers without a name."""
    if az is not None and alt is not None:
        return az, alt, text
    numbers = [m for m in re.finditer(ANGLE, text) if written.stands_alone(text, m)]
    wanted = (az is None) + (alt is None)
    if len(numbers) < wanted:
        what = "azimuth" if az is None else "altitude"
        raise UserError(f"no {what}", "an azimuth and an altitude", 'Write "az 61.2 alt 55.0"')
    taken = numbers[-wanted:]
    picked = [written.angle_of(m) for m in taken]
    for m in reversed(taken):
        text = without(text, m)
    if az is not None:
        said.append("the number without a name taken as altitude")
        return az, picked[0], text
    if alt is not None:
        said.append("the number without a name taken as azimuth")
        return picked[0], alt, text
    if picked[1].degrees > 90 >= picked[0].degrees:
        said.append("the second number is over 90°, so it was taken as azimuth")
        return picked[1], picked[0], text
    said.append("the first number taken as azimuth, the second as altitude")
    return picked[0], picked[1], text


def _digits(a: Angle) -> int:
    return max(0, min(3, round(-math.log10(a.grain)))) if a.grain < 0.5 else 0


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
            said.append(f"'{aside}' was not used")
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


def moment(
    clock: ClockTime | None,
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
    """The moment nearest to ``when``; of a whole evening, that before midnight or after it."""
    day = written.day_of(when)
    if whole_day:
        # The date is the evening's: a morning hour belongs to the next day.
        return written.at_clock(day + dt.timedelta(days=seconds < 43200.0), seconds, zone)
    days = [written.at_clock(day + dt.timedelta(days=k), seconds, zone) for k in (-1, 0, 1)]
    return min(days, key=lambda t: abs(t.minus(when)))
