"""Every naming of the nameless sightings that may be, with its probability.

A naming says of each sighting which star it was, or that it was none of those looked at.
:mod:`plumbstar.nameless.screen` finds those that fit; here each is solved on the exact kinematics
and weighed by Laplace evidence, as every story of a fix is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting, Unnamed
from plumbstar.nameless.alike import LOOK_ALIKES
from plumbstar.nameless.brightness import Compared, of_answers
from plumbstar.nameless.colour import said_of
from plumbstar.nameless.eligible import HABITS, Eligible
from plumbstar.nameless.screen import ANYWHERE, HANDS, Choices, screen
from plumbstar.sky.angles import separation_rad
from plumbstar.solve.descent import DescentRule, Problems, descend, log_evidence
from plumbstar.solve.posterior import continuous_readings
from plumbstar.units import Array, Indices

#: So often a nameless sighting is of something that is not in the list: too faint, not a star, not
#: centred. Common practice, no source.
UNLISTED = 0.01
#: (share, how often a star that they named is another one): who knows the sky, and who does not
#: and so errs twice. Common practice, no source.
KNOW = ((0.96, 0.0083), (0.04, 0.3))
KNOWERS = np.log([share for share, _ in KNOW])
#: So often a star that was named is another one, or none: a rough hand, a hand's breadth off.
MISNAMED, ASTRAY = sum(share * rate for share, rate in KNOW), 0.01
#: The density a steradian of what is a hand's breadth off (``BAD_DEG`` in solve/stories.py).
_NEAR = -math.log(2.0 * math.pi * math.radians(7.0) ** 2)
#: From this on a star counts as named.
NAMED_SURELY = 0.99
#: What is chosen more seldom than this is no candidate.
_NEVER = 1e-6
#: So many namings are solved exactly; fewer where every star has a name, which counts for much.
_EXACT, _EXACT_NAMED = 120, 40
#: A naming of less than this is dropped.
_LEAST = 1e-4
_RULE = DescentRule(steps=25, small=1e-6, last_step=True, shorter=4.0, tries=5)


@dataclass(frozen=True, slots=True)
class Naming:
    """``stars`` (n): of each sighting the row of its star in the list; :data:`AS_NAMED` where it
    was named and is that star, :data:`NONE` where it is none of them. ``mean`` (12,): the mount."""

    stars: tuple[int, ...]
    probability: float
    mean: Array


#: It was named, and is that star.
AS_NAMED = -2
#: It is none of the list.
NONE = -1


def namings(
    entries: Sequence[Sighting | Unnamed],
    sky: Eligible,
    prior: Priors,
    noise: Noise,
    doubt_names: bool = False,
    compared: Compared = (),
) -> tuple[Naming, ...]:
    """The namings, likeliest first, their probabilities summing to one; none where nothing fits.

    ``sky`` as at the moments of the entries. ``doubt_names``: a star that was named may be
    another, easily taken for it (then none may be unnamed). ``compared``: pairs of entries without
    a name, the one first that was said to be the brighter.
    """
    readings = continuous_readings(entries)
    choices = [_choices(i, e, sky, doubt_names) for i, e in enumerate(entries)]
    found = screen(readings, choices, prior, noise)
    if not len(found.picks):
        return ()
    kinds = KNOWERS if doubt_names else HABITS
    together = _of_one_person(found.picks, [c.by_habit for c in choices], kinds)
    if compared:
        rows = [[_star(c, int(k)) for c, k in zip(choices, p, strict=True)] for p in found.picks]
        together += of_answers(np.array(rows), compared, sky)
    most = _EXACT_NAMED if doubt_names else _EXACT
    order = np.argsort(-(found.log_p + together), kind="stable")[:most]
    picks = found.picks[order]
    log_p, mean = _exactly(readings, choices, picks, prior, noise)
    log_p += together[order]
    share = np.exp(log_p - log_p.max())
    share /= share.sum()
    told = [
        (tuple(_star(c, int(k)) for c, k in zip(choices, picks[h], strict=True)), h)
        for h in np.argsort(-share, kind="stable")
        if share[h] >= _LEAST
    ]
    total = float(sum(share[h] for _, h in told))
    return tuple(Naming(stars, float(share[h]) / total, mean[h]) for stars, h in told)


def _star(c: Choices, pick: int) -> int:
    return NONE if pick < 0 else int(c.rows[pick])


def _choices(i: int, e: Sighting | Unnamed, sky: Eligible, doubt_names: bool) -> Choices:
    """What sighting i may be of, before its reading is looked at."""
    if isinstance(e, Unnamed):
        habits = sky.habits(i)
        rows = np.flatnonzero(np.exp(HABITS) @ habits > _NEVER)
        weight = habits[:, rows] * said_of(e.colour, sky.bv[rows])
        each = np.exp(HABITS) @ weight
        scale = (1.0 - UNLISTED) / each.sum()
        log_p = np.log(each * scale)
        by_habit = np.log(np.maximum(weight * scale, 1e-300)) - log_p
        return Choices(rows, sky.places[i, rows], log_p, math.log(UNLISTED), by_habit)
    here = np.radians([[e.true_az_deg, e.true_alt_deg]])
    own = np.array([AS_NAMED])
    if not doubt_names:
        return Choices(own, here, np.zeros(1), -math.inf)
    place = sky.places[i]
    apart = np.degrees(separation_rad(here[0, 0], here[0, 1], place[:, 0], place[:, 1]))
    near = int(np.argmin(apart))
    v = float(sky.v[near]) if apart[near] < 0.3 else 1.5
    weight = np.where(sky.up[i], LOOK_ALIKES.weights(v, sky.v, apart), 0.0)
    rows = np.flatnonzero(weight > 1e-6)
    weight = weight[rows] / max(float(weight.sum()), 1e-300)
    right = 1.0 - MISNAMED - ASTRAY
    log_p = np.log(np.concatenate([[right], MISNAMED * weight]))
    places = np.concatenate([here, place[rows]])
    by_kind = np.array(
        [
            np.where(np.arange(len(places)), wrong / MISNAMED, (1 - wrong - ASTRAY) / right)
            for _, wrong in KNOW
        ]
    )
    unlisted = math.log(ASTRAY) + _NEAR - ANYWHERE
    return Choices(np.concatenate([own, rows]), places, log_p, unlisted, np.log(by_kind))


def _of_one_person(picks: Indices, by_habit: Sequence[Array | None], kinds: Array) -> Array:
    """By how much the log (h,) of these namings (h, n) gains as one person chose or named all the
    stars, not each another: the mean over the ``kinds`` of people, the log of whose shares are
    given, of what each says of them together."""
    log = np.repeat(kinds[:, None], len(picks), axis=1)
    for k, more in enumerate(by_habit):
        if more is not None:
            log += np.where(picks[:, k] < 0, 0.0, more[:, picks[:, k]])
    out: Array = np.logaddexp.reduce(log, axis=0)
    return out


def _exactly(
    readings: Array,
    choices: Sequence[Choices],
    picks: Indices,
    prior: Priors,
    noise: Noise,
) -> tuple[Array, Array]:
    """The exact log of prior times evidence (h,), and the mounts (h, 12)."""
    h, n = picks.shape
    none = picks < 0
    places = np.stack([c.places[picks[:, k]] for k, c in enumerate(choices)], axis=1)
    basis = kinematics.tangent_basis(places[..., 0], places[..., 1])
    toward = kinematics.unit(places[..., 0], places[..., 1])
    free = np.flatnonzero(prior.sigma > 0)
    x = np.repeat(prior.mean[None], h, axis=0)
    if np.isinf(prior.sigma[0]):
        tube = kinematics.az_alt(kinematics.direction(readings, prior.holding(azimuth_zero=0).mean))
        votes = np.where(none, 0.0, np.cos(places[..., 1]) ** 2 + 1e-3)
        x[:, 0] = np.angle((votes * np.exp(1j * (places[..., 0] - tube[:, 0]))).sum(axis=1))
    # What is unknown is a normal about where it begins, as dense there as the turn: so a naming
    # in which no star is left can be weighed beside the others.
    info = np.where(np.isinf(prior.sigma), 1.0 / (2.0 * math.pi), prior.information)[free]
    anchor = np.where(np.isinf(prior.sigma), x, prior.mean)[:, free]
    before = np.zeros(h)
    for k, c in enumerate(choices):
        before += np.where(none[:, k], c.unlisted + ANYWHERE, c.log_p[picks[:, k]])
    logs = []
    for share, times in HANDS:
        rough = replace(noise, centring=noise.centring * times)
        weight = np.where(none[..., None], 0.0, 1.0 / rough.variances(places[..., 1]))
        problems = Problems(
            readings=np.broadcast_to(readings, (h, n, 2)),
            basis=basis,
            toward=toward,
            weight=weight.reshape(h, -1),
            anchor=anchor,
            info=np.broadcast_to(info, (h, len(free))),
            free=free,
        )
        run = descend(problems, x, _RULE)
        _, r, jac = problems.evaluate(run.x)
        hessian, _ = problems.normal(run.x, r, jac)
        evidence = log_evidence(run.cost, hessian, problems.info, problems.weight)
        logs.append(math.log(share) + evidence)
        if times == 1.0:
            mounts = run.x
    out: Array = before + np.logaddexp.reduce(logs, axis=0)
    return out, mounts


def probabilities(found: Sequence[Naming]) -> tuple[dict[int, float], ...]:
    """For each sighting the probability of each star."""
    out: list[dict[int, float]] = [{} for _ in found[0].stars]
    for naming in found:
        for told, star in zip(out, naming.stars, strict=True):
            told[star] = told.get(star, 0.0) + naming.probability
    return tuple(out)
