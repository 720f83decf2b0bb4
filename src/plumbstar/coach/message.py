"""What a message tells: of each star its two readings and its time, as far as they are in it.

A text is cut where one star's part ends and the next one's begins; each part is read by
:mod:`plumbstar.diagnose.explain.written`, which reads the angles and clock times of people.
"""

from __future__ import annotations

import enum
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from plumbstar.coach.mentions import Mention, mentions
from plumbstar.coach.plainly import counts_a_turn, plainly
from plumbstar.diagnose.explain import written
from plumbstar.diagnose.explain.written import ALT_LABEL, ANGLE, AZ_LABEL, SPACED, Angle, ClockTime
from plumbstar.errors import UserError
from plumbstar.sky.bodies import Body
from plumbstar.sky.lists.catalogue import Star
from plumbstar.text.table import plain_number
from plumbstar.text.words import joined


class Remark(enum.Enum):
    """What else a message says that changes the answer."""

    SUN = "sun"
    CLOUD = "cloud"
    MOVED = "moved"
    PICTURE = "picture"
    STUCK = "stuck"
    NORTH = "north"
    NOT_THERE = "not_there"
    CHANCE = "chance"
    CHOOSE = "choose"
    FOLDED = "folded"
    FOREIGN = "foreign"


_REMARKS = {
    Remark.SUN: r"\b(?:sun|solar)\b(?!\s*(?:set|rise|day))",
    Remark.CLOUD: r"\b(?:cloud(?:s|y|ed)?|overcast|clouded|fog(?:gy)?|haze|hazy|rain(?:ing)?)\b",
    Remark.MOVED: r"\b(?:bump(?:ed)?|kick(?:ed)?|knock(?:ed)?|nudg(?:ed?|ing)|tripped|stumbled|"
    r"moved the (?:base|tripod|mount|telescope|scope)|slipp?ed)\b",
    Remark.PICTURE: r"\b(?:screen ?shots?|photos?|picture|image|attached|attachment|pic)\b",
    Remark.STUCK: r"\b(?:stuck|frozen|never changes|"
    r"(?:does|do)(?:n['’]?t| not) (?:change|move|count)|"
    r"(?:always|just|only|keeps?) (?:shows?|showing|says?|saying|reads?|reading|stays?)|"
    r"(?:shows?|says?|reads?|stays?)\b.{0,20}\b(?:all the time|the whole time|whatever I do))\b",
    Remark.NORTH: r"\bwhere(?:['’]?s| is)? (?:the )?north|"
    r"\b(?:find|know|finding) (?:the )?north\b|\bnorth is\b",
    Remark.NOT_THERE: r"\b(?:m|ngc|ic|messier) ?\d{1,4}\b"
    r"(?=.{0,80}(?:\bnowhere|\bnot there|n['’]?t there|\bnot in|\bempty|\bnothing))|"
    r"\b(?:can['’]?t|cannot|couldn['’]?t|didn['’]?t|not) (?:find|see|spot)\b"
    r".{0,60}\b(?:m|ngc|ic|messier) ?\d{1,4}\b",
    Remark.CHANCE: r"\b\d{1,2} (?:in|out of) (?:a )?(?:100|hundred)\b",
    Remark.CHOOSE: r"\bwh(?:ich|at) (?:two |2 )?stars?\b.{0,40}\b"
    r"(?:use|take|choose|pick|align|start|tonight|best)\b",
    Remark.FOLDED: r"\b180\b.{0,30}\b(?:back|again|down)\b",
}  # fmt: skip
#: A number that a controller shows: beside words for showing, with its sign, or in degrees "off".
_NUMBER = re.compile(
    r"(?:\b(?:shows?|showed|shown|showing|says?|said|displays?|displayed|display|number|reads?|"
    r"error|gives?|gave|got|get|getting|result|comes? out(?: at)?|is off by|off by)\b|[:=])"
    r"[^\d\n+\-−–]{0,24}?"
    r"(?P<number>[+\-−–]?\s?\d{1,2}(?:[.,]\d{1,3})?)(?![\d:]|[.,]\d)\s*(?:°|º|deg\w*)?"
    r"(?!\s*(?:['′:]|am\b|pm\b|h\b|stars?\b|arcmin|min|h\d|in\s|out\s))",
    re.IGNORECASE,
)
_SIGNED = re.compile(
    r"(?<![\w.,:+\-−–])(?P<number>[+\-−–]\s?\d{1,2}(?:[.,]\d{1,3})?)(?![\d:]|[.,]\d)\s*(?:°|º|deg\w*)?"
)
#: "2.3 deg after Aldebaran": a number ahead of its two stars.
_AHEAD = re.compile(
    r"(?<![\d.,:])(?P<number>\d{1,2}[.,]\d{1,3})(?![\d:]|[.,]\d)\s*(?:°|º|deg\w*)?"
    r"\s+(?:after|with|from|for)\b",
    re.IGNORECASE,
)
_BOUNDARY = re.compile(r"[;\n|]+|,\s+|[.!?]\s+|\s+(?:and|then|&|/)\s+", re.IGNORECASE)
_LABELLED = re.compile(rf"{AZ_LABEL}|{ALT_LABEL}", re.IGNORECASE)
_RAW = re.compile(r"\b(?:raw|counts?|ticks?|encoders?)\b", re.IGNORECASE)
_COUNTS_PAIR = re.compile(r"(?<=\s)(-?\d{3,7})\s*[/,]\s*(-?\d{3,7})\b")
_CHANCES = re.compile(_REMARKS[Remark.CHANCE], re.IGNORECASE)
_COUNTS = re.compile(r"(?<![\w.,:])[+\-−–]?\d{3,7}(?![\w:°º'′]|[.,]\d)")
_DATE = re.compile(
    r"(?<![\d.:])(?:\d{1,2}[./]\d{1,2}[./](?:\d{4}|\d{2})|\d{4}-\d{2}-\d{2})(?![\d.:])"
)
_ZONE_LETTERS = re.compile(r"\b[A-Z]{2,4}T\b|\bUTC\s*[+\-−]\s*\d{1,2}(?::\d{2})?\b")
#: Nobody writes more; the rest is not read.
LONGEST = 20_000
#: Words for a star that never gets numbers of its own.
_SOUGHT = re.compile(
    r"\b(?:looking for|find|found|finding|see|seeing|go to|went to|push(?:ed)? to|target(?:ed)?|"
    r"next to|near|close to|beside|towards?|instead of|not)\s+(?:the\s+)?$",
    re.IGNORECASE,
)


#: The commonest words of other languages people write in, and of English; none that is two of them.
_FOREIGN = (
    r"ich|nicht|und|der|das|ist|mein|meine|mit|wie|ein|eine|auf|habe|den|zeigt|wo|kein",
    r"je|j|le|les|mon|ma|pas|et|une|dans|avec|sur|des|du|ai|mais|pour|qui|bonjour|où",
    r"el|los|una|con|pero|que|del|por|está|es|hola|cómo|muestra|en|las|estrella",
)
_ENGLISH = r"the|and|is|my|with|at|of|to|it|i|not|was|on|what|how|this|that|but"
#: So many of them, and more than of English, make another language.
_FEW = 3


def _foreign(text: str) -> bool:
    def count(words: str) -> int:
        return len(re.findall(rf"\b(?:{words})\b", text, re.IGNORECASE))

    most = max(count(words) for words in _FOREIGN)
    return most >= _FEW and most > count(_ENGLISH)


@dataclass(frozen=True)
class StarTold:
    """One star with what was told of it. ``counts``: bare counts of the encoders, their scale
    unknown."""

    thing: Star | Body
    az: Angle | None = None
    alt: Angle | None = None
    clock: ClockTime | None = None
    counts: tuple[int, ...] = ()
    said: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether both readings are there."""
        return self.az is not None and self.alt is not None

    @property
    def anything(self) -> bool:
        return bool(self.az or self.alt or self.clock or self.counts)


@dataclass(frozen=True)
class MessageTold:
    """``stars``: those with numbers of their own, and those that a controller's ``number_deg`` is
    about; ``named``: the others that are spoken of."""

    stars: tuple[StarTold, ...] = ()
    named: tuple[Star | Body, ...] = ()
    number_deg: float | None = None
    remarks: frozenset[Remark] = frozenset()
    loose: tuple[Angle, ...] = ()


def read_message(text: str) -> MessageTold:
    """Never refuses anything: what it cannot read, it leaves aside."""
    turn, text = counts_a_turn(plainly(text[:LONGEST]))
    remarks = frozenset(r for r, p in _REMARKS.items() if re.search(p, text, re.IGNORECASE))
    remarks |= {Remark.FOREIGN} if _foreign(text) else set()
    raw = turn is not None or _RAW.search(text) is not None
    if raw:  # two counts side by side; a stroke would part them
        text = _COUNTS_PAIR.sub(r"\1 \2", text)
    found = [m for m in mentions(text) if m.thing != Body("Sun")]
    if not found:
        number = _shown_number(text)
        loose = () if number is not None else tuple(_angles(_CHANCES.sub(" ", text)))
        return MessageTold((), (), number, remarks, loose)
    told = _in_their_order(text, found)
    told = told or [_told(m, part, raw) for m, part in _parts(text, found)]
    if turn is not None:
        told = [_scaled(s, turn) for s in told]
    merged = _merged(told)
    with_numbers = [s for s in merged if s.anything]
    of_readings = [s for s in with_numbers if s.az or s.alt or s.counts]
    number = None
    if not of_readings:
        number = _shown_number(text)
    if number is not None:
        # Of a controller's number: its two stars in their order, whether timed or not.
        sought = {m.thing.label for m in found if _SOUGHT.search(text[: m.start])}
        pair = [s for s in merged if s.thing.label not in sought][:2]
        rest = [s.thing for s in merged if s not in pair]
        return MessageTold(tuple(_clocked(text, found, pair)), tuple(rest), number, remarks)
    return MessageTold(
        tuple(_timed(with_numbers)),
        tuple(s.thing for s in merged if not s.anything),
        None,
        remarks,
    )


def _in_their_order(text: str, found: Sequence[Mention]) -> list[StarTold]:
    """Stars that are named first, with the pairs of numbers of all of them after the last; empty
    where it is not written so."""
    ahead, after = text[: found[-1].start], text[found[-1].end :]
    if len(found) < 2 or _readings_in(ahead) or _LABELLED.search(after) or _counts(after, False):
        return []
    angles = _angles(_DATE.sub(" ", after))
    if len({m.thing.label for m in found}) < len(found) or len(angles) != 2 * len(found):
        return []
    try:
        clock, _ = written.clock(after, None)
    except UserError:
        clock = None
    how = "the pairs of numbers taken in the order of the stars"
    out = []
    for k, m in enumerate(found):
        az, alt = angles[2 * k : 2 * k + 2]
        if not -90 <= alt.degrees <= 90:
            return []
        said = (f"'{m.written}' taken as {m.thing.label}",) if m.misspelt else ()
        out.append(StarTold(m.thing, az, alt, clock, (), (*said, how)))
    return out


def _shown_number(text: str) -> float | None:
    """A controller's number, degrees, as it shows it."""
    bare = _without_clocks(_DATE.sub(" ", text))
    if _LABELLED.search(bare):
        return None
    m = _SIGNED.search(bare) or _NUMBER.search(bare) or _AHEAD.search(bare)
    if m is None:
        return None
    value = plain_number(re.sub(r"\s", "", m["number"]))
    return value if abs(value) < 60 else None


def _without_clocks(text: str) -> str:
    """Clock times taken out, so that no part of one is taken for a number."""
    while True:
        try:
            time, rest = written.clock(text, None)
        except UserError:
            return text
        if time is None:
            return text
        text = rest


def _parts(text: str, found: Sequence[Mention]) -> list[tuple[Mention, str]]:
    """Each mention with the stretch of text that belongs to it, its own name taken out."""
    first, last = found[0], found[-1]
    numbers_last = re.search(r"\d", _without_clocks(text[last.end :])) is not None
    numbers_first = re.search(r"\d", _without_clocks(text[: first.start])) is not None
    star_last = numbers_first and not numbers_last
    cuts = [0]
    for a, b in itertools.pairwise(found):
        between = text[a.end : b.start]
        marks = list(_BOUNDARY.finditer(between))
        if star_last:
            cuts.append(a.end + (marks[0].end() if marks else 0))
            continue
        # The last mark after which nothing but words and a time stand before the next star.
        at = len(between)
        for mark in reversed(marks):
            if _readings_in(between[mark.end() :]):
                break
            at = mark.end()
        cuts.append(a.end + at)
    cuts.append(len(text))
    out = []
    for m, (low, high) in zip(found, itertools.pairwise(cuts), strict=True):
        before, after = text[low : m.start], text[m.end : high]
        if _of_earlier(before) and _without_clocks(after) != after:
            before = _without_clocks(before)
        out.append((m, f"{before} {after}"))
    return out


def _of_earlier(before: str) -> bool:
    """Whether a time before a star is of something done before it: "set up at 18:30, went for the
    eyepieces and came back, then ..."."""
    marks = list(_BOUNDARY.finditer(before))
    for mark, end in zip(marks, [*(m.start() for m in marks[1:]), len(before)], strict=False):
        if len(re.findall(r"[^\W\d_]{2,}", before[mark.end() : end])) >= 4:
            return _without_clocks(before[: mark.start()]) != before[: mark.start()]
    return False


def _readings_in(text: str) -> bool:
    """Whether there is a number that is no time of day."""
    return re.search(r"\d", _without_clocks(text)) is not None


def _scaled(s: StarTold, turn: int) -> StarTold:
    """Counts as angles, where it was told how many make a turn."""
    if len(s.counts) != 2:
        return s
    az, alt = (Angle(round(360.0 * c / turn, 2), 360.0 / turn, f"{c}") for c in s.counts)
    how = f"counts {joined([f'{c}' for c in s.counts])}, of {turn} a turn"
    return replace(s, az=az, alt=alt, counts=(), said=(*s.said, how))


def _clocked(text: str, found: Sequence[Mention], pair: list[StarTold]) -> list[StarTold]:
    """Both times of a pair, written one after the other behind both its stars, in their order."""
    rest, clocks = text[found[-1].end :], []
    while True:
        try:
            clock, rest = written.clock(rest, None)
        except UserError:
            break
        if clock is None:
            break
        clocks.append(clock)
    if len(pair) == len(clocks) == len(found) == 2 and pair[0].clock in (None, pair[1].clock):
        clocks.sort(key=lambda c: c.seconds)  # the first star was centred first
        return [replace(s, clock=c) for s, c in zip(pair, clocks, strict=True)]
    return _timed(pair)


def _told(m: Mention, part: str, raw: bool) -> StarTold:
    said: list[str] = []
    if m.misspelt:
        said.append(f"'{m.written}' taken as {m.thing.label}")
    rest = _ZONE_LETTERS.sub(" ", _DATE.sub(" ", part))
    counts = _counts(rest, raw)
    rest = _COUNTS.sub(" ", rest) if counts else rest
    both = re.search(ALT_LABEL, rest, re.IGNORECASE) and re.search(AZ_LABEL, rest, re.IGNORECASE)
    az, rest = written.azimuth(rest, SPACED if both else ANGLE, said)
    alt, rest = written.altitude(rest, SPACED if both else ANGLE)
    clock = None
    try:
        clock, rest = written.clock(rest, None)
    except UserError as e:
        said.append(f"{e.came} is no time that a clock shows, and was not used")
    if counts:
        return StarTold(m.thing, clock=clock, counts=counts, said=tuple(said))
    left = _angles(rest)
    if az is not None and alt is None and az.grain > 20 and len(left) >= 2:  # two numbers beside it
        az = None
        said.pop()
    if az is None and alt is None and len(left) >= 2:
        az, alt = left[-2:]
        if alt.degrees > 90 >= az.degrees:
            az, alt = alt, az
            said.append("the second number is over 90°, so it was taken as left-right")
        else:
            said.append("the first number taken as left-right, the second as up-down")
    elif az is None and alt is not None and left:
        az = left[-1]
        said.append("the number without a name taken as left-right")
    elif alt is None and az is not None and left and -5 <= left[-1].degrees <= 95:
        alt = left[-1]
        said.append("the number without a name taken as up-down")
    if alt is not None and not -90 <= alt.degrees <= 180:
        said.append(f"{alt.degrees:g} is no height, and was not used")
        alt = None
    return StarTold(m.thing, az, alt, clock, (), tuple(said))


def _counts(text: str, raw: bool) -> tuple[int, ...]:
    """Two bare counts of the encoders: no circle has such angles, and one may look like a time,
    unless the message is about counts (``raw``)."""
    found = [int(plain_number(c)) for c in _COUNTS.findall(text)][-2:]
    sure = len(found) == 2 and (min(map(abs, found)) > 360 or max(map(abs, found)) > 2359)
    return (
        tuple(found)
        if sure or (raw and len(found) == 2) or any(c < -360 for c in found[1:])
        else ()
    )


def _angles(text: str) -> list[Angle]:
    """Numbers that stand alone and could be angles of a circle."""
    rest = _without_clocks(text)
    found = [m for m in re.finditer(ANGLE, rest) if written.stands_alone(rest, m)]
    return [a for a in map(written.angle_of, found) if -180 <= a.degrees <= 720]


def _timed(told: Sequence[StarTold]) -> list[StarTold]:
    """A time that is written once is that of all."""
    clocks = [s.clock for s in told if s.clock is not None]
    if len(clocks) != 1 or len(told) < 2:
        return list(told)
    same = "the one time in the message was taken"
    return [s if s.clock else replace(s, clock=clocks[0], said=(*s.said, same)) for s in told]


def _merged(told: Sequence[StarTold]) -> list[StarTold]:
    """A star that is spoken of again, without numbers the second time or the first, is one."""
    out: list[StarTold] = []
    for s in told:
        same = [k for k, o in enumerate(out) if o.thing.label == s.thing.label]
        if same and not s.anything:
            continue
        if same and not out[same[-1]].anything:
            out.pop(same[-1])
        out.append(s)
    return out
