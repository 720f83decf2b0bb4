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
#: "1942 and 1944 hrs", "7.50 in the evening", "8ish".
_FOUR = re.compile(
    r"\b([01]\d|2[0-3])([0-5]\d)(?=\s*(?:(?:and|&|/|,)\s*(?:[01]\d|2[0-3])[0-5]\d\s*)?"
    r"(?:hrs?|hours)\b)(?:\s*(?:hrs?|hours)\b)?",
    re.IGNORECASE,
)
_PART_OF_DAY = re.compile(
    r"\b(?P<first>\d{1,2}(?:[.:]\d{2})?)(?P<gap>\s*(?:and|&|/|,)\s*)?"
    r"(?(gap)(?P<second>\d{1,2}[.:]\d{2}))\s+"
    r"(?:(?:in the|this|that|yesterday|last)\s+(?P<when>morning|evening)|(?P<night>at night))\b",
    re.IGNORECASE,
)
_ISH = re.compile(
    r"\b(?P<hour>1[0-2]|[1-9])(?::?(?P<minute>[0-5]\d))?\s*(?P<half>[ap]m)?\s*-?ish\b",
    re.IGNORECASE,
)
#: "1) is it good", "2 lines", "two dials": figures that count, and are no readings.
_MARK = re.compile(r"(?:(?<=\s)|^)\(?[1-9]\)(?=\s)")
_COUNTED = re.compile(
    r"(?<![\d.,:+\-−–])\b\d{1,2}\s+(?=(?:bright\s+)?(?:lines?|stars?|times|tries|goes|nights?|evenings?"
    r"|days?|weeks?|minutes?|mins?|hours?|seconds?|secs?|knobs?|dials?|numbers?|readings?|questions?|"
    r"things?|eyepieces?|inch(?:es)?|mm|cm|fists?|fingers?|hands?|fields?|of them)\b)",
    re.IGNORECASE,
)
#: What the controller asked to be pushed: "3.2 left and 0.5 up".
_PUSH = re.compile(
    r"[+\-−–]?\d{1,3}(?:[.,]\d+)?\s*(?:°|º|deg\w*)?\s*(?:to the\s+)?(?:left|right)\b(?![ /-]right)"
    r"(?:\s*(?:and|,|&)\s*[+\-−–]?\d{1,3}(?:[.,]\d+)?\s*(?:°|º|deg\w*)?\s*(?:up|down)\b)?",
    re.IGNORECASE,
)
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
    text = _ORDINAL.sub(r"\1", _H_TIME.sub(r"\1:\2", _MARK.sub(" ", text)))
    text = _FOUR.sub(r"\1:\2 ", _PART_OF_DAY.sub(_halved, text))
    text = re.sub(r"(?<=\d)\s*-?ish\b", "", _ISH.sub(_about, text), flags=re.IGNORECASE)
    text = _COUNTED.sub(_counted, _PUSH.sub(" ", text))
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


def _halved(m: re.Match[str]) -> str:
    """A time of the morning or the evening as "7:50 pm"."""
    half = "am" if (m["when"] or "").lower() == "morning" else "pm"
    if m["gap"] is None and not re.search(r"[.:]", m["first"]) and not 1 <= int(m["first"]) <= 12:
        return m[0]
    times = [t.replace(".", ":") for t in (m["first"], m["second"]) if t]
    late = [t if int(t.split(":")[0]) > 12 else f"{t} {half}" for t in times]
    return (m["gap"] or "").join(late)


def _counted(m: re.Match[str]) -> str:
    """Nothing, but for the minutes of an angle."""
    of_angle = re.search(r"(?:°|º|deg\w*|['′])\s*$", m.string[: m.start()], re.IGNORECASE)
    return m[0] if of_angle else " "


def _about(m: re.Match[str]) -> str:
    """A time to the quarter of an hour or so as "8:00"."""
    return f"{m['hour']}:{m['minute'] or '00'}{m['half'] or ''}"


def _decimal(m: re.Match[str]) -> str:
    """A number in words as "+1.4"."""

    def figure(word: str) -> str:
        return word if word.isdigit() else str(_DIGITS.index(word.lower()))

    sign = {"plus": "+", "minus": "-"}.get((m["sign"] or "").lower(), "")
    return f"{sign}{figure(m['whole'])}.{figure(m['tenth'])}"
