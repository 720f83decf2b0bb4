"""The evening: the one object that changes. It owns the logbook, site, kit, fix and target.

Every action is a plain method; each runs on one worker thread, one after another, so there is
nothing to lock, and each commits to the logbook before it returns. What other threads read (the
aim, the picture) is frozen and replaced as a whole. The evening never touches the encoders, the
network or the clock of the system: readings and moments are handed to it.

Three layers, each resting on the one below: the ground (ground.py), what was observed
(observed.py), and here the target: where to push, and how to search when it is not there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import msgspec

from plumbstar.clock import doubts as clock_check
from plumbstar.clock.gps import Fix as GpsFix
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.guide.aim import Aim, place_stop, sun_sentence
from plumbstar.guide.course import Course
from plumbstar.guide.searching import fields, search
from plumbstar.logbook import Logbook, short
from plumbstar.logbook.places import log_name
from plumbstar.logbook.slips import DESK
from plumbstar.logbook.words import signed_clock
from plumbstar.sky.coordinates import words as coordinate_words
from plumbstar.sky.lists import towns
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.units import Array
from plumbstar.web.evening import kept, waking
from plumbstar.web.evening.ground import KIT_TEXT, SITE, same_place
from plumbstar.web.evening.kept import Miss, Sighted, Sweep
from plumbstar.web.evening.observed import Observed
from plumbstar.web.evening.timing import Timing


class Evening(Observed):
    """See the module's head. ``now`` gives the evening's moment."""

    def __init__(
        self,
        book: Logbook,
        now: Callable[[], Instant],
        *,
        site: Site | None = None,
        kit_text: str | None = None,
        encoders: bool = True,
        timing: Timing | None = None,
    ) -> None:
        super().__init__(book, now, encoders)
        self.timing = timing
        self._doubts: tuple[str, ...] = ()
        self.target: Target | None = None
        self.refused: str | None = None
        self.aim = Aim()
        self._course: Course | None = None
        self._start(site, kit_text)

    # ---- coming up -------------------------------------------------------------------------

    def _start(self, site: Site | None, kit_text: str | None) -> None:
        """Everything back from the logbook; what the command line names goes before it."""
        now = self.now()
        self.outing = waking.outing_in_progress(self.book, now, self.say, sure=self._sure)
        saved, saved_kit = self.book.get_setting(SITE), self.book.get_setting(KIT_TEXT)
        if site is not None:
            self._remember_site(site)
        elif saved is not None:
            site = msgspec.convert(saved, Site)
        if kit_text is not None and kit_text != saved_kit:
            self.book.set_setting(KIT_TEXT, kit_text)
        text = kit_text or saved_kit or (self.outing.kit_text if self.outing else "")
        if text:
            self._take_kit(text)
        if self.outing is not None and self.outing.site is not None:
            waking.compare(self.outing, site, self.kit, self.say)
            # What was said since of the same place, as its time zone, stays.
            if site is None or not same_place(site, self.outing.site):
                site = self.outing.site
        self._take_site(site)
        self.reload()

    def reload(self) -> None:
        """Read the outing again: at the start, and when another program changed the logbook."""
        # Noted before reading: what somebody changes meanwhile is then read the next time.
        self._seen_elsewhere = self.book.elsewhere()
        self.outing = self.book.current_outing()
        if self.outing is not None:
            raw = self.book.state(self.outing.id).get(DESK)
            self.sightings = tuple(
                s for s in self.book.sightings(self.outing.id) if s.deleted is None
            )
        else:
            raw, self.sightings = self.book.get_setting(DESK), ()
        self.desk = kept.load(raw)
        if (self.choice or {}).get("status") != "working":
            self.choice = self.desk.choice
        self._find_target()
        self.refit()

    # ---- the clock -------------------------------------------------------------------------

    @property
    def _sure(self) -> bool:
        return self.timing is None or not self.timing.unknown

    def take_phone_time(self, received: float, phone_s: float, round_trip_s: float) -> None:
        """Go by a phone's clock, by consent. ``received``: our steady moment of its question."""
        if self.timing is not None:
            self.clock_changed(self.timing.take_phone(received, phone_s, round_trip_s))

    def take_gps(self, fix: GpsFix) -> None:
        """A satellite receiver's time and place. A site that is known is kept."""
        here = fix.site()
        if self.site is None:
            zone = towns.load().zone_at(here.lat_deg, here.lon_deg)
            self.set_site(replace(here, time_zone=zone))
            self.say(f"The site is where the GPS says: {_where(here)}.", "info")
        elif not same_place(here, self.site):
            self.say(
                f"The GPS says that you stand at {_where(here)}, which is not the site in "
                "use. The site is kept; change it under Prepare if the GPS is right.",
                "problem",
            )
        timing = self.timing
        if timing is None or timing.clock.rehearsal:
            return
        unix, monotonic = fix.zero + timing.clock.steady(), timing.clock.monotonic()
        off = unix - timing.clock.at(monotonic).to_unix()
        if abs(off) < clock_check.MATTERS_S:
            return
        if fix.turns and abs(off) > 86400.0 and self._sure:
            self.say(
                f"The GPS says it is {Instant.from_unix(unix).iso()}, by a week count that has "
                "turned, and this computer another day. The computer's time is kept.",
                "problem",
            )
            return
        self.clock_changed(timing.take(monotonic, unix, "gps"))

    def clock_changed(self, by_s: float) -> None:
        """The evening's clock was moved by so much: everything that knew the time begins again."""
        assert self.timing is not None
        self.outing = waking.outing_in_progress(self.book, self.now(), self.say)
        if self.outing is not None:
            text = f"The clock was moved by {signed_clock(by_s)}. {self.timing.sentence}"
            self.book.add_note(self.outing.id, text, self.now(), undoable=False)
        self._take_site(self.site)  # a new almanac
        self.reload()
        self.choice_token += 1  # a ranking under way is for the old time
        self._save(choice=None)
        self.choice = None
        self.say(self.timing.sentence, "info")

    def clock_is_right(self) -> None:
        """The observer says that the computer's clock is right, whatever spoke against it."""
        if self.timing is not None:
            self.timing.trust()
            self.outing = waking.outing_in_progress(self.book, self.now(), self.say)
            self.reload()

    def look_at_clock(self) -> bool:
        """Whether what is to be said of the clock has changed since this was asked last."""
        doubts = tuple(f.kind for f in self.timing.findings()) if self.timing is not None else ()
        changed, self._doubts = doubts != self._doubts, doubts
        return changed

    # ---- target, push, sweep ---------------------------------------------------------------

    def _find_target(self) -> None:
        self.target = None
        if self.desk.target:
            try:
                self.target = lookup.find_target(self.desk.target)
            except UserError:
                self.target = None
        self._course = None

    def set_target(self, name: str) -> None:
        """What to push to. The Sun may forbid it: then it is set, refused, and freed at night."""
        self.need_site()
        target = lookup.find_target(name)
        if target.label == "Sun":
            raise UserError(
                "the Sun as a target",
                "anything else",
                "This program never guides to the Sun. With a full-aperture filter fitted, find it "
                "by the shadow of the tube",
            )
        self._log_sweep()
        self.target, self._course = target, None
        self._save(target=target.key, sweep=None)
        self.new_aim()

    def clear_target(self) -> None:
        """Nothing to push to."""
        self.leave_target()
        self._save(target="", sweep=None)
        self.new_aim()

    def leave_target(self) -> None:
        """Give the target up, and a search with it."""
        self._log_sweep()
        self.target, self._course = None, None

    def _guided(self) -> tuple[Target, Fix, Course]:
        if self.target is None or self._course is None:
            raise UserError("no target", "something to push to", "Choose a target first")
        if self.refused is not None:
            raise UserError(self.refused, "a safe target", "Choose another, or wait")
        if self.fix is None:
            raise UserError("no fix yet", "one sighting or more", "Centre a bright star first")
        return self.target, self.fix, self._course

    @property
    def sweep(self) -> Sweep | None:
        """The search under way, unless the fix has changed since: then it led elsewhere."""
        sweep = self.desk.sweep
        if sweep is None or self.target is None or sweep.target != self.target.key:
            return None
        return sweep if sweep.basis == self._basis else None

    def here_centred(
        self, reading: Reading, utc: Instant, press: str, name: str | None = None
    ) -> Sighted:
        """The target is in the middle of the field: as good as a star sighted, and a find.

        ``name``: of which target the press spoke. One that comes late may find another chosen.
        """
        target = lookup.find_target(name) if name else self.target
        if target is None:
            raise UserError("no target", "something to push to", "Choose a target first")
        present = self.target is not None and target.key == self.target.key
        predicted = None
        if self.fix is not None:
            course = self._course if present and self._course else Course(target, self.need_site())
            az, _ = reading.degrees()
            predicted = _pair(self.fix.reading_of(course.direction(utc), az))
        done = self._sight(target, target.label, reading, utc, press, predicted)
        if present and not done.again:
            self._save(sweep=None)
            self.new_aim()
        return done

    def not_in_field(self) -> None:
        """Not here: what that teaches goes into the fix, and the search starts or goes on."""
        target, fix, course = self._guided()
        now = self.now()
        sweep = self.sweep
        if sweep is None:
            az, alt = course.az_alt_deg(now)
            stops, found_by = search(fix, az, alt, self.field_deg)
            sweep = Sweep(self._basis, target.key, 0, stops, found_by)
            miss = Miss(short(now), self._basis, target.key, az, alt, self.field_deg)
            misses = (*self._misses(), miss)[-20:]
        else:
            misses = self.desk.misses
        index = sweep.index + 1
        if index >= len(sweep.stops):
            self._log_not_found(target, now)
            self.say(
                f"{target.label}: {fields(len(sweep.stops))} searched and not found. Sight a "
                "bright star near it, then try again; or it is too faint for tonight.",
                "problem",
            )
            self._save(sweep=None, misses=misses)
        else:
            self._save(sweep=msgspec.structs.replace(sweep, index=index), misses=misses)
        self.refit()

    def one_field_back(self) -> None:
        """The last "not in the field" was a slip of the thumb: back to the field before it."""
        sweep = self.sweep
        if sweep is None:
            raise UserError("no search under way", "a search path on the screen", "Nothing to do")
        if sweep.index > 1:
            self._save(sweep=msgspec.structs.replace(sweep, index=sweep.index - 1))
        else:  # the first of them also told the fix that it was not there
            mine = [m for m in self._misses() if m.target == sweep.target][-1:]
            self._save(sweep=None, misses=tuple(m for m in self.desk.misses if m not in mine))
        self.refit()

    def _log_not_found(self, target: Target, utc: Instant) -> None:
        if self.outing is None or self.fix is None or self._course is None:
            return
        near = _pair(self.fix.reading_of(self._course.direction(utc), 180.0))
        self.book.add_find(
            self.outing.id,
            log_name(target),
            utc,
            near,
            None,
            self.field_deg / 2.0,
            self.eyepiece.name,
        )

    def _log_sweep(self) -> None:
        """Leaving a search unfinished is a "not found" for the log."""
        if self.sweep is not None and self.target is not None:
            self._log_not_found(self.target, self.now())

    # ---- what hangs on it ------------------------------------------------------------------

    def new_aim(self) -> None:
        """A fresh frozen aim for the stream, and the Sun's word on it."""
        if self.site is None or self.almanac is None:
            self.aim, self.refused = Aim(), None
            return
        if self.target is not None and (self._course is None or self._course.site != self.site):
            self._course = Course(self.target, self.site)
        course = self._course if self.target is not None else None
        sweep = self.sweep
        aim = Aim(
            fix=self.fix,
            course=course,
            sun=self.almanac.sun,
            field_deg=self.field_deg,
            push_seconds=self.kit.push_seconds,
            filter_confirmed=bool(self.outing is not None and self.outing.solar_filter),
            stop_deg=sweep.stops[sweep.index] if sweep is not None else None,
        )
        self.refused = self.forbidden(aim, course) if course is not None else None
        self.aim = replace(aim, refused=self.refused is not None)

    def forbidden(self, aim: Aim, course: Course) -> str | None:
        """Why nothing may lead there now: the Sun, or not knowing where the Sun is."""
        if not self._sure and not aim.filter_confirmed:
            return (
                "The clock is not known to be right, so neither is where the Sun stands: no way "
                "is shown until the time is settled"
            )
        return sun_sentence(aim, course, self.now())

    def look_at_sun(self) -> bool:
        """Ask again whether the Sun forbids the target. True if the answer has changed."""
        if self._course is None or self.target is None:
            return False
        if (self.forbidden(self.aim, self._course) is None) == (self.refused is None):
            return False
        self.new_aim()
        return True

    def goal(self, now: Instant, near_az_deg: float) -> tuple[float, float] | None:
        """The reading of the present stop of a sweep, or of the target, degrees."""
        if self.fix is None or self._course is None or self.refused is not None:
            return None
        direction = place_stop(self._course.direction(now), self.aim.stop_deg)
        return _pair(self.fix.reading_of(direction, near_az_deg))

    def target_now(self, now: Instant) -> tuple[Course, float, float] | None:
        """The target's course and its place at that moment, degrees."""
        if self.target is None or self._course is None:
            return None
        return (self._course, *self._course.az_alt_deg(now))


def _pair(reading: Array) -> tuple[float, float]:
    return float(reading[0]), float(reading[1])


def _where(s: Site) -> str:
    return coordinate_words(s.lat_deg, s.lon_deg, s.elevation_m)
