"""The exact disc integral against scipy's quadrature, in one run.

python bench/chance.py
"""

from __future__ import annotations

import time

import numpy as np
from scipy import integrate, stats

from plumbstar.solve.chance import hit_chance


def main() -> None:
    rng = np.random.default_rng(0)
    s, off = 10 ** rng.uniform(-1, 0.5, (200, 2)), rng.normal(0, 0.5, (200, 2))
    cov = np.zeros((200, 2, 2))
    cov[:, 0, 0], cov[:, 1, 1] = s[:, 0] ** 2, s[:, 1] ** 2
    start = time.process_time()
    ours = hit_chance(off, cov, 1.0)
    fast = time.process_time() - start

    start = time.process_time()
    theirs = []
    for m, (a, b) in zip(off, s, strict=True):

        def strip(x: float, m: np.ndarray = m, a: float = a, b: float = b) -> float:
            h = np.sqrt(max(0.0, 1 - x * x))
            column = stats.norm.cdf(h, m[1], b) - stats.norm.cdf(-h, m[1], b)
            return float(stats.norm.pdf(x, m[0], a) * column)

        low, high = max(-1, m[0] - 9 * a), min(1, m[0] + 9 * a)
        theirs.append(integrate.quad(strip, low, high, limit=200)[0] if high > low else 0.0)
    slow = time.process_time() - start
    gap = np.max(np.abs(ours - theirs))
    print(f"200 hit chances: {slow / fast:.0f} times faster than scipy quad; worst gap {gap:.1e}")


if __name__ == "__main__":
    main()
