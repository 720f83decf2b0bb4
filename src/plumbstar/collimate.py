"""Collimation from a phone picture of a defocused star.

A reflecting telescope with a central obstruction shows a defocused star as a bright disc with a
dark shadow in it. :func:`judge` finds the two circles and says how far the shadow is off-centre,
which way, with its uncertainty, and what that does and does not say about the mirrors.
docs/collimate.md derives every formula and gives the measured accuracy.

Picture coordinates: x to the right, y down, in pixels, (0, 0) the middle of the top left pixel.
Directions are degrees clockwise from up in the picture.
"""

from __future__ import annotations

import io
import math
import warnings
from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.errors import UserError

if TYPE_CHECKING:
    from PIL import Image

Array = NDArray[np.float64]
Grey = NDArray[np.float32]

# Limits on what is read from a file: beyond them a picture is refused, before it is decoded.
MAX_BYTES = 64 * 2**20
MAX_PIXELS = 110_000_000
# Larger pictures are shrunk on loading: 16 Mpx keeps memory under about 300 MB.
KEEP_PIXELS = 16_000_000
_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP")  # never those that run an interpreter

_MIN_RADIUS_PX = 12.0  # below it, tests/test_collimate.py's error bound is not met
_RAYS = 360
_RAYLEIGH_95 = 2.4477  # 95 % point of a two-dimensional offset over its 1 sigma (values.md E8)


@dataclass(frozen=True)
class Circle:
    """A fitted circle, pixels. Sigmas are 1 sigma, the centre's on each axis."""

    x_px: float
    y_px: float
    radius_px: float
    centre_sigma_px: float
    radius_sigma_px: float


@dataclass(frozen=True)
class Collimation:
    """What one picture (or a pair, see :func:`combine`) says.

    ``offset_fraction`` is the distance from the disc's middle to the shadow's middle over the
    disc's radius; ``offset_sigma`` its 1 sigma, ``across_sigma`` that of the component at right
    angles to it (without the radius's own error); ``offset_right`` and ``offset_down``
    the two components. ``direction_deg`` is clockwise from up in the picture and ``clock`` the
    same in hours; ``seen_deg`` and ``seen_clock`` are as the observer stands, after the turn and
    mirror given. ``axis_diameters`` is how far the coma-free point lies from the star, in
    diameters of the disc; ``axis_mm`` the same in mm (needs the defocus); ``coma_free_mm`` the
    radius of the diffraction-limited field; ``outside_beyond_mm`` the defocus beyond which this
    offset means the star lies outside that field. All of these hold if the whole offset is coma.
    ``sides`` is 2 for a pair, and then ``fixed_right``, ``fixed_down`` hold the part of the offset
    that is no coma, in disc radii, as it stands in the racked-out picture.
    """

    can_judge: bool
    reason: str
    verdict: str
    turn: str = ""
    caveats: tuple[str, ...] = ()
    severity: str = "unknown"
    outer: Circle | None = None
    inner: Circle | None = None
    offset_fraction: float = math.nan
    offset_sigma: float = math.nan
    across_sigma: float = math.nan
    offset_right: float = math.nan
    offset_down: float = math.nan
    direction_deg: float = math.nan
    direction_sigma_deg: float = math.nan
    clock: float = math.nan
    seen_deg: float = math.nan
    seen_clock: float = math.nan
    obstruction: float = math.nan
    focal_ratio: float | None = None
    defocus_mm: float | None = None
    coma_free_mm: float | None = None
    axis_diameters: float | None = None
    axis_mm: float | None = None
    outside_beyond_mm: float | None = None
    up_clock: float = 12.0
    mirrored: bool = False
    sides: int = 1
    fixed_right: float | None = None
    fixed_down: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON; a number that is not known is None."""

        def plain(v: Any) -> Any:
            if isinstance(v, float) and not math.isfinite(v):
                return None
            if isinstance(v, Circle):
                return {f.name: plain(getattr(v, f.name)) for f in fields(v)}
            return list(v) if isinstance(v, tuple) else v

        return {f.name: plain(getattr(self, f.name)) for f in fields(self)}


# ---------------------------------------------------------------- optics


def coma_free_radius_mm(focal_ratio: float) -> float:
    """Radius in the focal plane inside which coma leaves a paraboloid diffraction-limited, mm.

    h = F^3 / 90 mm for a Strehl ratio of 0.80 at 550 nm: telescope-optics.net,
    newtonian_off_axis_aberrations.htm, eq. 70.2. Coma only; a coma corrector widens it.
    """
    return focal_ratio**3 / 90.0


def axis_in_diameters(offset_fraction: float, focal_ratio: float, obstruction: float) -> float:
    """Distance from the star to the coma-free point, in diameters of the defocused disc.

    8 F^2 s / (3 (1 - eps^2)): the rim is carried 3 h / (16 F^2) off by third-order coma and the
    shadow's edge eps^2 of that (derived in docs/collimate.md; design/collimation_limits.py agrees
    to 0.2 % by tracing rays). Ignores that the secondary's silhouette moves too, which is as large
    again at the defocus used in practice: hence :func:`combine`.
    """
    return 8.0 * focal_ratio**2 * offset_fraction / (3.0 * (1.0 - obstruction**2))


def disc_diameter_mm(focal_ratio: float, defocus_mm: float) -> float:
    """Diameter of the defocused disc in the eyepiece's focal plane: |dz| / F, similar triangles."""
    return abs(defocus_mm) / focal_ratio


def outside_beyond_mm(offset_fraction: float, focal_ratio: float, obstruction: float) -> float:
    """Defocus beyond which this offset puts the star outside the coma-free field, mm.

    :func:`axis_in_diameters` times :func:`disc_diameter_mm` set equal to F^3/90 gives
    F^2 (1 - eps^2) / (240 s).
    """
    return focal_ratio**2 * (1.0 - obstruction**2) / (240.0 * max(offset_fraction, 1e-9))


# ---------------------------------------------------------------- reading the file


def _pillow() -> Any:
    try:
        from PIL import Image
    except ImportError:
        raise UserError(
            "a picture, but the part that reads pictures is not installed",
            "pillow",
            "Install it: pip install 'plumbstar[photos]'",
        ) from None
    return Image


def load_photo(source: Path | str | bytes) -> NDArray[np.uint8]:
    """Read a picture as (height, width, 3) uint8, turned upright by its EXIF mark.

    ``source`` is a path or the file's bytes. Pictures over 16 million pixels are shrunk. Raises
    UserError for a file that is missing, too large, damaged, or no picture.
    """
    image_module = _pillow()
    from PIL import ImageOps

    name = "the picture" if isinstance(source, bytes) else f"the picture {source}"
    if isinstance(source, bytes):
        data = source
    else:
        try:
            size = Path(source).stat().st_size
            data = b"" if size > MAX_BYTES else Path(source).read_bytes()
        except OSError as e:
            raise UserError(f"{name} ({e.strerror})", "a readable file", "Check the path") from None
        if size > MAX_BYTES:
            raise UserError(
                f"{name}, {size / 2**20:.0f} MB",
                f"at most {MAX_BYTES // 2**20} MB",
                "Save it smaller, as JPEG",
            )
    if len(data) > MAX_BYTES:
        raise UserError(
            f"{name}, {len(data) / 2**20:.0f} MB",
            f"at most {MAX_BYTES // 2**20} MB",
            "Save it smaller, as JPEG",
        )
    if data[4:8] == b"ftyp":
        raise UserError(
            f"{name}, in a phone's own format (HEIC, AVIF) or a film",
            "JPEG or PNG",
            "Set the camera to 'most compatible', or share the picture as JPEG",
        )
    not_a_picture = UserError(
        f"{name}, which is no picture that can be read",
        "a JPEG, PNG, WebP, TIFF or BMP file that opens in a viewer",
        "Save it again as JPEG",
    )
    try:
        # Only the header is read here, so a bomb is refused before it is unpacked. Pillow's own
        # guard warns at a lower size than ours and raises at a higher one.
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", image_module.DecompressionBombWarning)
            im = image_module.open(io.BytesIO(data), formats=_FORMATS)
    except image_module.DecompressionBombError:
        raise UserError(
            f"{name}, with far too many pixels",
            f"at most {MAX_PIXELS // 1_000_000} million pixels",
            "Save it smaller",
        ) from None
    except Exception:  # pillow's readers raise many kinds on damaged bytes
        raise not_a_picture from None
    w, h = im.size
    if w * h > MAX_PIXELS:
        raise UserError(
            f"{name}, {w} x {h} pixels",
            f"at most {MAX_PIXELS // 1_000_000} million pixels",
            "Save it smaller",
        )
    shrink = math.ceil(math.sqrt(w * h / KEEP_PIXELS))
    try:
        if shrink > 1:
            im.draft("RGB", (w // shrink, h // shrink))  # JPEG decodes small; no-op otherwise
        if im.mode.startswith("I;16") or im.mode in ("I", "F"):
            deep = np.asarray(im, dtype=np.float64)
            top = float(deep.max()) or 1.0
            im = image_module.fromarray((deep / top * 255).astype(np.uint8))
        if im.size[0] * im.size[1] > KEEP_PIXELS:
            im = im.reduce(math.ceil(math.sqrt(im.size[0] * im.size[1] / KEEP_PIXELS)))
        upright = ImageOps.exif_transpose(im)
        return np.asarray(upright.convert("RGB"), dtype=np.uint8)
    except MemoryError:
        raise
    except Exception:
        raise not_a_picture from None


# ---------------------------------------------------------------- small image tools


def _grey(image: NDArray[Any]) -> Grey:
    """(h, w) brightness 0 to 1 from (h, w) or (h, w, 1..4). Raises UserError."""
    a = np.asarray(image)
    if a.ndim not in (2, 3) or a.size == 0 or (a.ndim == 3 and a.shape[2] not in (1, 3, 4)):
        raise UserError(
            f"an array of shape {a.shape}",
            "a picture of shape (height, width) or (height, width, 3)",
            "Load it with load_photo",
        )
    if a.dtype.kind not in "uifb":
        raise UserError(f"an array of {a.dtype}", "numbers", "Load it with load_photo")
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


def _reduce(g: Grey, k: int) -> Grey:
    """Average k x k blocks; the ragged right and bottom edge is dropped."""
    if k <= 1:
        return g
    h, w = g.shape[0] // k * k, g.shape[1] // k * k
    out: Grey = g[:h, :w].reshape(h // k, k, w // k, k).mean(axis=(1, 3), dtype=np.float32)
    return out


def _blur(g: Grey, sigma: float) -> Grey:
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


def _noise(g: Grey) -> float:
    """Noise of one pixel from differences of neighbours, robust against edges."""
    d = (g[:, 1:] - g[:, :-1]).ravel()
    return float(1.4826 * np.median(np.abs(d)) / math.sqrt(2)) if d.size else 0.0


def _label(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
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


def _sample(g: Grey, x: Array, y: Array) -> Array:
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


# ---------------------------------------------------------------- finding circles


@dataclass(frozen=True)
class _Edge:
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


def _fit_curve(
    theta: NDArray[Any], r: NDArray[Any], ok: NDArray[np.bool_], r0: float
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


def _edge(
    g: Grey, x: float, y: float, r: float, falling: bool, reach: float, rounds: int = 4
) -> _Edge | None:
    """Refine a circle (x, y, r) along rays; ``falling`` for bright inside (the disc's rim).

    ``reach`` bounds the search outward and inward, as a part of r: the first round looks that far
    for the steepest step, later ones take the half-level crossing near the curve.
    """
    theta = np.arange(_RAYS) * (2 * math.pi / _RAYS)
    ct, st = np.cos(theta)[:, None], np.sin(theta)[:, None]
    sign = 1.0 if falling else -1.0
    start_r = r
    curve = np.full(_RAYS, r)
    result: _Edge | None = None
    for i in range(rounds):
        span = reach if i == 0 else min(reach, 0.22)
        n = int(np.clip(2 * span * r / 0.6, 36, 120))
        u = np.linspace(-span, span, n)
        start_scale = r
        rr = curve[:, None] + u[None, :] * r
        v = _sample(g, x + rr * ct, y + rr * st)
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
        result = _Edge(
            float(x),
            float(y),
            r,
            cov[np.ix_(order, order)],
            float((good & inside_picture).sum() / inside_picture.sum()),
            seen,
            typical,
            spread,
            width,
        )
        curve = np.maximum(curve, 0.2 * r)
    return result


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


def _candidates(small: Grey, sky: float, peak: float) -> Iterator[tuple[float, float, float]]:
    """First guesses of the disc at several thresholds, two regions each."""
    h, w = small.shape
    found: list[tuple[float, float, float]] = []
    for part, close in ((0.5, 1.0), (0.3, 1.0), (0.15, 1.0), (0.35, 4.0)):
        g = _blur(small, close)
        top = max(float(g.max()), 1e-6) if close > 1 else peak
        labels, n = _label(g > sky + part * (min(peak, top) - sky))
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


@dataclass(frozen=True)
class _Found:
    """The two circles in one working picture and how to get back to the whole one."""

    outer: _Edge
    work: Grey  # cropped, reduced, slightly blurred
    k: int
    x0: int
    y0: int
    inner: _Edge | None
    depth: float  # (ring - shadow) / (ring - sky)
    rival: float  # area of the next dark place in the disc over the shadow's
    middle: float  # brightness at the disc's middle over the ring's, sky removed
    flat: float  # part of the disc at the top of the scale


def _look(g: Grey, x: float, y: float, r: float) -> _Found | None:
    """Refine one first guess (whole-picture pixels) on a crop of bounded size."""
    h, w = g.shape
    half = 1.8 * r
    x0, x1 = max(0, int(x - half)), min(w, int(x + half) + 2)
    y0, y1 = max(0, int(y - half)), min(h, int(y + half) + 2)
    if x1 - x0 < 8 or y1 - y0 < 8:
        return None
    crop = g[y0:y1, x0:x1]
    k = max(1, round(r / 110))
    raw = _reduce(crop, k)
    wx, wy, wr = (x - x0 + 0.5) / k - 0.5, (y - y0 + 0.5) / k - 0.5, r / k
    work = _blur(raw, float(np.clip(0.012 * wr, 0.6, 3.0)))
    outer = _edge(work, wx, wy, wr, True, 0.45, 2)
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
    refined = _edge(_blur(flat_g, smoothing), outer.x, outer.y, outer.r, True, 0.25, 3)
    outer = refined if refined is not None else outer
    rho = np.hypot(xx - outer.x, yy - outer.y) / outer.r
    disc = rho < 0.9
    if disc.sum() < 20:
        return None
    top = float((raw[disc] >= 0.985).mean())
    middle = float(np.median(flat_g[rho < 0.12])) if (rho < 0.12).any() else 1.0
    inner, depth, rival = _shadow(flat_g, smoothing, outer, rho)
    return _Found(outer, flat_g, k, x0, y0, inner, depth, rival, middle, top)


def _shadow(
    g: Grey, smoothing: float, outer: _Edge, rho: Array
) -> tuple[_Edge | None, float, float]:
    """The dark shadow inside the disc of a flattened picture (ring 1, sky 0).

    Returns (circle, depth, area of the next dark place over the shadow's).
    """
    soft = _blur(g, 0.05 * outer.r)  # thin vanes go, the shadow stays
    inside = rho < 0.75
    if not inside.any():
        return None, 0.0, 0.0
    flat = np.where(inside, soft, np.inf)
    at = np.unravel_index(int(np.argmin(flat)), flat.shape)
    depth = 1.0 - float(flat[at])
    if depth < 0.1:
        return None, depth, 0.0
    labels, _ = _label((soft < 1.0 - 0.5 * depth) & (rho < 0.88))
    region = labels == labels[at]
    if region.sum() < 4:
        return None, depth, 0.0
    inward = np.bincount(labels[rho < 0.75].ravel())
    inward[0] = inward[labels[at]] = 0
    rival = float(inward.max() / region.sum())
    ys, xs = np.nonzero(region)
    r = math.sqrt(region.sum() / math.pi)
    r = max(r, 0.06 * outer.r, 1.2)
    smooth = _blur(g, min(smoothing, 0.15 * r))
    inner = _edge(smooth, float(xs.mean()), float(ys.mean()), r, False, 0.6, 4)
    return inner, depth, rival


# ---------------------------------------------------------------- the judgement


def _cannot(reason: str, **known: Any) -> Collimation:
    return Collimation(False, reason, f"This picture cannot be judged: {reason}", **known)


def judge(
    image: NDArray[Any],
    focal_ratio: float | None = None,
    *,
    defocus_mm: float | None = None,
    up_clock: float = 12.0,
    mirrored: bool = False,
) -> Collimation:
    """Find disc and shadow in a picture and say what their offset means.

    ``image`` is (height, width) or (height, width, 3), uint8 or float (0 to 1, or scaled by its
    maximum). ``focal_ratio`` and ``defocus_mm`` (how far the focuser stands from focus, either
    sign) are optional and add the comparison with the coma-free field. ``up_clock`` says which
    clock position in the picture is up for the observer at the eyepiece; ``mirrored`` that the
    picture is left-right reversed against the eyepiece's view. A picture that cannot be judged
    gives ``can_judge`` False with the reason. Raises UserError for values that make no sense.
    """
    _check_numbers(focal_ratio, defocus_mm, up_clock)
    known: dict[str, Any] = {
        "focal_ratio": focal_ratio,
        "defocus_mm": defocus_mm,
        "up_clock": up_clock,
        "mirrored": mirrored,
        "coma_free_mm": None if focal_ratio is None else coma_free_radius_mm(focal_ratio),
    }
    g = _grey(image)
    h, w = g.shape
    if min(h, w) < 2 * _MIN_RADIUS_PX + 8:
        return _cannot(f"it is only {w} x {h} pixels. Send the whole picture.", **known)
    k = max(1, math.ceil(max(h, w) / 480))
    small = _blur(_reduce(g, k), 1.0)
    sky, peak = float(np.percentile(small, 10)), float(small.max())
    noise = _noise(small)
    if sky > 0.95:
        return _cannot("it is overexposed to white all over. Expose much less.", **known)
    if peak - sky < max(0.04, 6 * noise):
        return _cannot(
            "nothing in it stands out from the background. Expose longer, on a brighter star.",
            **known,
        )
    best: _Found | None = None
    best_score = 0.0
    for cx, cy, cr in _candidates(small, sky, peak):
        f = _look(g, (cx + 0.5) * k - 0.5, (cy + 0.5) * k - 0.5, cr * k)
        if f is None:
            continue
        score = f.outer.agree * min(1.0, f.outer.seen / 0.6)
        if f.inner is not None:
            score += 0.5 * f.inner.agree
        if score > best_score:
            best, best_score = f, score
        if score > 1.4 and f.outer.scatter < 0.02:
            break  # both circles round and whole: no other guess can do better
    if best is None:
        return _cannot(
            "no round disc was found in it. It takes one bright star, well out of focus, on a "
            "dark sky.",
            **known,
        )
    return _conclude(best, small, k, sky, noise, known)


def _check_numbers(focal_ratio: float | None, defocus_mm: float | None, up_clock: float) -> None:
    if focal_ratio is not None and not 1.0 <= focal_ratio <= 60.0:
        raise UserError(
            f"a focal ratio of {focal_ratio:g}",
            "1 to 60 (focal length over aperture)",
            "Check the kit's telescope",
        )
    if defocus_mm is not None and not 0.01 <= abs(defocus_mm) <= 300.0:
        raise UserError(
            f"a defocus of {defocus_mm:g} mm",
            "0.01 to 300 mm, how far the focuser stands from sharp focus",
            "Measure it on the focuser's tube with a ruler",
        )
    if not 0.0 <= up_clock <= 12.0:
        raise UserError(f"up at {up_clock:g} o'clock", "0 to 12", "12 means the picture's top")


def _conclude(
    f: _Found, small: Grey, k_small: int, sky: float, noise: float, known: dict[str, Any]
) -> Collimation:
    """Every ground for refusing, then the numbers."""
    o = f.outer
    r_px = o.r * f.k
    if r_px < _MIN_RADIUS_PX:
        return _cannot(
            f"the star is only {2 * r_px:.0f} pixels across: too small, or in focus. Rack the "
            "focuser further out, or zoom in, until the disc is at least 100 pixels across.",
            **known,
        )
    if o.seen < 0.3:
        return _cannot("most of the disc lies outside the picture. Put it in the middle.", **known)
    if o.agree < 0.72 or o.scatter > 0.04:
        return _cannot(
            "its brightest part is not one round disc. It takes a single bright star, well out "
            "of focus, on a dark sky.",
            **known,
        )
    if _others(f, small, k_small, sky):
        return _cannot(
            "there is more than one star or lamp in it. Choose a star that stands alone, or crop "
            "the picture.",
            **known,
        )
    i = f.inner
    if i is None or f.depth < 0.12 or i.contrast < max(0.07, 0.2 * f.depth):
        if f.flat > 0.6:
            why = (
                "the disc is overexposed to plain white, so that the shadow is lost. Expose less "
                "(touch the disc on the screen and pull the brightness down)."
            )
        elif f.middle > 1.4:
            why = (
                "the light is gathered in the middle: the star is in focus or nearly. Rack the "
                "focuser out until there is a wide disc with a dark shadow."
            )
        else:
            why = (
                "there is no dark shadow in the disc. A telescope without a central obstruction "
                "shows none and cannot be judged this way; otherwise rack the focuser further."
            )
        return _cannot(why, **known)
    if f.rival > 0.3:
        return _cannot(
            "there is more than one dark place in the disc. It takes a star, not the Moon or a "
            "lamp, and clean optics.",
            **known,
        )
    eps = i.r / o.r
    off_x, off_y = (i.x - o.x) / o.r, (i.y - o.y) / o.r
    s = math.hypot(off_x, off_y)
    if i.agree < 0.6 or i.seen < 0.6 or not 0.05 < eps < 0.8 or s + eps > 1.02:
        return _cannot(
            "what is dark in the disc is not one round shadow. Try a steadier picture with the "
            "focuser racked further out.",
            **known,
        )
    outer, inner = _whole(f, o), _whole(f, i)
    sigma = math.hypot(outer.centre_sigma_px, inner.centre_sigma_px) / r_px
    if sigma > 0.08:
        return _cannot(
            f"the circles are too uncertain ({100 * sigma:.0f} % of the disc's radius). Try a "
            "sharper, brighter picture with the whole disc in it.",
            outer=outer,
            inner=inner,
            **known,
        )
    # The radius is the unit of the offset, so its error stretches the offset along itself.
    along = math.hypot(sigma, s * outer.radius_sigma_px / r_px)
    base = Collimation(True, "", "", outer=outer, inner=inner, obstruction=eps, **known)
    return _describe(_with_offset(base, off_x, off_y, along, sigma))


def _whole(f: _Found, e: _Edge) -> Circle:
    """From the working picture to the whole one, with the floors that simulation asked for.

    Beyond the rays' scatter: pixel grid, JPEG blocks and uneven light pull a blurred edge about
    together, most in the small shadow, so 0.015 pixel, 0.012 % of the disc's radius and 0.4 % of
    the shadow's edge width are added in quadrature. A radius is the half-level line, and a
    camera's tone curve moves that by a part of the edge's width (in the median 1 % of it was
    measured for gamma 1, 12 % for gamma 0.45): 7 % is added. design/collimation_accuracy.py prints
    how often the truth then lies within.
    """
    blur = 0.004 * e.width if e is f.inner else 0.0
    centre2 = 0.5 * (e.cov[0, 0] + e.cov[1, 1]) + 0.015**2 + (0.00012 * f.outer.r) ** 2 + blur**2
    radius2 = e.cov[2, 2] + 0.015**2 + (0.07 * e.width) ** 2
    return Circle(
        f.x0 + (e.x + 0.5) * f.k - 0.5,
        f.y0 + (e.y + 0.5) * f.k - 0.5,
        e.r * f.k,
        math.sqrt(centre2) * f.k,
        math.sqrt(radius2) * f.k,
    )


def _others(f: _Found, small: Grey, k: int, sky: float) -> bool:
    """Is there other bright ground, larger than a faint star's speck, beside the disc?"""
    o = f.outer
    x = (f.x0 + (o.x + 0.5) * f.k) / k - 0.5
    y = (f.y0 + (o.y + 0.5) * f.k) / k - 0.5
    r = o.r * f.k / k
    yy, xx = np.mgrid[0 : small.shape[0], 0 : small.shape[1]]
    rho = np.hypot(xx - x, yy - y) / r
    ring = float(np.median(small[(rho > 0.65) & (rho < 0.9)]))
    near = (rho > 1.25) & (rho < 1.6)  # the eyepiece's own glow is no star
    if near.any():
        sky = max(sky, float(np.median(small[near])))
    bright = (small > sky + 0.3 * (ring - sky)) & (rho > 1.2)
    labels, n = _label(bright)
    return bool(n and np.bincount(labels.ravel())[1:].max() > 0.12 * math.pi * r * r)


def _with_offset(
    c: Collimation, right: float, down: float, along: float, across: float
) -> Collimation:
    """Put an offset (disc radii), its sigmas and everything that follows into the record."""
    s = math.hypot(right, down)
    direction = math.degrees(math.atan2(right, -down)) % 360.0
    turn = direction - 30.0 * (c.up_clock % 12.0)
    seen = (-turn if c.mirrored else turn) % 360.0
    F, eps = c.focal_ratio, c.obstruction
    diameters = None if F is None else axis_in_diameters(s, F, eps)
    mm = None
    if F is not None and diameters is not None and c.defocus_mm is not None:
        mm = diameters * disc_diameter_mm(F, c.defocus_mm)
    return replace(
        c,
        offset_fraction=s,
        offset_sigma=along,
        across_sigma=across,
        offset_right=right,
        offset_down=down,
        direction_deg=direction,
        direction_sigma_deg=min(math.degrees(across / max(s, 1e-9)), 180.0),
        clock=direction / 30.0,
        seen_deg=seen,
        seen_clock=seen / 30.0,
        axis_diameters=diameters,
        axis_mm=mm,
        outside_beyond_mm=None if F is None else outside_beyond_mm(s, F, eps),
    )


def clock_words(clock: float) -> str:
    """Hours 0 to 12 as "4 o'clock" or "half past 4", to the nearest half hour."""
    halves = round(clock * 2) % 24
    hour = halves // 2 or 12
    return f"half past {hour}" if halves % 2 else f"{hour} o'clock"


def _severity(c: Collimation) -> str:
    """centred, slight, clear or strong.

    With focal ratio and defocus, against :func:`coma_free_radius_mm`: slight inside it, clear to
    three times as far, strong beyond. Otherwise by the offset alone, at 5 and
    15 % of the disc's radius: common practice, no source. Three times is common practice too.
    """
    if c.offset_fraction < _RAYLEIGH_95 * c.offset_sigma:
        return "centred"
    if c.axis_mm is not None and c.coma_free_mm is not None:
        ratio = c.axis_mm / c.coma_free_mm
        return "slight" if ratio <= 1 else "clear" if ratio <= 3 else "strong"
    return (
        "slight" if c.offset_fraction < 0.05 else "clear" if c.offset_fraction < 0.15 else "strong"
    )


def _describe(c: Collimation) -> Collimation:
    """Severity and sentences from the numbers."""
    severity = _severity(c)
    # No error is told as nil.
    pct, err = 100 * c.offset_fraction, max(100 * c.offset_sigma, 0.1)
    what = "The shadow" if c.sides == 1 else "The part of the shadow's offset that is coma"
    if severity == "centred":
        verdict = (
            f"The shadow is centred as far as this can tell: off by {pct:.1f} % of the disc's "
            f"radius, with a measuring error of {err:.1f} %."
        )
        if c.sides == 2:
            verdict = (
                f"No coma is to be seen: {pct:.1f} % of the disc's radius, with a measuring error "
                f"of {err:.1f} %."
            )
        return replace(
            c, severity=severity, verdict=verdict, turn="Nothing to turn.", caveats=_caveats(c)
        )
    place = f"{clock_words(c.clock)} in the picture"
    if c.mirrored or c.up_clock % 12:
        place = f"{clock_words(c.seen_clock)} as you stand ({place})"
    verb = "is off-centre by" if c.sides == 1 else "is"
    verdict = f"{what} {verb} {pct:.1f} +/- {err:.1f} % of the disc's radius, toward {place}."
    verdict += _against_field(c)
    turn = (
        f"Push the tube so that the star drifts toward {place}, the side the shadow is on, and "
        "bring it back to the middle with the adjusting screws alone: the screws must move the "
        "star away from the shadow's side. Turn a little, centre with the tube, look again. The "
        "offset must shrink; if it grows, turn the other way."
    )
    if c.axis_diameters is not None:
        turn = (
            turn[: turn.index(" Turn a little")]
            + f" {_proviso(c)}the good place lies about {c.axis_diameters:.1f} "
            "disc diameters from the star on that side." + turn[turn.index(" Turn a little") :]
        )
    return replace(c, severity=severity, verdict=verdict, turn=turn, caveats=_caveats(c))


def _proviso(c: Collimation) -> str:
    """What one picture must leave open and a pair has settled."""
    return "If that is all coma, " if c.sides == 1 else "By that, "


def _against_field(c: Collimation) -> str:
    """One sentence that compares with the coma-free field, as far as the inputs allow."""
    if c.focal_ratio is None or c.coma_free_mm is None or c.outside_beyond_mm is None:
        return ""
    field = (
        f"the field free of harmful coma (radius {c.coma_free_mm:.2f} mm at f/{c.focal_ratio:g})"
    )
    if c.axis_mm is not None:
        ratio = c.axis_mm / c.coma_free_mm
        where = "inside" if ratio <= 1 else "outside"
        return (
            f" {_proviso(c)}the middle of the eyepiece lies {c.axis_mm:.2f} mm from the "
            f"mirror's axis, {where} {field}."
        )
    return (
        f" {_proviso(c)}the middle of the eyepiece lies outside {field} when the focuser "
        f"stood more than {c.outside_beyond_mm:.1f} mm from focus."
    )


def _caveats(c: Collimation) -> tuple[str, ...]:
    out = [
        "It holds for a star in the middle of the field: anywhere else the field's own coma is "
        "added."
    ]
    if c.sides == 1:
        out.append(
            "One picture cannot part coma from a secondary that sits off-centre (as many do on "
            "purpose) or whose outline slides over a tilted mirror: less than half may be coma. "
            "Take it with the focuser racked OUT, where tilt and coma add and do not cancel; a "
            "second picture, racked in by as much, parts them."
        )
    if c.focal_ratio is not None and c.defocus_mm is None:
        out.append(
            "The same misalignment shows less the further the focuser is from focus; say how far "
            "it stood to have it in millimetres."
        )
    return tuple(out)


def combine(racked_out: Collimation, racked_in: Collimation) -> Collimation:
    """Part coma from a shadow that is off-centre for another reason, from both sides of focus.

    Coma carries the shadow the same way on both sides by the same length; everything that is fixed
    in the pupil (an offset secondary, the silhouette's slide over a tilted primary) turns over with
    the disc. In lengths, with disc radii R: s_out R_out = c + x R_out and s_in R_in = c - x R_in,
    so c = R_out R_in (s_out + s_in) / (R_out + R_in). The result is stated for the racked-out disc.
    Both pictures must be taken with the same zoom, the phone held the same way, and the star
    centred. Raises UserError if either cannot be judged, or the discs are too unlike.
    """
    for name, c in (("racked out", racked_out), ("racked in", racked_in)):
        if not c.can_judge:
            raise UserError(
                f"the picture {name}, which cannot be judged: {c.reason.rstrip('.')}",
                "two good pictures",
                "Take that one again",
            )
    assert racked_out.outer is not None
    assert racked_in.outer is not None
    ro, ri = racked_out.outer.radius_px, racked_in.outer.radius_px
    if not 1 / 3 <= ro / ri <= 3:
        raise UserError(
            f"discs of {2 * ro:.0f} and {2 * ri:.0f} pixels",
            "two of nearly the same size",
            "Rack in by as much as you racked out, with the same zoom",
        )
    a, b = ri / (ro + ri), ri / (ro + ri)
    right = a * racked_out.offset_right + b * racked_in.offset_right
    down = a * racked_out.offset_down + b * racked_in.offset_down
    along = math.hypot(a * racked_out.offset_sigma, b * racked_in.offset_sigma)
    across = math.hypot(a * racked_out.across_sigma, b * racked_in.across_sigma)
    both = replace(
        racked_out,
        sides=2,
        fixed_right=racked_out.offset_right - right,
        fixed_down=racked_out.offset_down - down,
    )
    return _describe(_with_offset(both, right, down, along, across))


# ---------------------------------------------------------------- the picture with the answer


def overlay(image: NDArray[Any], result: Collimation, long_side_px: int = 1400) -> Image.Image:
    """The picture in grey with the found circles, the offset's arrow and the verdict in red.

    The arrow starts at the disc's middle and is drawn 1, 2, 5, 10 or 20 times too long, as the
    text says. Returns an RGB picture at most ``long_side_px`` on the longer side plus a text band.
    """
    image_module = _pillow()
    from PIL import ImageDraw, ImageFont

    g = _grey(image)
    im = image_module.fromarray((np.clip(g, 0, 1) * 255).astype(np.uint8))
    scale = min(1.0, long_side_px / max(im.size))
    if scale < 1.0:
        im = im.resize((max(1, round(im.size[0] * scale)), max(1, round(im.size[1] * scale))))
    elif max(im.size) < 600:
        scale = 600 / max(im.size)
        im = im.resize((round(im.size[0] * scale), round(im.size[1] * scale)))
    im = im.convert("RGB")
    draw = ImageDraw.Draw(im)
    red = (255, 40, 30)
    width = max(2, round(max(im.size) / 400))
    note = ""
    if result.outer and result.inner:
        for c in (result.outer, result.inner):
            x, y, r = ((v + 0.5) * scale for v in (c.x_px, c.y_px, c.radius_px - 0.5))
            draw.ellipse((x - r, y - r, x + r, y + r), outline=red, width=width)
        if result.can_judge and result.severity != "centred":
            s = result.offset_fraction
            times = max((t for t in (1, 2, 5, 10, 20) if t * s <= 0.9), default=1)
            R = result.outer.radius_px * scale
            x, y = (result.outer.x_px + 0.5) * scale, (result.outer.y_px + 0.5) * scale
            tip = (x + times * R * result.offset_right, y + times * R * result.offset_down)
            draw.line((x, y, *tip), fill=red, width=width)
            a = math.atan2(result.offset_down, result.offset_right)
            for side in (-1, 1):
                b = a + side * 2.6
                barb = (tip[0] + 6 * width * math.cos(b), tip[1] + 6 * width * math.sin(b))
                draw.line((*tip, *barb), fill=red, width=width)
            if times > 1:
                note = f" (Arrow drawn {times} times too long.)"
    size = max(14, round(im.size[0] / 42))
    font: Any
    try:
        font = ImageFont.load_default(size)
    except (TypeError, OSError, ImportError):  # pillow without its outline fonts
        font = ImageFont.load_default()
    lines = _wrap(result.verdict + note, lambda t: float(draw.textlength(t, font=font)),
                  im.size[0] - 2 * size)  # fmt: skip
    band = round(size * (1.35 * len(lines) + 1))
    out: Image.Image = image_module.new("RGB", (im.size[0], im.size[1] + band), (0, 0, 0))
    out.paste(im, (0, 0))
    pen = ImageDraw.Draw(out)
    for n, line in enumerate(lines):
        pen.text((size, im.size[1] + size * (0.5 + 1.35 * n)), line, fill=red, font=font)
    return out


def _wrap(text: str, measure: Any, room: float) -> list[str]:
    """Break words into lines no wider than ``room`` by ``measure``."""
    lines: list[str] = []
    for word in text.split():
        if lines and measure(f"{lines[-1]} {word}") <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
