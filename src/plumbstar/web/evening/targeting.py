"""Actions toward a target: chosen, centred, not in the field, searched for."""

from __future__ import annotations

import msgspec

from plumbstar.encoders.reading import Reading
from plumbstar.encoders.typed import exchanged
from plumbstar.errors import UserError
from plumbstar.guide.searching import fields
from plumbstar.sky.naming import lookup
from plumbstar.sky.times import Instant
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.guidance import pair, target_named
from plumbstar.web.evening.not_found import log_not_found, log_unfinished_search
from plumbstar.web.evening.observing import Observing
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.sighted import Sighted
from plumbstar.web.evening.sightings import Predicted


class Targeting:
    """The target is ``guidance.target`` among the parts, the search for it ``search``."""

    def __init__(self, parts: Parts, after: Consequences, observing: Observing) -> None:
        self._p, self._after, self._observing = parts, after, observing
        self._asked = False

    def set_target(self, name: str) -> None:
        """What to push to. The Sun may forbid it: then it is set, refused, and freed at night."""
        self._p.ground.need_site()
        target = target_named(name)
        log_unfinished_search(self._p, self._after.fix)
        self._p.guidance.choose(target, tuple(e.press for e in self._p.display.finds))
        self._p.plan.aim_at("")
        self._p.since.push_to(target.key)
        self._p.messages.target_chosen()
        self._after.new_aim()

    def clear_target(self) -> None:
        """Nothing to push to."""
        log_unfinished_search(self._p, self._after.fix)
        self._p.guidance.clear()
        self._after.new_aim()

    def here_centred(
        self,
        reading: Reading,
        utc: Instant,
        press: str,
        name: str | None = None,
        pushed_deg: float = 0.0,
    ) -> Sighted:
        """The target is in the middle of the field: as good as a star sighted, and a find.

        ``name``: of which target the press spoke. One that comes late may find another chosen.
        """
        target = lookup.find_target(name) if name else self._p.guidance.target
        if target is None:
            raise UserError("No target is chosen", "", "Choose a target first")
        present = self._p.guidance.target is not None and target.key == self._p.guidance.target.key
        predicted = None
        if self._after.fix is not None:
            direction = self._p.guidance.course_to(target).direction(utc)
            where = pair(self._after.fix.reading_of(direction, reading.degrees()[0]))
            predicted = Predicted(*where, self._p.instrument.field_deg / 2.0)
        done = self._observing.take(
            *(target, target.label, reading, utc, press, predicted), pushed_deg=pushed_deg
        )
        if present and not done.again and not done.asked:
            self._p.search.end()
            self._after.new_aim()
        return done

    def answer_doubt(
        self, press: str, save: bool, near: bool = False, reading: Reading | None = None
    ) -> Sighted:
        """What was asked about is what it says, and is saved as of its moment; or it was the star
        ``near`` where the tube pointed, saved as of the same moment; or it is dropped. With a
        ``reading`` the circles are read anew for the same moment: asked about again if need be."""
        d = self._p.doubts.need(press)
        if not save:
            self._p.doubts.answered(press, saved=False)
            return Sighted(None, False, None)
        if d.stop_untold:
            raise UserError(
                "The encoders do not know where the upright stop is, so that tap cannot be read",
                "",
                'Put the tube against its stop and press "The tube is on the stop now", or drop it',
            )
        if near and not d.near:
            raise UserError("No star was found near that press", "", "Say yes, or drop it")
        if near:
            d = msgspec.structs.replace(d, target=d.near, typed=d.near, predicted=None)
        target = lookup.find_target(d.target)
        utc = Instant.from_unix(d.unix)
        done = self._observing.take(
            *(target, d.typed, reading or d.reading, utc, press, d.predicted),
            sure=reading is None,
            read_again=reading is not None,
        )
        if done.asked:
            return done
        self._p.doubts.answered(press, saved=True)
        chosen = self._p.guidance.target
        if d.predicted is not None and chosen is not None and chosen.key == target.key:
            self._p.search.end()
            self._after.new_aim()
        return done

    def readings_exchanged(self, press: str) -> Sighted:
        """The two figures of that press were meant for the other circle each."""
        other = exchanged(self._p.instrument.kit, self._p.doubts.need(press).reading)
        if other is None:
            raise UserError("Those readings cannot be the other way round", "", "Type them again")
        return self.answer_doubt(press, save=True, reading=other)

    def not_in_field(self) -> None:
        """Not here: what that teaches goes into the fix, and the search starts or goes on."""
        target, course = self._p.guidance.followed()
        if self._after.fix is None:
            raise UserError("There is no fix yet", "", "Centre a bright star first")
        now = self._p.now()
        place = course.az_alt_deg(now)
        path, misses = self._p.search.next_step(
            *(target, self._after.fix, *place, self._p.instrument.field_deg, now),
            self._p.guidance.allowed_stops(),
            self._p.since.pushes(target.key),
        )
        if path.over:
            log_not_found(self._p, self._after.fix, target, now)
            # By day no star is named, nor one near it: it may be nearer to the Sun.
            then = (
                "Choose another, or wait until the Sun is well down"
                if self._p.guidance.allowed_stops() is not None
                else "Sight a bright star near it, then try again; or it is too faint for tonight"
            )
            self._p.messages.say(
                f"{target.label}: {fields(len(path.stops))} searched and not found. {then}.",
                "problem",
                of_target=True,
            )
        self._p.search.take(path, misses)
        self._after.refit()

    def one_field_back(self) -> None:
        """Back to the field before this one."""
        self._p.search.back()
        self._after.refit()

    def look_at_sun(self) -> bool:
        """Ask again whether the Sun forbids the target, and whether the clocks agree about it. True
        if the answer has changed."""
        self._p.sun_question.look()
        asked = self._p.sun_question.waits()
        changed = self._p.guidance.refusal_has_changed() or asked != self._asked
        self._asked = asked
        if changed:
            self._after.new_aim()
        return changed
