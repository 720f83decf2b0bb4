"""The bright disc in the whole picture and the dark shadow in the disc."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from plumbstar.collimate.edges import Edge, find_edge
from plumbstar.collimate.pixels import Grey, blur, label, shrink
from plumbstar.units import Array


@dataclass(frozen=True)
class FoundRings:
    """The two circles in one working picture and how to get back to the whole one."""

    outer: Edge
    work: Grey  # cropped, reduced, slightly blurred
    k: int
    x0: int
    y0: int
    inner: Edge | None
    depth: float  # (ring - shadow) / (ring - sky)
    rival: float  # area of the next dark place in the disc over the shadow's
    middle: float  # brightness at the disc's middle over the ring's, sky removed
    flat: float  # part of the disc at the top of the scale


def candidates(small: Grey, sky: float, peak: float) -> Iterator[tuple[float, float, float]]:
    """First guesses of the disc at several thresholds, two regions each."""
    h, w = small.shape
    found: list[tuple[float, float, float]] = []
    for part, close in ((0.5, 1.0), (0.3, 1.0), (0.15, 1.0), (0.35, 4.0)):
        g = blur(small, close)
        top = max(float(g.max()), 1e-6) if close > 1 else peak
        labels, n = label(g > sky + part * (min(peak, top) - sky))
        if not n:
            continue
        sizes = np.bincount(labels.ravel())[1:]
        for which in np.argsort(sizes)[::-1][:2]:
            if sizes[which] < 12:
                continue
            ys, xs = np.nonzero(labels == which + 1)
            c = _circle_from_outline(xs.astype(float), ys.astype(float), w, h)
            if c is None or any(
                math.hypot(c[0] - f[0], c[1] - f[1]) < 0.04 * f[2] and abs(c[2] / f[2] - 1) < 0.04
                for f in found
            ):
                continue
            found.append(c)
            yield c


def _circle_from_outline(px: Array, py: Array, w: int, h: int) -> tuple[float, float, float] | None:
    """A first circle round a region: outermost points in each direction, best of many triples."""
    cx, cy = float(px.mean()), float(py.mean())
    ang = np.arctan2(py - cy, px - cx)
    rad = np.hypot(px - cx, py - cy)
    n = 120
    bins = np.minimum(((ang + math.pi) / (2 * math.pi) * n).astype(int), n - 1)
    far = np.zeros(n)
    np.maximum.at(far, bins, rad)
    mid = (np.arange(n) + 0.5) / n * 2 * math.pi - math.pi
    qx, qy = cx + far * np.cos(mid), cy + far * np.sin(mid)
    ok = (far > 0) & (qx > 1.5) & (qy > 1.5) & (qx < w - 2.5) & (qy < h - 2.5)
    qx, qy = qx[ok], qy[ok]
    if len(qx) < 12:
        return None
    rng = np.random.default_rng(7)  # a fixed seed: the same picture gives the same answer
    i, j, k = (rng.integers(0, len(qx), 300) for _ in range(3))
    ax, ay = qx[i], qy[i]
    bx, by = qx[j] - ax, qy[j] - ay
    ex, ey = qx[k] - ax, qy[k] - ay
    det = 2 * (bx * ey - by * ex)
    fine = np.abs(det) > 1e-6
    det = np.where(fine, det, 1.0)
    b2, e2 = bx * bx + by * by, ex * ex + ey * ey
    ux, uy = (ey * b2 - by * e2) / det, (bx * e2 - ex * b2) / det
    r = np.hypot(ux, uy)
    fine &= (r > 2) & (r < 1.2 * math.hypot(w, h))
    if not fine.any():
        return None
    x, y = ax + ux, ay + uy
    dist = np.abs(np.hypot(qx[None] - x[:, None], qy[None] - y[:, None]) - r[:, None])
    votes = (dist < np.maximum(0.04 * r, 1.0)[:, None]).sum(axis=1) * fine
    best = int(np.argmax(votes))
    return float(x[best]), float(y[best]), float(r[best])


def look_at(g: Grey, x: float, y: float, r: float) -> FoundRings | None:
    """Refine one first guess (whole-picture pixels) on a crop of bounded size."""
    h, w = g.shape
    half = 1.8 * r
    x0, x1 = max(0, int(x - half)), min(w, int(x + half) + 2)
    y0, y1 = max(0, int(y - half)), min(h, int(y + half) + 2)
    if x1 - x0 < 8 or y1 - y0 < 8:
        return None
    crop = g[y0:y1, x0:x1]
    k = max(1, round(r / 110))
    raw = shrink(crop, k)
    wx, wy, wr = (x - x0 + 0.5) / k - 0.5, (y - y0 + 0.5) / k - 0.5, r / k
    work = blur(raw, float(np.clip(0.012 * wr, 0.6, 3.0)))
    outer = find_edge(work, wx, wy, wr, True, 0.45, 2)
    if outer is None or outer.r < 3:
        return None
    # Flatten: one plane of illumination through the ring, so that a bright side moves no edge.
    yy, xx = np.mgrid[0 : work.shape[0], 0 : work.shape[1]]
    dx, dy = (xx - outer.x) / outer.r, (yy - outer.y) / outer.r
    rho = np.hypot(dx, dy)
    beyond = (rho > 1.25) & (rho < 1.8)
    sky = float(np.median(work[beyond])) if beyond.sum() > 20 else float(work.min())
    ring = (rho > 0.68) & (rho < 0.9)
    if ring.sum() < 20:
        return None
    A = np.stack([np.ones(ring.sum()), dx[ring], dy[ring]], axis=1)
    b = work[ring].astype(np.float64) - sky
    weight = np.ones(len(b))
    p = np.zeros(3)
    for _ in range(6):
        p = np.linalg.lstsq(A * weight[:, None], b * weight, rcond=None)[0]
        res = b - A @ p
        s = 1.4826 * float(np.median(np.abs(res))) + 1e-6
        weight = 1.0 / np.sqrt(1.0 + (res / (2 * s)) ** 2)
    if p[0] <= 1e-4:
        return None
    plane = np.clip(p[0] + p[1] * dx + p[2] * dy, 0.25 * p[0], 3 * p[0])
    flat_g: Grey = ((work - sky) / plane).astype(np.float32)
    # An edge that is soft anyway loses nothing by more smoothing, and much noise.
    smoothing = min(0.4 * outer.width, 0.04 * outer.r)
    refined = find_edge(blur(flat_g, smoothing), outer.x, outer.y, outer.r, True, 0.25, 3)
    outer = refined if refined is not None else outer
    rho = np.hypot(xx - outer.x, yy - outer.y) / outer.r
    disc = rho < 0.9
    if disc.sum() < 20:
        return None
    top = float((raw[disc] >= 0.985).mean())
    middle = float(np.median(flat_g[rho < 0.12])) if (rho < 0.12).any() else 1.0
    inner, depth, rival = _shadow(flat_g, smoothing, outer, rho)
    return FoundRings(outer, flat_g, k, x0, y0, inner, depth, rival, middle, top)


def _shadow(g: Grey, smoothing: float, outer: Edge, rho: Array) -> tuple[Edge | None, float, float]:
    """The dark shadow inside the disc of a flattened picture (ring 1, sky 0).

    Returns (circle, depth, area of the next dark place over the shadow's).
    """
    soft = blur(g, 0.05 * outer.r)  # thin vanes go, the shadow stays
    inside = rho < 0.75
    if not inside.any():
        return None, 0.0, 0.0
    flat = np.where(inside, soft, np.inf)
    at = np.unravel_index(int(np.argmin(flat)), flat.shape)
    depth = 1.0 - float(flat[at])
    if depth < 0.1:
        return None, depth, 0.0
    labels, _ = label((soft < 1.0 - 0.5 * depth) & (rho < 0.88))
    region = labels == labels[at]
    if region.sum() < 4:
        return None, depth, 0.0
    inward = np.bincount(labels[rho < 0.75].ravel())
    inward[0] = inward[labels[at]] = 0
    rival = float(inward.max() / region.sum())
    ys, xs = np.nonzero(region)
    r = math.sqrt(region.sum() / math.pi)
    r = max(r, 0.06 * outer.r, 1.2)
    smooth = blur(g, min(smoothing, 0.15 * r))
    inner = find_edge(smooth, float(xs.mean()), float(ys.mean()), r, False, 0.6, 4)
    return inner, depth, rival
