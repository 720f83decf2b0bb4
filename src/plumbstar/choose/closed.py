"""Pairs of a closed controller's own stars: which of it are at hand, and which two to tell it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbstar.choose.candidates import Candidate
from plumbstar.controller.believed import Believed
from plumbstar.controller.own_list import in_list
from plumbstar.controller.ranking import PairPromise, rank
from plumbstar.errors import UserError
from plumbstar.kit import Controller
from plumbstar.mount.priors import Noise
from plumbstar.units import Array


def listed(stars: Sequence[Candidate], box: Controller) -> tuple[Candidate, ...]:
    """Those that the controller has in its list."""
    return tuple(c for c in stars if in_list(c.star, box))


def ranked_pairs(
    stars: Sequence[Candidate],
    targets: Array,
    known: Believed,
    noise: Noise,
    field_deg: float,
    box: Controller,
    among: tuple[int, int] | None = None,
) -> list[PairPromise]:
    """Pairs by the chance of a target (n, 2), radians, after the push on, the best first; of one
    pair alone where ``among`` says which. Raises :class:`UserError` where no two stand well."""
    at = np.radians([(c.az_deg, c.alt_deg) for c in stars])
    step = math.radians(box.step_deg)
    only = None if among is None else [among]
    found = rank(at, targets, known, noise.centring, field_deg, step, among=only)
    if not found:
        raise UserError(
            "All pairs of the controller's stars that are up stand too close together or opposite",
            "",
            "Try a later time, or add more of its list to the kit",
        )
    return found


def turn_deg(a: Candidate, b: Candidate) -> float:
    """How far the azimuth turns from one to the other, the shorter way."""
    return abs(math.remainder(b.az_deg - a.az_deg, 360.0))
