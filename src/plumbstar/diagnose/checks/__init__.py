"""Guided checks by daylight or at the bench: what to do, what to write down, what it means.

One file a check, with its description and its judgement; :mod:`.check` and :mod:`.verdict` have
what they share. A new check is a new file and its name in :data:`CHECKS`.
"""

from __future__ import annotations

from plumbstar.diagnose.checks import (
    backlash,
    both_sides,
    drift_field,
    level,
    number_sign,
    once_round,
    stop_direction,
    stop_repeat,
    there_and_back,
)
from plumbstar.diagnose.checks.check import Check
from plumbstar.errors import UserError
from plumbstar.text.advice import Advice, Do

CHECKS: tuple[Check, ...] = (
    once_round.CHECK,
    there_and_back.CHECK,
    stop_repeat.CHECK,
    stop_direction.CHECK,
    backlash.CHECK,
    level.CHECK,
    both_sides.CHECK,
    drift_field.CHECK,
    number_sign.CHECK,
)


def find(name: str) -> Check:
    """The check of that id, or whose id begins so. Raises :class:`UserError`."""
    wanted = name.strip().lower().replace("_", "-").replace(" ", "-")
    hits = [c for c in CHECKS if c.id == wanted] or [c for c in CHECKS if c.id.startswith(wanted)]
    if wanted and len(hits) == 1:
        return hits[0]
    have = ", ".join(c.id for c in CHECKS)
    raise UserError(f"the check '{name}'", f"one of {have}", Advice(Do.CHOOSE_A_CHECK))
