"""The evening: the one object that changes, made of parts that are held together here.

Every action is a plain method; each runs on one worker thread, one after another, so there is
nothing to lock, and each commits to the logbook before it returns. What other threads read (the
aim, the picture) is frozen and replaced as a whole. The evening never touches the encoders, the
network or the clock of the system: readings and moments are handed to it.

Each part keeps a little state of its own, saves it, and calls nothing above itself. What follows
from a change is decided here and nowhere else, by one of two calls at an action's end:

- ``refit``: sightings, slips, misses, priors or the field have changed. The fix is solved anew,
  and aim is taken anew with it;
- ``new_aim``: only where to push to, or whether the Sun allows it, has changed.

An action without either (a remark, a star of the plan) changes nothing that the stream pushes to;
such are called on the part itself.
"""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.diagnose.learn import Learnt
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.guide.searching import fields
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, Outing
from plumbstar.logbook.places import log_name
from plumbstar.logbook.words import signed_clock
from plumbstar.mount.sighting import Sighting
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.web.evening import resume
from plumbstar.web.evening.counts import EncoderCounts
from plumbstar.web.evening.desk import Desk, DeskKeeper
from plumbstar.web.evening.ground import Ground, same_place
from plumbstar.web.evening.guidance import Guidance, pair, target_named
from plumbstar.web.evening.instrument import Instrument, LearningKey, same_circles
from plumbstar.web.evening.messages import Messages
from plumbstar.web.evening.outing import OutingInProgress
from plumbstar.web.evening.plan import StarPlan
from plumbstar.web.evening.search import Search
from plumbstar.web.evening.sighted import Sighted
from plumbstar.web.evening.sightings import Predicted, Sightings, up_at
from plumbstar.web.evening.slips import Slips
from plumbstar.web.evening.solved import EveningFix, solve_evening
from plumbstar.web.evening.timekeeping import Timekeeping


class Evening:
    """See the module's head. ``now`` gives the evening's moment.

    ``timekeeping`` is what is known of the clock; None where the moments are beyond doubt.
    """

    def __init__(
        self,
        book: Logbook,
        now: Callable[[], Instant],
        *,
        site: Site | None = None,
        kit_text: str | None = None,
        encoders: bool = True,
        timekeeping: Timekeeping | None = None,
    ) -> None:
        self.book, self.now, self.timekeeping = book, now, timekeeping
        self.messages = Messages()
        self.current = OutingInProgress(book, now)
        self.keeper = DeskKeeper(book, self.current)
        self.counts = EncoderCounts(book, self.current)
        self.ground = Ground(book)
        self.instrument = Instrument(book, self.keeper, encoders)
        self.plan = StarPlan(self.keeper)
        self.sightings = Sightings(book, self.current)
        self.slips = Slips(self.keeper, self.sightings)
        self.guidance = Guidance(self.keeper, self.ground, now, self._clock_is_sure)
        self.search = Search(self.keeper, self.guidance, self.sightings)
        self.solved = EveningFix()
        #: Until past outings have been learnt from.
        self.loading = True
        self._seen_elsewhere = -1
        self._come_up(site, kit_text)

    # What everybody asks for, by its plain name.

    @property
    def outing(self) -> Outing | None:
        """The outing in progress."""
        return self.current.outing

    @property
    def site(self) -> Site | None:
        """Where the telescope stands."""
        return self.ground.site

    @property
    def kit(self) -> Kit:
        """The telescope in use."""
        return self.instrument.kit

    @property
    def fix(self) -> Fix | None:
        """The present fix."""
        return self.solved.fix

    @property
    def target(self) -> Target | None:
        """What is to be pushed to."""
        return self.guidance.target

    @property
    def desk(self) -> Desk:
        """What is kept beside the observations."""
        return self.keeper.desk

    # ---- coming up -------------------------------------------------------------------------

    def _come_up(self, site: Site | None, kit_text: str | None) -> None:
        """Everything back from the logbook; what the command line names goes before it."""
        outing = self._go_on_or_end(sure=self._clock_is_sure())
        last_kit = self.instrument.last()
        if site is not None:
            self.ground.remember(site)
        else:
            site = self.ground.last()
        if kit_text is not None:
            self.instrument.remember(kit_text)
        text = kit_text or last_kit or (outing.kit_text if outing else "")
        if text:
            self.instrument.take(text)
        if outing is not None and outing.site is not None:
            resume.compare(outing, site, self.kit, self.messages)
            # What was said since of the same place, as its time zone, stays.
            if site is None or not same_place(site, outing.site):
                site = outing.site
        self.ground.take(site)
        self.reload()

    def _go_on_or_end(self, *, sure: bool = True) -> Outing | None:
        """End an outing that was left open on another evening; else go on with it."""
        resume.end_if_forgotten(self.book, self.now(), self.messages, sure=sure)
        self.current.find()
        return self.outing

    def changed_elsewhere(self) -> bool:
        """Whether another program wrote to the logbook since; then reload."""
        return self.book.elsewhere() != self._seen_elsewhere

    def reload(self) -> None:
        """Read the outing again: at the start, and when another program changed the logbook."""
        # Noted before reading: what somebody changes meanwhile is then read the next time.
        self._seen_elsewhere = self.book.elsewhere()
        self.current.find()
        self.sightings.read()
        self.keeper.read()
        self.plan.read()
        self.guidance.read()
        self.refit()

    # ---- what follows from a change --------------------------------------------------------

    def refit(self, log: bool = False) -> None:
        """Solve again from the sightings; then everything that hangs on the fix. ``log``: keep the
        fix in the logbook."""
        self.solved = EveningFix()
        try:
            self.solved = solve_evening(
                self.sightings.used,
                self.slips,
                self.search.misses,
                self.instrument.priors,
                self.instrument.noise,
            )
        except UserError as e:  # the sightings are safe; the screen says why there is no fix
            self.messages.say(str(e), "problem")
        if log and self.fix is not None and self.outing is not None:
            body = {"sentence": self.fix_words()[0], **self.fix.to_dict()}
            self.book.add_fix(self.outing.id, body, self.now())
        self.plan.forget_next_star()
        self.new_aim()

    def new_aim(self) -> None:
        """What the stream is to push to has changed."""
        self.guidance.take_aim(
            self.fix,
            self.instrument.field_deg,
            self.kit.push_seconds,
            self.current.filter_confirmed,
            self.search.stop_deg,
        )

    def fix_words(self) -> tuple[str, float]:
        """The present fix in a sentence, and its mean hit chance."""
        return self.solved.words(self.instrument.eyepiece, self.instrument.field_deg)

    # ---- site, kit, skyline ----------------------------------------------------------------

    def set_site(self, site: Site) -> None:
        """Where the telescope stands. Refused while sightings made elsewhere are in the outing.

        The same place under another name may be said at any time.
        """
        here = self.site is not None and same_place(self.site, site)
        if not here:
            self._refuse_in_mid_outing("site")
        self.ground.set_site(site)
        if not (here and self.sightings.all):
            self._begin_outing_anew()
        self.refit()

    def use_site(self, name: str) -> None:
        """One of the sites kept. Raises UserError if none is so called."""
        self.set_site(self.ground.named(name))

    def set_kit(self, text: str) -> None:
        """Another kit file's text. What the sightings depend on cannot change under them."""
        other_circles = not same_circles(self.kit, self.instrument.read(text))
        if other_circles:
            self._refuse_in_mid_outing("telescope")
        self.instrument.take(text)
        self.instrument.remember(text)
        if other_circles:
            self._begin_outing_anew()
        self.refit()

    def _refuse_in_mid_outing(self, what: str) -> None:
        if self.outing is not None and self.sightings.all:
            raise UserError(
                f"another {what} in the middle of outing {self.outing.id}",
                "one for the whole outing, since its sightings were made with it",
                "End the outing first; the next one starts fresh",
            )

    def _begin_outing_anew(self) -> None:
        """An outing without sightings: start it again, so that it names the right site and kit."""
        if self.outing is not None:
            self.current.discard()
            self.start_outing()

    def set_eyepiece(self, name: str) -> None:
        """The eyepiece that is in the focuser now."""
        self.instrument.set_eyepiece(name)
        self.refit()

    def set_skyline(self, text: str) -> None:
        """Obstructions as azimuth:altitude pairs, kept for this site."""
        self.ground.set_skyline(text)
        self.new_aim()

    def take_learnt(self, learnt: Learnt, key: LearningKey) -> None:
        """What past outings teach, worked out beside the evening: solve again with it."""
        self.instrument.take_learnt(learnt, key)
        self.refit()

    @property
    def learning_key(self) -> LearningKey:
        """For what the learnt priors must have been worked out: the kit and the outing."""
        return (self.instrument.kit_text, self.outing.id if self.outing is not None else None)

    # ---- outing ----------------------------------------------------------------------------

    def start_outing(self) -> Outing:
        """Begin an outing here and now. One in progress is kept as it is."""
        if self.outing is not None:
            return self.outing
        site = self.ground.need_site()
        outing = self.current.begin(site, self.kit, self.instrument.kit_text)
        if self.timekeeping is not None and self.timekeeping.sentence:
            self.current.note_the_clock(self.timekeeping.sentence)
        self.sightings.read()
        still_open = self.slips.open
        self.keeper.carry_into_outing((still_open,) if still_open is not None else ())
        self.refit()
        return outing

    def end_outing(self) -> None:
        """Close it. The plan goes with it."""
        self.current.need()
        self._log_unfinished_search()
        self.guidance.leave()
        self.current.end()
        self.sightings.read()
        self.keeper.clear()
        self.plan.put_away()
        self.refit()

    def confirm_filter(self, confirmed: bool) -> None:
        """A full-aperture solar filter is on (or off): only the observer can know."""
        self.start_outing()
        self.current.confirm_filter(confirmed)
        self.new_aim()

    def note(self, text: str) -> None:
        """A remark for the log."""
        self.start_outing()
        self.current.note(text)

    # ---- sightings -------------------------------------------------------------------------

    def sight(self, name: str, reading: Reading, utc: Instant, press: str) -> Sighted:
        """A star (or any target) is centred: save it, then solve. On disk before it returns."""
        return self._sight(lookup.find_target(name), name, reading, utc, press)

    def _sight(
        self,
        target: Target,
        typed: str,
        reading: Reading,
        utc: Instant,
        press: str,
        predicted: Predicted | None = None,
    ) -> Sighted:
        again = self.sightings.known_press(press)
        if again is not None:
            return Sighted(again, True, self.solved.residual_arcmin(again))
        az, alt = up_at(target, utc, self.ground.need_site())
        self.start_outing()
        eyepiece = self.instrument.eyepiece.name
        fact = Sighting(log_name(target), az, alt, *reading.degrees(), utc, eyepiece)
        sighting_id = self.sightings.add(fact, reading, typed, press, predicted)
        self.slips.leave_open_for_late(sighting_id, reading)
        self.refit(log=True)
        return Sighted(sighting_id, False, self.solved.residual_arcmin(sighting_id))

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave a sighting out of the fix, saying why."""
        self.sightings.set_aside(sighting_id, reason)
        self.refit(log=True)

    def restore(self, sighting_id: int) -> None:
        """Use it again."""
        self.sightings.restore(sighting_id)
        self.refit(log=True)

    def delete_sighting(self, sighting_id: int) -> None:
        """Take it out of the log; undo brings it back."""
        self.sightings.delete(sighting_id)
        self.refit(log=True)

    def undo(self) -> None:
        """Take back the last thing done in this outing."""
        what = self.sightings.undo()
        self.refit(log=True)
        self.messages.say(f"Taken back: {what}.", "info")

    def redo(self) -> None:
        """Bring back the last undo."""
        what = self.sightings.redo()
        self.refit(log=True)
        self.messages.say(f"Brought back: {what}.", "info")

    # ---- slips -----------------------------------------------------------------------------

    def slipped(self, why: str, monotonic: float) -> None:
        """The encoders report a possible slip, seen at that moment of the steady clock."""
        if self.slips.reported(why, monotonic):
            self.refit()

    def base_moved(self) -> None:
        """The observer moved or knocked the base."""
        self.slips.base_moved()
        self.refit(log=True)

    def nothing_moved(self) -> None:
        """The observer is sure that the zeros still hold: keep them."""
        self.slips.nothing_moved()
        self.refit()

    def answer_move(self, after: int, moved: bool) -> None:
        """The observer's answer: something moved after that sighting, or nothing did."""
        seems = self.solved.moved
        asked = (self.solved.moved_after, seems.axes if seems is not None else ())
        self.slips.answer(after, moved, asked)
        self.refit(log=True)

    # ---- target and search -----------------------------------------------------------------

    def set_target(self, name: str) -> None:
        """What to push to. The Sun may forbid it: then it is set, refused, and freed at night."""
        self.ground.need_site()
        target = target_named(name)
        self._log_unfinished_search()
        self.guidance.choose(target)
        self.new_aim()

    def clear_target(self) -> None:
        """Nothing to push to."""
        self._log_unfinished_search()
        self.guidance.clear()
        self.new_aim()

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
            direction = self.guidance.course_to(target).direction(utc)
            where = pair(self.fix.reading_of(direction, reading.degrees()[0]))
            predicted = Predicted(*where, self.instrument.field_deg / 2.0)
        done = self._sight(target, target.label, reading, utc, press, predicted)
        if present and not done.again:
            self.search.end()
            self.new_aim()
        return done

    def not_in_field(self) -> None:
        """Not here: what that teaches goes into the fix, and the search starts or goes on."""
        target, course = self.guidance.followed()
        if self.fix is None:
            raise UserError("no fix yet", "one sighting or more", "Centre a bright star first")
        now = self.now()
        place = course.az_alt_deg(now)
        path, misses = self.search.next_step(
            target, self.fix, *place, self.instrument.field_deg, now
        )
        if path.over:
            self._log_not_found(target, now)
            self.messages.say(
                f"{target.label}: {fields(len(path.stops))} searched and not found. Sight a "
                "bright star near it, then try again; or it is too faint for tonight.",
                "problem",
            )
        self.search.take(path, misses)
        self.refit()

    def one_field_back(self) -> None:
        """Back to the field before this one."""
        self.search.back()
        self.refit()

    def _log_not_found(self, target: Target, utc: Instant) -> None:
        if self.outing is None or self.fix is None or self.site is None:
            return
        direction = self.guidance.course_to(target).direction(utc)
        self.book.add_find(
            self.outing.id,
            log_name(target),
            utc,
            pair(self.fix.reading_of(direction, 180.0)),
            None,
            self.instrument.field_deg / 2.0,
            self.instrument.eyepiece.name,
        )

    def _log_unfinished_search(self) -> None:
        """Leaving a search unfinished is a "not found" for the log."""
        if self.search.under_way is not None and self.target is not None:
            self._log_not_found(self.target, self.now())

    def look_at_sun(self) -> bool:
        """Ask again whether the Sun forbids the target. True if the answer has changed."""
        changed = self.guidance.sun_has_changed_its_mind()
        if changed:
            self.new_aim()
        return changed

    # ---- the clock -------------------------------------------------------------------------

    def _clock_is_sure(self) -> bool:
        return self.timekeeping is None or not self.timekeeping.unknown

    def look_at_clock(self) -> bool:
        """Whether what is to be said of the clock has changed since this was asked last."""
        return self.timekeeping is not None and self.timekeeping.doubts_have_changed()

    def take_phone_time(self, received: float, phone_s: float, round_trip_s: float) -> None:
        """Go by a phone's clock, by consent. ``received``: our steady moment of its question."""
        if self.timekeeping is not None:
            self.clock_changed(self.timekeeping.take_phone(received, phone_s, round_trip_s))

    def clock_changed(self, by_s: float) -> None:
        """The evening's clock was moved by so much: everything that knew the time begins again."""
        assert self.timekeeping is not None
        said = self.timekeeping.sentence
        self._go_on_or_end()
        self.current.note_the_clock(f"The clock was moved by {signed_clock(by_s)}. {said}")
        self.ground.take(self.site)  # a new almanac
        self.reload()
        self.plan.forget_ranking()
        self.messages.say(said, "info")

    def clock_is_right(self) -> None:
        """The observer says that the computer's clock is right, whatever spoke against it."""
        if self.timekeeping is not None:
            self.timekeeping.trust()
            self._go_on_or_end()
            self.reload()

    def correct_times(self, count: int, by: str) -> None:
        """Correct the saved times that the present clock shows to be wrong, as was asked about and
        consented to: so many sightings, by so much."""
        outing = self.current.need()
        offer = self.timekeeping.offer(outing) if self.timekeeping is not None else None
        if offer is None or (offer.count, offer.shifts.words) != (count, by):
            raise UserError(
                f"the consent to correct {count} sightings by {by}",
                "what the page asks now",
                "Look at the question again; nothing was changed",
            )
        self.sightings.correct_times(offer.shifts)
        self.refit(log=True)
        self.messages.say(
            f"Times corrected by {by}. What was saved is kept beside; undo takes it back.", "info"
        )

    def leave_times(self) -> None:
        """The saved times are right as they are."""
        if self.timekeeping is not None:
            self.timekeeping.leave(self.current.need())
