"""Times found wrong afterwards: the correction beside what was saved, never over it.

A star's true place depends on the moment, so a corrected sighting has its place worked out anew.
Readings are untouched, and so is a find's predicted reading: that is what was said at the time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from plumbstar.errors import UserError
from plumbstar.logbook.changes import ChangeKind
from plumbstar.logbook.file import Step
from plumbstar.logbook.looks import EveningSky, LoggedLook, Sketch
from plumbstar.logbook.records import MOST_S, LoggedSighting, NotSaved, TimedBy
from plumbstar.logbook.shown import DISPLAY_TIMES, DisplayEntry, display_times, load_display
from plumbstar.logbook.whole_outing import WholeOutings
from plumbstar.logbook.words import signed_clock
from plumbstar.mount.sightings_file import Place
from plumbstar.sky.times import Instant

#: A sighted star stands above the horizon, give or take refraction and a low skyline.
LOWEST_ALT_DEG = -1.0


@dataclass(frozen=True)
class Shifts:
    """Seconds to add to the present times: for sightings, finds and notes by id, for what a closed
    controller showed (``shown``) by press, and the outing."""

    sightings: Mapping[int, float] = field(default_factory=dict)
    finds: Mapping[int, float] = field(default_factory=dict)
    notes: Mapping[int, float] = field(default_factory=dict)
    start: float = 0.0
    end: float = 0.0
    shown: Mapping[str, float] = field(default_factory=dict)
    #: Looks, skies and sketches, by table and id.
    seen: Mapping[tuple[str, int], float] = field(default_factory=dict)

    def __bool__(self) -> bool:
        rows = self.sightings or self.finds or self.notes or self.shown or self.seen
        return bool(rows or self.start or self.end)

    @property
    def range_s(self) -> tuple[float, float]:
        """The smallest and the largest correction of a sighting, or of what a controller showed
        (without any: of the rest)."""
        every = [*self.sightings.values(), *self.shown.values()]
        every = every or [*self.finds.values(), *self.notes.values(), *self.seen.values()]
        every = every or [self.start or self.end]
        return (min(every), max(every))

    @property
    def words(self) -> str:
        """By how much, for a person."""
        low, high = self.range_s
        a, b = signed_clock(low), signed_clock(high)
        return a if high - low < 1.0 else f"{a} to {b}"


class Corrections(WholeOutings):
    """Corrects the times of whole outings or parts of them."""

    def shifts_by(self, outing_id: int, by_s: float, up_to: int | None = None) -> Shifts:
        """The whole outing by so many seconds; or its sightings 1 to ``up_to``, with the finds and
        notes that the same clock dated no later, and the start. An outing without sightings is
        counted by its lines beside a closed controller. Raises :class:`UserError`."""
        if not (math.isfinite(by_s) and 0.0 < abs(by_s) <= MOST_S):
            raise UserError(
                f"a correction of {by_s:g} s",
                "a number of seconds: not 0, and less than a century",
                "Plus where the clock was behind: --by 3600 for one that was an hour slow",
            )
        outing = self._outings.get(outing_id)
        every = self._sightings.of(outing_id, deleted=True)
        rows = [s for s in every if s.sighting.utc is not None]
        finds = self._finds.of(outing_id, deleted=True)
        notes = self._notes.of(outing_id, deleted=True)
        shown = load_display(self._outings.state(outing_id))
        seen = self._seen(outing_id)
        if up_to is not None:
            if shown and not every:
                last = _line(shown, up_to, outing_id)
            else:
                last = self._last(outing_id, up_to)
            rows = [s for s in rows if s.number <= up_to]
            finds = tuple(f for f in finds if f.utc <= last)
            notes = tuple(n for n in notes if n.utc <= last)
            shown = tuple(e for e in shown if e.utc <= last)
            seen = {k: x for k, x in seen.items() if x.utc <= last}
        return Shifts(
            {s.id: by_s for s in rows},
            {f.id: by_s for f in finds},
            {n.id: by_s for n in notes},
            by_s,
            by_s if up_to is None and outing.ended is not None else 0.0,
            {e.press: by_s for e in shown},
            dict.fromkeys(seen, by_s),
        )

    def _seen(self, outing_id: int) -> dict[tuple[str, int], LoggedLook | EveningSky | Sketch]:
        """Looks, skies and sketches of an outing, by table and id."""
        looks = self._looks
        return {
            **{("looks", x.id): x for x in looks.of(outing_id, deleted=True)},
            **{("skies", x.id): x for x in looks.skies(outing_id, deleted=True)},
            **{("sketches", x.id): x for x in looks.sketches(outing_id, deleted=True)},
        }

    def _last(self, outing_id: int, number: int) -> Instant:
        """When that sighting was. Raises :class:`UserError`."""
        utc = self._sightings.numbered(outing_id, number).sighting.utc
        if utc is None:
            raise UserError(f"sighting {number}", "one with a time", "Choose another")
        return utc

    def shifts_to(self, outing_id: int, clock: TimedBy, least_s: float) -> Shifts:
        """What this clock, held to be right, says of the outing's times: those of the same run of
        the computer that are wrong by ``least_s`` or more. Others cannot be known."""

        def wrong(then: TimedBy | None, corrected_by_s: float) -> float:
            if then is None or then.boot != clock.boot:
                return 0.0
            off = clock.zero - then.zero - corrected_by_s
            return off if abs(off) >= least_s else 0.0

        outing = self._outings.get(outing_id)
        sightings = self._sightings.of(outing_id, deleted=True)
        return Shifts(
            {s.id: w for s in sightings if (w := wrong(s.clock, s.corrected_by_s))},
            {
                f.id: w
                for f in self._finds.of(outing_id, deleted=True)
                if (w := wrong(f.clock, f.corrected_by_s))
            },
            {
                n.id: w
                for n in self._notes.of(outing_id, deleted=True)
                if (w := wrong(n.clock, n.corrected_by_s))
            },
            wrong(outing.clock, outing.start_corrected_by_s),
            shown={
                e.press: w
                for e in load_display(self._outings.state(outing_id))
                if (w := wrong(e.clock, e.corrected_by_s))
            },
            seen={
                key: w
                for key, x in self._seen(outing_id).items()
                if (w := wrong(x.clock, x.corrected_by_s))
            },
        )

    def correct_times(self, outing_id: int, shifts: Shifts, place: Place | None) -> int:
        """Write these corrections; one undo takes all back. Returns how many sightings that are
        not deleted were corrected.

        ``place`` gives a star's place at the corrected moment, (name, utc) -> (key, azimuth deg,
        altitude deg). Raises :class:`NotSaved`, and then nothing was written: for a star whose
        place cannot be found, or would be below the horizon.
        """
        outing = self._outings.get(outing_id)
        n = 0
        with self._file.changing(ChangeKind.TIMES_CORRECTED, shifts.words, outing_id) as steps:
            self._outings.need_open(outing_id)
            for s in self._sightings.of(outing_id, deleted=True):
                by = shifts.sightings.get(s.id, 0.0)
                if by and self._shift_sighting(steps, s, by, place) and s.deleted is None:
                    n += 1
            for f in self._finds.of(outing_id, deleted=True):
                self._shift(steps, "finds", f.id, f.corrected_by_s, shifts.finds.get(f.id, 0.0))
            for r in self._notes.of(outing_id, deleted=True):
                self._shift(steps, "notes", r.id, r.corrected_by_s, shifts.notes.get(r.id, 0.0))
            for key, x in self._seen(outing_id).items():
                self._shift(steps, *key, x.corrected_by_s, shifts.seen.get(key, 0.0))
            self._shift_shown(steps, outing_id, shifts.shown, place)
            self._shift(steps, "outings", outing_id, outing.start_corrected_by_s, shifts.start)
            self._shift(
                *(steps, "outings", outing_id, outing.end_corrected_by_s, shifts.end),
                column="end_shift_s",
            )
        return n

    def _shift(
        self,
        steps: list[Step],
        table: str,
        row: int,
        so_far: float,
        by: float,
        column: str = "shift_s",
    ) -> None:
        if by:
            total = so_far + by
            self._file.set(steps, table, row, column, total if abs(total) > 1e-6 else None)

    def _shift_shown(
        self, steps: list[Step], outing_id: int, by: Mapping[str, float], place: Place | None
    ) -> None:
        state = self._outings.state(outing_id)
        total = display_times(state)
        for e in load_display(state):
            if not by.get(e.press):
                continue
            total[e.press] = e.corrected_by_s + by[e.press]
            if e.event == "star" and place is not None:
                _, _, alt = place(e.star, e.utc.plus_seconds(by[e.press]))
                if alt < LOWEST_ALT_DEG:
                    low = _below(e.star, alt, by[e.press])
                    raise NotSaved(f"Nothing was corrected. Beside the controller: {low.came}",
                                   low.wanted, low.remedy)  # fmt: skip
        kept = {press: s for press, s in total.items() if abs(s) > 1e-6}
        if kept != display_times(state):
            self._file.set(steps, "outings", outing_id, f"state.{DISPLAY_TIMES}", kept or None)

    def _shift_sighting(
        self, steps: list[Step], s: LoggedSighting, by: float, place: Place | None
    ) -> bool:
        """Whether it was done: a deleted one that cannot be placed is left as it is."""
        x = s.sighting
        if x.utc is None:
            return False
        total = s.corrected_by_s + by
        if abs(total) <= 1e-6:  # back to what was saved
            for column in ("shift_s", "shift_az_deg", "shift_alt_deg"):
                self._file.set(steps, "sightings", s.id, column, None)
            return True
        try:
            if place is None:
                raise UserError("an outing without a site", "the site", "Import it with --site")
            _, az, alt = place(x.star, x.utc.plus_seconds(by))
            if alt < LOWEST_ALT_DEG:
                raise _below(x.star, alt, by)
        except UserError as e:
            if s.deleted is not None:
                return False
            raise NotSaved(
                f"Nothing was corrected. Sighting {s.number}: {e.came}", e.wanted, e.remedy
            ) from None
        self._file.set(steps, "sightings", s.id, "shift_s", total)
        self._file.set(steps, "sightings", s.id, "shift_az_deg", az)
        self._file.set(steps, "sightings", s.id, "shift_alt_deg", alt)
        return True


def _line(shown: Sequence[DisplayEntry], number: int, outing_id: int) -> Instant:
    """When that line beside a controller was. Raises :class:`UserError`."""
    if not 1 <= number <= len(shown):
        raise UserError(
            f"line {number} beside the controller, of outing {outing_id}",
            f"1 to {len(shown)}",
            f"`plumbstar log show {outing_id}` numbers them",
        )
    return shown[number - 1].utc


def _below(star: str, alt_deg: float, by: float) -> UserError:
    return UserError(
        f"{star}, which would have been {-alt_deg:.0f} degrees below the horizon",
        "a time at which it was up",
        f"Check the sign: {signed_clock(by)} makes the saved times "
        f"{'later' if by > 0 else 'earlier'}",
    )
