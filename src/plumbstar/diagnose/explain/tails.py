"""Evidence under a hand that is not quite the one stated: heavier tails, and a scale of its own.

A normal hand of exactly the stated scatter makes a miss of five sigma a proof of something else,
and a hand half as coarse again as stated a chain of small proofs. So the scatter is taken as
Student's t with few degrees of freedom, times a factor that is not known beforehand. Each model was
solved with normal errors (:mod:`.model`); from there it is linear, and reweighted least squares
(Lange, Little and Taylor 1989, Journal of the American Statistical Association 84, 881, from
memory) finds its mode anew.
"""

from __future__ import annotations

import math

import numpy as np

from plumbstar.units import Array

#: Degrees of freedom, and (share, times): how much coarser than stated the hand is. Common
#: practice, no source; design/why_came_true.py has hands of both kinds, and some of neither. This
#: is how far the kit's figure may be from the observer's usual hand (``BEFOREHAND`` in
#: diagnose/hand.py has it wider, for there outings are to tell), not an evening rougher than usual
#: (``COARSER`` in solve/stories.py), which is a cause of its own and begins beyond the widest.
_FREEDOM = 5.0
HAND = ((0.2, 0.75), (0.45, 1.0), (0.35, 1.5))
#: A hand so many times coarser than stated is ordinary.
ORDINARY_TO = max(times for _, times in HAND)
#: The variance of Student's t is that stated.
_SCALE = (_FREEDOM - 2.0) / _FREEDOM
#: So often the weights are made anew.
_TURNS = 3


def evidence(r: Array, jac: Array, weight: Array, info: Array, gap: Array, hand: float) -> Array:
    """Log evidence (B,) of B models linear about their mode.

    ``r`` (B, 2n) residuals, ``jac`` (B, 2n, P) what the parameters take off them, ``weight``
    (B, 2n) inverse variances of the normal model; ``info`` and ``gap`` (B, P) the prior and how far
    from it the mode stands; ``hand``: the stated centring, radians.
    """
    b, m, p = jac.shape
    times = np.array([f for _, f in HAND])
    used = weight > 0
    variance = 1.0 / np.where(used, weight, 1.0)
    coarser = variance[:, None] + hand**2 * (times**2 - 1.0)[:, None]
    w = np.where(used[:, None], 1.0 / (_SCALE * coarser), 0.0)  # (B, F, 2n)
    # All priors to one size, so that what is held fast does not drown the rest.
    unit = 1.0 / np.sqrt(np.maximum(info, 1.0))
    j = jac * unit[:, None, :]
    prior, off = info * unit * unit, info * unit * gap
    step = np.zeros((b, len(times), p))
    for turn in range(_TURNS + 1):
        left = r[:, None] - np.einsum("bmp,bfp->bfm", j, step)
        far = (w * left * left).reshape(b, len(times), m // 2, 2).sum(axis=3)
        if turn == _TURNS:
            break
        trust = np.repeat((_FREEDOM + 2.0) / (_FREEDOM + far), 2, axis=2) * w
        weighted = trust[..., None] * j[:, None]
        hessian = np.swapaxes(weighted, 2, 3) @ j[:, None]
        hessian.reshape(b, len(times), -1)[:, :, :: p + 1] += prior[:, None]
        right = np.einsum("bfmp,bm->bfp", weighted, r) - off[:, None]
        step = np.linalg.solve(hessian, right[..., None])[..., 0]
    likely = -0.5 * (_FREEDOM + 2.0) * np.log1p(far / _FREEDOM).sum(axis=2)
    turn_rad = 2.0 * math.pi
    with np.errstate(divide="ignore"):
        likely += 0.5 * np.where(w > 0, np.log(w / turn_rad), 0.0).sum(axis=2)
    at = gap[:, None] + step * unit[:, None]
    known = info > 0
    likely += -0.5 * (info[:, None] * at * at).sum(axis=2)
    density = 0.5 * np.log(np.where(known, info, turn_rad) / turn_rad).sum(axis=1)
    density -= (~known).sum(axis=1) * math.log(turn_rad)
    volume = 0.5 * (p * math.log(turn_rad) - np.linalg.slogdet(hessian)[1])
    volume += np.log(unit).sum(axis=1)[:, None]
    total = likely + volume + density[:, None] + np.log([share for share, _ in HAND])
    top = total.max(axis=1)
    out: Array = top + np.log(np.exp(total - top[:, None]).sum(axis=1))
    return out
