"""Every kind of cause, one file each: rate, forms, words, check, mend, and a simulated fault of it.

A new cause is a new file with a ``CAUSE`` and a name in :data:`_SINGLE` (docs/code.md, "To add").
"""

from __future__ import annotations

import numpy as np

from plumbstar.diagnose.explain.causes import (
    base_leaning,
    base_moved,
    careless_sighting,
    clock_or_site,
    coarse_centring,
    cone,
    nothing,
    runout,
    slip,
    squareness,
    stop_off,
    ticks,
    wrong_star,
)
from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.causes.several import several_of
from plumbstar.errors import UserError

_SINGLE: tuple[CauseKind, ...] = (
    nothing.CAUSE,
    coarse_centring.CAUSE,
    careless_sighting.CAUSE,
    wrong_star.CAUSE,
    stop_off.CAUSE,
    slip.CAUSE,
    base_moved.CAUSE,
    ticks.CAUSE,
    clock_or_site.CAUSE,
    cone.CAUSE,
    squareness.CAUSE,
    runout.CAUSE,
    base_leaning.CAUSE,
)
#: Causes of which two may come together.
PAIRED = tuple(c.name for c in _SINGLE if c is not nothing.CAUSE)
CAUSES: dict[str, CauseKind] = {c.name: c for c in (*_SINGLE, several_of(_SINGLE, PAIRED))}
KINDS = tuple(CAUSES)
_ALL = sum(c.rate for c in CAUSES.values())
#: Probability of each kind of cause; they sum to one. That of "several" holds all pairs.
FAULT_RATES: dict[str, float] = {c.name: c.rate / _ALL for c in CAUSES.values()}


def draw_kind(rng: np.random.Generator) -> str:
    """A kind of cause at its stated rate."""
    return str(rng.choice(KINDS, p=np.array(list(FAULT_RATES.values()))))


def draw_fault(kind: str, rng: np.random.Generator, scene: Scene) -> Fault:
    """A simulated fault of this kind with its size drawn from the stated tables. Raises
    :class:`UserError` for a kind that there is not."""
    if kind not in CAUSES:
        raise UserError(f"a fault '{kind}'", f"one of {', '.join(KINDS)}", "Check the spelling")
    return CAUSES[kind].draw(rng, scene)
