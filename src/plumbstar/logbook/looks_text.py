"""What was seen, as JSON: looks, the sky, sketches; and what every record of an exchange obeys."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from plumbstar.contract.seen import HowSeen
from plumbstar.errors import UserError
from plumbstar.logbook.looks import (
    EveningSky,
    LoggedLook,
    Sketch,
    SketchKind,
    check_sketch,
    check_sky,
    good_words,
)
from plumbstar.logbook.records import MOST_S, clean, short
from plumbstar.sky.times import Instant


class TextOfLooks(msgspec.Struct, forbid_unknown_fields=True, kw_only=True, omit_defaults=True):
    """A key nobody knows is an error: what is not understood must not be dropped in silence."""


def saved_time(text: str, corrected_by_s: float = 0.0) -> Instant:
    """The moment that was saved, of one that has been corrected since.

    Raises :class:`UserError` for a text that is no time, a correction of more than a century, or a
    moment outside the years that an Instant knows.
    """
    utc = Instant.parse(text)
    if not abs(corrected_by_s) <= MOST_S:
        raise UserError(
            f"a time corrected by {corrected_by_s:g} s", "at most a century", "Correct that value"
        )
    return Instant.parse(utc.plus_seconds(-corrected_by_s).iso(9))


class LookText(TextOfLooks):
    """A look in JSON."""

    target: str
    utc: str
    seen: HowSeen
    eyepiece: str = ""
    words: str = ""
    more: dict[str, Any] = {}
    corrected_by_s: float = 0.0

    def check(self) -> None:
        """Raises :class:`UserError`."""
        if not clean(self.target):
            raise UserError("a look at nothing", "the object's name", "Correct that value")
        good_words(self.words)


class SkyText(TextOfLooks):
    """The sky of an evening in JSON."""

    utc: str
    seeing: int | None = None
    transparency: int | None = None
    zenith_mag: float | None = None
    faintest_mag: float | None = None
    words: str = ""
    corrected_by_s: float = 0.0

    def check(self) -> None:
        """Raises :class:`UserError`."""
        check_sky(self.seeing, self.transparency, self.zenith_mag, self.faintest_mag)
        good_words(self.words)


class SketchText(TextOfLooks):
    """A sketch in JSON: strokes as they are kept, or a picture as base64."""

    target: str
    utc: str
    kind: SketchKind
    body: str
    corrected_by_s: float = 0.0

    def check(self) -> None:
        """Raises :class:`UserError`."""
        check_sketch(self.kind, self.body)


def look_to_text(x: LoggedLook) -> LookText:
    return LookText(
        target=x.target, utc=short(x.utc), seen=x.seen, eyepiece=x.eyepiece, words=x.words,
        more=dict(x.more), corrected_by_s=x.corrected_by_s,
    )  # fmt: skip


def sky_to_text(x: EveningSky) -> SkyText:
    return SkyText(
        utc=short(x.utc), seeing=x.seeing, transparency=x.transparency, zenith_mag=x.zenith_mag,
        faintest_mag=x.faintest_mag, words=x.words, corrected_by_s=x.corrected_by_s,
    )  # fmt: skip


def sketch_to_text(x: Sketch) -> SketchText:
    return SketchText(
        target=x.target, utc=short(x.utc), kind=x.kind, body=x.body,
        corrected_by_s=x.corrected_by_s,
    )  # fmt: skip


def check_seen(
    looks: Sequence[LookText], skies: Sequence[SkyText], sketches: Sequence[SketchText]
) -> None:
    """Raises :class:`UserError` naming the one that will not do."""
    every: tuple[tuple[str, Sequence[LookText | SkyText | SketchText]], ...] = (
        ("look", looks), ("sky", skies), ("sketch", sketches),
    )  # fmt: skip
    for what, those in every:
        for k, x in enumerate(those, 1):
            try:
                x.check()
            except UserError as e:
                raise e.within(f"{what} {k}") from None
