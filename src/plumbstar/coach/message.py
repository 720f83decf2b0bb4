"""What a message tells: of each star its two readings and its time, as far as they are in it.

A text is cut where one star's part ends and the next one's begins; each part is read by
:mod:`plumbstar.diagnose.explain.written`, which reads the angles and clock times of people.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import replace

from plumbstar.coach.mentions import Mention, mentions
from plumbstar.coach.numbers import DATE, change_told, pieces, shown_number
from plumbstar.coach.plainly import counts_a_turn, plainly
from plumbstar.coach.remarks import remarks_of, without_chances
from plumbstar.coach.told import MessageTold, NumberTold, StarTold
from plumbstar.coach.unsure import with_doubts
from plumbstar.diagnose.explain import written
from plumbstar.diagnose.explain.written import ALT_LABEL, ANGLE, AZ_LABEL, SPACED, Angle
from plumbstar.errors import UserError
from plumbstar.sky.bodies import Body
from plumbstar.text.table import plain_number
from plumbstar.text.words import joined

_BOUNDARY = re.compile(
    r"[;\n|]+|,\s+|[.!?]\s+|\s+(?:-{2,}|–|—)\s+|\s+(?:and|then|&|/)\s+", re.IGNORECASE
)
_LABELLED = re.compile(rf"{AZ_LABEL}|{ALT_LABEL}", re.IGNORECASE)
_RAW = re.compile(r"\b(?:raw|counts?|ticks?|encoders?)\b", re.IGNORECASE)
_COUNTS_PAIR = re.compile(r"(?<=\s)(-?\d{3,7})\s*[/,]\s*(-?\d{3,7})\b")
_COUNTS = re.compile(r"(?<![\w.,:])[+\-−–]?\d{3,7}(?![\w:°º'′]|[.,]\d)")
_ZONE_LETTERS = re.compile(r"\b[A-Z]{2,4}T\b|\bUTC\s*[+\-−]\s*\d{1,2}(?::\d{2})?\b")
_SIDE_BY_SIDE = re.compile(
    r"\d{1,2}:\d{2}(?:\s*[ap]\.?m\b)?\s*(?:and|&|/|,|then)\s*\d{1,2}:\d{2}", re.IGNORECASE
)
#: Nobody writes more; the rest is not read.
LONGEST = 20_000
#: Words for a star that never gets numbers of its own.
_SOUGHT = re.compile(
    r"\b(?:looking for|find|found|finding|see|seeing|go to|went to|push(?:ed)? to|target(?:ed)?|"
    r"towards?|instead of|not)\s+(?:the\s+)?$",
    re.IGNORECASE,
)
#: Nor for one that another is found by.
_BESIDE = re.compile(
    r"\b(?:left of|right of|above|below|under|over from|next to|near|close to|beside|"
    r"(?:fists?|hands?|fingers?|degrees?|deg) (?:away )?from)\s+(?:the\s+)?$",
    re.IGNORECASE,
)


def read_message(text: str) -> MessageTold:
    """Never refuses anything: what it cannot read, it leaves aside."""
    turn, text = counts_a_turn(plainly(text[:LONGEST]))
    remarks = remarks_of(text)
    raw = turn is not None or _RAW.search(text) is not None
    if raw:  # two counts side by side; a stroke would part them
        text = _COUNTS_PAIR.sub(r"\1 \2", text)
    change = change_told(text)
    if change is not None:
        *both, text = change
        stars = _pair(text, _sighted(text))
        numbers = tuple(NumberTold(*told, tuple(stars)) for told in both)
        return MessageTold(tuple(stars), (), numbers, remarks)
    found = _sighted(text)
    if not found:
        shown = shown_number(text)
        numbers = () if shown is None else (NumberTold(*shown),)
        loose = () if numbers else tuple(_angles(without_chances(text)))
        near = tuple(m.thing for m in mentions(text) if m.thing != Body("Sun"))
        timed = _without_clocks(text) != text
        return MessageTold((), near, numbers, remarks, loose, timed)
    apart = [] if raw else _each_number(text, found)
    if apart:
        return MessageTold(apart[0].stars, (), tuple(apart), remarks)
    told = _in_their_order(text, found)
    told = told or [_told(m, part, raw) for m, part in _parts(text, found)]
    if turn is not None:
        told = [_scaled(s, turn) for s in told]
    merged = _merged(told)
    with_numbers = [s for s in merged if s.anything]
    of_readings = [s for s in with_numbers if s.az or s.alt or s.counts]
    shown = None if of_readings else shown_number(text)
    if shown is not None:
        pair = _pair(text, found)
        others = tuple(s.thing for s in merged if s.thing not in [p.thing for p in pair])
        return MessageTold(tuple(pair), others, (NumberTold(*shown, tuple(pair)),), remarks)
    return MessageTold(
        tuple(_both_clocked(text, found, with_numbers)),
        tuple(s.thing for s in merged if not s.anything),
        (),
        remarks,
    )


def _sighted(text: str) -> list[Mention]:
    """The stars of a text that may have been sighted, in their order."""
    found = [m for m in mentions(text) if m.thing != Body("Sun")]
    return [m for m in with_doubts(text, found) if not _BESIDE.search(text[: m.start])]


def _pair(text: str, found: Sequence[Mention]) -> list[StarTold]:
    """Of a controller's number: its two stars in their order, whether timed or not."""
    if not found:
        return []
    told = _merged([_told(m, part, False) for m, part in _parts(text, found)])
    sought = {m.thing.label for m in found if _SOUGHT.search(text[: m.start])}
    pair = [
        replace(s, az=None, alt=None, said=_of_names(found, s))
        for s in told
        if s.thing.label not in sought
    ]
    return _timed(_clocked(text, found, pair[:2]))


def _of_names(found: Sequence[Mention], s: StarTold) -> tuple[str, ...]:
    return next(tuple(_said_of(m)) for m in found if m.thing.label == s.thing.label)


def _each_number(text: str, found: Sequence[Mention]) -> list[NumberTold]:
    """Each of several numbers with its two stars; empty where there are no several."""
    may = [m for m in found if not _SOUGHT.search(text[: m.start])]
    out: list[NumberTold] = []
    for piece in pieces(text, may):
        shown, here = shown_number(piece), _sighted(piece)
        if shown is None or len(here) not in (0, 2):
            return []
        stars = tuple(_pair(piece, here))
        # The same two stars again, at another time.
        out.append(NumberTold(*shown, stars or tuple(replace(s, clock=None) for s in out[0].stars)))
    return out


def _in_their_order(text: str, found: Sequence[Mention]) -> list[StarTold]:
    """Stars that are named first, with the pairs of numbers of all of them after the last; empty
    where it is not written so."""
    ahead, after = text[: found[-1].start], text[found[-1].end :]
    if len(found) < 2 or _readings_in(ahead) or _LABELLED.search(after) or _counts(after, False):
        return []
    angles = _angles(DATE.sub(" ", after))
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
        out.append(StarTold(m.thing, az, alt, clock, (), (*_said_of(m), how), m.perhaps))
    return out


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
    ahead, behind = text[: first.start], text[last.end :]
    times_first = _without_clocks(ahead) != ahead and _without_clocks(behind) == behind
    cuts = [0]
    for a, b in itertools.pairwise(found):
        between = text[a.end : b.start]
        marks = list(_BOUNDARY.finditer(between))
        if times_first and not _readings_in(between) and _without_clocks(between) != between:
            cuts.append(a.end)
            continue
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


def _both_clocked(text: str, found: Sequence[Mention], told: list[StarTold]) -> list[StarTold]:
    """Times that stand side by side behind both stars are theirs, whatever readings come between:
    elsewhere a later time is of something later."""
    if _SIDE_BY_SIDE.search(text, found[-1].end):
        return _clocked(text, found, told)
    return _timed(told)


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
    said = _said_of(m)
    rest = _ZONE_LETTERS.sub(" ", DATE.sub(" ", part))
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
        return StarTold(m.thing, None, None, clock, counts, tuple(said), m.perhaps)
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
    return StarTold(m.thing, az, alt, clock, (), tuple(said), m.perhaps)


def _said_of(m: Mention) -> list[str]:
    """What was made of a name."""
    said = [f"'{m.written}' taken as {m.thing.label}"] if m.misspelt else []
    if m.unsure and not m.perhaps:
        said.append("you were not quite sure of the name")
    return said


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
