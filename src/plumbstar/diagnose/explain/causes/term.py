"""What causes share that are one term, or two, of the mount beyond what the kit expects."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene, normal, pick
from plumbstar.diagnose.explain.causes.kind import CauseKind
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import arc, beyond_usual
from plumbstar.mount.terms import INDEX
from plumbstar.units import Array


@dataclass(frozen=True)
class TermFault(Fault):
    """A term of the mount is larger by so much; one number for each of ``terms``."""

    kind: str
    terms: tuple[str, ...]
    sizes_deg: tuple[float, ...]

    def turn(self, terms: Array) -> None:
        for name, size in zip(self.terms, np.radians(self.sizes_deg), strict=True):
            terms[:, INDEX[name]] += size


@dataclass(frozen=True)
class WideTerm(Form):
    """Forms of these causes differ in size only, and the size is solved for."""

    terms: tuple[str, ...] = field(default=())

    def deed(self, o: Observations, j: Judged) -> str:
        """What to turn, where it is said elsewhere that the fix allows for the term."""
        return self.mend(o, j)


@dataclass(frozen=True)
class SidedTerm(WideTerm):
    """A single term that is off to one side: what that means is :meth:`off`."""

    @property
    def term(self) -> str:
        (name,) = self.terms
        return name

    def side(self, j: Judged) -> Literal["right", "left"]:
        """The side to which a positive value is off."""
        return "right" if j.term_deg(self.term)[0] > 0 else "left"

    def off(self, amount: str, side: str) -> str:
        """How far it would be off, as the start of a sentence."""
        raise NotImplementedError

    def claim(self, o: Observations, j: Judged) -> str:
        return self.off(arc(j.term_deg(self.term)[0]), self.side(j))

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return beyond_usual(o, j, self.term, self.claim(o, j), nothing)


#: The check that tells leaning bearings from everything else.
LEVEL_ON_THE_BEARINGS = (
    "lay a spirit level across the two altitude bearings, then turn the mount half round: a bubble "
    "off to the same side of the mount both times"
)


def term_cause(
    kind: str, prior: float, sizes: Sequence[tuple[float, float]], form: WideTerm
) -> CauseKind:
    """The cause that the terms of ``form`` are off by more than the kit expects."""
    return CauseKind(
        kind, prior, wide_forms(kind, sizes, form), draw_term(kind, sizes, *form.terms)
    )


def wide_forms(
    kind: str, sizes: Sequence[tuple[float, float]], form: WideTerm
) -> Callable[[Observations], list[Variant]]:
    """The terms of ``form`` widened by each of (weight, degrees)."""

    def build(o: Observations) -> list[Variant]:
        return [
            o.variant(kind, w, form, prior=o.wider(**dict.fromkeys(form.terms, deg)))
            for w, deg in sizes
        ]

    return build


def draw_term(
    kind: str, sizes: Sequence[tuple[float, float]], *terms: str
) -> Callable[[np.random.Generator, Scene], Fault]:
    """Each term by a normal number of one of the sizes."""

    def draw(rng: np.random.Generator, scene: Scene) -> Fault:
        (sigma,) = pick(rng, sizes)
        return TermFault(kind, terms, normal(rng, sigma, len(terms)))

    return draw
