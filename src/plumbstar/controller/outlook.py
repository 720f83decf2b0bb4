"""What an evening beside a controller comes to: where every object lies beyond its zero.

The number, the look back and each object centred are linear in the mount's terms to first order, so
each is one step of the linear update (docs/method.md), taken at the point that it leads to. How the
controller shares its contradiction, whether it has a clock and the sign of its number are
hypotheses, and so is one mistake at the most: a wrong or fumbled star, a number misread, a find
misread, a slip before a find or a search in vain, a hand rougher or a mount further off than the
kit says. All are weighed by how well they would have shown what was shown (MacKay 2003, chapter
28), and by what was not seen (searched.py).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from plumbstar.controller.landing import STARTS, Law, Lies, lies_of
from plumbstar.controller.mistakes import USUAL_HANDS, Account, Hands, Mistake, accounts
from plumbstar.controller.searched import Searched, past
from plumbstar.controller.showing import (
    N_SHOWN,
    SHARE,
    WAYS,
    ObjectPlaces,
    Taught,
    derivatives_of_many,
)
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.turns import half_turn
from plumbstar.units import Array

#: A hypothesis less likely than this is left out of what follows.
LEAST = 1e-5
#: Where the sign of the number is not known, it is most often measured less true. Common practice,
#: no source.
USUAL_SIGN = 0.9
#: How likely each way of sharing is before anything is known. Common practice, no source.
USUAL_WAYS: Mapping[str, float] = {"first": 0.3, "shared": 0.3, "second": 0.3, "between": 0.1}
#: Behind the likeliest by this much in the log, one is not looked at a second time.
FAR_FETCHED = 14.0
_STOP = INDEX["altitude_zero"]


@dataclass(frozen=True)
class Asked:
    """All that an outlook is made of. ``left`` (n, 2) is what the controller still wanted when
    those of ``centred`` were in the middle; ``number`` as shown, radians; both None or empty until
    they are. ``clock`` and ``sign`` None: not known. ``step``: the last figure shown, radians.
    ``centring``: of the hand, radians."""

    taught: Taught
    number: float | None
    centred: ObjectPlaces
    left: Array
    priors: Priors
    centring: float
    step: float
    clock: bool | None = None
    sign: int | None = 1
    #: How likely each way of sharing is beforehand, and that there is no clock where that is open.
    ways: Mapping[str, float] = field(default_factory=lambda: dict(USUAL_WAYS))
    clockless: float = 0.5
    #: Whether the first of ``centred`` is the look back: the second star, with the tube not moved,
    #: or seldom centred anew; ``seen`` is where it then stood.
    looked_back: bool = False
    #: The share of a way in between, and its sigma.
    between: tuple[float, float] = WAYS["between"]
    #: How likely it is beforehand that the hand is so many times rougher than ``centring``.
    hands: Hands = USUAL_HANDS
    #: What was looked for in vain.
    searched: tuple[Searched, ...] = ()

    @property
    def grain(self) -> float:
        """Variance of a push on: the zero and the push are both read to the last figure, and the
        hand stops within it."""
        return self.step**2 / 12.0 * 2.0

    def share(self, way: str) -> tuple[float, float]:
        """What a way leaves open of the share: its mean and sigma."""
        return self.between if way == "between" else WAYS[way]


@dataclass(frozen=True)
class Hypothesis:
    """One way in which it may be, its weight, and the parameters given it all: 17, and two of a
    slip. ``before``: these before anything was looked for in vain; None where nothing was."""

    way: str
    clock: bool
    sign: int
    account: Account
    weight: float
    mean: Array
    cov: Array
    before: tuple[Array, Array] | None = None

    @property
    def mistake(self) -> Mistake:
        return self.account.mistake

    @property
    def slipped_at(self) -> int | None:
        """Before which find something slipped."""
        return self.mistake.index if self.mistake.kind == "slip" else None


@dataclass(frozen=True)
class Outlook:
    """``hypotheses``: the likely ones, their weights adding up to 1."""

    asked: Asked
    hypotheses: tuple[Hypothesis, ...]

    def sharing(self) -> dict[str, float]:
        """How likely each way of sharing is."""
        return {w: sum(h.weight for h in self.hypotheses if h.way == w) for w in WAYS}

    def mistakes(self) -> list[tuple[Mistake, float]]:
        """What may have gone wrong, the likeliest first."""
        found: dict[Mistake, float] = {}
        for h in self.hypotheses:
            found[h.mistake] = found.get(h.mistake, 0.0) + h.weight
        return sorted(found.items(), key=lambda f: -f[1])

    def hands(self) -> Hands:
        """How likely each roughness of the hand is."""
        return tuple(
            (times, sum(h.weight for h in self.hypotheses if h.account.hand == times))
            for times, _ in self.asked.hands
        )

    def stop(self) -> tuple[float, float]:
        """The altitude zero and its sigma, radians."""
        mean, sigma = self.terms()
        return float(mean[_STOP]), float(sigma[_STOP])

    def terms(self) -> tuple[Array, Array]:
        """The mount's terms and their sigmas (12,), radians and pure numbers, by all hypotheses
        together; the azimuth zero is the controller's own."""
        w = np.array([h.weight for h in self.hypotheses])
        m = np.array([h.mean[:N_TERMS] for h in self.hypotheses])
        v = np.array([np.diag(h.cov)[:N_TERMS] for h in self.hypotheses])
        mean: Array = w @ m
        return mean, np.sqrt(w @ (v + (m - mean) ** 2))

    def lies(self, objects: ObjectPlaces, field_deg: float, starts: int = STARTS) -> list[Lies]:
        """Each object: where to push on to, by all hypotheses together. ``starts``: how hard that
        is sought after a search in vain; :data:`.landing.FEW_STARTS` will do for a mean."""
        a = self.asked
        laws = [
            Law(h.weight, h.clock, h.mean, h.cov, h.before or (h.mean, h.cov), h.slipped_at)
            for h in self.hypotheses
        ]
        return lies_of(laws, a.taught, objects, field_deg, a.grain, a.searched, starts)


def outlook(asked: Asked) -> Outlook:
    """Weigh every hypothesis by all that was shown."""
    clocks = [asked.clock] if asked.clock is not None else [True, False]
    signs = [asked.sign] if asked.sign is not None else [1, -1]
    mean, sigma = asked.priors.mean.copy(), asked.priors.sigma
    mean[0] = 0.0 if math.isinf(sigma[0]) else mean[0]  # what is shown does not depend on it
    found: list[Hypothesis] = []
    logs: list[float] = []
    nothing = np.zeros((N_SHOWN + 2, N_SHOWN + 2))
    told = _accounts(asked)
    runs = [(sign, [a for a in told if a.mistake.kind != "sign"]) for sign in signs]
    if asked.sign is not None:  # typed the other way round: reckoned from where that leads
        runs.append((-asked.sign, [a for a in told if a.mistake.kind == "sign"]))
    before = {way: _beforehand(mean, asked.share(way)[0]) for way in WAYS}
    for way, clock in itertools.product(WAYS, clocks):
        x0 = before[way]
        slopes = _slopes(asked, clock, x0[None])
        open_clock = 1.0 if len(clocks) == 1 else 1 - asked.clockless if clock else asked.clockless
        for sign, those in runs:
            if not those:
                continue
            prior_way = asked.ways[way] * open_clock
            if len(signs) == 2:
                prior_way *= USUAL_SIGN if sign == 1 else 1.0 - USUAL_SIGN
            x, there = x0, slopes
            if asked.share(way)[1] > 0 and asked.number is not None:
                # A share tells nothing of a contradiction of nought: so from what the number says.
                h = Hypothesis(way, clock, sign, Account(Mistake(), 1.0), 1.0, x0, nothing)
                ((x, _, _),) = _given(_number_alone(asked), [h], x0, x0[None], slopes)
                there = _slopes(asked, clock, x[None])
            these = [
                Hypothesis(way, clock, sign, a, a.rate * prior_way, x0, nothing) for a in those
            ]
            for h, (m, cov, log) in zip(
                these, _given(asked, these, x0, x[None], there), strict=True
            ):
                found.append(replace(h, mean=m, cov=cov))
                logs.append(log + math.log(h.weight))
    # Once more, with the slopes where the first step came to: for what is not out of the question.
    near = set(np.flatnonzero(np.array(logs) > max(logs) - FAR_FETCHED).tolist())
    # A number turned round is told by the look back alone, as exact as its last figure: what is
    # neglected in a long first step would hide it.
    near |= {i for i, h in enumerate(found) if h.mistake.kind == "sign"}
    for way, clock in itertools.product(WAYS, clocks):
        rows = [i for i in near if (found[i].way, found[i].clock) == (way, clock)]
        if not rows:
            continue
        these = [found[i] for i in rows]
        x = np.array([h.mean for h in these])
        there = _slopes(asked, clock, x)
        for i, (m, cov, log) in zip(rows, _given(asked, these, before[way], x, there), strict=True):
            found[i], logs[i] = replace(found[i], mean=m, cov=cov), log + math.log(found[i].weight)
    likely = _weighed(found, logs)
    if not asked.searched:
        return Outlook(asked, likely)
    found, logs = [], []
    for h in likely:
        args = (asked.searched, asked.taught, h.clock, h.slipped_at, asked.grain)
        m, cov, log = past(h.mean, h.cov, *args)
        found.append(replace(h, mean=m, cov=cov, before=(h.mean, h.cov)))
        logs.append(log + math.log(h.weight))
    return Outlook(asked, _weighed(found, logs))


def _weighed(found: list[Hypothesis], logs: list[float]) -> tuple[Hypothesis, ...]:
    """The likely ones, with their weights."""
    weights = np.exp(np.array(logs) - max(logs))
    weights /= weights.sum()
    keep = weights >= LEAST
    weights = np.where(keep, weights, 0.0)
    weights /= weights.sum()
    return tuple(replace(h, weight=float(w)) for h, w in zip(found, weights, strict=True) if w > 0)


def _accounts(asked: Asked) -> list[Account]:
    """What may have gone wrong. After the last find something may have slipped, too, where an
    object was looked for in vain since."""
    n = len(asked.left)
    since = any(s.after == n for s in asked.searched)
    signed = bool(asked.number) and asked.sign is not None
    args = (asked.number is not None, n, n + since, asked.hands, asked.looked_back)
    return accounts(*args, signed=signed)


def _beforehand(terms: Array, share: float) -> Array:
    """All parameters (19,) before anything is shown: no star off its centre, no slip."""
    x = np.concatenate([terms, np.zeros(N_SHOWN + 2 - len(terms))])
    x[SHARE] = share
    return x


def _number_alone(asked: Asked) -> Asked:
    """As it was before anything was centred."""
    none = np.zeros((0, 2))
    return replace(asked, centred=ObjectPlaces(none, none), left=none, looked_back=False)


Slopes = tuple[Array, Array, Array, Array]


def _slopes(asked: Asked, clock: bool, xs: Array) -> Slopes:
    """What would be shown at each of xs (k, 19), and how it changes."""
    args = (asked.taught, asked.centred, clock, asked.looked_back)
    return derivatives_of_many(xs[:, :N_SHOWN], *args)


def _given(
    asked: Asked, hs: list[Hypothesis], x0: Array, x: Array, there: Slopes
) -> list[tuple[Array, Array, float]]:
    """For each hypothesis of one way, mean (19,), covariance and log evidence: the linear update of
    the prior about x0, with the slopes at x (k, 19), or at one for all."""
    P = np.stack([np.diag(_variances(asked, h)) for h in hs])
    H, expected, seen, R = _observed(asked, hs, x, there)
    if not H.shape[1]:
        return [(x0, P[k], 0.0) for k in range(len(hs))]
    off = seen - expected - np.einsum("kmi,ki->km", H, np.broadcast_to(x0 - x, (len(hs), len(x0))))
    HP = H @ P
    S = HP @ np.swapaxes(H, 1, 2) + R[:, :, None] * np.eye(R.shape[1])
    gain = np.swapaxes(np.linalg.solve(S, HP), 1, 2)
    cov = P - gain @ HP
    cov = (cov + np.swapaxes(cov, 1, 2)) / 2
    _, size = np.linalg.slogdet(2 * math.pi * S)
    log = -0.5 * (np.einsum("km,km->k", off, np.linalg.solve(S, off[..., None])[..., 0]) + size)
    mean = x0 + np.einsum("kim,km->ki", gain, off)
    return [(mean[k], cov[k], float(log[k])) for k in range(len(hs))]


def _variances(asked: Asked, h: Hypothesis) -> Array:
    """Of all parameters (19,) before anything is shown."""
    sigma = np.where(np.isinf(asked.priors.sigma), 0.0, asked.priors.sigma)
    sigma = sigma * h.account.mount
    star = np.full(4, (asked.centring * h.account.hand) ** 2)
    if h.mistake.kind == "star":
        star[2 * h.mistake.index : 2 * h.mistake.index + 2] += h.account.off**2
    slip = np.full(2, h.account.off**2 if h.mistake.kind == "slip" else 0.0)
    return np.concatenate([sigma**2, star, [asked.share(h.way)[1] ** 2], slip])


def _observed(
    asked: Asked, hs: list[Hypothesis], x: Array, there: Slopes
) -> tuple[Array, Array, Array, Array]:
    """Of each hypothesis: derivatives (k, m, 19), what x would show (k, m), what was shown (k, m),
    and the variance of its noise (k, m)."""
    number, push, slope, slopes = there
    k, n = len(hs), len(asked.left)
    first = 0 if asked.number is None else 1
    m = first + 2 * n
    H, expected = np.zeros((k, m, N_SHOWN + 2)), np.zeros((k, m))
    seen, noise = np.zeros((k, m)), np.full((k, m), asked.step**2 / 12.0)
    if asked.number is not None:
        H[:, 0, :N_SHOWN], expected[:, 0] = slope, number
        seen[:, 0] = [h.sign * asked.number for h in hs]
        noise[:, 0] += [h.account.off**2 if h.mistake.kind == "number" else 0.0 for h in hs]
    if not n:
        return H, expected, seen, noise
    slipped = np.array(
        [[h.slipped_at is not None and i >= h.slipped_at for i in range(n)] for h in hs]
    )
    misread = np.array(
        [[h.account.off if h.mistake == Mistake("find", i) else 0.0 for i in range(n)] for h in hs]
    )
    # A tube that stands as the star was told has no other centring than that star's.
    anew = np.array([h.account.recentred for h in hs])
    own = np.full((k, n), asked.centring)
    if asked.looked_back:
        own[~anew, 0] = 0.0
    hand = np.array([h.account.hand for h in hs])[:, None] * own
    across = np.maximum(0.05, np.cos(asked.centred.seen[:, 1]))
    tail = x[:, N_SHOWN:]
    for axis in (0, 1):
        rows = slice(first + axis, m, 2)
        # What is left to push is from the object back to the zero.
        H[:, rows, :N_SHOWN] = -slopes[:, :, axis]
        H[:, rows, N_SHOWN + axis] = np.where(slipped, -1.0, 0.0)
        expected[:, rows] = -push[:, :, axis] - tail[:, axis, None] * slipped
        seen[:, rows] = asked.left[:, axis]
        noise[:, rows] += (hand / (across if axis == 0 else 1.0)) ** 2 + misread**2
        if not asked.looked_back:
            continue
        # Centred anew, the tube stands no longer as far off as the star was told, and the star has
        # gone on since.
        gone = asked.centred.seen[0] - asked.taught.seen[1]
        gone[0] = half_turn(gone[0])
        per = 1.0 / across[0] if axis == 0 else 1.0
        column = N_TERMS + 2 + axis
        H[anew, first + axis, column] += per
        expected[anew, first + axis] += per * np.broadcast_to(x[:, column], k)[anew] - gone[axis]
    return H, expected, seen, noise
