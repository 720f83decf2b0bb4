"""A neighbour was sighted in place of the star that was named: searched for in the catalogue."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbstar.diagnose.explain.causes.aims import Aim, places_of
from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.kind import CauseKind, Found
from plumbstar.diagnose.explain.forms import Form, Judged, Observations, Variant
from plumbstar.diagnose.explain.sizes import expected_reading, then
from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS
from plumbstar.sky.angles import offset_rad, separation_rad
from plumbstar.units import Array

_KIND = "wrong_star"
#: Wrong stars whose evidence is computed exactly; the rest keep the linear estimate.
_EXACT = 10


@dataclass(frozen=True, slots=True)
class LookAlikes:
    """How readily one star is taken for another: by distance and by brightness."""

    #: The chance falls by e for every this many degrees,
    reach_deg: float = 10.0
    #: and as a normal in magnitude with this sigma; brighter stars attract, fainter repel.
    magnitude_sigma: float = 1.3
    #: A brilliant star draws the eye from anywhere in this circle.
    within_deg: float = 45.0

    def weights(self, v_named: float, v_other: Array, separation_deg: Array) -> Array:
        """Probability (k,) of each other star, summing to one, given that a wrong one was sighted.

        ``v_other`` and ``separation_deg`` (k,). Stars beyond ``within_deg`` get nothing.
        """
        fainter = np.maximum(v_other - v_named, 0.0)
        brighter = np.maximum(v_named - v_other, 0.0)
        w = np.exp(
            -separation_deg / self.reach_deg
            - 0.5 * (fainter / self.magnitude_sigma) ** 2
            - 0.25 * (brighter / self.magnitude_sigma) ** 2
        )
        w = np.where((separation_deg > 0.2) & (separation_deg < self.within_deg), w, 0.0)
        total = float(w.sum())
        out: Array = w / total if total > 0 else w
        return out


LOOK_ALIKES = LookAlikes()


@dataclass(frozen=True)
class AnotherStar(Form):
    sighting: int
    star: str
    v_mag: float
    apart_deg: float

    @property
    def about(self) -> int:
        return self.sighting

    def title(self, o: Observations, j: Judged) -> str:
        return f"wrong star: {self.star} was sighted for {o.star(self.sighting)}"

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return (
            f"{self.star} (magnitude {self.v_mag:.1f}) stands {self.apart_deg:.1f}° from "
            f"{o.star(self.sighting)}; {then(j, nothing)}."
        )

    def mend(self, o: Observations, j: Judged) -> str:
        return f"Set that sighting aside, or enter it as {self.star}; then sight the right star."

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
class WrongStarFault(Fault):
    kind = _KIND
    sighting: int
    other: Aim

    def really_sighted(self) -> tuple[int, Aim]:
        return self.sighting, self.other


def _forms(o: Observations) -> list[Variant]:
    return []  # all of them are searched for


def _predicted(o: Observations, i: int, mean: Array, covariance: Array) -> tuple[Array, Array]:
    """Azimuth and altitude (2,) of reading i, and the covariance (2, 2) of the star about it."""
    d, jac = kinematics.direction_jacobian(o.readings[i], mean[:N_TERMS])
    place = kinematics.az_alt(d)
    flat = kinematics.tangent_basis(place[0], place[1]) @ jac
    cov = flat @ covariance[:N_TERMS, :N_TERMS] @ flat.T + np.diag(o.variance[i])
    return place, cov


def _search(o: Observations, mean: Array, covariance: Array, log_evidence: Array) -> list[Found]:
    """Every (sighting, star).

    Without sighting i the other sightings predict where its reading points; the evidence for any
    star there is a normal density, so that all neighbours of all sightings cost one product.
    """
    sky = o.sky
    if sky is None:
        return []
    joint, which = [], []
    for i in range(o.n):
        place = sky.others_places[i]
        apart = np.degrees(separation_rad(o.true[i, 0], o.true[i, 1], place[:, 0], place[:, 1]))
        prior = LOOK_ALIKES.weights(float(sky.named_v[i]), sky.others_v, apart)
        prior = np.where(place[:, 1] > math.radians(3.0), prior, 0.0) / o.n
        total = prior.sum() * o.n
        if total <= 0:
            continue
        keep = np.flatnonzero(prior)
        at, cov = _predicted(o, i, mean[i], covariance[i])
        off = offset_rad(at[0], at[1], place[keep, 0], place[keep, 1])
        inverse = np.linalg.inv(cov)
        density = -0.5 * np.einsum("ki,ij,kj->k", off, inverse, off)
        density += 0.5 * np.linalg.slogdet(inverse)[1] - math.log(2 * math.pi)
        joint.append(np.log(prior[keep] / total) + log_evidence[i] + density)
        which += [(i, int(k), float(prior[k] / total), float(apart[k])) for k in keep]
    if not which:
        return []
    score = np.concatenate(joint)
    best = set(np.argsort(-score)[:_EXACT].tolist())
    out = []
    for row, (i, k, p, apart_deg) in enumerate(which):
        v = None
        if row in best:
            true = o.true.copy()
            true[i] = sky.others_places[i, k]
            form = AnotherStar(i, sky.others_names[k], float(sky.others_v[k]), apart_deg)
            v = o.variant(_KIND, p, form, true=true)
        out.append(Found(float(score[row]), v))
    return out


def _draw(rng: np.random.Generator, scene: Scene) -> Fault:
    i = int(rng.integers(len(scene.plan)))
    star, then_utc, others = scene.plan[i], scene.instants[i], scene.neighbours
    here = places_of([star], [then_utc], scene.site)[0]
    there = places_of(others, [then_utc] * len(others), scene.site)
    cos = kinematics.unit(there[:, 0], there[:, 1]) @ kinematics.unit(here[0], here[1])
    apart = np.degrees(np.arccos(np.clip(cos, -1, 1)))
    v = np.array([s.v_mag for s in others])
    weight = LOOK_ALIKES.weights(star.v_mag, v, apart)
    weight = np.where(there[:, 1] > math.radians(3.0), weight, 0.0)
    return WrongStarFault(i, others[int(rng.choice(len(others), p=weight / weight.sum()))])


CAUSE = CauseKind(_KIND, 0.10, _forms, _draw, _search)
