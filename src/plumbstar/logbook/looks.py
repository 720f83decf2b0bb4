"""What was seen, as records: a look at an object, the sky of an evening, a sketch."""

from __future__ import annotations

import base64
import binascii
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal, get_args

import msgspec

from plumbstar.contract.seen import HowSeen
from plumbstar.logbook.file import Row
from plumbstar.logbook.records import NotSaved, TimedBy, clean, shifted, timed_by, when
from plumbstar.sky.times import Instant

HOW_SEEN: tuple[HowSeen, ...] = get_args(HowSeen)
#: A finger's strokes, or a small picture as base64.
SketchKind = Literal["strokes", "png", "jpeg"]
#: A stroke's points, thousandths of the field's radius, right and down of its middle.
Strokes = list[list[tuple[int, int]]]

LONGEST_WORDS = 4000
#: A sketch's text: some hundred kilobytes of picture. More would make every copy slow.
LARGEST_SKETCH = 600_000

LOOKS = (
    "SELECT id, outing_id, target, utc, seen, eyepiece, words, more, request, deleted, shift_s,"
    " clock_boot, clock_zero FROM looks"
)
SKIES = (
    "SELECT id, outing_id, utc, seeing, transparency, zenith_mag, faintest_mag, words, deleted,"
    " shift_s, clock_boot, clock_zero FROM skies"
)
SKETCHES = (
    "SELECT id, outing_id, target, utc, kind, body, deleted, shift_s, clock_boot, clock_zero"
    " FROM sketches"
)


@dataclass(frozen=True, slots=True)
class LoggedLook:
    """One look at one object. ``press``: the page's name for it; ``more``: what an exchanged log
    said beside, by names of its own (oal.py)."""

    id: int
    outing_id: int
    target: str
    utc: Instant
    seen: HowSeen
    eyepiece: str = ""
    words: str = ""
    more: Mapping[str, Any] = field(default_factory=dict)
    press: str | None = None
    deleted: Instant | None = None
    corrected_by_s: float = 0.0
    clock: TimedBy | None = None

    @property
    def counts(self) -> bool:
        """Whether it was seen."""
        return self.seen != "not"


@dataclass(frozen=True, slots=True)
class EveningSky:
    """The sky as the observer told it: seeing and transparency from 1, the best, to 5; its
    darkness by a meter at the zenith (V magnitudes a square arcsecond), or by the faintest star
    that the naked eye held."""

    id: int
    outing_id: int
    utc: Instant
    seeing: int | None = None
    transparency: int | None = None
    zenith_mag: float | None = None
    faintest_mag: float | None = None
    words: str = ""
    deleted: Instant | None = None
    corrected_by_s: float = 0.0
    clock: TimedBy | None = None


@dataclass(frozen=True, slots=True)
class Sketch:
    """A drawing of what was seen: strokes as JSON, or a small picture as base64."""

    id: int
    outing_id: int
    target: str
    utc: Instant
    kind: SketchKind
    body: str
    deleted: Instant | None = None
    corrected_by_s: float = 0.0
    clock: TimedBy | None = None

    @property
    def strokes(self) -> Strokes:
        """Of one drawn by finger."""
        return msgspec.json.decode(self.body, type=Strokes)

    @property
    def picture(self) -> bytes:
        """Of a photograph."""
        return base64.b64decode(self.body)


def look_from(r: Row) -> LoggedLook:
    more = msgspec.json.decode(r[7], type=dict[str, Any])
    how = msgspec.convert(r[4], HowSeen)
    rest = (r[8], when(r[9]), r[10] or 0.0, timed_by(r[11], r[12]))
    return LoggedLook(r[0], r[1], r[2], shifted(r[3], r[10]), how, r[5], r[6], more, *rest)


def sky_from(r: Row) -> EveningSky:
    rest = (when(r[8]), r[9] or 0.0, timed_by(r[10], r[11]))
    return EveningSky(r[0], r[1], shifted(r[2], r[9]), r[3], r[4], r[5], r[6], r[7], *rest)


def sketch_from(r: Row) -> Sketch:
    check_sketch(r[4], r[5])
    rest = (when(r[6]), r[7] or 0.0, timed_by(r[8], r[9]))
    return Sketch(r[0], r[1], r[2], shifted(r[3], r[7]), r[4], r[5], *rest)


def check_sketch(kind: str, body: str) -> None:
    """Raises :class:`NotSaved` for one that is none, or too large to keep."""
    if len(body) > LARGEST_SKETCH:
        raise NotSaved(
            f"a sketch of {len(body) // 1024} kB",
            f"at most {LARGEST_SKETCH // 1024} kB",
            "Draw it simpler, or make the photo smaller",
        )
    try:
        if kind == "strokes":
            if not any(msgspec.json.decode(body, type=Strokes)):
                raise NotSaved("an empty sketch", "a stroke", "Draw with a finger, then save")
        else:
            raw = base64.b64decode(body, validate=True)
            head = {"png": b"\x89PNG\r\n\x1a\n", "jpeg": b"\xff\xd8\xff"}[kind]
            if not raw.startswith(head):
                raise NotSaved(f"a sketch that is no {kind}", "a PNG or JPEG picture", "Check it")
    except (msgspec.MsgspecError, binascii.Error, ValueError, KeyError):
        raise NotSaved(
            "a sketch that cannot be read", "strokes, or a PNG or JPEG picture", "Draw it again"
        ) from None


def good_words(text: str) -> str:
    """Words for the log: line breaks kept, no more than fit. Raises :class:`NotSaved`."""
    words = "\n".join(clean(line) for line in text.splitlines()).strip()
    if len(words) > LONGEST_WORDS:
        raise NotSaved(
            f"{len(words)} characters on one look", f"at most {LONGEST_WORDS}", "Shorten them"
        )
    return words


def _between(what: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise NotSaved(f"{what} {value:g}", f"{low:g} to {high:g}{unit}", "Correct it")


def check_sky(
    seeing: int | None,
    transparency: int | None,
    zenith_mag: float | None,
    faintest_mag: float | None,
) -> None:
    """Raises :class:`NotSaved` for what no sky is."""
    _between("a seeing of", seeing, 1, 5, ", 1 the steadiest")
    _between("a transparency of", transparency, 1, 5, ", 1 the clearest")
    _between("a zenith of", zenith_mag, 10.0, 23.0, " magnitudes a square arcsecond")
    _between("a faintest star of magnitude", faintest_mag, -2.0, 9.0, "")
