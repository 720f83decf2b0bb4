"""How readily one star is taken for another that was meant."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbstar.units import Array


@dataclass(frozen=True, slots=True)
class LookAlikes:
    """How readily one star is taken for another: by distance and by brightness."""

    #: The chance falls by e for every this many degrees,
    reach_deg: float = 10.0
    #: and as a normal in magnitude with this sigma; brighter stars attract, fainter repel.
    magnitude_sigma: float = 1.3
    #: A brilliant star draws the eye from anywhere in this circle.
    within_deg: float = 45.0

    def weights(self, v_named: float, v_other: Array, separation_deg: Array) -> Array:
        """Probability (k,) of each other star, summing to one, given that a wrong one was sighted.

        ``v_other`` and ``separation_deg`` (k,). Stars beyond ``within_deg`` get nothing.
        """
        fainter = np.maximum(v_other - v_named, 0.0)
        brighter = np.maximum(v_named - v_other, 0.0)
        w = np.exp(
            -separation_deg / self.reach_deg
            - 0.5 * (fainter / self.magnitude_sigma) ** 2
            - 0.25 * (brighter / self.magnitude_sigma) ** 2
        )
        w = np.where((separation_deg > 0.2) & (separation_deg < self.within_deg), w, 0.0)
        total = float(w.sum())
        out: Array = w / total if total > 0 else w
        return out


LOOK_ALIKES = LookAlikes()
