"""What one outing says of the lasting terms of the mount, the prior of its fix taken out again."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.mount.terms import INDEX, PERSISTENT
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix, solve
from plumbstar.solve.hands import hand_likelihood
from plumbstar.units import Array

#: The places of the lasting terms in a vector of all.
AT = np.array([INDEX[t] for t in PERSISTENT])

#: Chi-square probability of an outing's fix below which it teaches nothing.
MISFIT = 1e-4

#: So many sightings must agree where two or more are thought bad: two agree with almost anything.
AGREE = 3

#: Terms that may be far off, how many times wider they are then looked for, and the least
#: chi-square probability of the fix that they must give.
FAR_TERMS, FAR_TIMES, FAR_FITS = ("altitude_zero", "cone", "squareness"), 10.0, 0.01


@dataclass(frozen=True)
class Evidence:
    """What the sightings of one outing alone say of the lasting terms, free of any prior on them.

    A Gaussian likelihood exp(-x' information x / 2 + vector' x) over the values x (9,), radians,
    in the order of :data:`plumbstar.mount.PERSISTENT`; ``information`` (9, 9) may be singular,
    ``vector`` (9,). Azimuth zero and leans are integrated out under the priors of their own set-up.
    ``doubt``: the chance, by the sightings, that something else was the matter with the outing.
    """

    outing_id: int
    utc: Instant | None
    information: Array
    vector: Array
    doubt: float = 0.0


def evidence(fix: Fix, outing_id: int = 0, utc: Instant | None = None) -> Evidence:
    """Take the prior back out of a fix, leaving only what its sightings say.

    In units of the prior sigma the posterior covariance A of the lasting terms has information
    A^-1; the prior's share of it is 1. Exact for a linear model: marginal posterior = prior times
    marginal likelihood, as the priors of the terms are independent. The fix's own linearisation is
    kept (second order in the terms: under 1 arcmin for terms of 1 deg). Negative remains of the
    subtraction are rounding, or a covariance widened for a suspect sighting, and count as nothing.
    """
    return _prior_out(fix.mean, fix.covariance, fix.prior, outing_id, utc)


def _prior_out(
    mean: Array, covariance: Array, prior: Priors, outing_id: int, utc: Instant | None
) -> Evidence:
    """:func:`evidence` of a posterior ``mean`` (12,), ``covariance`` (12, 12), radians."""
    prior_sigma, prior_mean = prior.sigma[AT], prior.mean[AT]
    free = prior_sigma > 0
    information, vector = np.zeros((len(AT), len(AT))), np.zeros(len(AT))
    if np.any(free):
        at = AT[free]
        flat = np.isinf(prior_sigma[free])
        unit = np.where(flat, np.sqrt(np.diag(covariance)[at]), prior_sigma[free])
        A = covariance[np.ix_(at, at)] / np.outer(unit, unit)
        posterior = np.linalg.inv(A)
        values, axes = np.linalg.eigh((posterior + posterior.T) / 2 - np.diag(~flat * 1.0))
        told = values > 1e-9
        values, axes = values[told], axes[:, told]
        N = (axes * values) @ axes.T
        # Relative to the prior mean, the prior adds nothing to the vector.
        v = axes @ (axes.T @ (posterior @ ((mean[at] - prior_mean[free]) / unit)))
        N, v = N / np.outer(unit, unit), v / unit
        information[np.ix_(free, free)] = N
        vector[free] = v + N @ prior_mean[free]
    return Evidence(outing_id, utc, information, vector)


def evidence_from(
    sightings: Sequence[Sighting],
    kit: Kit,
    outing_id: int = 0,
    utc: Instant | None = None,
    cuts: Sequence[tuple[int, Sequence[str]]] = (),
    noise: Noise | None = None,
) -> Evidence | None:
    """Solve an outing with its kit's own priors and take them out again. Raises UserError.

    ``noise``: with the hand as learnt; the kit's by default.

    ``cuts``: where something moved, as (how many sightings came before, what moved), oldest first.
    The parts between are solved each by itself, and what they say is added. After the altitude
    circle slipped its zero is no longer that of the stop, and nothing is learnt of it.
    None when the sightings of no part fit a mount that the kit allows (:data:`MISFIT`), whatever
    went wrong among them, or hardly any of them agree (:data:`AGREE`).
    """
    prior, noise = Priors.from_kit(kit), noise or Noise.from_kit(kit)
    found: list[Evidence] = []
    sound = 1.0
    stop_holds = True
    edges = [0, *(n for n, _ in cuts), len(sightings)]
    for k, (low, high) in enumerate(itertools.pairwise(edges)):
        stop_holds = stop_holds and not (k and "altitude" in cuts[k - 1][1])
        if low == high:
            continue
        fix = solve(sightings[low:high], prior, noise)
        lead = fix.stories[0].story
        if (
            fix.misfit_probability >= MISFIT
            and fix.of_a_mount_as_expected
            and (len(lead.bad) < 2 or high - low - len(lead.bad) >= AGREE)
        ):
            said = _by_the_leading_story(fix, outing_id, utc)
            found.append(said if stop_holds else _without(said, "altitude_zero"))
            sound *= sum(w.share for w in fix.stories if w.story.what == lead.what)
            stop_holds = stop_holds and not any("altitude" in m.axes for m in lead.moves)
        elif stop_holds and (far := _far(fix)) is not None:
            found.append(evidence(far, outing_id, utc))
            # Whatever of the mount it is, no sighting was bad and nothing moved.
            sound *= sum(w.share for w in fix.stories if not (w.story.bad or w.story.moves))
    if not found:
        return None
    information = np.sum([e.information for e in found], axis=0)
    vector = np.sum([e.vector for e in found], axis=0)
    return Evidence(outing_id, utc, information, vector, 1.0 - sound)


def hand_from(
    sightings: Sequence[Sighting],
    kit: Kit,
    stated: Noise,
    cuts: Sequence[tuple[int, Sequence[str]]] = (),
) -> Array | None:
    """What an outing says of the hand: log likelihood (13,) as :func:`hand_likelihood` gives it for
    the errors ``stated``, its parts between ``cuts`` added. None where no part has two sightings.
    """
    prior, edges = Priors.from_kit(kit), [0, *(n for n, _ in cuts), len(sightings)]
    parts = [sightings[a:b] for a, b in itertools.pairwise(edges) if b - a > 1]
    return np.sum([hand_likelihood(p, prior, stated) for p in parts], axis=0) if parts else None


def _far(fix: Fix) -> Fix | None:
    """The fix of a mount with one lasting term far from what the kit expects, where that is the
    leading story and explains all sightings (three at least); None where it is not.

    What the far term is comes from the sightings alone: its prior is so wide that it says nothing.
    """
    lead = fix.stories[0].story if fix.stories else None
    # A far stop over three stars may look like a wrong scale first.
    if lead is None or not (lead.far_off or lead.scales) or lead.bad or lead.moves:
        return None
    if len(fix.sightings) < 3:
        return None
    tried = []
    for term in FAR_TERMS:
        at = INDEX[term]
        if not 0 < fix.prior.sigma[at] < math.inf:
            continue
        wide = fix.prior.replacing({term: (fix.prior.mean[at], FAR_TIMES * fix.prior.sigma[at])})
        one = solve(fix.sightings, wide, fix.noise, find_bad=False)
        if one.misfit_probability >= FAR_FITS:
            tried.append(one)
    return max(tried, key=lambda f: f.log_evidence, default=None)


def _by_the_leading_story(fix: Fix, outing_id: int, utc: Instant | None) -> Evidence:
    """What the leading story of a fix has: all good, or all but what was bad, or the sightings
    before and after something moved as two sets of one mount, each with its own zeros.

    What moved is integrated out, and so is how far off a bad sighting is: the terms are those of
    the first sighting, before anything moved. A mean over stories is no likelihood: the prior,
    taken out of it, left evidence that claimed too much (chi-square per number 1.11 to 1.56 for
    1.01 to 1.19 of the story alone, over five times 60 outings of four stars).
    """
    lead = fix.stories[0]
    if not (lead.story.moves or len(lead.story.bad) > 1):
        bad = {i for i, _ in lead.story.bad}
        good = [s for i, s in enumerate(fix.sightings) if i not in bad]
        # A lone sighting, thought bad, tells next to nothing either way.
        one = solve(good, fix.prior, fix.noise, find_bad=False) if good else fix
        return evidence(one, outing_id, utc)
    prior = lead.story.priors(fix.prior)
    return _prior_out(lead.first_mean, lead.first_covariance, prior, outing_id, utc)


def _without(e: Evidence, term: str) -> Evidence:
    """The same with nothing known or said of one term: integrated out (Schur complement)."""
    at = PERSISTENT.index(term)
    if e.information[at, at] <= 0.0:
        return e
    share = e.information[at] / e.information[at, at]
    information = e.information - np.outer(e.information[at], share)
    return replace(e, information=information, vector=e.vector - share * e.vector[at])
