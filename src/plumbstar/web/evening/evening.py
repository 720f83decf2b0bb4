"""The evening: the one object that changes, made of parts that are held together here.

Every action is a plain method; each runs on one worker thread, one after another, so there is
nothing to lock, and each commits to the logbook before it returns. What other threads read (the
aim, the picture) is frozen and replaced as a whole. The evening never touches the encoders, the
network or the clock of the system: readings and moments are handed to it.

Three kinds of things are held, and each calls only what stands before it here:

- **parts** (parts.py) keep a little state each and save it: ``ground``, ``sightings`` ...
- **consequences** say what follows when a part was changed: the fix and the aim;
- **actions**, by what the observer is about (``preparing``, ``outings``, ``observing``,
  ``targeting``, ``clock_setting``, ``beside`` a closed controller): they change parts and end with
  the consequence.
"""

from __future__ import annotations

from collections.abc import Callable

from plumbstar.diagnose.learn import Learnt
from plumbstar.kit import Kit
from plumbstar.logbook import Logbook, Outing
from plumbstar.logbook.trouble import LogbookTrouble, Trouble, told
from plumbstar.sky.places import Target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.web.evening import resume
from plumbstar.web.evening.beside import Beside
from plumbstar.web.evening.clock_setting import ClockSetting
from plumbstar.web.evening.consequences import Consequences, NamesWaiting
from plumbstar.web.evening.counts import KeptCounts
from plumbstar.web.evening.desk import Desk
from plumbstar.web.evening.ground import same_place
from plumbstar.web.evening.instrument import LearningKey
from plumbstar.web.evening.looking import Looking
from plumbstar.web.evening.mending import Mending
from plumbstar.web.evening.observing import Observing
from plumbstar.web.evening.outings import Outings
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.preparing import Preparing
from plumbstar.web.evening.solved import EveningFix
from plumbstar.web.evening.targeting import Targeting
from plumbstar.web.evening.timekeeping import Timekeeping

#: What a message about the logbook's disk is about.
DISK = "disk"


class Evening:
    """See the module's head. ``now`` gives the evening's moment."""

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
        p = self._parts = Parts(book, now, encoders, timekeeping)
        self.book, self.now, self.timekeeping = book, now, timekeeping
        self.encoders = encoders
        self.messages, self.counts = p.messages, p.counts
        self.display = p.display
        self.current, self.ground, self.instrument = p.current, p.ground, p.instrument
        self.plan, self.sightings, self.slips = p.plan, p.sightings, p.slips
        self.since = p.since
        self.guidance, self.search = p.guidance, p.search
        self.nameless = p.nameless
        self.doubts, self.upright, self.sun_question = p.doubts, p.upright, p.sun_question

        after = self._after = Consequences(p)
        self.outings = Outings(p, after)
        self.preparing = Preparing(p, after, self.outings)
        self.mending = Mending(p, after, self.preparing)
        self.observing = Observing(p, after, self.outings)
        self.beside = Beside(p, self.outings, self.preparing)
        self.looking = Looking(p, self.outings)
        self.targeting = Targeting(p, after, self.observing)
        self.clock_setting = ClockSetting(p, after, self.outings, self.reload)

        #: Until past outings have been learnt from.
        self.loading = True
        self._seen_elsewhere = -1
        self._disk_refused = False
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
    def solved(self) -> EveningFix:
        """The fix, part by part, and what follows from it alone."""
        return self._after.solved

    @property
    def fix(self) -> Fix | None:
        """The present fix."""
        return self._after.fix

    @property
    def naming(self) -> NamesWaiting | None:
        """Which stars those without a name may be; None where none waits."""
        return self._after.naming

    @property
    def fix_holds(self) -> bool:
        """Whether there is a fix to go by: no possible slip is open, and its sightings do not
        contradict one another."""
        return self.fix is not None and not self.fix.contradictory and self.slips.open is None

    def fix_words(self) -> tuple[str, float]:
        """The present fix in a sentence, and its mean hit chance."""
        return self._after.fix_words()

    def still_chance(self, target: str = "") -> float:
        """Probability that nothing will have moved since the last sighting when that target (its
        key; another than the present one by default) is reached."""
        return self._after.still_chance(target)

    @property
    def target(self) -> Target | None:
        """What is to be pushed to."""
        return self.guidance.target

    @property
    def desk(self) -> Desk:
        """What is kept beside the observations."""
        return self._parts.keeper.desk

    # ---- coming up -------------------------------------------------------------------------

    def _come_up(self, site: Site | None, kit_text: str | None) -> None:
        """Everything back from the logbook; what the command line names goes before it."""
        if self.book.readonly:  # known now, and not at the first star
            why = told(Trouble.READ_ONLY, self.book.path)
            self.messages.say(
                f"{why.came}: nothing can be saved. {why.remedy_on_pages}.", "problem"
            )
        outing = self.outings.go_on_or_end(sure=self._parts.clock_is_sure())
        last_kit = self.instrument.last()
        if site is not None:
            self.ground.remember(site)
        else:
            site = self.ground.last() or resume.site_used_last(self.book)
        if outing is not None and kit_text is not None:
            kit_text = resume.kit_to_go_on_with(outing, kit_text, self.book.state(outing.id))
        self.instrument.of_file = kit_text is not None
        if kit_text is not None:
            self.instrument.remember(kit_text)
        text = (
            kit_text or last_kit or (outing.kit_text if outing else resume.kit_used_last(self.book))
        )
        if text:
            self.instrument.take(text)
        if outing is not None and outing.site is not None:
            resume.compare(outing, site, self.kit, self.messages)
            # What was said since of the same place, as its time zone, stays.
            if site is None or not same_place(site, outing.site):
                site = outing.site
        self.ground.take(site)
        self.reload()

    def changed_elsewhere(self) -> bool:
        """Whether another program wrote to the logbook since; then reload."""
        return self.book.elsewhere() != self._seen_elsewhere

    def reload(self) -> None:
        """Read the outing again: at the start, and when another program changed the logbook."""
        # Noted before reading: what somebody changes meanwhile is then read the next time.
        self._seen_elsewhere = self.book.elsewhere()
        self._parts.read()
        self.instrument.read_mends()
        self._after.refit()

    def keep(self, counts: KeptCounts | None) -> bool:
        """To the disk with what nobody pressed for: the encoders' counts, and what it refused
        before. True if the screens have something else to say."""
        try:
            self._parts.keeper.catch_up()
            self.counts.keep(counts)
        except LogbookTrouble as trouble:
            if self._disk_refused:
                return False
            self._disk_refused = True
            why = f"Nothing can be saved now. {trouble.matter}. {trouble.remedy_on_pages}."
            self.messages.say(why, "problem", about=DISK)
            return True
        self._disk_refused = False
        return self.messages.settled(DISK)

    # ---- what past outings teach -----------------------------------------------------------

    def take_learnt(self, learnt: Learnt, key: LearningKey) -> None:
        """Worked out beside the evening: solve again with it."""
        self.instrument.take_learnt(learnt, key)
        self._after.refit()

    @property
    def learning_key(self) -> LearningKey:
        """For what the learnt priors must have been worked out: the kit and the outing."""
        outing = self.outing.id if self.outing is not None else None
        return (self.instrument.kit_text, outing, self.instrument.mends)
