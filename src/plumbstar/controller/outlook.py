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

from plumbstar.controller.searched import Searched, past
from plumbstar.controller.showing import (
    N_SHOWN,
    SHARE,
    WAYS,
    ObjectPlaces,
    Taught,
    derivatives,
)
from plumbstar.mount.priors import Priors
from plumbstar.mount.terms import INDEX
from plumbstar.solve.chance import hit_chance
from plumbstar.solve.stories import FAR_OFF_RATE, FAR_OFF_TIMES
from plumbstar.units import Array

#: Before anything is shown: of each star, of the number, of each find. Common practice, no source.
#: Of both stars together three evenings in a hundred: design/beside_a_controller.py plays it.
STAR_WRONG, NUMBER_MISREAD, FIND_MISREAD, SLIPPED = 0.015, 0.005, 0.01, 0.01
#: How likely the hand is so many times rougher than the kit says. Common practice, no source;
#: design/beside_a_controller.py plays what it is worth. How likely the mount is further off than it
#: expects, and how much, is the fix's own.
ROUGH, ROUGH_TIMES = 0.05, 3.0
#: How far off a mistake takes a star, a number or a slip, 1 sigma, radians. Common practice.
STAR_OFF, MISREAD, SLIP = math.radians(6.0), math.radians(3.0), math.radians(2.5)
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
class Mistake:
    """``kind`` is none, star, number, find, slip, hand (rougher than the kit says) or mount
    (further off than it expects); ``index`` of the star or the find."""

    kind: str = "none"
    index: int = 0


#: Before anything is shown, by kind; of a star, a find or a slip each.
BEFOREHAND: Mapping[str, float] = {
    "star": STAR_WRONG,
    "number": NUMBER_MISREAD,
    "find": FIND_MISREAD,
    "slip": SLIPPED,
    "hand": ROUGH,
    "mount": FAR_OFF_RATE,
}


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
    #: Whether the first of ``centred`` is the look back: the second star, with the tube not moved.
    looked_back: bool = False
    #: The share of a way in between, and its sigma.
    between: tuple[float, float] = WAYS["between"]
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
    """One way in which it may be, its weight, and the parameters given it all: 16, and two of a
    slip."""

    way: str
    clock: bool
    sign: int
    mistake: Mistake
    weight: float
    mean: Array
    cov: Array

    @property
    def slip(self) -> Array:
        return self.mean[N_SHOWN:]


@dataclass(frozen=True)
class Lies:
    """Where one object lies beyond the zero: the push (2,) on the circles, and its covariance on
    the sky (right, up), radians; the chances of a hit there and at the zero itself."""

    push: Array
    cov: Array
    hit_chance: float
    hit_chance_at_zero: float


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

    def stop(self) -> tuple[float, float]:
        """The altitude zero and its sigma, radians."""
        w = np.array([h.weight for h in self.hypotheses])
        m = np.array([h.mean[_STOP] for h in self.hypotheses])
        v = np.array([h.cov[_STOP, _STOP] for h in self.hypotheses])
        mean = float(w @ m)
        return mean, math.sqrt(float(w @ (v + (m - mean) ** 2)))

    def lies(self, objects: ObjectPlaces, field_deg: float) -> list[Lies]:
        """Each object: where to push on to, by all hypotheses together."""
        radius = math.radians(field_deg / 2.0)
        alts = objects.seen[:, 1]
        means, covs, weights = [], [], []
        for h in self.hypotheses:
            _, push, _, J = derivatives(h.mean[:N_SHOWN], self.asked.taught, objects, h.clock)
            J = np.concatenate([J, np.broadcast_to(np.eye(2), (len(alts), 2, 2))], axis=-1)
            means.append(push + h.slip)
            covs.append(J @ h.cov @ np.swapaxes(J, -1, -2) + self.asked.grain * np.eye(2))
            weights.append(h.weight)
        scale = np.stack([np.cos(alts), np.ones_like(alts)], axis=-1)
        m, C, w = np.array(means), np.array(covs), np.array(weights)
        on_sky, C = m * scale, C * scale[:, :, None] * scale[:, None, :]
        out = []
        for i in range(len(alts)):
            aims = [w @ on_sky[:, i], *(on_sky[k, i] for k in np.argsort(-w)[:3])]
            hits = [float(w @ hit_chance(on_sky[:, i] - a, C[:, i], radius)) for a in aims]
            best = int(np.argmax(hits))
            aim = aims[best]
            likely = w >= 0.05 * w.max()
            share = w[likely] / w[likely].sum()
            d = on_sky[likely, i] - aim
            cov = np.einsum("k,kij->ij", share, C[likely, i] + d[:, :, None] * d[:, None, :])
            at_zero = float(w @ hit_chance(on_sky[:, i], C[:, i], radius))
            out.append(Lies(aim / scale[i], cov, hits[best], at_zero))
        return out


def outlook(asked: Asked) -> Outlook:
    """Weigh every hypothesis by all that was shown."""
    clocks = [asked.clock] if asked.clock is not None else [True, False]
    signs = [asked.sign] if asked.sign is not None else [1, -1]
    mean, sigma = asked.priors.mean.copy(), asked.priors.sigma
    mean[0] = 0.0 if math.isinf(sigma[0]) else mean[0]  # what is shown does not depend on it
    found: list[Hypothesis] = []
    logs: list[float] = []
    nothing = np.zeros((N_SHOWN + 2, N_SHOWN + 2))
    before = {way: _beforehand(mean, asked.share(way)[0]) for way in WAYS}
    for way, clock in itertools.product(WAYS, clocks):
        x0 = before[way]
        slopes = _slopes(asked, clock, x0)
        open_clock = 1.0 if len(clocks) == 1 else 1 - asked.clockless if clock else asked.clockless
        for sign in signs:
            prior_way = asked.ways[way] * open_clock
            if len(signs) == 2:
                prior_way *= USUAL_SIGN if sign == 1 else 1.0 - USUAL_SIGN
            x, there = x0, slopes
            if asked.share(way)[1] > 0 and asked.number is not None:
                # A share tells nothing of a contradiction of nought: so from what the number says.
                h = Hypothesis(way, clock, sign, Mistake(), 1.0, x0, nothing)
                x, _, _ = _given(_number_alone(asked), h, x0, x0, slopes)
                there = _slopes(asked, clock, x)
            for mistake, prior in _mistakes(asked):
                h = Hypothesis(way, clock, sign, mistake, prior * prior_way, x0, nothing)
                m, cov, log = _given(asked, h, x0, x, there)
                found.append(replace(h, mean=m, cov=cov))
                logs.append(log + math.log(h.weight))
    # Once more, with the slopes where the first step came to: for what is not out of the question.
    for i in np.flatnonzero(np.array(logs) > max(logs) - FAR_FETCHED):
        h = found[i]
        there = _slopes(asked, h.clock, h.mean)
        m, cov, log = _given(asked, h, before[h.way], h.mean, there)
        found[i], logs[i] = replace(h, mean=m, cov=cov), log + math.log(h.weight)
    likely = _weighed(found, logs)
    if not asked.searched:
        return Outlook(asked, likely)
    found, logs = [], []
    for h in likely:
        slipped_at = h.mistake.index if h.mistake.kind == "slip" else None
        args = (asked.searched, asked.taught, h.clock, slipped_at, asked.grain)
        m, cov, log = past(h.mean, h.cov, *args)
        found.append(replace(h, mean=m, cov=cov))
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


def _mistakes(asked: Asked) -> list[tuple[Mistake, float]]:
    out = [(Mistake("star", i), STAR_WRONG) for i in (0, 1)]
    out += [(Mistake("hand"), ROUGH), (Mistake("mount"), FAR_OFF_RATE)]
    if asked.number is not None:
        out.append((Mistake("number"), NUMBER_MISREAD))
    for k in range(len(asked.left)):
        out.append((Mistake("find", k), FIND_MISREAD))
        out.append((Mistake("slip", k), SLIPPED))
    if any(s.after == len(asked.left) for s in asked.searched):
        out.append((Mistake("slip", len(asked.left)), SLIPPED))
    return [(Mistake(), max(0.5, 1.0 - sum(p for _, p in out))), *out]


def _beforehand(terms: Array, share: float) -> Array:
    """All parameters (19,) before anything is shown: no star off its centre, no slip."""
    x = np.concatenate([terms, np.zeros(N_SHOWN + 2 - len(terms))])
    x[SHARE] = share
    return x


def _number_alone(asked: Asked) -> Asked:
    """As it was before anything was centred."""
    none = np.zeros((0, 2))
    return replace(asked, centred=ObjectPlaces(none, none), left=none, looked_back=False)


Slopes = tuple[float, Array, Array, Array]


def _slopes(asked: Asked, clock: bool, x: Array) -> Slopes:
    """What would be shown at x, and how it changes."""
    return derivatives(x[:N_SHOWN], asked.taught, asked.centred, clock, asked.looked_back)


def _hand(asked: Asked, mistake: Mistake) -> float:
    """How well stars are centred, radians."""
    return asked.centring * (ROUGH_TIMES if mistake.kind == "hand" else 1.0)


def _given(
    asked: Asked, h: Hypothesis, x0: Array, x: Array, there: Slopes
) -> tuple[Array, Array, float]:
    """Mean (19,), covariance and log evidence: the linear update of the prior about x0, with the
    slopes at x."""
    sigma = np.where(np.isinf(asked.priors.sigma), 0.0, asked.priors.sigma)
    if h.mistake.kind == "mount":
        sigma = sigma * FAR_OFF_TIMES
    star = np.full(4, _hand(asked, h.mistake) ** 2)
    if h.mistake.kind == "star":
        star[2 * h.mistake.index : 2 * h.mistake.index + 2] += STAR_OFF**2
    slip = np.full(2, SLIP**2 if h.mistake.kind == "slip" else 0.0)
    share = [asked.share(h.way)[1] ** 2]
    P = np.diag(np.concatenate([sigma**2, star, share, slip]))
    H, expected, seen, R = _observed(asked, h.sign, h.mistake, x, there)
    if not len(seen):
        return x0, P, 0.0
    off = seen - expected - H @ (x0 - x)
    S = H @ P @ H.T + R
    gain = np.linalg.solve(S, H @ P).T
    cov = P - gain @ H @ P
    _, size = np.linalg.slogdet(2 * math.pi * S)
    log = -0.5 * float(off @ np.linalg.solve(S, off) + size)
    return x0 + gain @ off, (cov + cov.T) / 2, log


def _observed(
    asked: Asked, sign: int, mistake: Mistake, x: Array, there: Slopes
) -> tuple[Array, Array, Array, Array]:
    """Derivatives (m, 19), what x would show (m,), what was shown (m,), and its noise (m, m)."""
    number, push, slope, slopes = there
    rows, expected, seen, noise = [], [], [], []
    grain = asked.step**2 / 12.0
    if asked.number is not None:
        rows.append(np.concatenate([slope, np.zeros(2)]))
        expected.append(number)
        seen.append(sign * asked.number)
        noise.append(grain + (MISREAD**2 if mistake.kind == "number" else 0.0))
    for k, left in enumerate(asked.left):
        slipped = mistake.kind == "slip" and k >= mistake.index
        wide = MISREAD**2 if mistake == Mistake("find", k) else 0.0
        cos_alt = max(0.05, math.cos(float(asked.centred.seen[k, 1])))
        for axis in (0, 1):
            tail = np.zeros(2)
            tail[axis] = 1.0 if slipped else 0.0
            # What is left to push is from the object back to the zero.
            rows.append(-np.concatenate([slopes[k, axis], tail]))
            expected.append(-float(push[k, axis]) - float(x[N_SHOWN + axis]) * slipped)
            seen.append(float(left[axis]))
            # A tube that stands as the star was told has no other centring than that star's.
            own = 0.0 if k == 0 and asked.looked_back else _hand(asked, mistake)
            hand = own / (cos_alt if axis == 0 else 1.0)
            noise.append(grain + hand**2 + wide)
    H = np.array(rows).reshape(-1, N_SHOWN + 2)
    return H, np.array(expected), np.array(seen), np.diag(noise)
