"""What causes share that are one term, or two, of the mount beyond what the kit expects."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np

from plumbstar.diagnose.explain.causes.fault import Fault, Scene, normal, pick
from plumbstar.diagnose.explain.forms import Form, Observations, Variant
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
