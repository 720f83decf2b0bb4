"""Looks, the sky and sketches, saved and listed.

The sky is told once an evening; told again it is a new row, the last one counting. A sketch belongs
to an object on an evening. Nothing is written over but how well it was seen and the words, whose
older forms stay in the undo history.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plumbstar.contract.seen import HowSeen
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import LogbookFile, Step, to_json
from plumbstar.logbook.looks import (
    HOW_SEEN,
    LOOKS,
    SKETCHES,
    SKIES,
    EveningSky,
    LoggedLook,
    Sketch,
    SketchKind,
    check_sketch,
    check_sky,
    good_words,
    look_from,
    sketch_from,
    sky_from,
)
from plumbstar.logbook.outings import OutingEntries
from plumbstar.logbook.records import NotSaved, clean, stamp
from plumbstar.sky.times import Instant


class LookEntries:
    """Adds and lists them. ``deleted=True`` also lists what is marked deleted."""

    def __init__(self, file: LogbookFile, outings: OutingEntries) -> None:
        self._file, self._outings = file, outings

    # ---- looks -----------------------------------------------------------------------------

    def add(
        self,
        outing_id: int,
        target: str,
        utc: Instant,
        seen: HowSeen,
        eyepiece: str = "",
        words: str = "",
        *,
        more: Mapping[str, Any] | None = None,
        request: str | None = None,
    ) -> int:
        """Save a look. A ``request`` that came before changes that one, where it says otherwise.

        Raises :class:`NotSaved`.
        """
        if not clean(target):
            raise NotSaved("a look at nothing", "the object's name", "Say what was looked at")
        text = good_words(words)
        before = self.of_request(request)
        if before is not None:
            self.change(before.id, seen=seen, words=text or before.words)
            return before.id
        with self._file.changing(ChangeKind.LOOKED, clean(target), outing_id) as steps:
            self._outings.need_open(outing_id)
            return self.insert(steps, outing_id, target, utc, seen, eyepiece, text, more, request)

    def insert(
        self,
        steps: list[Step],
        outing_id: int,
        target: str,
        utc: Instant,
        seen: HowSeen,
        eyepiece: str = "",
        words: str = "",
        more: Mapping[str, Any] | None = None,
        request: str | None = None,
        corrected_by_s: float = 0.0,
    ) -> int:
        """A new row inside a change."""
        if seen not in HOW_SEEN:
            raise NotSaved(f"seen '{seen}'", f"one of {', '.join(HOW_SEEN)}", "Choose one")
        return self._file.add(
            steps,
            "looks",
            "(outing_id, target, utc, seen, eyepiece, words, more, request, clock_boot,"
            " clock_zero, shift_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(outing_id, clean(target), stamp(utc), seen, clean(eyepiece), words),
                *(to_json(more or {}), request, *self._file.timed_by(), corrected_by_s or None),
            ),
        )

    def of_request(self, request: str | None) -> LoggedLook | None:
        """The look that this press made, taken back since or not."""
        if request is None:
            return None
        rows = self._file.rows(f"{LOOKS} WHERE request = ?", (request,))
        return look_from(rows[0]) if rows else None

    def change(
        self, look_id: int, *, seen: HowSeen | None = None, words: str | None = None
    ) -> None:
        """Say otherwise how it was seen, or in other words; undo brings the older ones back."""
        look = self.get(look_id)
        text = None if words is None else good_words(words)
        with self._file.changing(ChangeKind.LOOK_CHANGED, look.target, look.outing_id) as steps:
            if seen is not None and seen != look.seen:
                self._file.set(steps, "looks", look_id, "seen", seen)
            if text is not None and text != look.words:
                self._file.set(steps, "looks", look_id, "words", text)
            if look.deleted is not None:
                self._file.set(steps, "looks", look_id, "deleted", None)

    def delete(self, look_id: int) -> None:
        """Mark it deleted; undo brings it back."""
        look = self.get(look_id)
        with self._file.changing(ChangeKind.LOOK_DELETED, look.target, look.outing_id) as steps:
            self._file.set(steps, "looks", look_id, "deleted", stamp(self._file.now()))

    def get(self, look_id: int) -> LoggedLook:
        """That look. Raises :class:`NotSaved` when there is none."""
        rows = self._file.rows(f"{LOOKS} WHERE id = ?", (look_id,))
        if not rows:
            raise NotSaved(f"look {look_id}", "a look of this logbook", "Check the number")
        return look_from(rows[0])

    def of(self, outing_id: int | None = None, *, deleted: bool = False) -> tuple[LoggedLook, ...]:
        """Those of an outing, or of all that are not deleted; by time."""
        found = [look_from(r) for r in self._rows(LOOKS, outing_id, deleted)]
        return tuple(sorted(found, key=_by_time))

    # ---- the sky ---------------------------------------------------------------------------

    def tell_sky(
        self,
        outing_id: int,
        utc: Instant,
        *,
        seeing: int | None = None,
        transparency: int | None = None,
        zenith_mag: float | None = None,
        faintest_mag: float | None = None,
        words: str = "",
        request: str | None = None,
    ) -> int:
        """Save how the sky is. Raises :class:`NotSaved` for what no sky is, or nothing told."""
        told = (seeing, transparency, zenith_mag, faintest_mag)
        check_sky(*told)
        text = good_words(words)
        if not text and all(x is None for x in told):
            raise NotSaved("nothing about the sky", "at least one tap", "Tap what you see")
        with self._file.changing(ChangeKind.SKY_TOLD, "", outing_id) as steps:
            if (before := self.sky_of_request(request)) is not None:
                return before
            self._outings.need_open(outing_id)
            return self.insert_sky(steps, outing_id, utc, told, text, request)

    def insert_sky(
        self,
        steps: list[Step],
        outing_id: int,
        utc: Instant,
        told: tuple[int | None, int | None, float | None, float | None],
        words: str = "",
        request: str | None = None,
        corrected_by_s: float = 0.0,
    ) -> int:
        """A new row inside a change; ``told`` in the order of :class:`EveningSky`."""
        return self._file.add(
            steps,
            "skies",
            "(outing_id, utc, seeing, transparency, zenith_mag, faintest_mag, words, request,"
            " clock_boot, clock_zero, shift_s) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(outing_id, stamp(utc), *told, words, request, *self._file.timed_by()),
                corrected_by_s or None,
            ),
        )

    def skies(self, outing_id: int, *, deleted: bool = False) -> tuple[EveningSky, ...]:
        """All that was told of an outing's sky; the last one counts."""
        found = [sky_from(r) for r in self._rows(SKIES, outing_id, deleted)]
        return tuple(sorted(found, key=_by_time))

    # ---- sketches --------------------------------------------------------------------------

    def add_sketch(
        self,
        outing_id: int,
        target: str,
        utc: Instant,
        kind: SketchKind,
        body: str,
        *,
        request: str | None = None,
    ) -> int:
        """Save a sketch. Raises :class:`NotSaved`."""
        check_sketch(kind, body)
        with self._file.changing(ChangeKind.SKETCHED, clean(target), outing_id) as steps:
            if (before := self.sketch_of_request(request)) is not None:
                return before
            self._outings.need_open(outing_id)
            return self.insert_sketch(steps, outing_id, target, utc, kind, body, request)

    def insert_sketch(
        self,
        steps: list[Step],
        outing_id: int,
        target: str,
        utc: Instant,
        kind: SketchKind,
        body: str,
        request: str | None = None,
        corrected_by_s: float = 0.0,
    ) -> int:
        """A new row inside a change."""
        return self._file.add(
            steps,
            "sketches",
            "(outing_id, target, utc, kind, body, request, clock_boot, clock_zero, shift_s)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                *(outing_id, clean(target), stamp(utc), kind, body, request),
                *(*self._file.timed_by(), corrected_by_s or None),
            ),
        )

    def delete_sketch(self, sketch_id: int) -> None:
        """Mark it deleted; undo brings it back."""
        s = self.sketch(sketch_id)
        with self._file.changing(ChangeKind.SKETCH_DELETED, s.target, s.outing_id) as steps:
            self._file.set(steps, "sketches", sketch_id, "deleted", stamp(self._file.now()))

    def sketch(self, sketch_id: int) -> Sketch:
        """That sketch. Raises :class:`NotSaved` when there is none."""
        rows = self._file.rows(f"{SKETCHES} WHERE id = ?", (sketch_id,))
        if not rows:
            raise NotSaved(f"sketch {sketch_id}", "a sketch of this logbook", "Check the number")
        return sketch_from(rows[0])

    def sketches(
        self, outing_id: int | None = None, *, deleted: bool = False
    ) -> tuple[Sketch, ...]:
        """Those of an outing, or of all that are not deleted; by time."""
        found = [sketch_from(r) for r in self._rows(SKETCHES, outing_id, deleted)]
        return tuple(sorted(found, key=_by_time))

    # ---- what all three have -----------------------------------------------------------------

    def _rows(self, select: str, outing_id: int | None, deleted: bool) -> list[Any]:
        """Of one outing, or of all that are kept."""
        return self._file.rows(
            f"{select} WHERE (? IS NULL OR outing_id = ?) AND (? OR deleted IS NULL)"
            " AND (? IS NOT NULL OR outing_id IN (SELECT id FROM outings WHERE deleted IS NULL))",
            (outing_id, outing_id, deleted, outing_id),
        )

    def sky_of_request(self, request: str | None) -> int | None:
        """The id of the sky that this press told, taken back since or not."""
        return self._file.made_by(request, "skies")

    def sketch_of_request(self, request: str | None) -> int | None:
        """The id of the sketch that this press made, taken back since or not."""
        return self._file.made_by(request, "sketches")


def _by_time(x: LoggedLook | EveningSky | Sketch) -> tuple[Instant, int]:
    return x.utc, x.id
