"""The numbers that a controller shows, found in a message, and which part of it is about which."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence

from plumbstar.coach.mentions import Mention
from plumbstar.diagnose.explain.written import ALT_LABEL, AZ_LABEL, clocks_hidden
from plumbstar.text.table import plain_number

#: More than this no controller shows after two stars.
_MOST_DEG = 60.0
#: Beside words for showing, with its sign, or in degrees "off".
_SHOWN = re.compile(
    r"(?:\b(?:shows?|showed|shown|showing|says?|said|displays?|displayed|display|numbers?|reads?|"
    r"reading|error|gives?|gave|got|get|getting|result|comes? out(?: at)?|is off by|off by)\b|[:=])"
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
#: "is 0.7 a good number", "is 0.7 ok".
_JUDGED = re.compile(
    r"\b(?:is|was|are)\s+(?P<number>[+\-−–]?\d{1,2}[.,]\d{1,3})(?![\d:]|[.,]\d)\s*(?:°|º|deg\w*)?"
    r"\s+(?:an?\s+)?(?:too\s+|very\s+|really\s+)?"
    r"(?:good|bad|okay|ok|normal|fine|much|large|big|high|number|error)\b",
    re.IGNORECASE,
)
#: "went from 0.4 to 1.9", which are two.
_WENT = re.compile(
    r"\bfrom\s+(?P<first>[+\-−–]?\d{1,2}[.,]\d{1,3})\s*(?:°|º|deg\w*)?\s+to\s+"
    r"(?P<second>[+\-−–]?\d{1,2}[.,]\d{1,3})(?![\d:]|[.,]\d)",
    re.IGNORECASE,
)
#: "under it 'error 1.2'" on a display whose other words are not known.
_LONE = re.compile(r"(?<![\d.,:+\-−–/])(?P<number>\d[.,]\d{1,3})(?![\d:/]|[.,]\d)")
_DISPLAY = re.compile(r"\b(?:display|controller|handset|keypad|box|lcd)\b", re.IGNORECASE)
_LABELLED = re.compile(rf"{AZ_LABEL}|{ALT_LABEL}", re.IGNORECASE)
DATE = re.compile(
    r"(?<![\d.:])(?:\d{1,2}[./]\d{1,2}[./](?:\d{4}|\d{2})|\d{4}-\d{2}-\d{2})(?![\d.:])"
)
#: Of a pair of readings, not a number alone.
_PAIRED_AFTER = re.compile(r"\s*(?:°|º|deg\w*)?\s*[/,&]?\s*[+\-−–]?\d")
_PAIRED_BEFORE = re.compile(r"\d\s*(?:°|º|deg\w*)?\s*[/,&]\s*$|\d\s+$")
_SENTENCE = re.compile(r"[;\n]+|[.!?]+\s+|,\s+|\s+(?:and|but|then)\s+", re.IGNORECASE)
_FULL_STOP = re.compile(r"[;\n]+|[.!?]+\s+")


def shown_number(text: str) -> tuple[float, bool] | None:
    """The one number that a text tells, degrees, and whether a sign stands before it."""
    bare = bare_of_times(text)
    if _LABELLED.search(bare):
        return None
    m = (
        _SIGNED.search(bare)
        or _JUDGED.search(bare)
        or _AHEAD.search(bare)
        or _SHOWN.search(bare)
        or _lone(bare)
    )
    return None if m is None else _value(m["number"])


def bare_of_times(text: str) -> str:
    """The same text, as long, without dates and times of day, so that no part of one is taken for a
    number."""
    return clocks_hidden(DATE.sub(_blank, text))


def change_told(text: str) -> tuple[tuple[float, bool], tuple[float, bool], str] | None:
    """Two numbers of which one became the other, each as in :func:`shown_number`, and the text
    without them; None where none is told."""
    m = _WENT.search(bare_of_times(text))
    if m is None or _LABELLED.search(text):
        return None
    first, second = _value(m["first"]), _value(m["second"])
    if first is None or second is None:
        return None
    return first, second, f"{text[: m.start()]} {text[m.end() :]}"


def pieces(text: str, stars: Sequence[Mention]) -> list[str]:
    """One piece of the text for each of several numbers, with its two stars; empty where there are
    no several, or where it cannot be told whose they are. Where two stars are named for all the
    numbers, the first piece has both."""
    bare = bare_of_times(text)
    found = _several(bare)
    k = len(found)
    if k < 2 or len(stars) not in (2, 2 * k):
        return []
    pairs = [stars[2 * i : 2 * i + 2] for i in range(k)] if len(stars) == 2 * k else None
    if pairs is None:
        spans = [(m.start("number"), m.end()) for m in found]
        spans[0] = (min(spans[0][0], stars[0].start), max(spans[0][1], stars[1].end))
    else:
        spans = [
            (min(m.start("number"), a.start), max(m.end(), b.end))
            for m, (a, b) in zip(found, pairs, strict=True)
        ]
    if any(a[1] > b[0] for a, b in itertools.pairwise(spans)):
        return []
    cuts = [0, *(_cut(text, a[1], b[0]) for a, b in itertools.pairwise(spans)), len(text)]
    return [text[a:b] for a, b in itertools.pairwise(cuts)]


def _several(bare: str) -> list[re.Match[str]]:
    """All the numbers, in their order, where they cannot be readings of a circle."""
    if _LABELLED.search(bare):
        return []
    found: list[re.Match[str]] = []
    for m in itertools.chain(*(p.finditer(bare) for p in (_SIGNED, _AHEAD, _SHOWN))):
        low, high = m.span("number")
        sure = bare[low] in "+-−–" or re.search(r"[.,]", m["number"]) is not None
        overlaps = any(low < o.end("number") and o.start("number") < high for o in found)
        paired = _PAIRED_AFTER.match(bare, high) or _PAIRED_BEFORE.search(bare, 0, low)
        if sure and not overlaps and not paired and _value(m["number"]) is not None:
            found.append(m)
    return sorted(found, key=lambda m: m.start("number"))


def _cut(text: str, low: int, high: int) -> int:
    """Where one number's part ends, between the last of it and the first of the next."""
    stop = _FULL_STOP.search(text, low, high)
    if stop is not None:
        return stop.end()
    marks = list(_SENTENCE.finditer(text, low, high))
    return marks[-1].end() if marks else high


def _lone(bare: str) -> re.Match[str] | None:
    if _DISPLAY.search(bare) is None:
        return None
    found = list(_LONE.finditer(bare))
    return found[0] if len(found) == 1 else None


def _value(written: str) -> tuple[float, bool] | None:
    text = re.sub(r"\s", "", written)
    value = plain_number(text)
    return (value, text[0] in "+-−–") if abs(value) < _MOST_DEG else None


def _blank(m: re.Match[str]) -> str:
    return " " * len(m[0])
