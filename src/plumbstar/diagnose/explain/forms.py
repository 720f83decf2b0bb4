"""What is weighed: the sightings as arrays, the models of them, and what a form of a cause can say.

A *form* is a cause with its particulars ("a slip of the azimuth circle after the second star"): it
is a record of facts, and finds its own words. A *variant* is the model of the sightings that goes
with it. These records know one another, so they stand together.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from plumbstar.diagnose.explain.stars import SkyAtSightings
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.sky.site import Site
from plumbstar.solve.posterior import continuous_readings
from plumbstar.solve.stories import WRONGLY_DENIED
from plumbstar.text.advice import Advice
from plumbstar.units import Array

#: Extra numbers of a model beside the mount's terms: a moved base needs three.
EXTRAS = 3

#: What a form can state for JSON.
Fact = float | int | str | bool | tuple[str, ...] | None


def blank_shift(n: int) -> Array:
    """No extra number does anything."""
    return np.zeros((n, N_TERMS, EXTRAS))


def with_extras(prior: Priors, sigmas: Sequence[float]) -> tuple[Array, Array]:
    """Mean and sigma (15,) of terms and extra numbers; unused extras are held at zero."""
    mean = np.concatenate([prior.mean, np.zeros(EXTRAS)])
    sigma = np.concatenate([prior.sigma, np.zeros(EXTRAS)])
    sigma[N_TERMS : N_TERMS + len(sigmas)] = sigmas
    return mean, sigma


@dataclass(frozen=True, slots=True)
class Variant:
    """One fully stated model: a kind of cause in one of its forms.

    ``log_prior``: of this form within its kind. ``readings`` (n, 2) and ``true`` (n, 2), radians;
    ``weight`` (n, 2) inverse variances, 0 for a sighting left out; ``mean`` and ``sigma`` (15,) of
    terms and extra numbers; ``shift`` (n, 12, 3): terms of sighting i are terms + shift[i] @ extra.
    """

    kind: str
    log_prior: float
    readings: Array
    true: Array
    weight: Array
    mean: Array
    sigma: Array
    shift: Array
    form: Form


@dataclass(frozen=True)
class Observations:
    """The sightings as arrays. ``readings`` (n, 2), azimuth followed round the shorter way from
    each sighting to the next; ``true`` (n, 2); ``variance`` (n, 2) on the sky; radians. ``still``:
    indices of sightings just before which nothing moved, as the observer says; ``moved``: of those
    before which something did."""

    sightings: tuple[Sighting, ...]
    prior: Priors
    noise: Noise
    readings: Array
    true: Array
    variance: Array
    sky: SkyAtSightings | None
    kit: Kit | None
    read_by_eye: bool = True
    still: frozenset[int] = frozenset()
    moved: frozenset[int] = frozenset()

    @staticmethod
    def of(
        sightings: Sequence[Sighting],
        prior: Priors,
        noise: Noise,
        sky: SkyAtSightings | None,
        kit: Kit | None,
        grain_deg: Sequence[tuple[float, float]] | None = None,
        read_by_eye: bool = True,
        still: Collection[int] = (),
        moved: Collection[int] = (),
    ) -> Observations:
        readings = continuous_readings(sightings)
        true = np.radians([[s.true_az_deg, s.true_alt_deg] for s in sightings])
        variance = noise.variances(true[:, 1])
        if grain_deg is not None:
            extra = (np.radians(np.asarray(grain_deg)) / math.sqrt(12.0)) ** 2
            extra[:, 0] *= np.cos(true[:, 1]) ** 2
            variance = variance + extra
        seen = tuple(sightings)
        told = frozenset(still), frozenset(moved)
        return Observations(
            seen, prior, noise, readings, true, variance, sky, kit, read_by_eye, *told
        )

    @property
    def n(self) -> int:
        return len(self.sightings)

    def star(self, i: int) -> str:
        """The name of the star of sighting i."""
        return self.sightings[i].star

    def variant(
        self,
        kind: str,
        probability: float,
        form: Form,
        *,
        prior: Priors | None = None,
        extras: Sequence[float] = (),
        readings: Array | None = None,
        true: Array | None = None,
        weight: Array | None = None,
        shift: Array | None = None,
    ) -> Variant:
        """The ordinary model with some things changed."""
        mean, sigma = with_extras(self.prior if prior is None else prior, extras)
        if form.since is not None and form.since + 1 in self.still:
            probability *= WRONGLY_DENIED
        if form.since is not None and form.since + 1 in self.moved:
            probability /= WRONGLY_DENIED  # who says that something did is wrong as seldom
        return Variant(
            kind,
            math.log(probability),
            self.readings if readings is None else readings,
            self.true if true is None else true,
            1.0 / self.variance if weight is None else weight,
            mean,
            sigma,
            blank_shift(self.n) if shift is None else shift,
            form,
        )

    def wider(self, **extra_deg: float) -> Priors:
        """The prior with some terms' sigma widened in quadrature by so many degrees."""
        sigma = self.prior.sigma.copy()
        for name, deg in extra_deg.items():
            sigma[INDEX[name]] = math.hypot(sigma[INDEX[name]], math.radians(deg))
        return Priors(self.prior.mean, sigma)


@dataclass(frozen=True)
class Judged:
    """One kind: its probability, and its best form solved.

    ``share``: the best form's probability within the kind. ``mean`` (15,) and ``covariance``
    (15, 15) of terms and extra numbers, radians; ``residuals`` (n, 2) on the sky, radians.
    ``also``: further kinds that say the same of this outing, whose probability it has too.
    ``at_all``: the probability that it happened, alone or beside something else; with
    ``all_that_shows`` that nothing went wrong that shows but what this names. ``shares`` and
    ``costs`` (F,): each form's probability within the kind, and its misfit (chi-square).
    """

    kind: str
    probability: float
    log_evidence: float
    best: Variant
    share: float
    mean: Array
    covariance: Array
    residuals: Array
    shares: Array
    costs: Array
    also: tuple[str, ...] = ()
    at_all: float = 0.0
    all_that_shows: bool = False

    @property
    def form(self) -> Form:
        return self.best.form

    def term_deg(self, name: str) -> tuple[float, float]:
        """Value and 1 sigma of a term, degrees."""
        value, sigma = self._number_deg(INDEX[name])
        return value + (self.form.altitude_entered_deg if name == "altitude_zero" else 0.0), sigma

    def extra_deg(self, k: int) -> tuple[float, float]:
        """Value and 1 sigma of an extra number, degrees."""
        return self._number_deg(N_TERMS + k)

    def _number_deg(self, i: int) -> tuple[float, float]:
        sigma = math.sqrt(max(0.0, self.covariance[i, i]))
        return math.degrees(self.mean[i]), math.degrees(sigma)

    def agree_deg(self) -> float:
        """How closely the sightings agree: root mean square on the sky, degrees."""
        rows = [i for i in range(len(self.residuals)) if i not in self.form.set_aside]
        r = self.residuals[rows]
        return math.degrees(math.sqrt(float(np.mean(np.sum(r * r, axis=1)))))


class Form:
    """A cause with its particulars. A cause's file fills this in; the defaults are for causes
    that have nothing to say on a point."""

    # ---- facts: what the checks and the JSON need ----

    @property
    def about(self) -> int | None:
        """The sighting that this form is about."""
        return None

    @property
    def sights_again(self) -> int | None:
        """The sighting that its check by hand takes once more, and nothing else."""
        return None

    @property
    def checked_at_star(self) -> bool:
        """Whether its check by hand is at a star: none by day, nor of before a knock."""
        return False

    @property
    def since(self) -> int | None:
        """The sighting after which something changed."""
        return None

    def is_told(self, o: Observations) -> bool:
        """Whether the observer has said that something moved just there."""
        return self.since is not None and self.since + 1 in o.moved

    @property
    def set_aside(self) -> tuple[int, ...]:
        """Sightings whose miss does not count when asking how well the others agree."""
        return ()

    @property
    def clock_late_s(self) -> float:
        """By so much later than written the sightings really were, seconds."""
        return 0.0

    @property
    def altitude_entered_deg(self) -> float:
        """By so much the altitude was entered too low, degrees."""
        return 0.0

    def really_at(self) -> Site | None:
        """Where the telescope really stood, when that is not the site given."""
        return None

    def shift_next(self, shift: Array) -> Array:
        """What the extra numbers do (12, E) to the terms of a star to come; ``shift``: of all."""
        out: Array = shift[-1]
        return out

    def as_read(self, reading: Array) -> Array:
        """What the circles show (m, 2) where sound ones would show ``reading`` (m, 2), radians."""
        return reading

    def amounts_deg(self, j: Judged) -> Mapping[str, float]:
        """Further numbers that were solved for, degrees, by JSON key."""
        return {}

    def facts(self) -> Mapping[str, Fact]:
        """The particulars for JSON: the form's own fields."""
        return {f.name: getattr(self, f.name) for f in fields(self)}  # type: ignore[arg-type]

    # ---- words, made last ----

    def title(self, o: Observations, j: Judged) -> str:
        """The cause in a few words, without a capital."""
        raise NotImplementedError

    def together(self, o: Observations, j: Judged) -> str:
        """The same where it is named beside another cause."""
        return self.title(o, j)

    def claim(self, o: Observations, j: Judged) -> str:
        """What would be so, with its numbers, as the start of a sentence."""
        raise NotImplementedError

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        """One sentence with the numbers that speak for it; ``nothing``: with nothing wrong."""
        raise NotImplementedError

    def mend(self, o: Observations, j: Judged) -> str:
        """What to turn."""
        raise NotImplementedError

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        """The part of it for which no star is sighted."""
        return self.mend(o, j)

    def advice(self, o: Observations, j: Judged) -> Advice | None:
        """What helps with the mend, and is done elsewhere in the program."""
        return None

    def hand_check(self, o: Observations, j: Judged) -> str:
        """The check that needs no other star: an instruction without capital or full stop. Empty
        where the observer has told it."""
        raise NotImplementedError

    def happened(self, o: Observations, j: Judged) -> str:
        """What happened, for somebody who knows no terms."""
        raise NotImplementedError

    def try_next(self, o: Observations, j: Judged) -> str:
        """One thing for that person to do."""
        raise NotImplementedError


class Unstated(Form):
    """Of a model that is solved on the way and never named."""
