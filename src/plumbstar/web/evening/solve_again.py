"""An outing of the logbook solved again, as after a correction of its times."""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar import kit as kits
from plumbstar.diagnose.teach import learnt_priors
from plumbstar.logbook import Logbook
from plumbstar.logbook.slips import cuts, doubted, slips_in, still
from plumbstar.sky.times import Instant
from plumbstar.solve.answer import kept_body
from plumbstar.solve.epochs import solve_parts
from plumbstar.solve.fix import Fix
from plumbstar.solve.say import fix_sentence


@dataclass(frozen=True)
class SolvedOuting:
    """The last fix of an outing, and what it says."""

    fix: Fix
    sentence: str


def solve_outing(book: Logbook, outing_id: int, now: Instant) -> SolvedOuting | None:
    """Solve it as the pages do (slips kept apart, past outings as prior) and keep the fix.

    None without sightings. Raises :class:`~plumbstar.errors.UserError` as the fix does.
    """
    o = book.outing(outing_id)
    used = book.sightings(outing_id, active=True)
    if not used:
        return None
    kit = kits.loads(o.kit_text) if o.kit_text else kits.Kit()
    slips, ids = slips_in(book.state(outing_id)), [s.id for s in used]
    learnt = learnt_priors(book, kit, o.started)
    noise, named = learnt.noise(kit), [s.sighting for s in used]
    known, asked = still(slips, ids), doubted(slips, ids)
    parts = solve_parts(named, learnt.priors, noise, cuts(slips, ids), known, asked)
    fix, eyepiece = parts[-1].fix, kit.finder_eyepiece()
    sentence = fix_sentence(fix, kit.true_field_deg(eyepiece), eyepiece.name)
    book.add_fix(outing_id, kept_body(fix, sentence), now)
    return SolvedOuting(fix, sentence)
