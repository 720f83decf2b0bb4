"""The evening's fix: solved part by part between the slips, and what follows from it alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from plumbstar.guide.sweep import SEEN_IF_THERE, not_in_field
from plumbstar.kit import Eyepiece
from plumbstar.logbook import LoggedSighting
from plumbstar.logbook.slips import cuts, doubted, still
from plumbstar.mount.priors import Noise, Priors
from plumbstar.nameless.contradicted import reconsidered
from plumbstar.sky.site import Site
from plumbstar.solve.epochs import EpochFix, solve_parts
from plumbstar.solve.fix import Fix
from plumbstar.solve.moved import Moved
from plumbstar.solve.say import fix_sentence
from plumbstar.solve.since import still_chance
from plumbstar.web.evening.desk import Miss
from plumbstar.web.evening.slips import Slips

ARCMIN = math.degrees(1.0) * 60.0


class EveningFix:
    """Made whole and never changed: another sighting makes another one.

    ``parts``: one for each stretch between slips, the present one last. ``fix`` is that of the
    present one, with what was not in the field; None without a sighting. ``over``: that of the
    sightings with stars beside them that have no name yet, over all their names. ``used``: the
    sightings it was made of. ``missed``: of each miss in which push it was, and how likely it was
    to see nothing there.
    """

    def __init__(
        self,
        used: tuple[LoggedSighting, ...] = (),
        parts: tuple[EpochFix, ...] = (),
        misses: Sequence[Miss] = (),
        over: Fix | None = None,
    ) -> None:
        self.used, self.parts = used, parts
        fix: Fix | None = over or (parts[-1].fix if parts else None)
        missed: list[tuple[int, float]] = []
        if fix is not None:
            for miss in misses:
                place = miss.az_deg, miss.alt_deg, miss.field_deg
                missed.append((miss.push, 1.0 - SEEN_IF_THERE * float(fix.hit_chance(*place))))
                fix = not_in_field(fix, *place)
        self.missed = tuple(missed)
        self.fix = fix
        self._said: tuple[tuple[Eyepiece, float], tuple[str, float]] | None = None

    def still_chance(self, pushes: int, unseen_deg: float) -> float:
        """Probability that nothing will have moved since the last sighting, so many pushes and
        degrees unseen ago."""
        return still_chance(pushes, self.missed, unseen_deg)

    def words(self, eyepiece: Eyepiece, field_deg: float, still: float) -> tuple[str, float]:
        """The fix in a sentence, and its mean hit chance: of the next push, with ``still`` as in
        :meth:`still_chance`. Worked out once for each eyepiece and that."""
        assert self.fix is not None
        if self._said is None or self._said[0] != (eyepiece, still):
            sentence = fix_sentence(self.fix, field_deg, eyepiece.name, still)
            said = (sentence, still * self.fix.mean_hit_chance(field_deg))
            self._said = ((eyepiece, still), said)
        return self._said[1]

    @property
    def moved(self) -> Moved | None:
        """What seems to have moved unnoticed since the last slip that was told."""
        return self.parts[-1].fix.moved if self.parts else None

    @property
    def moved_after(self) -> int | None:
        """The id of the last sighting before what seems to have moved."""
        if self.moved is None:
            return None
        return self.used[self.parts[-1].indices[self.moved.first] - 1].id

    def residual_arcmin(self, sighting_id: int) -> float | None:
        """How far the sighting lies from the fix of its part of the evening."""
        for k, s in enumerate(self.used):
            if s.id == sighting_id:
                for part in self.parts:
                    if k in part.indices:
                        r = part.fix.residuals[part.indices.index(k)]
                        return float((r @ r) ** 0.5) * ARCMIN
        return None

    def left_out(self) -> dict[int, str]:
        """Sightings that the fix itself leaves out: id -> why."""
        return {
            self.used[part.indices[i]].id: "contradicts the others: wrong star, or not centred?"
            for part in self.parts
            for i in part.fix.set_aside
        }


def solve_evening(
    used: tuple[LoggedSighting, ...],
    slips: Slips,
    misses: Sequence[Miss],
    priors: Priors,
    noise: Noise,
    over: Fix | None = None,
    site: Site | None = None,
) -> EveningFix:
    """From the sightings in use. Raises UserError when they cannot be solved.

    ``site``: with it the names of a doubtful fix are doubted, too.
    """
    if not used:
        return EveningFix(over=over)
    ids = [s.id for s in used]
    named = [s.sighting for s in used]
    cut, known, asked = cuts(slips.all, ids), still(slips.all, ids), doubted(slips.all, ids)
    parts = solve_parts(named, priors, noise, cut, known, asked)
    last = replace(parts[-1], fix=reconsidered(parts[-1].fix, site).fix)
    return EveningFix(used, (*parts[:-1], last), misses, over)
