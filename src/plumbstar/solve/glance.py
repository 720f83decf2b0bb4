"""What each of many stories promises, by sums over the sightings: no story looks at every one.

About one account of the evening (a mount, and what moved in it) the sightings are one linear model:
each is J_i u with u the terms' change, and what is left over y_i. Sums of J'WJ and J'Wy from a
sighting to the last one give every story in which something moved there; a bad sighting is two
numbers more, of that one alone. Such numbers beside the terms are integrated out of the solved
base by the Schur complement (Boyd and Vandenberghe 2004, *Convex Optimization*, A.5.5, from
memory): with X their columns and z the rest left by the base alone,

    log evidence = that of the base - 1/2 log det S - sum log sigma + 1/2 g' S^-1 g
    S = diag(1/sigma^2) + X'WX - X'WJ C J'WX,   g = X'W z

A thousand stories of 256 sightings cost what ten did.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.slips import Axis
from plumbstar.mount.terms import N_TERMS
from plumbstar.solve.batches import HELD
from plumbstar.solve.descent import covariance_at, log_evidence
from plumbstar.solve.posterior import Data, near_belief
from plumbstar.solve.stories import Jump, Story
from plumbstar.units import Array


@dataclass(frozen=True, slots=True)
class _Base:
    """The sightings under one hand and one belief, with nothing bad and nothing moved.

    ``evidence``: its log. ``covariance`` (12, 12). ``weight`` (n, 2). ``left`` (n, 2): what the
    base leaves over. ``square`` (n, 12, 12) and ``pull`` (n, 12): J'WJ and J'W left, each summed
    from that sighting to the last.
    """

    evidence: float
    covariance: Array
    weight: Array
    left: Array
    square: Array
    pull: Array


class Glance:
    """The sightings as one linear model about one account of them.

    ``mean`` (12,): the terms at the first sighting; ``moves``: what moved, with the numbers (each
    of its terms, radians) that it moved by.
    """

    def __init__(
        self,
        data: Data,
        prior: Priors,
        noise: Noise,
        mean: Array,
        moves: Sequence[tuple[Jump, Array]] = (),
    ) -> None:
        self._data, self._prior, self._noise, self._mean = data, prior, noise, mean
        change = np.zeros((len(data.readings), N_TERMS))
        for move, by in moves:
            change[move.first :, list(move.terms)] += by
        d, by_term = kinematics.direction_jacobian(data.readings, mean + change)
        r = -(data.basis @ d[..., None])[..., 0]
        self._jac: Array = data.basis @ by_term
        self._aim: Array = r + (self._jac @ change[..., None])[..., 0]
        self._bases: dict[object, _Base] = {}

    def promises(self, stories: Sequence[Story]) -> Array:
        """The log (k,) of each one's prior times evidence, as far as the linear model tells."""
        alike: dict[tuple[object, ...], list[int]] = {}
        for k, s in enumerate(stories):
            alike.setdefault((_belief_of(s), kind_of(s), len(s.bad)), []).append(k)
        out = np.array([s.log_prior for s in stories])
        for (belief, *_), rows in alike.items():
            if belief not in self._bases:
                self._bases[belief] = self._base(stories[rows[0]])
            out[rows] += self._among(self._bases[belief], [stories[k] for k in rows])
        return out

    def _base(self, like: Story) -> _Base:
        """The base of a story's hand and belief."""
        believed = like.priors(self._prior)
        noise = like.noise(self._noise)
        weight = 1.0 / noise.variances(self._data.true_az_alt[:, 1])
        info = np.minimum(believed.information, HELD**-2)
        matrix = np.diag(info) + (0.0 if believed.linked is None else believed.linked)
        # Whole turns of the azimuth zero change no direction, only how far off it is believed.
        begin = self._mean.copy()
        begin[0] = near_belief(float(begin[0]), believed)
        gap = believed.mean - begin
        weighted = self._jac * weight[..., None]
        square = np.swapaxes(weighted, 1, 2) @ self._jac
        from_here = np.cumsum(square[::-1], axis=0)[::-1]
        hessian = from_here[0] + matrix
        right = np.einsum("nai,na->i", weighted, self._aim) + matrix @ gap
        linked = None if believed.linked is None else believed.linked[None]
        nothing = np.zeros((1, 0))
        evidence = log_evidence(np.zeros(1), hessian[None], info[None], nothing, linked)
        covariance = covariance_at(hessian[None])[0]
        u = covariance @ right
        left = self._aim - self._jac @ u
        pull = np.einsum("nai,na->ni", weighted, left)
        off = u - gap
        cost = float((weight * left * left).sum() + off @ matrix @ off)
        return _Base(
            float(evidence[0]) - cost / 2 + 0.5 * float(np.log(weight / (2 * math.pi)).sum()),
            covariance,
            weight,
            left,
            from_here,
            np.cumsum(pull[::-1], axis=0)[::-1],
        )

    def _among(self, base: _Base, stories: Sequence[Story]) -> Array:
        """The log evidence (k,) of stories with one base and with columns of one kind."""
        kinds = _columns(stories[0])
        if not kinds:
            return np.full(len(stories), base.evidence)
        # Where each column begins, and how far its number may go, (k, E).
        told: Array = np.array(
            [
                [(m.first, by) for m in s.moves for by in m.sigmas]
                + [(i, off) for i, off in s.bad for _ in range(2)]
                for s in stories
            ]
        )
        at, sigma = told[..., 0].astype(int), told[..., 1]
        on_terms = np.empty((len(stories), len(kinds), N_TERMS))  # X'WJ
        gain = np.empty(sigma.shape)  # X'W left
        inner = np.zeros((len(stories), len(kinds), len(kinds)))  # X'WX
        for e, (moved, term) in enumerate(kinds):
            k = at[:, e]
            if moved:
                on_terms[:, e] = base.square[k, term]
                gain[:, e] = base.pull[k, term]
            else:
                w = base.weight[k, term]
                on_terms[:, e] = w[:, None] * self._jac[k, term]
                gain[:, e] = w * base.left[k, term]
            for f, (other_moved, other) in enumerate(kinds[: e + 1]):
                m = at[:, f]
                if moved:  # whatever came before in the list moved, too
                    shared = base.square[np.maximum(k, m), term, other]
                elif other_moved:
                    shared = on_terms[:, e, other] * (m <= k)
                else:
                    shared = base.weight[k, term] * ((m == k) & (other == term))
                inner[:, e, f] = inner[:, f, e] = shared
        schur = inner - on_terms @ base.covariance @ np.swapaxes(on_terms, 1, 2)
        # In units of each number's sigma, so that nothing is too small or too large.
        schur *= sigma[:, :, None] * sigma[:, None, :]
        schur += np.eye(len(kinds))
        gain *= sigma
        worth = (gain * np.linalg.solve(schur, gain[..., None])[..., 0]).sum(axis=1)
        out: Array = base.evidence + 0.5 * worth - 0.5 * np.linalg.slogdet(schur)[1]
        return out


def _belief_of(s: Story) -> object:
    """What a story's base is the same for."""
    return s.coarser, s.far_off, s.far_terms, s.scales, s.changed, s.as_one, s.handed


def kind_of(s: Story) -> tuple[tuple[Axis, ...], ...]:
    """What moved in it, whenever and however far."""
    return tuple([m.axes for m in s.moves])


def _columns(s: Story) -> tuple[tuple[bool, int], ...]:
    """Its numbers beside the terms: (true, the term that moved), or (false, across 0 or up 1)."""
    return (
        *((True, term) for m in s.moves for term in m.terms),
        *((False, axis) for _ in s.bad for axis in range(2)),
    )
