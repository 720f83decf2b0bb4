"""What follows from a change, decided here and nowhere else.

An action changes a part and ends with one of two calls:

- ``refit``: sightings, slips, misses, priors or the field have changed. The fix is solved anew,
  and aim is taken anew with it;
- ``new_aim``: only where to push to, or whether the Sun allows it, has changed.

One without either (a remark, a star of the plan) changes nothing that the stream pushes to.
"""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.errors import UserError
from plumbstar.nameless.solved import NamedFix, solve_nameless
from plumbstar.solve.answer import kept_body
from plumbstar.solve.fix import Fix
from plumbstar.web.evening.desk import NamelessPress
from plumbstar.web.evening.parts import Parts
from plumbstar.web.evening.solved import EveningFix, solve_evening


@dataclass(frozen=True)
class NamesWaiting:
    """``presses``: beside each entry of ``found`` the press without a name that it was, or None."""

    presses: tuple[NamelessPress | None, ...]
    found: NamedFix


class Consequences:
    """Holds what was solved last."""

    def __init__(self, parts: Parts) -> None:
        self._p = parts
        self.solved = EveningFix()
        self.naming: NamesWaiting | None = None

    @property
    def fix(self) -> Fix | None:
        """The present fix."""
        return self.solved.fix

    def refit(self, log: bool = False) -> None:
        """Solve again from the sightings; then everything that hangs on the fix. ``log``: keep the
        fix in the logbook."""
        if log:
            self._p.messages.changed()
        self.solved = EveningFix()
        self.naming = None
        try:
            self.naming = self._name()
            self.solved = solve_evening(
                self._p.sightings.used,
                self._p.slips,
                self._p.search.misses,
                self._p.instrument.priors,
                self._p.instrument.noise,
                self.naming.found.fix if self.naming is not None else None,
                self._p.ground.site,
            )
        except UserError as e:  # the sightings are safe; the screen says why there is no fix
            self._p.messages.say(e.on_pages(), "problem")
        outing = self._p.current.outing
        if log and self.fix is not None and outing is not None:
            body = kept_body(self.fix, self.fix_words()[0])
            self._p.book.add_fix(outing.id, body, self._p.now())
        self._p.plan.forget_next_star()
        self.new_aim()

    def _name(self) -> NamesWaiting | None:
        """Which stars those without a name may be. Raises UserError where none fits."""
        site, instrument = self._p.ground.site, self._p.instrument
        if not self._p.nameless.waiting or site is None:
            return None
        entries, presses = self._p.nameless.entries()
        belief = self._p.nameless.belief(instrument.priors)
        told, alike = self._p.nameless.compared(presses)
        found = solve_nameless(
            entries, site, belief, instrument.noise, compared=told, not_asked=alike
        )
        return NamesWaiting(tuple(presses), found)

    def new_aim(self) -> None:
        """What the stream is to push to has changed."""
        self._p.guidance.take_aim(
            self.fix,
            self._p.instrument.field_deg,
            self._p.instrument.kit.push_seconds,
            self._p.current.filter_confirmed,
            self._p.search.stop_deg,
        )

    def fix_words(self) -> tuple[str, float]:
        """The present fix in a sentence, and its mean hit chance."""
        eyepiece, field_deg = self._p.instrument.eyepiece, self._p.instrument.field_deg
        return self.solved.words(eyepiece, field_deg, self.still_chance())

    def still_chance(self, target: str = "") -> float:
        """Probability that nothing will have moved since the last sighting when that target (its
        key; another than the present one by default) is reached."""
        return self.solved.still_chance(self._p.since.pushes(target), self._p.since.unseen_deg)
