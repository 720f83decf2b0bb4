"""One circular edge: where rays from its middle cross it, and the robust curve through them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.collimate.pixels import Grey, sample
from plumbstar.units import Array, Bools

_RAYS = 360


@dataclass(frozen=True)
class Edge:
    """A circle found along rays, with how well the rays agree. Pixels of the working picture."""

    x: float
    y: float
    r: float
    cov: Array  # (3, 3) of x, y, r
    agree: float  # part of the rays inside the picture that lie on the circle
    seen: float  # part of the circumference inside the picture
    contrast: float  # median step across the edge
    scatter: float  # 1 sigma of a ray about the curve, over r
    width: float  # of the blurred edge: its step over its steepest slope, pixels
    oval: Array  # (2,) of r (1 + oval[0] cos 2a + oval[1] sin 2a), a from the right, clockwise
    oval_cov: Array  # (2, 2)


def _fit_curve(
    theta: NDArray[Any], r: NDArray[Any], ok: Bools, r0: float
) -> tuple[Array, Array, Array]:
    """Robust fit of r = p0 + p1 cos + p2 sin + p3 cos 2t + p4 sin 2t.

    The second harmonics take up a disc made elliptical by a tilted phone; a prior of 1.5 % of the
    radius keeps them quiet when only an arc is in the picture. Cauchy weights. Returns
    (parameters (5,), covariance (5, 5), residuals (n,) NaN where unused).
    """
    A = np.stack(
        [np.ones_like(theta), np.cos(theta), np.sin(theta), np.cos(2 * theta), np.sin(2 * theta)],
        axis=1,
    )
    a, b = A[ok], r[ok]
    prior = np.diag([1e-12, 1e-12, 1e-12, 1.0, 1.0]) / (0.015 * r0) ** 2
    res = b - np.median(b)
    scale = 0.1 * r0  # before the centre is found, all rays may vote
    spread = 8.0  # neighbouring rays share blur, vanes and seeing, so they count for fewer
    for _ in range(8):
        w = 1.0 / (1.0 + (res / (2.0 * scale)) ** 2)
        unit = 1.0 / (spread * scale**2)
        aw = a * w[:, None]
        N = aw.T @ a * unit + prior
        p = np.linalg.solve(N, aw.T @ b * unit)
        res = b - a @ p
        scale = max(1.4826 * float(np.median(np.abs(res))), 0.002 * r0, 0.03)
    full = np.full(len(theta), np.nan)
    full[ok] = res
    # How far the residuals stay alike along the curve says how many rays are independent.
    psi = np.zeros(len(theta))
    psi[ok] = res / (1.0 + (res / (2.0 * scale)) ** 2)
    power = np.abs(np.fft.rfft(psi)) ** 2
    rho = np.fft.irfft(power, len(theta))[: len(theta) // 8]
    rho = rho / (rho[0] or 1.0)
    below = np.flatnonzero(rho < 0.1)
    spread = 1.0 + 2.0 * float(rho[1 : below[0] if len(below) else len(rho)].sum())
    free = len(b) / spread
    spread *= free / max(free - 5.0, 1.0)  # five parameters have eaten part of the scatter
    score = aw * res[:, None] * unit
    inv = np.linalg.inv(N)
    cov = inv @ (score.T @ score * spread + prior) @ inv
    return p, cov, full


def find_edge(
    g: Grey, x: float, y: float, r: float, falling: bool, reach: float, rounds: int = 4
) -> Edge | None:
    """Refine a circle (x, y, r) along rays; ``falling`` for bright inside (the disc's rim).

    ``reach`` bounds the search outward and inward, as a part of r: the first round looks that far
    for the steepest step, later ones take the half-level crossing near the curve.
    """
    theta = np.arange(_RAYS) * (2 * math.pi / _RAYS)
    ct, st = np.cos(theta)[:, None], np.sin(theta)[:, None]
    sign = 1.0 if falling else -1.0
    start_r = r
    curve = np.full(_RAYS, r)
    result: Edge | None = None
    for i in range(rounds):
        span = reach if i == 0 else min(reach, 0.22)
        n = int(np.clip(2 * span * r / 0.6, 36, 120))
        u = np.linspace(-span, span, n)
        start_scale = r
        rr = curve[:, None] + u[None, :] * r
        v = sample(g, x + rr * ct, y + rr * st)
        inside_picture = np.isfinite(v).all(axis=1)
        if inside_picture.sum() < _RAYS // 6:
            return None
        safe = np.where(np.isfinite(v), v, 0.0) * sign
        if i == 0:
            # steepest step over 8 % of the radius
            m = max(1, round(0.04 / (u[1] - u[0])))
            c = np.cumsum(safe, axis=1)
            left = c[:, m:-m] - np.pad(c, ((0, 0), (1, 0)))[:, : -2 * m - 1]
            right = c[:, 2 * m :] - c[:, m:-m]
            jump = left / (m + 1) - right / m
            at = np.argmax(jump, axis=1)
            step = jump[np.arange(_RAYS), at]
            where = rr[np.arange(_RAYS), at + m]
        else:
            high = safe[:, u < -0.35 * span].mean(axis=1)
            low = safe[:, u > 0.35 * span].mean(axis=1)
            step = high - low
            half = 0.5 * (high + low)
            cross = (safe[:, :-1] >= half[:, None]) & (safe[:, 1:] < half[:, None])
            mid = 0.5 * (u[:-1] + u[1:])
            cost = np.where(cross, np.abs(mid)[None, :], np.inf)
            at = np.argmin(cost, axis=1)
            rows = np.arange(_RAYS)
            d = safe[rows, at] - safe[rows, at + 1]
            f = np.where(np.abs(d) > 1e-9, (safe[rows, at] - half) / np.where(d == 0, 1, d), 0.5)
            where = rr[rows, at] + np.clip(f, 0, 1) * (u[1] - u[0]) * r
            step = np.where(np.isfinite(cost[rows, at]), step, 0.0)
        typical = float(np.median(step[inside_picture]))
        if typical <= 0:
            return None
        ok = inside_picture & (step > 0.3 * typical)
        if ok.sum() < _RAYS // 8:
            return None
        p, cov, res = _fit_curve(theta, where, ok, r)
        x, y = x + p[1], y + p[2]
        if not (0.4 * start_r < p[0] < 2.5 * start_r) or math.hypot(p[1], p[2]) > 1.5 * start_r:
            return None
        r = float(p[0])
        curve = r + p[3] * np.cos(2 * theta) + p[4] * np.sin(2 * theta)
        good = np.abs(np.where(np.isfinite(res), res, np.inf)) < max(0.05 * r, 0.75)
        seen = float(inside_picture.mean())
        spread = float(1.4826 * np.nanmedian(np.abs(res)) / r)
        order = [1, 2, 0]
        profile = safe[ok].mean(axis=0)  # along the last curve, so not smeared by its shape
        slope = float(-np.diff(profile).min()) / float((u[1] - u[0]) * start_scale)
        width = float(profile.max() - profile.min()) / max(slope, 1e-9)
        result = Edge(
            float(x),
            float(y),
            r,
            cov[np.ix_(order, order)],
            float((good & inside_picture).sum() / inside_picture.sum()),
            seen,
            typical,
            spread,
            width,
            p[3:5] / r,
            cov[3:5, 3:5] / r**2,
        )
        curve = np.maximum(curve, 0.2 * r)
    return result
