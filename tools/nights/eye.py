"""How closely a star is centred: well, roughly, or fumbled; and how it would be done at best."""

import copy

import numpy as np
from numpy.random import Generator

from .blame import Tap
from .mount import Mount
from .scene import CENTRING_ARCMIN
from .shapes import Array, Pair

SIGMA_DEG = CENTRING_ARCMIN / 60


class Eye:
    """``rng`` is the evening's; what would have been is drawn from a generator of its own."""

    def __init__(self, rng: Generator, seed: int, rough: bool) -> None:
        self.rng, self.rough = rng, rough
        self._steady = np.random.default_rng([7744, seed])
        self._last = "", (0.0, 0.0), (0.0, 0.0)

    def centres(self, name: str, fumbled: Array | None = None) -> Array:
        """How far off, degrees right and up; ``fumbled``: by so much."""
        honest = self._steady.normal(0, SIGMA_DEG, 2)
        if fumbled is not None:
            off, was = fumbled, honest
        elif self.rough:
            off = was = self.rng.standard_t(2.5, 2) * SIGMA_DEG * 1.3
        else:
            off = was = honest = self.rng.normal(0, SIGMA_DEG, 2)
        self._last = name, _pair(was), _pair(honest)
        return off

    def tap(self, unix: float, axles: Pair, wrong: bool, mount: Mount) -> Tap:
        """Of what was centred last."""
        name, was, honest = self._last
        stood = copy.deepcopy(mount)
        return Tap(name, unix, was, honest, axles[0], wrong, stood, stood.circles(*axles))


def _pair(off: Array) -> Pair:
    return float(off[0]), float(off[1])
