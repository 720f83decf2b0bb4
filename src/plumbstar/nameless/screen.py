"""Which namings fit the readings at all: every pair and triple of stars by one linear step.

With Gaussian beliefs about the mount the two numbers that each reading leaves over are normal
together: the evidence of a naming is one product (Bishop 2006, eq. 2.115, from memory). The
azimuth zero is unknown: it is put where the naming has it, and free beside that. So heights count
to the doubt of stop and base, and angles between the stars to the little that they hang on either.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX
from plumbstar.units import Array, Indices

#: Namings whose readings miss by more (chi-square) are not looked at: the linear step is good to
#: a few of this where the mount is several sigma off.
MOST_MISSED = 40.0
#: And none so far behind the likeliest, in the log.
BEHIND = 16.0
#: How far the azimuth zero may be from where a naming puts it, radians: no bound at all.
_FREE = 1.0
#: Sightings of something unlisted, at most: of so many in all.
_MANY = 5
#: An unlisted thing, a careless hand, may be anywhere in the sky above: its density a steradian.
ANYWHERE = -math.log(2.0 * math.pi)
#: The hand may be so many times rougher than stated, with these chances.
HANDS = ((0.95, 1.0), (0.05, 3.0))
#: Rows looked at in one go, so that memory stays small.
_ROWS = 40_000


@dataclass(frozen=True, slots=True)
class Choices:
    """What one sighting may be of: ``rows`` (k,) in a list of stars, their ``places`` (k, 2),
    radians, and ``log_p`` (k,). ``unlisted``: the log of the chance that it is of none of them.
    ``by_habit`` (habits, k): how much larger that of each star is with each habit of choosing, log;
    None for a star that was named."""

    rows: Indices
    places: Array
    log_p: Array
    unlisted: float
    by_habit: Array | None = None


@dataclass(frozen=True, slots=True)
class Screened:
    """``picks`` (h, n): an index into each sighting's choices, -1 for none of them; ``log_p``
    (h,): prior times evidence, likeliest first."""

    picks: Indices
    log_p: Array


class _Readings:
    """The readings as seen with the mount that was expected and an azimuth zero of nought."""

    def __init__(self, readings: Array, prior: Priors, noise: Noise) -> None:
        mean = prior.mean.copy()
        # A lean toward north lies otherwise to the readings with each azimuth zero: it is taken
        # as doubt here, and exactly later.
        lean = [INDEX["lean_north"], INDEX["lean_west"]]
        sigma = prior.sigma.copy()
        sigma[lean] = math.sqrt(float(np.mean(sigma[lean] ** 2 + mean[lean] ** 2)))
        mean[lean] = 0.0
        mean[0], sigma[0] = 0.0, _FREE
        direction, jacobian = kinematics.direction_jacobian(readings, mean)
        self.place = kinematics.az_alt(direction)
        self.basis = kinematics.tangent_basis(self.place[:, 0], self.place[:, 1])
        self.direction = direction
        self.jac = self.basis @ jacobian  # (n, 2, 12)
        self.sigma = np.where(np.isinf(sigma), _FREE, sigma)
        self.votes = np.cos(self.place[:, 1]) ** 2 + 1e-3
        alt = self.place[:, 1]
        rough = [replace(noise, centring=noise.centring * f) for _, f in HANDS]
        self.variances = [each.variances(alt) for each in rough]

    def evidence(self, used: Sequence[int], places: Array) -> tuple[Array, Array]:
        """Log evidence (h,) of places (h, m, 2) for the m sightings used, and the least
        chi-square (h,)."""
        u = list(used)
        turned = places[..., 0] - self.place[u, 0]
        zero = np.angle((self.votes[u] * np.exp(1j * turned)).sum(axis=1))
        d = kinematics.unit(places[..., 0] - zero[:, None], places[..., 1])
        r = np.einsum("mij,hmj->hmi", self.basis[u], d)
        behind = np.einsum("mj,hmj->hm", self.direction[u], d) < 0
        r[behind] = 1.0
        r = r.reshape(len(r), 2 * len(u))  # of none, too: where no star fits a lone sighting
        J = self.jac[u].reshape(2 * len(u), -1) * self.sigma
        logs, least = [], np.full(len(r), np.inf)
        for (share, _), var in zip(HANDS, self.variances, strict=True):
            S = J @ J.T
            S[np.diag_indices(len(S))] += var[u].reshape(-1)
            root = np.linalg.inv(np.linalg.cholesky(S))
            chi2 = ((r @ root.T) ** 2).sum(axis=1)
            # The density over the zero's free run counts a turn, not the run.
            logs.append(math.log(share) - 0.5 * chi2 + float(np.log(np.diag(root)).sum()))
            least = np.minimum(least, chi2)
        free = math.log(_FREE / math.sqrt(2 * math.pi))
        total = np.logaddexp.reduce(logs, axis=0) - len(u) * math.log(2 * math.pi) + free
        return np.asarray(total), least


def screen(readings: Array, choices: Sequence[Choices], prior: Priors, noise: Noise) -> Screened:
    """The namings of ``readings`` (n, 2), radians, that may be, likeliest first; none where the
    readings fit no stars (a board that counts from zero, and nobody said so)."""
    seen = _Readings(readings, prior, noise)
    n = len(choices)
    spare = 2 if n >= _MANY else 1
    pairs: dict[tuple[int, int], Array] = {}
    # One set of namings for each set of sightings that are of none of the choices.
    found: dict[tuple[int, ...], tuple[Indices, Array]] = {(): (np.empty((1, 0), int), np.zeros(1))}
    for i, here in enumerate(choices):
        grown: dict[tuple[int, ...], tuple[Indices, Array]] = {}
        for aside, (picks, log_p) in found.items():
            used = [k for k in range(i) if k not in aside]
            if len(aside) < spare:
                none = np.full((len(picks), 1), -1)
                grown[(*aside, i)] = (np.hstack([picks, none]), log_p + here.unlisted + ANYWHERE)
            ok = np.ones((len(picks), len(here.rows)), dtype=bool)
            for k in used:
                if (k, i) not in pairs:
                    pairs[k, i] = _fitting(seen, k, i, choices)
                ok &= pairs[k, i][picks[:, k]]
            old, new = np.nonzero(ok)
            if not len(old):
                continue
            wider = np.hstack([picks[old], new[:, None]])
            grown[aside] = _kept(seen, choices, [*used, i], wider)
        found = grown
    if not any(len(p) for p, _ in found.values()):
        return Screened(np.empty((0, n), int), np.empty(0))
    picks = np.vstack([p for p, _ in found.values()])
    log_p = np.concatenate([q for _, q in found.values()])
    order = np.argsort(-log_p, kind="stable")
    order = order[log_p[order] > log_p[order[0]] - BEHIND]
    return Screened(picks[order], log_p[order])


def _fitting(seen: _Readings, a: int, b: int, choices: Sequence[Choices]) -> Array:
    """Which stars (k_a, k_b) go together in two sightings."""
    first, second = choices[a].places, choices[b].places
    out = np.zeros((len(first), len(second)), dtype=bool)
    lone = [seen.evidence([i], c.places[:, None])[1] < MOST_MISSED for i, c in _each(a, b, choices)]
    rows, columns = np.flatnonzero(lone[0]), np.flatnonzero(lone[1])
    x, y = (g.ravel() for g in np.meshgrid(rows, columns, indexing="ij"))
    _, chi2 = seen.evidence([a, b], np.stack([first[x], second[y]], axis=1))
    good = chi2 < MOST_MISSED
    out[x[good], y[good]] = True
    return out


def _each(a: int, b: int, choices: Sequence[Choices]) -> list[tuple[int, Choices]]:
    return [(a, choices[a]), (b, choices[b])]


def _kept(
    seen: _Readings, choices: Sequence[Choices], used: Sequence[int], picks: Indices
) -> tuple[Indices, Array]:
    """Of these namings those that fit, with the log of their prior times evidence."""
    logs, misses = [], []
    for low in range(0, len(picks), _ROWS):
        part = picks[low : low + _ROWS]
        places = np.stack([choices[k].places[part[:, k]] for k in used], axis=1)
        log, chi2 = seen.evidence(used, places)
        logs.append(log)
        misses.append(chi2)
    log_p, missed = np.concatenate(logs), np.concatenate(misses)
    for k, c in enumerate(choices[: picks.shape[1]]):
        none = picks[:, k] < 0
        log_p += np.where(none, c.unlisted + ANYWHERE, c.log_p[picks[:, k]])
    keep = missed < MOST_MISSED
    return picks[keep], log_p[keep]
