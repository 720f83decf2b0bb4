"""Small tools on a grey picture: shrinking, blur, noise, regions, values between pixels.

They need numpy alone: pillow is asked only to read files and to draw.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.errors import UserError
from plumbstar.units import Array, Bools

Grey = NDArray[np.float32]


def as_grey(image: NDArray[Any]) -> Grey:
    """(h, w) brightness 0 to 1 from (h, w) or (h, w, 1..4). Raises UserError."""
    a = np.asarray(image)
    if a.ndim not in (2, 3) or a.size == 0 or (a.ndim == 3 and a.shape[2] not in (1, 3, 4)):
        raise UserError(
            f"an array of shape {a.shape}",
            "a picture of shape (height, width) or (height, width, 3)",
            "Load it with read_photo",
        )
    if a.dtype.kind not in "uifb":
        raise UserError(f"an array of {a.dtype}", "numbers", "Load it with read_photo")
    if a.ndim == 3:
        channels = a[:, :, :3] if a.shape[2] >= 3 else a
        g = np.zeros(a.shape[:2], dtype=np.float32)
        for c in range(channels.shape[2]):  # one channel at a time keeps memory bounded
            g += channels[:, :, c]
        g /= np.float32(channels.shape[2])
    else:
        g = a.astype(np.float32)
    if not np.isfinite(g).all():
        raise UserError("a picture with values that are no numbers", "finite values", "Reload it")
    if a.dtype.kind in "ui":
        g /= np.float32(np.iinfo(a.dtype).max)
    elif float(g.max()) > 1.0:
        g /= np.float32(g.max())
    return g


def shrink(g: Grey, k: int) -> Grey:
    """Average k x k blocks; the ragged right and bottom edge is dropped."""
    if k <= 1:
        return g
    h, w = g.shape[0] // k * k, g.shape[1] // k * k
    out: Grey = g[:h, :w].reshape(h // k, k, w // k, k).mean(axis=(1, 3), dtype=np.float32)
    return out


def blur(g: Grey, sigma: float) -> Grey:
    """Gaussian blur of a small picture, edges held."""
    if sigma < 0.3:
        return g
    n = max(1, math.ceil(3 * sigma))
    k = np.exp(-0.5 * (np.arange(-n, n + 1) / sigma) ** 2).astype(np.float32)
    k /= k.sum()
    for axis in (0, 1):
        pad = [(n, n) if a == axis else (0, 0) for a in (0, 1)]
        p = np.pad(g, pad, mode="edge")
        size = g.shape[axis]
        acc = np.zeros_like(g)
        for i, weight in enumerate(k):
            acc += weight * (p[i : i + size] if axis == 0 else p[:, i : i + size])
        g = acc
    return g


def noise_of(g: Grey) -> float:
    """Noise of one pixel from differences of neighbours, robust against edges."""
    d = (g[:, 1:] - g[:, :-1]).ravel()
    return float(1.4826 * np.median(np.abs(d)) / math.sqrt(2)) if d.size else 0.0


def label(mask: Bools) -> tuple[NDArray[np.int32], int]:
    """Connected regions (4 neighbours): labels 1..n, 0 outside. Union-find over runs of a row."""
    h, w = mask.shape
    padded = np.zeros((h, w + 2), dtype=np.int8)
    padded[:, 1:-1] = mask
    step = np.diff(padded, axis=1)
    rows, starts = np.nonzero(step == 1)
    ends = np.nonzero(step == -1)[1]
    parent = list(range(len(rows)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = parent[parent[i]]
            i = parent[i]
        return i

    first = np.searchsorted(rows, np.arange(h + 1))
    s, e = starts.tolist(), ends.tolist()
    for y in range(1, h):
        i, i_end, j, j_end = first[y - 1], first[y], first[y], first[y + 1]
        while i < i_end and j < j_end:
            if s[i] < e[j] and s[j] < e[i]:
                a, b = root(int(i)), root(int(j))
                parent[max(a, b)] = min(a, b)
            if e[i] < e[j]:
                i += 1
            else:
                j += 1
    roots = np.array([root(i) for i in range(len(parent))], dtype=np.int64)
    _, compact = np.unique(roots, return_inverse=True)
    out = np.zeros((h, w), dtype=np.int32)
    lengths = ends - starts
    if len(rows):
        flat = np.repeat(rows * w + starts, lengths) + (
            np.arange(lengths.sum()) - np.repeat(np.cumsum(lengths) - lengths, lengths)
        )
        out.ravel()[flat] = np.repeat(compact + 1, lengths)
    return out, int(compact.max() + 1) if len(rows) else 0


def sample(g: Grey, x: Array, y: Array) -> Array:
    """Bilinear values; NaN outside the picture."""
    h, w = g.shape
    ok = (x >= 0) & (y >= 0) & (x <= w - 1) & (y <= h - 1)
    x0 = np.clip(x.astype(np.int64), 0, max(w - 2, 0))
    y0 = np.clip(y.astype(np.int64), 0, max(h - 2, 0))
    fx, fy = (x - x0).astype(np.float32), (y - y0).astype(np.float32)
    flat = g.ravel()
    at = y0 * w + x0
    top = flat.take(at)
    top += fx * (flat.take(at + 1) - top)
    at += w
    low = flat.take(at)
    low += fx * (flat.take(at + 1) - low)
    v = top + fy * (low - top)
    return np.where(ok, v, np.nan)
