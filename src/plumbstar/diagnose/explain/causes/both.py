"""Two causes at once, as one form: made of the two, it says what each of them says."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.diagnose.explain.forms import (
    EXTRAS,
    Fact,
    Form,
    Judged,
    Observations,
    Variant,
)
from plumbstar.diagnose.explain.sizes import arc
from plumbstar.mount.terms import N_TERMS
from plumbstar.sky.site import Site
from plumbstar.text.words import upper_first
from plumbstar.units import Array

#: Between the names of two causes in the name of both.
AND = "+"


@dataclass(frozen=True)
class Both(Form):
    """``kinds``: whose forms they are. Of the model's extra numbers the first three are of the
    first form, the others of the second. ``alone_deg``: how closely the sightings agree, at best,
    with one of the two kinds alone."""

    kinds: tuple[str, str]
    first: Form
    second: Form
    alone_deg: float = 0.0

    def parts(self, j: Judged) -> tuple[Judged, Judged]:
        """Each of the two with its own numbers, as if it stood alone."""
        return self._part(j, 0), self._part(j, 1)

    def _part(self, j: Judged, which: int) -> Judged:
        # Its own numbers first; those of the other stay, as the other happened too.
        extras = np.roll(np.arange(2 * EXTRAS), -EXTRAS * which)
        at = np.concatenate([np.arange(N_TERMS), N_TERMS + extras])
        best = replace(
            j.best,
            form=(self.first, self.second)[which],
            mean=j.best.mean[at],
            sigma=j.best.sigma[at],
            shift=j.best.shift[..., extras],
        )
        return replace(j, best=best, mean=j.mean[at], covariance=j.covariance[np.ix_(at, at)])

    @property
    def set_aside(self) -> tuple[int, ...]:
        return (*self.first.set_aside, *self.second.set_aside)

    @property
    def clock_late_s(self) -> float:
        return self.first.clock_late_s + self.second.clock_late_s

    @property
    def altitude_entered_deg(self) -> float:
        return self.first.altitude_entered_deg + self.second.altitude_entered_deg

    @property
    def checked_at_star(self) -> bool:
        return self.first.checked_at_star or self.second.checked_at_star

    def really_at(self) -> Site | None:
        return self.first.really_at() or self.second.really_at()

    def shift_next(self, shift: Array) -> Array:
        mine, other = shift[..., :EXTRAS], shift[..., EXTRAS:]
        return np.concatenate([self.first.shift_next(mine), self.second.shift_next(other)], axis=-1)

    def as_read(self, reading: Array) -> Array:
        return self.first.as_read(self.second.as_read(reading))

    def amounts_deg(self, j: Judged) -> Mapping[str, float]:
        return {
            f"{which}_{name}": value
            for which, part in zip(("first", "second"), self.parts(j), strict=True)
            for name, value in part.form.amounts_deg(part).items()
        }

    def facts(self) -> Mapping[str, Fact]:
        out: dict[str, Fact] = {}
        each = (("first", self.kinds[0], self.first), ("second", self.kinds[1], self.second))
        for which, kind, form in each:
            out[f"{which}_kind"] = kind
            out |= {f"{which}_{name}": value for name, value in form.facts().items()}
        return out

    def title(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        one, other = a.form.together(o, a), b.form.together(o, b)
        return one if one == other else f"two things: {one}, and {other}"

    def claim(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        return f"{upper_first(a.form.claim(o, a))}. {upper_first(b.form.claim(o, b))}"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        agree = f"With both the sightings agree to {arc(j.agree_deg())}"
        alone = f", with one alone they miss by {arc(self.alone_deg)} or more"
        return (
            f"{self.claim(o, j)}. {agree}{alone if self.alone_deg > 1.25 * j.agree_deg() else ''}."
        )

    def mend(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        return _for_each(a.form.mend(o, a), b.form.mend(o, b))

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        return _for_each(a.form.mend_without_star(o, a), b.form.mend_without_star(o, b))

    def hand_check(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        each = dict.fromkeys((a.form.hand_check(o, a), b.form.hand_check(o, b)))
        return "; and ".join(filter(None, each))

    def happened(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        return f"Two things at once. {a.form.happened(o, a)} {b.form.happened(o, b)}"

    def try_next(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        one, other = a.form.try_next(o, a), b.form.try_next(o, b)
        return one if one == other else f"{one} Then: {_run_on(other)}"


def _for_each(one: str, other: str) -> str:
    if one == other:
        return one
    return f"For the first: {_run_on(one)} For the second: {_run_on(other)}"


def _run_on(sentence: str) -> str:
    """A sentence that goes on behind a colon."""
    return sentence[:1].lower() + sentence[1:]


def both(
    o: Observations,
    kinds: tuple[str, str],
    a: Variant,
    b: Variant,
    kind: str = "",
    log_share: float = 0.0,
) -> Variant | None:
    """The model of two causes at once, or None where the two cannot be taken together.

    What each changes in the ordinary model is changed: readings and places where only one does so,
    variances added, extra numbers side by side. It is called ``kind``; ``log_share`` is added to
    the priors of the two.
    """
    readings = _by_both(a.readings, b.readings, o.readings)
    true = _by_both(a.true, b.true, o.true)
    if readings is None or true is None:
        return None
    extra = np.concatenate([a.sigma[N_TERMS:], b.sigma[N_TERMS:]])
    known = np.isfinite(o.prior.sigma)
    terms = np.full(N_TERMS, np.inf)
    wider = a.sigma[:N_TERMS][known] ** 2 + b.sigma[:N_TERMS][known] ** 2
    terms[known] = np.sqrt(wider - o.prior.sigma[known] ** 2)
    return Variant(
        kind,
        a.log_prior + b.log_prior + log_share,
        readings,
        true,
        1.0 / (1.0 / a.weight + 1.0 / b.weight - o.variance),
        np.concatenate([o.prior.mean, np.zeros(len(extra))]),
        np.concatenate([terms, extra]),
        np.concatenate([a.shift, b.shift], axis=-1),
        Both(kinds, a.form, b.form),
    )


def _by_both(a: Array, b: Array, plain: Array) -> Array | None:
    """What two leave of ``plain`` (n, 2), None where both change one sighting. A cause that changes
    nothing hands on the very array, and there are thousands of pairs: so that is asked first."""
    if a is plain:
        return b
    if b is plain:
        return a
    if np.any(np.any(a != plain, axis=1) & np.any(b != plain, axis=1)):
        return None
    return a + b - plain
