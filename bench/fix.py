"""Time of one fix of 10 sightings against scipy's least_squares with a numerical Jacobian.

    python bench/fix.py

Both minimise the same cost from the same start and end at the same terms; the ratio of processor
times in one run is printed. Goal: 5 times faster. The fix as an evening makes it weighs its stories
as well (one bad sighting, something moved, a rough hand): what that costs is printed beside it.
"""

from __future__ import annotations

import statistics
import time

import numpy as np
from scipy.optimize import least_squares

from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import N_TERMS
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.fix import solve
from plumbstar.solve.posterior import Data, starts


def main() -> None:
    rng = np.random.default_rng(1)
    prior, noise = Priors.from_kit(Kit()), Noise()
    free = np.flatnonzero(prior.sigma > 0)
    weight = np.sqrt(prior.information[free])
    ratios, weighed, worst = [], [], 0.0
    for _ in range(30):
        hidden = HiddenMount(draw_terms(prior, rng), noise, rng)
        rows = hidden.sight_all(zip(rng.uniform(0, 360, 10), rng.uniform(15, 80, 10), strict=True))

        start = time.process_time()
        fix = solve(rows, prior, noise, find_bad=False)
        ours = time.process_time() - start

        start = time.process_time()
        solve(rows, prior, noise)
        weighed.append((time.process_time() - start) / ours)

        start = time.process_time()
        data = Data.of(rows, noise)
        root = np.sqrt(data.weight)

        def residuals(x: np.ndarray, data: Data = data, root: np.ndarray = root) -> np.ndarray:
            terms = np.zeros(N_TERMS)
            terms[free] = x
            r = (
                np.einsum("nij,nj->ni", data.basis, kinematics.direction(data.readings, terms))
                * root
            )
            return np.concatenate([r.ravel(), weight * x])

        best = least_squares(residuals, starts(data, prior)[0][free], x_scale="jac")
        np.linalg.inv(best.jac.T @ best.jac)
        theirs = time.process_time() - start
        ratios.append(theirs / ours)
        worst = max(worst, float(np.max(np.abs(best.x - fix.mean[free]))))
    ratio = statistics.median(ratios)
    print(f"fix of 10 sightings: {ratio:.1f} times faster than least_squares (goal 5)")
    print(f"with its stories weighed it takes {statistics.median(weighed):.1f} times as long")
    print(f"the terms agree to {np.degrees(worst) * 3600:.3f} arcsec")


if __name__ == "__main__":
    main()
