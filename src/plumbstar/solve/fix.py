"""The fix: every term of the mount with its covariance, and what follows for the next push.

The terms come from :mod:`plumbstar.solve.posterior`; what may have happened to the sightings is
weighed by :mod:`plumbstar.solve.weighing`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from plumbstar.errors import UserError
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import N_TERMS, TERMS
from plumbstar.solve.chance import hit_chance
from plumbstar.solve.doubts import (
    ROUGH,
    InDoubt,
    coarser,
    doubts_of_geometry,
    doubts_of_stories,
)
from plumbstar.solve.misclosure import Misclosure, misclosures
from plumbstar.solve.moved import Moved, moved_of
from plumbstar.solve.posterior import Data, continuous_readings, gauss_newton
from plumbstar.solve.smallsample import chi_square_survival
from plumbstar.solve.weighing import (
    HARDLY_A_HAND,
    SURE,
    Weighed,
    covariance_about,
    leading,
    share_of,
    suspects_of,
    weigh_all,
)
from plumbstar.text.advice import Advice, Do
from plumbstar.turns import one_turn
from plumbstar.units import Array

#: No hand centres so badly; the width of two Moons. Common practice, no source.
NO_HAND = math.radians(1.0)
#: The misfit left by the likeliest story, below which the sightings are said to contradict.
NONSENSE = 1e-9


@dataclass(frozen=True)
class Fix:
    """The solved mount.

    ``mean`` (12,) and ``covariance`` (12, 12): the terms in the order of ``terms.TERMS``, radians;
    the covariance is of the terms given the sightings *and* the prior. ``residuals`` (n, 2): true
    minus predicted, radians, along azimuth (on the sky) and altitude, for every sighting, those
    set aside too. ``set_aside``: indices of sightings left out, ``suspects``: (index, probability)
    of each that may be bad. ``doubts``: what is weak or doubtful; ``advice``: what to do about
    it. ``stories``: what may have happened to the sightings, likeliest first, each
    with the mount as it then is; ``mean`` is that of the leading ones, and a chance to hit is the
    mean over all, weighted by their shares. ``still``: as given to :func:`solve`.
    """

    mean: Array
    covariance: Array
    prior: Priors
    noise: Noise
    sightings: tuple[Sighting, ...]
    residuals: Array
    set_aside: tuple[int, ...] = ()
    suspects: tuple[tuple[int, float], ...] = ()
    doubts: tuple[InDoubt, ...] = ()
    advice: tuple[Advice, ...] = ()
    misfit_probability: float = 1.0
    log_evidence: float = 0.0
    noise_from_data: bool = False
    stories: tuple[Weighed, ...] = ()
    still: tuple[int, ...] = ()

    @cached_property
    def misclosures(self) -> tuple[Misclosure, ...]:
        """Of every pair of sightings, those set aside too."""
        return misclosures(self.sightings)

    @property
    def sigma(self) -> Array:
        """One sigma of each term, (12,), radians."""
        return np.sqrt(np.maximum(np.diag(self.covariance), 0.0))

    @property
    def from_data(self) -> Array:
        """Share (12,) of each term's knowledge that the sightings brought: 1 - (post/prior)^2.

        0 where the prior alone speaks, 1 where it was unknown before; 0 for held terms.
        """
        prior = self.prior.sigma
        with np.errstate(divide="ignore", invalid="ignore"):
            gain = 1.0 - (self.sigma / prior) ** 2
        return np.where(prior == 0, 0.0, np.where(np.isinf(prior), 1.0, np.clip(gain, 0.0, 1.0)))

    @property
    def used(self) -> tuple[int, ...]:
        """Indices of the sightings that went into the solution."""
        return tuple(i for i in range(len(self.sightings)) if i not in self.set_aside)

    @property
    def rms_arcsec(self) -> float:
        """Root mean square distance on the sky of the used sightings from the solution."""
        r = self.residuals[list(self.used)]
        return math.degrees(math.sqrt(float(np.mean(np.sum(r * r, axis=1))))) * 3600.0

    @cached_property
    def contradictory(self) -> bool:
        """Whether the sightings contradict one another so much that the terms mean nothing."""
        off = math.radians(self.rms_arcsec / 3600.0)
        if self.stories and coarser(self.stories) * self.noise.centring > NO_HAND:
            return True
        return self.misfit_probability < NONSENSE and off > NO_HAND

    @cached_property
    def moved(self) -> Moved | None:
        """What seems to have moved between two sightings, where that is the likelier story."""
        return moved_of(self.stories, self.sightings, self.noise, self.still)

    @cached_property
    def of_a_mount_as_expected(self) -> bool:
        """Whether the leading story is of a mount that the kit allows, sighted by a hand, whatever
        went wrong among the sightings: what may be learnt from."""
        lead = self.stories[0].story if self.stories else None
        return not lead or not (lead.coarser >= HARDLY_A_HAND or lead.unexpected)

    @property
    def doubtful(self) -> bool:
        """Whether it is worth asking why: a sighting is set aside or suspected, something moved, or
        the hand was rough."""
        rough = bool(self.stories) and coarser(self.stories) >= ROUGH
        suspected = sum(p for _, p in self.suspects) > 0.5
        return bool(self.set_aside) or suspected or self.moved is not None or rough

    @cached_property
    def _folded(self) -> bool:
        """Whether the azimuth display folds into one turn (then turns mean nothing in it)."""
        return all(0.0 <= s.az_reading_deg <= 360.0 for s in self.sightings)

    def reading_for(self, az_deg: float, alt_deg: float, near_az_deg: float | None = None) -> Array:
        """Reading (2,), degrees, that should point the tube at a true place.

        The azimuth is within half a turn of ``near_az_deg``, the present reading; by default of
        the last sighting's, where the tube was left.
        """
        return self.reading_of(
            kinematics.unit(np.radians(az_deg), np.radians(alt_deg)), near_az_deg
        )

    def reading_of(self, direction: Array, near_az_deg: float | None = None) -> Array:
        """The same for a direction (3,)."""
        reading = np.degrees(
            kinematics.reading_of(direction, self.mean, self._counted(near_az_deg))
        )
        if near_az_deg is not None:
            reading[0] += near_az_deg - math.degrees(self._counted(near_az_deg))  # whole turns
        return reading

    def _counted(self, az_deg: float | None) -> float:
        """An azimuth reading with its turns counted as the solution counts them, radians.

        A folding display does not tell its turn: the tube is taken to be within half a turn of
        the last sighting. None gives that one's.
        """
        if az_deg is None:
            return math.radians(self._last_az_deg)
        if self._folded and 0.0 <= az_deg <= 360.0:
            az_deg += 360.0 * round((self._last_az_deg - az_deg) / 360.0)
        return math.radians(az_deg)

    @cached_property
    def _last_az_deg(self) -> float:
        """The last sighting's azimuth reading, turns counted."""
        return math.degrees(continuous_readings(self.sightings)[-1, 0])

    def direction_of(self, az_reading_deg: float, alt_reading_deg: float) -> Array:
        """Direction (3,) in the ground frame where a reading points."""
        reading = np.array([self._counted(az_reading_deg), math.radians(alt_reading_deg)])
        return kinematics.direction(reading, self.mean)

    def directions_of(self, readings_deg: Array, near_az_deg: float) -> Array:
        """Directions (n, 3) where readings (n, 2), degrees, point; ``near_az_deg``: the one whose
        turn they are counted from."""
        readings = np.radians(np.asarray(readings_deg, dtype=float))
        readings[:, 0] += self._counted(near_az_deg) - math.radians(near_az_deg)
        return kinematics.direction(readings, self.mean)

    def pointing_of(self, az_reading_deg: float, alt_reading_deg: float) -> Array:
        """True azimuth and altitude (2,), degrees, where a reading points."""
        return np.degrees(kinematics.az_alt(self.direction_of(az_reading_deg, alt_reading_deg)))

    def azimuths_at(self, az: Array, alt: Array) -> Array:
        """The azimuth readings (...), radians, to which a hand goes from the last sighting."""
        toward = kinematics.unit(az, alt)
        return kinematics.reading_of(toward, self.mean, self._counted(None))[..., 0]

    def jacobian_at(self, az: Array, alt: Array, near_az_deg: float | None = None) -> Array:
        """How a target's landing moves with each term, (..., 2, 12), in its own tangent plane.

        ``near_az_deg``: the reading the push starts from, which decides the turn (and so what the
        azimuth scale does); by default the last sighting's.
        """
        reading = kinematics.reading_of(
            kinematics.unit(az, alt), self.mean, self._counted(near_az_deg)
        )
        _, J = kinematics.direction_jacobian(reading, self.mean)
        out: Array = kinematics.tangent_basis(az, alt) @ J
        return out

    def pointing_covariance(self, az: Array, alt: Array, near_az_deg: float | None = None) -> Array:
        """Covariance (..., 2, 2) of where the tube lands when pushed to a true place, radians^2.

        Axes along azimuth (on the sky) and altitude. Holds the fix's own uncertainty, the grain of
        the circles, and a hand that stops as closely as it centres.
        """
        az, alt = np.asarray(az, dtype=float), np.asarray(alt, dtype=float)
        J = self.jacobian_at(az, alt, near_az_deg)[None]
        grain = self.landing_noise.variances(alt)
        return np.asarray(_on_the_sky(J, self.covariance[None], grain)[0])

    def hit_chance(
        self,
        az_deg: Array | float,
        alt_deg: Array | float,
        field_deg: float,
        near_az_deg: float | None = None,
    ) -> Array:
        """Probability (...) that a target at a true place lands in a true field of that width, had
        nothing moved since the last sighting; what is stated has the factor of since.py, too.

        ``near_az_deg``: the reading the push starts from; by default the last sighting's.
        """
        az, alt = np.broadcast_arrays(np.radians(az_deg), np.radians(alt_deg))
        return self._chance(az, alt, math.radians(field_deg) / 2, near_az_deg)

    def mean_hit_chance(self, field_deg: float, min_alt_deg: float = 20.0) -> float:
        """Mean of :meth:`hit_chance` over the sky above ``min_alt_deg``, by area: of 150 places,
        within 0.0025 of as many as one likes (rms 0.0006), for it is asked for at each press."""
        if (asked := (field_deg, min_alt_deg)) not in self._means:
            chances = self._chance(*sky_grid(min_alt_deg, 150), math.radians(field_deg) / 2)
            self._means[asked] = float(np.mean(chances))
        return self._means[asked]

    @cached_property
    def _means(self) -> dict[tuple[float, float], float]:
        """What :meth:`mean_hit_chance` gave: every page and sentence asks for the same again."""
        return {}

    def _chance(
        self, az: Array, alt: Array, radius: float, near_az_deg: float | None = None
    ) -> Array:
        """Probability (...) of landing within ``radius`` of true places, all radians: the mean over
        the stories, each with its own mount, when the circles are brought to this fix's reading."""
        if not self.stories:
            return hit_chance(np.zeros(2), self.pointing_covariance(az, alt, near_az_deg), radius)
        share = np.array([told.share for told in self.stories])
        chances = hit_chance(*self.landings(az, alt, near_az_deg), radius)
        return np.asarray(np.tensordot(share, chances, axes=1))

    def landings(
        self, az: Array, alt: Array, near_az_deg: float | None = None
    ) -> tuple[Array, Array]:
        """Where the tube lands beside true places (...): mean (stories, ..., 2) and covariance
        (stories, ..., 2, 2), radians, when the circles are brought to this fix's reading."""
        toward = kinematics.unit(az, alt)
        reading = kinematics.reading_of(toward, self.mean, self._counted(near_az_deg))
        basis = kinematics.tangent_basis(az, alt)
        each = (len(self.stories), *(1,) * np.ndim(az))  # the stories along an axis of their own
        means = np.array([told.mean for told in self.stories])
        d, J = kinematics.direction_jacobian(reading, means.reshape(*each, N_TERMS))
        offset = (basis @ d[..., None])[..., 0]
        # Behind the observer the tangent plane folds back.
        offset[np.sum(d * toward, axis=-1) < 0] = math.pi
        covariances = np.array([told.covariance for told in self.stories])
        grain = np.array([told.noise.variances(alt) for told in self.stories])
        return offset, _on_the_sky(basis @ J, covariances, grain)

    @cached_property
    def landing_noise(self) -> Noise:
        """How closely the hand stops: as it centres in the stories that lead."""
        if not self.stories:
            return self.noise
        lead = leading(self.stories)
        mean_square = sum(w.share * w.noise.centring**2 for w in lead) / share_of(lead)
        return replace(self.noise, centring=math.sqrt(mean_square))


def _on_the_sky(J: Array, covariance: Array, var: Array) -> Array:
    """Covariance (k, ..., 2, 2) of landings that move with the terms of k mounts by ``J``
    (k, ..., 2, 12), their covariance being (k, 12, 12), and by the hand and the circles' grain with
    the variances ``var`` (..., 2)."""
    by_term = (J.reshape(len(J), -1, N_TERMS) @ covariance).reshape(J.shape)
    sky: Array = by_term @ np.swapaxes(J, -1, -2)
    sky[..., 0, 0] += var[..., 0]
    sky[..., 1, 1] += var[..., 1]
    return sky


def sky_grid(min_alt_deg: float = 20.0, count: int = 300) -> tuple[Array, Array]:
    """Azimuth and altitude (count,), radians: equal areas of the sky above an altitude.

    A Fibonacci spiral (Gonzalez 2010, Math. Geosci. 42, 49): even in area, no seams.
    """
    k: Array = np.arange(count, dtype=np.float64) + 0.5
    low = math.sin(math.radians(min_alt_deg))
    alt = np.arcsin(low + (1.0 - low) * k / count)
    az = k * (math.pi * (3.0 - math.sqrt(5.0)))
    return one_turn(az), np.asarray(alt)


def solve(
    sightings: Sequence[Sighting],
    prior: Priors,
    noise: Noise,
    *,
    noise_from_data: bool = False,
    find_bad: bool = True,
    still: Collection[int] = (),
    doubted: Collection[int] = (),
) -> Fix:
    """Solve the mount from one or more sightings. Never fails on geometry when priors are given.

    What may have happened to them is weighed: all good, one bad, something moved, a rough hand
    (:mod:`plumbstar.solve.stories`). With three or more sightings, one that is surely bad is set
    aside. ``still``: indices of sightings just before which nothing moved, as the observer says;
    ``doubted``: of those that are the likelier to be bad, as the observer was asked about them.
    ``find_bad`` false takes the sightings as they are. ``noise_from_data`` does so too, and
    scales the noise to the residuals instead of trusting ``noise.centring``.
    Raises :class:`UserError` for no sightings, or for flat priors that the sightings cannot settle.
    """
    if not sightings:
        raise UserError("There is no sighting yet", "", "Centre a bright star and record it")
    data = Data.of(sightings, noise)
    n_unknown = int(np.sum(np.isinf(prior.sigma)))
    dof = 2 * len(sightings) - n_unknown
    try:
        best = gauss_newton(data, prior)
    except np.linalg.LinAlgError:
        free = [t for t, s in zip(TERMS, prior.sigma, strict=True) if s > 0]
        raise UserError(
            f"{count(len(sightings))} cannot settle {', '.join(free)} without priors. At least "
            f"{math.ceil(len(free) / 2)} are needed, spread in azimuth and altitude",
            "",
            Advice(Do.ADD_SIGHTINGS),
        ) from None
    stories: tuple[Weighed, ...] = ()
    mean, covariance, residuals, cost = best.mean, best.covariance, best.residuals, best.cost
    if noise_from_data:
        if dof < 2:
            raise UserError(
                f"{count(len(sightings))} cannot settle {n_unknown} terms and also show how well "
                "the stars were centred",
                "",
                Advice(Do.ADD_SIGHTINGS_OR_GIVE_CENTRING),
            )
        scale = math.sqrt(best.cost / dof)
        noise = Noise(noise.centring * scale, noise.reading_az * scale, noise.reading_alt * scale)
        best = gauss_newton(Data.of(sightings, noise), prior)
        mean, covariance, residuals = best.mean, best.covariance, best.residuals
    elif find_bad:
        stories = weigh_all(data, prior, noise, best, still, doubted)
        lead = leading(stories)
        mean, residuals, cost = lead[0].mean, lead[0].residuals, lead[0].cost
        sure = share_of(w for w in stories if w.story.what == lead[0].story.what) > SURE
        covariance = covariance_about(mean, lead if sure else stories)
    misfit = chi_square_survival(cost, dof) if dof > 0 and not noise_from_data else 1.0
    suspects = suspects_of(stories)
    fix = Fix(
        mean=mean,
        covariance=covariance,
        prior=prior,
        noise=noise,
        sightings=tuple(sightings),
        residuals=residuals,
        set_aside=tuple(i for i, p in suspects if p > SURE) if len(sightings) > 2 else (),
        suspects=suspects,
        misfit_probability=misfit,
        log_evidence=best.log_evidence,
        noise_from_data=noise_from_data,
        stories=stories,
        still=tuple(still),
    )
    doubts = (
        *doubts_of_stories(len(sightings), stories, suspects, fix.moved, noise),
        *doubts_of_geometry(data, list(fix.used), prior),
    )
    return replace(fix, doubts=doubts, advice=(Advice(Do.WEIGH_CAUSES),) if fix.doubtful else ())


def count(n: int) -> str:
    """ "1 sighting", "2 sightings"."""
    return f"{n} sighting" + ("" if n == 1 else "s")
