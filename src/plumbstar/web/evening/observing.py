"""Actions on what was observed: sightings, their corrections, and possible slips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from plumbstar.encoders.reading import NothingCentred, Reading
from plumbstar.encoders.typed import exchanged
from plumbstar.errors import UserError
from plumbstar.logbook.changes import sentence_part
from plumbstar.logbook.places import log_name
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import CountSlip
from plumbstar.nameless import say
from plumbstar.nameless.near import near
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target
from plumbstar.sky.times import Instant
from plumbstar.solve.credible import FarOff, far_off
from plumbstar.web.evening.came_before import came_in_an_outing_before
from plumbstar.web.evening.consequences import Consequences
from plumbstar.web.evening.desk import DoubtedPress, NamelessPress
from plumbstar.web.evening.messages import UNDO
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.plan import NAMELESS
from plumbstar.web.evening.sighted import Sighted
from plumbstar.web.evening.sightings import Predicted, up_at

#: Said of what was centred by day, or in twilight near the Sun; it is recorded all the same.
BY_DAY = (
    "The Sun is up, or hardly down. Know where the Sun is "
    "before you move the tube, and never sweep toward it: one glance blinds for good."
)


#: What the altitude reads on the upright stop; so near to it the tube most likely rests there
#: still, and straight up the azimuth tells nothing. Degrees; common practice, no source.
UPRIGHT_DEG, STRAIGHT_UP_DEG = 90.0, 0.5
#: Encoders that read the first star's altitude further off count from elsewhere than the stop: no
#: slip that the fix allows for is so large (two sigma: 40). Degrees; common practice, no source.
NO_SLIP_DEG = 45.0
#: And so low nothing was centred, whatever the stop is off by. The same.
LOWEST_DEG = -10.0


class Observing:
    """Each is on disk before it returns."""

    def __init__(self, parts: Parts, after: Consequences, outings: Outings) -> None:
        self._p, self._after, self._outings = parts, after, outings

    def sight(
        self, name: str, reading: Reading, utc: Instant, press: str, pushed_deg: float = 0.0
    ) -> Sighted:
        """A star (or any target) is centred: save it, then solve. On disk before it returns.
        :data:`NAMELESS` for a bright star that the observer does not know. ``pushed_deg``: how
        far the tube was still being pushed just before; 0 for one at rest."""
        if name == NAMELESS:
            return self._take_nameless(reading, utc, press)
        target = lookup.find_target(name)
        return self.take(target, name, reading, utc, press, pushed_deg=pushed_deg)

    def take(
        self,
        target: Target,
        typed: str,
        reading: Reading,
        utc: Instant,
        press: str,
        predicted: Predicted | None = None,
        *,
        sure: bool = False,
        read_again: bool = False,
        pushed_deg: float = 0.0,
    ) -> Sighted:
        """Save it, unless it cannot be what it says, or the tube was still being pushed: then it is
        held and asked about, once.
        ``sure``: the observer was asked and said yes. If it still cannot be what it says, then
        something moved before it. ``read_again``: was asked, and gave other readings for it."""
        again = self.known(press)
        if again is not None and not ((sure or read_again) and again.sighting_id is None):
            return again
        az, alt = up_at(target, utc, self._p.ground.need_site())
        field_deg = self._p.instrument.field_deg
        careful = self._p.guidance.check_sighting(target, (az, alt), utc, field_deg)
        eyepiece = self._p.instrument.eyepiece.name
        fact = Sighting(log_name(target), az, alt, *reading.degrees(), utc, eyepiece)
        far = self._far_off(fact, reading)
        if careful:
            self._p.messages.say(BY_DAY, "problem")
        untold = (
            far is not None
            and reading.state != "typed"
            and far.altitude_only
            and far.off_deg > NO_SLIP_DEG
        )
        self._outings.start()
        said = (press, target.key, fact.star, typed, reading, utc.to_unix(), predicted)
        if far is None and pushed_deg and not sure:
            self._p.doubts.hold(
                DoubtedPress(*said, 0.0, 0.0, False, "", stood_alt_deg=alt, pushed_deg=pushed_deg)
            )
            return Sighted(None, False, None, asked=True)
        if far is not None and not sure:
            used = self._p.sightings.used
            same = used[far.same_as].sighting.star if far.same_as is not None else ""
            other_way = self._exchanged(fact, reading)
            self._p.doubts.hold(
                DoubtedPress(
                    *said,
                    *(far.off_deg, far.bound_deg, far.altitude_only, same),
                    (None if far.altitude_only else far.points_az_deg, far.points_alt_deg),
                    far.stood_alt_deg,
                    "" if same or other_way else self._near(fact),
                    other_way,
                    untold,
                )
            )
            return Sighted(None, False, None, asked=True)
        sighting_id = self._p.sightings.add(fact, reading, typed, press, predicted)
        self._p.plan.aim_at("")
        if far is not None:
            self._p.slips.seen(sighting_id, far.off_deg)
        self._p.slips.leave_open_for_late(sighting_id, reading)
        self._after.refit(log=True)
        self._enter_names()
        return Sighted(sighting_id, False, self._after.solved.residual_arcmin(sighting_id))

    def known(self, press: str) -> Sighted | None:
        """What became of a press that came before, or None for a new one."""
        again = self._p.sightings.known_press(press)
        if again is not None:
            return Sighted(again, True, self._after.solved.residual_arcmin(again))
        if self._p.nameless.known(press):
            return Sighted(None, True, None)
        if self._p.doubts.known(press):
            return self._p.doubts.as_before(press)
        over = came_in_an_outing_before(self._p.book, press)
        return Sighted(None, True, None) if over else None

    def _take_nameless(
        self, reading: Reading, utc: Instant, press: str, *, read_again: bool = False
    ) -> Sighted:
        """Keep it, and name it when its readings and those beside it tell. ``read_again``: it was
        held until the stop was told."""
        again = self.known(press)
        if again is not None and not read_again:
            return again
        self._p.ground.need_site()
        self._p.guidance.check_nameless(utc)
        if abs(reading.degrees()[1] - UPRIGHT_DEG) < STRAIGHT_UP_DEG:
            raise NothingCentred(
                "By its reading the tube stands straight up, as on its stop",
                "",
                "Bring a bright star to the middle that stands lower, then tap",
            )
        first = not self._p.sightings.used and self._p.slips.open is None and not reading.slip
        if first and reading.state != "typed" and reading.degrees()[1] < LOWEST_DEG:
            self._outings.start()
            alt = reading.degrees()[1]
            held = DoubtedPress(
                *(press, NAMELESS, "a bright star", NAMELESS, reading, utc.to_unix(), None),
                *(LOWEST_DEG - alt, 0.0, True, "", (None, alt)),
                stop_untold=True,
            )
            self._p.doubts.hold(held)
            return Sighted(None, False, None, asked=True)
        self._outings.start()
        kept = self._p.nameless
        eyepiece = self._p.instrument.eyepiece.name
        kept.keep(NamelessPress(press, reading, utc.to_unix(), eyepiece, kept.cuts))
        self._after.refit()
        self._enter_names()
        named = self._p.sightings.known_press(press)
        if named is None:
            return Sighted(None, False, None)
        return Sighted(named, False, self._after.solved.residual_arcmin(named))

    def colour_said(self, press: str, orange: bool) -> None:
        """Whether that star is deep orange, as the observer saw it."""
        self._p.nameless.say_colour(press, "orange" if orange else "white")
        self._after.refit()
        self._enter_names()

    def brighter_said(
        self, press: str, other: str, was: Literal["brighter", "fainter", "alike"]
    ) -> None:
        """How bright the one star was beside the other, as the observer saw them."""
        self._p.nameless.say_brighter(press, other, was)
        self._after.refit()
        self._enter_names()

    def forget_nameless(self) -> None:
        """Take back the last star that has no name."""
        self._p.nameless.drop_last()
        self._after.refit()

    def _enter_names(self) -> None:
        """Once all are named surely they are sightings as any others."""
        naming = self._after.naming
        if naming is None or not naming.found.sure:
            return
        done = []
        for press, row in zip(naming.presses, naming.found.rows, strict=True):
            if press is not None and row is not None:
                added = self._p.sightings.add(row, press.reading, NAMELESS, press.press)
                self._p.slips.leave_open_for_late(added, press.reading)
                done.append(press.press)
        self._p.nameless.named(done)
        if self._p.plan.aimed == NAMELESS:
            self._p.plan.aim_at("")
        self._after.refit(log=True)
        self._p.messages.say(say.sentence(naming.found), "info")

    def _far_off(self, fact: Sighting, reading: Reading) -> FarOff | None:
        """Why it cannot be what it says. After a possible slip anything can: it settles that."""
        if reading.slip or self._p.slips.open is not None:
            return None
        return far_off(
            fact,
            self._after.fix,
            self._p.instrument.priors,
            self._p.instrument.noise,
            self._p.instrument.field_deg,
            [s.sighting for s in self._p.sightings.used],
        )

    def _exchanged(self, fact: Sighting, reading: Reading) -> bool:
        """Whether it could be what it says had the two figures been typed the other way round."""
        other = exchanged(self._p.instrument.kit, reading)
        if other is None:
            return False
        az, alt = other.degrees()
        return self._far_off(replace(fact, az_reading_deg=az, alt_reading_deg=alt), other) is None

    def _near(self, fact: Sighting) -> str:
        """What stands where the tube pointed, by a fix that can be believed."""
        fix = self._after.fix
        if fix is None or fix.contradictory:
            return ""
        try:
            return near(fact, fix, self._p.ground.need_site())
        except UserError:  # by day nothing is named
            return ""

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave a sighting out of the fix, saying why."""
        self._p.sightings.set_aside(sighting_id, reason)
        self._after.refit(log=True)

    def set_aside_these(self, sighting_ids: Sequence[int], reason: str) -> None:
        """Leave several out at once; undo brings them back at once."""
        self._p.sightings.set_all_aside(sighting_ids, reason)
        self._after.refit(log=True)

    def enter_as(self, those: Sequence[tuple[int, str]]) -> None:
        """They were other stars: each reading and moment once more under that name, and the old
        ones set aside, all at once. Raises UserError after something moved since, or for a star
        that was down."""
        site = self._p.ground.need_site()
        targets = [(sighting_id, lookup.find_target(name)) for sighting_id, name in those]
        first = min(sighting_id for sighting_id, _ in those)
        if any(s.after >= first and not s.nothing_moved for s in self._p.slips.all):
            raise UserError(
                "Something moved after that sighting, so it cannot be entered anew",
                "",
                "Set it aside, and sight the star again",
            )
        self._p.sightings.enter_as(targets, site)
        self._after.refit(log=True)

    def restore(self, sighting_id: int) -> None:
        """Use it again."""
        self._p.sightings.restore(sighting_id)
        self._after.refit(log=True)

    def delete_sighting(self, sighting_id: int) -> None:
        """Take it out of the log; undo brings it back."""
        self._p.sightings.delete(sighting_id)
        self._after.refit(log=True)

    def undo(self) -> None:
        """Take back the last thing done in this outing."""
        change = self._p.sightings.undo()
        self._p.display.read()
        self._after.refit(log=True)
        self._p.messages.say(f"Taken back: {sentence_part(change)}.", "info", about=UNDO)

    def redo(self) -> None:
        """Bring back the last undo."""
        change = self._p.sightings.redo()
        self._p.display.read()
        self._after.refit(log=True)
        self._p.messages.say(f"Brought back: {sentence_part(change)}.", "info", about=UNDO)

    # ---- slips and the stop ----------------------------------------------------------------

    def tube_on_stop(self, read_deg: float, slips_before: int) -> None:
        """The tube rests on the upright stop, where the altitude read that until now, by encoders
        that may have slipped so many times. What was centred before is read by it; what cannot be
        saved is said, and the stop is told all the same."""
        self._p.upright.tell(read_deg)
        saved, lost, refused = [], [], []
        for d in self._p.doubts.open:
            if not d.stop_untold:
                continue
            if d.reading.slips_before != slips_before:
                self._p.doubts.answered(d.press, saved=False)
                lost.append(d.star)
                continue
            try:
                asked = self._take_by_stop(d, UPRIGHT_DEG - read_deg).asked
            except UserError as e:  # it was down, or the Sun was up
                self._p.doubts.answered(d.press, saved=False)
                refused.append((d.star, e))
                continue
            if not asked:
                self._p.doubts.answered(d.press, saved=True)
                saved.append(d.star)
        self._after.refit()
        if saved:
            self._p.messages.say(f"Saved as of the tap: {', '.join(saved)}.", "info")
        if lost:
            self._p.messages.say(
                f"{', '.join(lost)}: not saved. The encoders lost their place after the tap, so "
                "its reading tells nothing. Centre it again.",
                "problem",
            )
        for star, why in refused:
            self._p.messages.say(
                f"The stop is told, but the tap on {star} is not saved. {why.on_pages()}", "problem"
            )

    def _take_by_stop(self, d: DoubtedPress, higher_deg: float) -> Sighted:
        """A press held until the stop was told: all that time the altitude read too low."""
        az, alt = d.reading.degrees()
        reading = replace(d.reading, az_deg=az, alt_deg=alt + higher_deg)
        utc = Instant.from_unix(d.unix)
        if d.target == NAMELESS:
            return self._take_nameless(reading, utc, d.press, read_again=True)
        target = lookup.find_target(d.target)
        return self.take(target, d.typed, reading, utc, d.press, d.predicted, read_again=True)

    def slipped(self, slips: Sequence[CountSlip]) -> int:
        """The encoders report possible slips. Returns up to which number all are settled."""
        if self._p.slips.reported(slips):
            self._after.refit()
        return self._p.slips.settled_number

    def base_moved(self, monotonic: float) -> None:
        """The observer moved or knocked the base: said at that moment of the steady clock."""
        if self._p.nameless.waiting and not self._p.sightings.used:
            self._p.nameless.set_adrift()
        else:
            self._p.slips.base_moved(monotonic)
        self._after.refit(log=True)

    def nothing_moved(self) -> int:
        """The observer is sure that the zeros still hold: keep them. Returns as ``slipped``."""
        self._p.slips.nothing_moved()
        self._after.refit()
        return self._p.slips.settled_number

    def answer_move(self, after: int, moved: bool) -> None:
        """The observer's answer: something moved after that sighting, or nothing did."""
        seems = self._after.solved.moved
        asked = (self._after.solved.moved_after, seems.axes if seems is not None else ())
        self._p.slips.answer(after, moved, asked)
        self._after.refit(log=True)
