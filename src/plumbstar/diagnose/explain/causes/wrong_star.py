"""A neighbour was sighted in place of the star that was named: searched for in the catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.diagnose.explain.causes import rates
from plumbstar.diagnose.explain.causes.aims import Aim, places_of
from plumbstar.diagnose.explain.causes.both import AND, Both, both
from plumbstar.diagnose.explain.causes.claim import Claimed
from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind, Found
from plumbstar.diagnose.explain.forms import Judged, Observations, Variant, blank_shift
from plumbstar.diagnose.explain.sizes import expected_reading
from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.nameless.alike import LOOK_ALIKES
from plumbstar.sky.angles import offset_rad, separation_rad
from plumbstar.units import Array

_KIND = "wrong_star"
TWO = f"{_KIND}{AND}{_KIND}"
#: Wrong stars whose evidence is computed exactly; the rest keep the linear estimate.
_EXACT = 10
#: Lower than this no star is sighted, radians.
_LOWEST = math.radians(3.0)


@dataclass(frozen=True)
class AnotherStar(Claimed):
    sighting: int
    star: str
    v_mag: float
    apart_deg: float

    @property
    def about(self) -> int:
        return self.sighting

    def title(self, o: Observations, j: Judged) -> str:
        return f"wrong star: {self.star} was sighted for {o.star(self.sighting)}"

    def together(self, o: Observations, j: Judged) -> str:
        return f"{self.star} was sighted for {o.star(self.sighting)}"

    def claim(self, o: Observations, j: Judged) -> str:
        return (
            f"{self.star} (magnitude {self.v_mag:.1f}) stands {self.apart_deg:.1f}° from "
            f"{o.star(self.sighting)}"
        )

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Set that sighting aside, or enter it as {self.star}; then sight the right star."

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        return f"Set that sighting aside, or enter it as {self.star}."

    @property
    def checked_at_star(self) -> bool:
        return True

    def hand_check(self, o: Observations, j: Judged) -> str:
        az, alt = expected_reading(o, j, self.sighting)
        return (
            f"find {o.star(self.sighting)} again by its neighbours on a chart: at the same "
            f"moment it should have read azimuth {az:.1f}°, altitude {alt:.1f}°"
        )

    def happened(self, o: Observations, j: Judged) -> str:
        return (
            f"One of the stars was probably another one: the numbers you wrote for "
            f"{o.star(self.sighting)} fit {self.star}, {self.apart_deg:.0f} degrees away, much "
            "better."
        )

    def try_next(self, o: Observations, j: Judged) -> str:
        return (
            f"Point at {o.star(self.sighting)} once more, make sure it is the right star, and take "
            "both numbers again."
        )


@dataclass(frozen=True)
class TwoOtherStars(Both):
    """Two of them."""

    @property
    def stars(self) -> tuple[AnotherStar, AnotherStar]:
        assert isinstance(self.first, AnotherStar)
        assert isinstance(self.second, AnotherStar)
        return self.first, self.second

    def title(self, o: Observations, j: Judged) -> str:
        a, b = self.parts(j)
        return f"two wrong stars: {a.form.together(o, a)}, and {b.form.together(o, b)}"

    def mend(self, o: Observations, j: Judged) -> str:
        a, b = self.stars
        return (
            f"Enter them as {a.star} and {b.star}, or set both aside; then sight the right stars."
        )

    def mend_without_star(self, o: Observations, j: Judged) -> str:
        a, b = self.stars
        return f"Enter them as {a.star} and {b.star}, or set both aside."


@dataclass(frozen=True)
class WrongStarFault(Fault):
    kind = _KIND
    sighting: int
    other: Aim

    def really_sighted(self) -> tuple[int, Aim]:
        return self.sighting, self.other


def _forms(o: Observations) -> list[Variant]:
    return []  # all of them are searched for


@dataclass(frozen=True, slots=True)
class StarInPlace:
    """A star that may have been sighted in place of that of sighting ``sighting``: ``star`` among
    the sky's others, at ``place`` (2,), ``score`` log (probability x evidence), and ``probability``
    of this form."""

    score: float
    sighting: int
    star: int
    place: Array
    probability: float
    apart_deg: float


def in_place(o: Observations, i: int, places: Array) -> tuple[Array, Array]:
    """How far (K,) each of the sky's others stood from the star of sighting i, degrees, and the
    probability that it was sighted in its place and none of the other sightings is wrong; where
    they stand at ``places`` (K, 2)."""
    sky = o.sky
    assert sky is not None  # whoever asks has it
    then = sky.others_places[i]
    apart = np.degrees(separation_rad(o.true[i, 0], o.true[i, 1], then[:, 0], then[:, 1]))
    weight = LOOK_ALIKES.weights(float(sky.named_v[i]), sky.others_v, apart)
    weight = np.where(places[:, 1] > _LOWEST, weight, 0.0)
    return apart, weight / max(float(weight.sum()) * o.n, 1e-300)


def neighbours(
    o: Observations,
    i: int,
    reading: Array,
    shift: Array,
    without: tuple[Array, Array, float],
    late_s: float = 0.0,
) -> list[StarInPlace]:
    """Every star that sighting i may have been of, by a model that leaves it out.

    ``late_s``: the true time is so much later than written. ``without``: that model's mean (P,),
    covariance (P, P) and log evidence. The other sightings predict where the reading (2,) points,
    with ``shift`` (12, P - 12) of the terms then; the evidence for any star there is a normal
    density, so that all stars cost one product.
    """
    sky = o.sky
    if sky is None:
        return []
    mean, covariance, log_evidence = without
    place = sky.others_later(i, late_s)
    apart, weight = in_place(o, i, place)
    keep = np.flatnonzero(weight)
    at, cov = _predicted(o, i, reading, shift, mean, covariance)
    off = offset_rad(at[0], at[1], place[keep, 0], place[keep, 1])
    inverse = np.linalg.inv(cov)
    density = -0.5 * np.einsum("ki,ij,kj->k", off, inverse, off)
    density += 0.5 * np.linalg.slogdet(inverse)[1] - math.log(2 * math.pi)
    score = np.log(weight[keep]) + log_evidence + density
    return [
        StarInPlace(float(x), i, int(k), place[k], float(weight[k]), float(apart[k]))
        for x, k in zip(score, keep, strict=True)
    ]


def of_neighbour(o: Observations, x: StarInPlace) -> Variant:
    """The model by which that star was sighted."""
    sky = o.sky
    assert sky is not None  # or there was no neighbour
    true = o.true.copy()
    true[x.sighting] = x.place
    v = float(sky.others_v[x.star])
    form = AnotherStar(x.sighting, sky.others_names[x.star], v, x.apart_deg)
    return o.variant(_KIND, x.probability, form, true=true)


def of_two(o: Observations, x: StarInPlace, y: StarInPlace) -> Variant:
    """The model by which both were sighted, each in another's place."""
    one, other = of_neighbour(o, x), of_neighbour(o, y)
    v = both(o, (_KIND, _KIND), one, other)
    assert v is not None  # two sightings
    assert isinstance(v.form, Both)
    # Of the pairs of sightings it is one.
    pairs = math.log(2.0 * o.n / (o.n - 1))
    form = TwoOtherStars(v.form.kinds, v.form.first, v.form.second)
    return replace(v, kind=TWO, log_prior=v.log_prior + pairs, form=form)


def _predicted(
    o: Observations, i: int, reading: Array, shift: Array, mean: Array, covariance: Array
) -> tuple[Array, Array]:
    """Azimuth and altitude (2,) of a reading, and the covariance (2, 2) of the star about it."""
    terms = mean[:N_TERMS] + shift @ mean[N_TERMS:]
    d, jac = kinematics.direction_jacobian(reading, terms)
    place = kinematics.az_alt(d)
    flat = kinematics.tangent_basis(place[0], place[1]) @ jac
    flat = np.concatenate([flat, flat @ shift], axis=-1)
    return place, flat @ covariance @ flat.T + np.diag(o.variance[i])


def _search(o: Observations, mean: Array, covariance: Array, log_evidence: Array) -> list[Found]:
    """Every (sighting, star)."""
    still = blank_shift(1)[0]
    found = [
        x
        for i in range(o.n)
        for x in neighbours(
            o, i, o.readings[i], still, (mean[i], covariance[i], float(log_evidence[i]))
        )
    ]
    best = {id(x) for x in sorted(found, key=lambda x: -x.score)[:_EXACT]}
    return [Found(x.score, of_neighbour(o, x) if id(x) in best else None) for x in found]


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    i = int(rng.integers(len(scene.plan)))
    star, then_utc, others = scene.plan[i], scene.instants[i], scene.neighbours
    here = places_of([star], [then_utc], scene.site)[0]
    there = places_of(others, [then_utc] * len(others), scene.site)
    cos = kinematics.unit(there[:, 0], there[:, 1]) @ kinematics.unit(here[0], here[1])
    apart = np.degrees(np.arccos(np.clip(cos, -1, 1)))
    v = np.array([s.v_mag for s in others])
    weight = LOOK_ALIKES.weights(star.v_mag, v, apart)
    weight = np.where(there[:, 1] > _LOWEST, weight, 0.0)
    return WrongStarFault(i, others[int(rng.choice(len(others), p=weight / weight.sum()))])


CAUSE = CauseKind(_KIND, rates.WRONG_STAR, _forms, _draw, _search)
