"""What every cause's file fills: its name, rate, forms, and how a simulated one is drawn.

Every number in these files is common practice, no source: judgement by people who coach at the
telescope would move each rate by a factor of two. The rates are those among outings about which
somebody asks "why?", one fault at a time. docs/why.md shows the same tables; change a number and
run design/confusion.py again.

Sizes are mixtures: rows of (weight, 1 sigma in degrees) of a normal about zero, added to the kit's
own prior of that term. Equal weights stand for "we do not know the scale".
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.forms import Observations, Variant
from plumbstar.units import Array


@dataclass(frozen=True)
class Found:
    """A form that was searched for in the catalogue: log prior + linear log evidence, and its
    model when it is worth solving exactly."""

    score: float
    variant: Variant | None


#: (observations, means (n, 14), covariances (n, 14, 14), log evidences (n,)), each without one
#: sighting, to what was found.
Search = Callable[[Observations, Array, Array, Array], list[Found]]


@dataclass(frozen=True)
class CauseKind:
    """One kind of cause.

    ``rate``: its probability among all causes. ``forms``: models of the outing whose ``log_prior``
    sum (as probabilities) to one. ``draw``: a simulated fault of it. ``search``: for forms that are
    too many to solve each.
    """

    name: str
    rate: float
    forms: Callable[[Observations], list[Variant]]
    draw: Callable[[np.random.Generator, Scene], Fault]
    search: Search | None = None
