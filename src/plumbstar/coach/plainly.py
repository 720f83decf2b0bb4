"""A message as people write it, in figures and with the labels that the readers know.

Only the way of writing changes: numbers and times in words, a dash between two numbers, "L/R" and
"the tube says" for the names of the two circles.
"""

from __future__ import annotations

import re

_HOURS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_DIGITS = ("zero", *_HOURS)
#: "quarter to eight", "half past 7", "eight o'clock".
_SPELT = re.compile(
    rf"\b(?:(?P<part>quarter|half|ten|twenty|five)\s+(?P<way>to|past|after|before)\s+)?"
    rf"(?P<hour>{'|'.join(_HOURS)}|\d{{1,2}})(?(part)\b(?!\s*(?:[.:]\d|°))|\s*o['’]?clock\b)",
    re.IGNORECASE,
)
_MINUTES = {"quarter": 15, "half": 30, "ten": 10, "twenty": 20, "five": 5}
#: "21h15", which is no angle; and which of its stars a controller asks for, which is none either.
_H_TIME = re.compile(r"\b([01]?\d|2[0-3])\s?h\s?([0-5]\d)\b(?!\s*(?:m|\d))", re.IGNORECASE)
_ORDINAL = re.compile(
    r"\b(star|étoile|stern)\s*(?:no\.?|nr\.?|#)?\s*[1-3]\b(?![.,]\d)", re.IGNORECASE
)
#: "plus one point four", "minus 0 point 9".
_POINT = re.compile(
    rf"\b(?:(?P<sign>plus|minus)\s+)?(?P<whole>{'|'.join(_DIGITS)}|\d{{1,3}})\s+point\s+"
    rf"(?P<tenth>{'|'.join(_DIGITS[:10])}|\d{{1,2}})\b",
    re.IGNORECASE,
)
_SIGN = re.compile(r"\b(plus|minus)\s+(?=\d)", re.IGNORECASE)
#: "57 and a half".
_HALF = re.compile(r"\b(\d{1,3})(?:\s+and\s+a\s+half\b|\s?½)", re.IGNORECASE)
#: A dash with room on both sides parts two numbers; a sign stands at its number.
_DASH = re.compile(r"(?<=[\d°º'′\"])\s+[-–—−]\s+(?=\d)")
_SAYS = (
    r"(?:\s+(?:circle|scale|dial|number|reading|axis|angle))?"
    r"(?:\s*[:=]|\s+(?:is|was|at|of|reads?|says?|said|shows?|showed|on)\b)?"
    r"(?:\s+(?:about|around|roughly|exactly))?\s*(?=[-+−–]?\s?\d)"
)
_LEFT_RIGHT = re.compile(
    rf"(?:\b(?:azimuth|azimut|azi|az|left[ /]?right|lr|base)|\bL\s?/\s?R){_SAYS}", re.IGNORECASE
)
_UP_DOWN = re.compile(
    rf"(?:\b(?:altitude|alti|alt|elevation|elev|el|height|ht|up[ /]?down|ud|tube|gauge)"
    rf"|\bU\s?/\s?D){_SAYS}",
    re.IGNORECASE,
)
#: "8192 per rev", "10,000 ticks a turn".
_SCALE = re.compile(
    r"\b(?P<n>\d{3,7}|\d{1,3},\d{3})\s*(?:(?:counts?|ticks?|steps?|pulses?)\s*)?"
    r"(?:per|a|an|each|/|for (?:a|one))\s*(?:full |whole |one )?(?:rev\w*|turn|round|circle)\b",
    re.IGNORECASE,
)


def plainly(text: str) -> str:
    """The same message for the readers of figures and labels."""
    text = _ORDINAL.sub(r"\1", _H_TIME.sub(r"\1:\2", text))
    text = _SPELT.sub(_time, _HALF.sub(r"\1.5", _POINT.sub(_decimal, text)))
    text = _SIGN.sub(lambda m: "+" if m[1].lower() == "plus" else "-", text)
    text = _DASH.sub(" / ", text)
    return _UP_DOWN.sub("alt ", _LEFT_RIGHT.sub("az ", text))


def counts_a_turn(text: str) -> tuple[int | None, str]:
    """How many counts the encoders make in a turn, where it is said, and the text without it."""
    m = _SCALE.search(text)
    if m is None:
        return None, text
    return int(m["n"].replace(",", "")), f"{text[: m.start()]} {text[m.end() :]}"


def _time(m: re.Match[str]) -> str:
    """A time in words as "7:45"."""
    word = m["hour"].lower()
    hour = int(word) if word.isdigit() else _HOURS.index(word) + 1
    minutes = 60 * hour
    if m["part"]:
        by = _MINUTES[m["part"].lower()]
        minutes += -by if m["way"].lower() in ("to", "before") else by
    if not 0 <= minutes < 24 * 60:
        return m[0]
    return f"{minutes // 60}:{minutes % 60:02d}"


def _decimal(m: re.Match[str]) -> str:
    """A number in words as "+1.4"."""

    def figure(word: str) -> str:
        return word if word.isdigit() else str(_DIGITS.index(word.lower()))

    sign = {"plus": "+", "minus": "-"}.get((m["sign"] or "").lower(), "")
    return f"{sign}{figure(m['whole'])}.{figure(m['tenth'])}"
