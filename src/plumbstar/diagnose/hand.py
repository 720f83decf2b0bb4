"""How well this observer centres a star, learnt from all outings.

Each outing gives a likelihood over hands (:mod:`plumbstar.solve.hands`). An observer has one hand,
of which the kit tells a value; on some evenings it is steadier or rougher than usual, as often as
the stories of a fix have it. Both are held in the logarithm, as how many times the kit's value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise
from plumbstar.solve.hands import LOG_TIMES
from plumbstar.solve.stories import COARSER
from plumbstar.text.words import many
from plumbstar.units import Array

#: Beforehand the kit's value is right to a factor of exp(0.7), once in five only of exp(1.5): it is
#: mostly left as it came, whoever centres. Common practice, no source. With half of it at exp(0.4)
#: a hand twice as rough was learnt as 1.58 times after three outings, now as 1.64 (48 telescopes of
#: ``design/weeks.py``), and one and two sigma held it in 60 and 90 %, now in 67 and 98.
BEFOREHAND = ((0.8, 0.7), (0.2, 1.5))
#: So often an evening tells nothing of the hand: its sightings contradict one another by something
#: that no story of the fix knows. Beside the hand that it fits best, every other one keeps this
#: share of its likelihood, so that such an evening outweighs no others. Common practice, no source.
TELLS_NOTHING = 0.01
#: So many outings are asked, the newest: a hand is known from them to about a tenth, and people
#: learn.
NEWEST = 30
#: A factor beyond which the kit's value is called wrong, when it is sure (two sigma).
WORTH_SAYING = 1.25

_FINE: Array = np.linspace(LOG_TIMES[0], LOG_TIMES[-1], 481)


#: Of an evening: (log share, places of the fine grid by which its hand differs from the usual one),
#: as often as the stories of a fix have it. One and the same law, or a usual hand would come out
#: finer than the fix takes it for.
_EVENINGS = tuple(
    (math.log(share), round(math.log(times) / float(_FINE[1] - _FINE[0])))
    for share, times in ((1.0 - sum(share for share, _ in COARSER), 1.0), *COARSER)
)


@dataclass(frozen=True)
class LearntHand:
    """The centring as learnt, radians, one sigma on each axis; ``sigma_log``: of its logarithm.

    ``stated``: the kit's. ``outings``: how many tell of it.
    """

    centring: float
    sigma_log: float
    stated: float
    outings: int

    @property
    def times(self) -> float:
        """How many times the kit's value."""
        return self.centring / self.stated

    @property
    def arcmin(self) -> float:
        """The centring in arcminutes."""
        return math.degrees(self.centring) * 60.0

    @property
    def range_arcmin(self) -> tuple[float, float]:
        """From one sigma below to one above."""
        by = math.exp(self.sigma_log)
        return self.arcmin / by, self.arcmin * by

    @property
    def differs(self) -> bool:
        """Whether it surely is another hand than the kit says, enough to matter."""
        off = abs(math.log(self.times))
        return off > math.log(WORTH_SAYING) and off > 2 * self.sigma_log

    def nearly(self, stated: Noise) -> Noise:
        """Its errors to the nearest tenth: for what past outings say, which then need not be worked
        out again after each new one."""
        tenths = round(10.0 * math.log(self.times))
        return replace(stated, centring=self.stated * math.exp(tenths / 10.0))

    def noise(self, stated: Noise) -> Noise:
        """The errors of a fix with this hand."""
        return replace(stated, centring=self.centring, spread=self.sigma_log)


def noise_of(kit: Kit, hand: LearntHand | None) -> Noise:
    """The errors of a fix with this kit: as it states them, with the hand as learnt."""
    stated = Noise.from_kit(kit)
    return stated if hand is None else hand.noise(stated)


def hand_sentence(hand: LearntHand | None) -> str:
    """The hand as learnt, beside the kit's; empty where nothing is learnt."""
    if hand is None:
        return ""
    low, high = hand.range_arcmin
    stated = math.degrees(hand.stated) * 60.0
    told = f"{hand.arcmin:.1f}′ (likely {low:.1f}′ to {high:.1f}′; the kit says {stated:.1f}′)"
    since = f"{told}, from {many(hand.outings, 'outing')}."
    if not hand.differs:
        return f"You centre stars to {since}"
    how = "less closely" if hand.times > 1.0 else "more closely"
    return f"You centre stars {how} than the kit says: to {since} Every chance counts on that."


def learn_hand(likelihoods: Sequence[Array], stated: Noise) -> LearntHand | None:
    """The hand from each outing's log likelihood (13,) over ``stated.centring`` times
    exp(:data:`LOG_TIMES`). None without outings.

    The mean and sigma of the logarithm are those of the posterior, on a grid of a hundredth.
    """
    if not likelihoods:
        return None
    total = np.sum([_whatever_the_evening(y) for y in likelihoods], axis=0)
    log_p = total + np.log(sum(w / s * np.exp(-0.5 * (_FINE / s) ** 2) for w, s in BEFOREHAND))
    p = np.exp(log_p - log_p.max())
    p /= p.sum()
    mean = float(p @ _FINE)
    sigma = math.sqrt(float(p @ (_FINE - mean) ** 2))
    return LearntHand(stated.centring * math.exp(mean), sigma, stated.centring, len(likelihoods))


def _whatever_the_evening(log_likelihood: Array) -> Array:
    """Log likelihood (481,) of the observer's hand from that of an evening's (13,), the evening's
    own hand integrated out, and that it may tell nothing. Its largest is about 0."""
    fine = _between(log_likelihood)
    n = len(fine)
    at = np.arange(n)
    # By logarithms throughout: sightings far off have likelihoods that no float can hold.
    each = [log_w + fine[np.clip(at + by, 0, n - 1)] for log_w, by in _EVENINGS]
    told = np.logaddexp.reduce(each, axis=0)
    out: Array = np.logaddexp(told - told.max(), math.log(TELLS_NOTHING))
    return out


def _between(y: Array) -> Array:
    """Values (481,) between the steps: a cubic spline, its second derivative level at the ends."""
    n, h = len(y), float(LOG_TIMES[1] - LOG_TIMES[0])
    A = 4.0 * np.eye(n) + np.eye(n, k=1) + np.eye(n, k=-1)
    A[0, :2], A[-1, -2:] = (1.0, -1.0), (-1.0, 1.0)
    bend = np.zeros(n)
    bend[1:-1] = 6.0 * (y[2:] - 2.0 * y[1:-1] + y[:-2]) / h**2
    m = np.linalg.solve(A, bend)
    k = np.clip(((_FINE - LOG_TIMES[0]) / h).astype(int), 0, n - 2)
    b = (_FINE - LOG_TIMES[k]) / h
    a = 1.0 - b
    curve = (a**3 - a) * m[k] + (b**3 - b) * m[k + 1]
    out: Array = a * y[k] + b * y[k + 1] + curve * h * h / 6.0
    return out
