"""What was observed: the plan, the sightings, possible slips, and the fix from all of them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import msgspec

from plumbstar.diagnose.learn import Learnt
from plumbstar.encoders.reading import Reading
from plumbstar.errors import UserError
from plumbstar.guide.sweep import not_in_field
from plumbstar.kit import Eyepiece
from plumbstar.logbook import Logbook, LoggedSighting, Origin
from plumbstar.logbook.places import log_name, placing
from plumbstar.logbook.slips import Slip, cuts
from plumbstar.mount.priors import Noise
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.slips import Axis
from plumbstar.sky.lists.catalogue import Star
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import Target, place_of
from plumbstar.sky.times import Instant
from plumbstar.solve.epochs import Part, solve_parts
from plumbstar.solve.fix import Fix
from plumbstar.solve.moved import Moved
from plumbstar.solve.moved import look as look_for_a_move
from plumbstar.solve.say import fix_sentence
from plumbstar.web.evening.ground import Ground, LearningKey
from plumbstar.web.evening.kept import Miss, Sighted

CIRCLES: tuple[Axis, ...] = ("azimuth", "altitude")
ARCMIN = math.degrees(1.0) * 60.0


class Observed(Ground):
    """The middle layer; see ground.py."""

    def __init__(self, book: Logbook, now: Callable[[], Instant], encoders: bool) -> None:
        super().__init__(book, now, encoders)
        self.parts: tuple[Part, ...] = ()
        self.fix: Fix | None = None
        self.moved: Moved | None = None
        self.choice_token = 0
        self.next_star: dict[str, Any] | None = None
        self._said: tuple[Fix, Eyepiece, str, float] | None = None
        self._slip_began = -math.inf

    # ---- plan ------------------------------------------------------------------------------

    def star(self, name: str) -> Star:
        """The star of that name. Raises UserError with suggestions."""
        found = lookup.find_target(name)
        if not isinstance(found, Star):
            raise UserError(f"'{name}', which is no star", "a star", "Take a bright star")
        return found

    def pick(self, names: Sequence[str]) -> None:
        """Take these stars as the plan, in this order."""
        labels = tuple(dict.fromkeys(self.star(n).label for n in names[:12]))
        self._save(plan=labels)

    def plan_add(self, name: str) -> None:
        """One more star, at the end of the plan."""
        label = self.star(name).label
        if label not in self.desk.plan:
            self._save(plan=(*self.desk.plan, label)[-12:])

    def plan_remove(self, name: str) -> None:
        """One star fewer."""
        wanted = name.strip().casefold()
        self._save(plan=tuple(p for p in self.desk.plan if p.casefold() != wanted))

    def choice_asked(self, size: int, utc: Instant) -> int:
        """The ranking was asked for; returns the token to hand it in with."""
        self.choice_token += 1
        self.choice = {"status": "working", "asked_utc": utc.iso(), "stars": size}
        return self.choice_token

    def choice_ready(self, token: int, choice: dict[str, Any]) -> None:
        """The ranking is done; an older one than was last asked for is dropped."""
        if token == self.choice_token:
            self.choice = choice
            self._save(choice=choice)

    # ---- sightings -------------------------------------------------------------------------

    def known_press(self, press: str) -> int | None:
        """The id of the sighting that this press of a button made, if it came before."""
        # The logbook answers this itself when it adds; asked beforehand, an old press that comes
        # again needs no reading, which may be long gone.
        return self.book.sighting_of_request(press)

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
        predicted_deg: tuple[float, float] | None = None,
    ) -> Sighted:
        """``predicted_deg``: where the fix had put the target. Then it is a find as well."""
        again = self.known_press(press)
        if again is not None:
            return Sighted(again, True, self.residual_arcmin(again))
        site = self.need_site()
        az, alt = place_of(target, utc, site)
        if alt < -1.0:
            raise UserError(
                f"{target.label}, which is {-alt:.0f} degrees below the horizon",
                "a star that is up",
                "Check which star it was, the site, and the computer's clock (UTC)",
            )
        outing = self.start_outing()
        reading_az, reading_alt = reading.degrees()
        fact = Sighting(log_name(target), az, alt, reading_az, reading_alt, utc, self.eyepiece.name)
        counts = (
            (reading.az_count, reading.alt_count)
            if reading.az_count is not None and reading.alt_count is not None
            else None
        )
        origin: Origin = "typed" if reading.state == "typed" else "encoders"
        if predicted_deg is not None:
            sighting_id = self.book.add_found(
                outing.id, fact, origin, counts, predicted_deg, self.field_deg / 2.0, request=press
            )
        else:
            sighting_id = self.book.add_sighting(
                outing.id, fact, origin, counts, typed=typed[:80], request=press
            )
        self._read_sightings()
        slip = self.desk.slips[-1] if self.desk.slips else None
        before = reading.at_monotonic < self._slip_began and not reading.slip
        if slip is not None and origin == "encoders" and before:
            # A press from before the slip that came late: the slip is still open.
            late = msgspec.structs.replace(slip, after=sighting_id)
            self._save(slips=(*self.desk.slips[:-1], late))
        self.refit(log=True)
        return Sighted(sighting_id, False, self.residual_arcmin(sighting_id))

    def _read_sightings(self) -> None:
        if self.outing is not None:
            self.outing = self.book.outing(self.outing.id)
            self.sightings = self.book.sightings(self.outing.id)

    def _mine(self, sighting_id: int) -> LoggedSighting:
        for s in self.sightings:
            if s.id == sighting_id:
                return s
        raise UserError(f"sighting {sighting_id}", "one of this outing", "Reload the page")

    def set_aside(self, sighting_id: int, reason: str) -> None:
        """Leave a sighting out of the fix, saying why."""
        self.book.set_aside(self._mine(sighting_id).id, reason[:200] or "by the observer")
        self._read_sightings()
        self.refit(log=True)

    def restore(self, sighting_id: int) -> None:
        """Use it again."""
        self.book.put_back(self._mine(sighting_id).id)
        self._read_sightings()
        self.refit(log=True)

    def delete_sighting(self, sighting_id: int) -> None:
        """Take it out of the log; undo brings it back."""
        self.book.delete_sighting(self._mine(sighting_id).id)
        self._read_sightings()
        self.refit(log=True)

    @property
    def undoable(self) -> str | None:
        """What pressing undo would take back, in words."""
        if self.outing is None:
            return None
        for change in self.book.history(60):
            if change.outing_id == self.outing.id and not change.undone:
                return change.what if not change.what.startswith("end of") else None
        return None

    def undo(self) -> None:
        """Take back the last thing done in this outing. Its start is not undone."""
        outing = self.need_outing()
        what = self.undoable
        if what is None:
            raise UserError("nothing to undo", "something done before", "Nothing was changed")
        self.book.undo(outing.id)
        # In logbooks from before add_found one press made two entries: one undo takes back both.
        partner = self.undoable
        if (
            what.startswith("the find of ")
            and partner == f"a sighting of {what.removeprefix('the find of ')}"
        ):
            self.book.undo(outing.id)
        self._read_sightings()
        self.refit(log=True)
        self.say(f"Taken back: {what}.", "info")

    def redo(self) -> None:
        """Bring back the last undo."""
        change = self.book.redo(self.need_outing().id)
        if change is None:
            raise UserError("nothing to bring back", "an undo just before", "Nothing was changed")
        self._read_sightings()
        self.refit(log=True)
        self.say(f"Brought back: {change.what}.", "info")

    def correct_times(self, count: int, by: str) -> None:
        """Correct the saved times that the present clock shows to be wrong, as was asked about and
        consented to: so many sightings, by so much."""
        outing = self.need_outing()
        offer = self.timing.offer(outing) if self.timing is not None else None
        if offer is None or (offer.count, offer.shifts.words) != (count, by):
            raise UserError(
                f"the consent to correct {count} sightings by {by}",
                "what the page asks now",
                "Look at the question again; nothing was changed",
            )
        place = placing(outing.site) if outing.site is not None else None
        self.book.correct_times(outing.id, offer.shifts, place)
        self._read_sightings()
        self.refit(log=True)
        self.say(
            f"Times corrected by {by}. What was saved is kept beside; undo takes it back.", "info"
        )

    def leave_times(self) -> None:
        """The saved times are right as they are."""
        if self.timing is not None:
            self.timing.leave(self.need_outing())

    # ---- slips -----------------------------------------------------------------------------

    @property
    def slip(self) -> Slip | None:
        """The last possible slip that no sighting has settled yet."""
        for slip in reversed(self.desk.slips):
            if slip.nothing_moved:
                continue
            return None if any(s.id > slip.after for s in self.used) else slip
        return None

    def slipped(self, why: str, monotonic: float) -> None:
        """The encoders report a possible slip, seen at that moment of the steady clock.

        It blocks nothing; a sighting settles it.
        """
        open_slip = self.slip
        if open_slip is not None and open_slip.why == why:
            return
        named = tuple(axis for axis in CIRCLES if axis in why)
        slip = Slip(self._last_made, named or CIRCLES, why)
        self._slip_began = monotonic
        self._save(slips=(*self.desk.slips, slip)[-20:])
        self.refit()

    @property
    def _last_made(self) -> int:
        """The id of the outing's last sighting; 0 before the first."""
        # Deleted ones counted in: undo may bring one back, and it came before.
        made = self.book.sightings(self.outing.id, deleted=True) if self.outing else ()
        return max((s.id for s in made), default=0)

    def base_moved(self) -> None:
        """The observer moved or knocked the base: it stands and leans anew from here on."""
        if not self.used:
            raise UserError("no sighting yet", "one or more", "Nothing is lost: sight a star")
        slip = Slip(self._last_made, ("azimuth", "base"), "the observer said so", told=True)
        self._save(slips=(*self.desk.slips, slip)[-20:])
        self.refit(log=True)

    def nothing_moved(self) -> None:
        """The observer is sure that the zeros still hold: keep them."""
        if self.slip is None:
            raise UserError("no slip to answer", "a possible slip on the screen", "Nothing to do")
        slips = tuple(
            msgspec.structs.replace(s, nothing_moved=True) if s is self.slip else s
            for s in self.desk.slips
        )
        self._save(slips=slips)
        self.refit()

    def _look_for_a_move(self) -> Moved | None:
        """Whether the sightings since the last cut tell that something moved among them."""
        indices, fix = self.parts[-1].indices, self.parts[-1].fix
        denied = {s.after for s in self.desk.slips if s.told and s.nothing_moved}
        ids = self._basis
        answered = [k for k in range(1, len(indices)) if ids[indices[k] - 1] in denied]
        return look_for_a_move(fix, self.priors, Noise.from_kit(self.kit), answered)

    @property
    def moved_after(self) -> int | None:
        """The id of the last sighting before what seems to have moved."""
        if self.moved is None:
            return None
        return self._basis[self.parts[-1].indices[self.moved.first] - 1]

    def answer_move(self, after: int, moved: bool) -> None:
        """The observer's answer: something moved after that sighting, or nothing did. An answer
        given before may be changed."""
        old = [s for s in self.desk.slips if s.told and s.after == after]
        if self.moved is not None and after == self.moved_after:
            slip = Slip(after, self.moved.axes, "the sightings tell so", not moved, told=True)
        elif old:
            slip = msgspec.structs.replace(old[-1], nothing_moved=not moved)
        else:
            raise UserError(
                "an answer about a place where nothing seems to have moved",
                "one about what the page asks now",
                "Look at the question again; nothing was changed",
            )
        others = [s for s in self.desk.slips if s not in old]
        self._save(slips=(*others, slip)[-20:])
        self.refit(log=True)

    # ---- the fix ---------------------------------------------------------------------------

    @property
    def used(self) -> tuple[LoggedSighting, ...]:
        """The sightings that the observer has not set aside."""
        return tuple(s for s in self.sightings if s.active)

    def take_learnt(self, learnt: Learnt, key: LearningKey) -> None:
        """What past outings teach, worked out beside the evening: solve again with it."""
        self.learnt, self.learnt_for = learnt, key
        self.priors = learnt.priors
        self.refit()

    @property
    def learning_key(self) -> LearningKey:
        """For what the learnt priors must have been worked out: the kit and the outing."""
        return (self.kit_text, self.outing.id if self.outing is not None else None)

    def refit(self, log: bool = False) -> None:
        """Solve again from the sightings; then everything that hangs on the fix."""
        used = self.used
        facts = [s.sighting for s in used]
        self.fix, self.parts, self.moved = None, (), None
        if facts:
            try:
                noise, cut = Noise.from_kit(self.kit), cuts(self.desk.slips, self._basis)
                self.parts = solve_parts(facts, self.priors, noise, cut)
                self.fix = self.parts[-1].fix
            except UserError as e:  # the sightings are safe; the screen says why there is no fix
                self.say(str(e), "problem")
        if self.fix is not None:
            self.moved = self._look_for_a_move()
            for miss in self._misses():
                self.fix = not_in_field(self.fix, miss.az_deg, miss.alt_deg, miss.field_deg)
        if log and self.fix is not None and self.outing is not None:
            body = {"sentence": self.fix_words()[0], **self.fix.to_dict()}
            self.book.add_fix(self.outing.id, body, self.now())
        self.next_star = None
        self.new_aim()

    def fix_words(self) -> tuple[str, float]:
        """The fix in a sentence, and its mean hit chance; worked out once for each."""
        assert self.fix is not None
        said = self._said
        if said is None or said[0] is not self.fix or said[1] != self.eyepiece:
            sentence = fix_sentence(self.fix, self.field_deg, self.eyepiece.name)
            mean = self.fix.mean_hit_chance(self.field_deg)
            said = self._said = (self.fix, self.eyepiece, sentence, mean)
        return said[2], said[3]

    @property
    def _basis(self) -> tuple[int, ...]:
        """What the fix is made of."""
        return tuple(s.id for s in self.used)

    def _misses(self) -> tuple[Miss, ...]:
        """Misses made with the present fix. Another sighting puts what they told to the test, and
        the fix that they were counted against is gone."""
        return tuple(m for m in self.desk.misses if m.basis == self._basis)

    def residual_arcmin(self, sighting_id: int) -> float | None:
        """How far the sighting lies from the fix of its part of the evening."""
        for k, s in enumerate(self.used):
            if s.id == sighting_id:
                for part in self.parts:
                    if k in part.indices:
                        r = part.fix.residuals[part.indices.index(k)]
                        return float((r @ r) ** 0.5) * ARCMIN
        return None

    def put_aside_by_fix(self) -> dict[int, str]:
        """Sightings that the fix itself leaves out: id -> why."""
        used = self.used
        return {
            used[part.indices[i]].id: "contradicts the others: wrong star, or not centred?"
            for part in self.parts
            for i in part.fix.set_aside
        }
