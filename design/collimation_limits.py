"""What the offset of the shadow in a defocused star says about the mirrors, by exact ray tracing.

Run: .venv/bin/python design/collimation_limits.py        (about two seconds)

Questions, each settled by tracing rays through tilted mirrors instead of by memory:

1. Is the offset a coma-only closed form gives right, and does it point to or from the coma-free
   point?
2. The secondary's silhouette slides over the primary when a tilted mirror makes the tube point
   beside the star. How large is that beside the coma, and does it add or cancel?
3. Which way must the star's image be moved *by the screws*: toward the shadow's side or away?
4. Does the answer hold for a two-mirror telescope whose secondary is tilted?

Everything is measured in the plane of the eyepiece's focus, x and y as that plane is seen; a phone
picture of it is turned and perhaps mirrored, but "toward the shadow" survives both.
The conclusion is printed last and repeated in docs/collimate.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Mirror:
    """A conic z = c r^2 / (1 + sqrt(1 - (1+k) c^2 r^2)) with its vertex at height ``z_mm``.

    Tilted about its vertex by ``tilt_rad`` toward +x.
    """

    z_mm: float
    c: float
    k: float
    tilt_rad: float = 0.0

    def frame(self) -> Array:
        """Columns are the mirror's own axes in the tube's frame."""
        s, co = math.sin(self.tilt_rad), math.cos(self.tilt_rad)
        return np.array([[co, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, co]])

    def reflect(self, p: Array, d: Array) -> tuple[Array, Array]:
        """Rays (n, 3) onto the mirror and off it. The implicit conic is a quadratic in the path."""
        R = self.frame()
        o, u = (p - [0.0, 0.0, self.z_mm]) @ R, d @ R
        # c (x^2 + y^2 + (1+k) z^2) - 2 z = 0
        w = np.array([1.0, 1.0, 1.0 + self.k])
        A = self.c * (u * u * w).sum(1)
        B = 2 * self.c * (o * u * w).sum(1) - 2 * u[:, 2]
        C = self.c * (o * o * w).sum(1) - 2 * o[:, 2]
        q = -0.5 * (B + np.copysign(np.sqrt(B * B - 4 * A * C), B))
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.stack([q / A, C / q])
        z = o[:, 2] + t * u[:, 2]
        pick = np.argmin(np.where(np.isfinite(z), np.abs(z), np.inf), axis=0)  # the vertex's side
        t1 = t[pick, np.arange(len(p))]
        hit = o + t1[:, None] * u
        normal = np.stack(
            [
                self.c * hit[:, 0],
                self.c * hit[:, 1],
                self.c * (1 + self.k) * hit[:, 2] - 1.0,
            ],
            axis=1,
        )
        normal /= np.linalg.norm(normal, axis=1)[:, None]
        out = u - 2 * (u * normal).sum(1)[:, None] * normal
        return hit @ R.T + [0.0, 0.0, self.z_mm], out @ R.T


@dataclass(frozen=True)
class Telescope:
    """Mirrors in the order the light meets them, an eyepiece centred on (``eyepiece_x_mm``, 0)."""

    mirrors: tuple[Mirror, ...]
    aperture_mm: float
    obstruction: float
    obstruction_z_mm: float
    focus_z_mm: float
    down_after: bool = False  # the light reaches the focus travelling toward -z
    eyepiece_x_mm: float = 0.0
    obstruction_x_mm: float = 0.0

    def trace(self, starts: Array, slope: float, plane_z_mm: float) -> Array:
        d = np.tile(np.array([slope, 0.0, -1.0]) / math.hypot(slope, 1.0), (len(starts), 1))
        p = starts
        for m in self.mirrors:
            p, d = m.reflect(p, d)
        k = (plane_z_mm - p[:, 2]) / d[:, 2]
        xy: Array = (p + k[:, None] * d)[:, :2]
        return xy

    def star_x(self, slope: float) -> float:
        """Where the ray through the middle of the primary lands in the plane of focus, mm."""
        start = np.array([[-slope * 1.0, 0.0, 1.0]])
        return float(self.trace(start, slope, self.focus_z_mm)[0, 0])

    def centring_slope(self) -> float:
        """The direction of a star that lies in the middle of the eyepiece (secant steps)."""
        a, b = 0.0, 1e-4
        fa, fb = (self.star_x(s) - self.eyepiece_x_mm for s in (a, b))
        for _ in range(20):
            if fb == fa:
                break
            a, b, fa = b, b - fb * (b - a) / (fb - fa), fb
            fb = self.star_x(b) - self.eyepiece_x_mm
        return b

    def offset(self, racked_out_mm: float) -> tuple[float, float]:
        """(offset of the shadow along x in disc radii, shadow/disc) for a centred star."""
        slope = self.centring_slope()
        th = np.linspace(0, 2 * np.pi, 720, endpoint=False)
        ring = np.stack([np.cos(th), np.sin(th), np.zeros_like(th)], axis=1)
        a = self.aperture_mm / 2
        rim = ring * a
        rim[:, 2] = 0.5 * self.mirrors[0].c * a * a
        rim = rim @ self.mirrors[0].frame().T
        sec = ring * a * self.obstruction + [self.obstruction_x_mm, 0, self.obstruction_z_mm]
        plane = self.focus_z_mm + (-racked_out_mm if self.down_after else racked_out_mm)
        # Rays start above all glass so that each meets the mirrors in order.
        up = 4 * max(self.focus_z_mm, self.obstruction_z_mm, 1.0)
        back = np.array([-slope * up, 0.0, up])
        (co, ro), (ci, ri) = (circle(self.trace(s + back, slope, plane)) for s in (rim, sec))
        return float(ci[0] - co[0]) / ro, ri / ro


def circle(p: Array) -> tuple[Array, float]:
    """Algebraic least-squares circle through (n, 2) points."""
    s = np.linalg.lstsq(np.c_[p, np.ones(len(p))], (p**2).sum(1), rcond=None)[0]
    c = s[:2] / 2
    return c, float(math.sqrt(s[2] + c @ c))


def newtonian(
    tilt_mm: float = 0.0, flat_mm: float = 0.0, silhouette: bool = True, sec_x_mm: float = 0.0
) -> Telescope:
    """The demo's 280 mm f/5.2. The flat only folds the light, so it is left out and its tilt is an
    eyepiece moved by ``flat_mm``; the primary's tilt puts its axis ``tilt_mm`` from the middle."""
    f = 1456.0
    primary = Mirror(0.0, 1 / (2 * f), -1.0, tilt_mm / f)
    return Telescope((primary,), 280.0, 0.25, 0.8 * f if silhouette else 1e-3, f,
                     eyepiece_x_mm=flat_mm, obstruction_x_mm=sec_x_mm)  # fmt: skip


def cassegrain(tilt_rad: float, spherical: bool) -> Telescope:
    """200 mm f/10, f/2.5 primary; hyperbolic or spherical secondary, tilted at its vertex."""
    f1, m, back = 500.0, 4.0, 150.0  # focus 150 mm behind the primary
    p = (f1 + back) / (m + 1)  # from the secondary to the primary's focus
    r2 = 2 * p * m / (m - 1)
    k2 = 0.0 if spherical else -(((m + 1) / (m - 1)) ** 2)
    # Third-order spherical aberration cancelled by the primary's conic (Dall-Kirkham form).
    k1 = -1.0
    if spherical:
        k1 = -1.0 + (p / f1) * ((m - 1) / m) ** 3 * ((m + 1) / (m - 1)) ** 2
    z2 = f1 - p
    mirrors = (Mirror(0.0, 1 / (2 * f1), k1), Mirror(z2, 1 / r2, k2, tilt_rad))
    return Telescope(mirrors, 200.0, 0.3, z2, -back, down_after=True)


def coma_offset(h_mm: float, f_ratio: float, eps: float, defocus_mm: float) -> float:
    """3 h (1 - eps^2) / (8 F |dz|): derived in docs/collimate.md."""
    return 3 * h_mm * (1 - eps**2) / (8 * f_ratio * abs(defocus_mm))


def main() -> None:
    print("1. Newtonian, silhouette taken out: coma alone. Axis at +P mm from the middle.")
    print("   P mm  racked out mm   traced    closed form")
    for P in (1.0, 5.0):
        for dz in (-9.0, -3.0, 3.0, 9.0):
            s, _ = newtonian(P, silhouette=False).offset(dz)
            print(f"   {P:4.0f}  {dz:13.0f}  {s:+8.4f}   {coma_offset(P, 5.2, 0.25, dz):+8.4f}")
    print("   The shadow goes TOWARD the coma-free point on both sides of focus.\n")

    print("2. The same with the secondary's silhouette 0.8 F up the tube.")
    print("   fault           racked out mm   traced    of it coma   mean of the two sides")
    for label, t in (("primary, P=5 mm", newtonian(5.0)), ("flat, P=5 mm", newtonian(0.0, -5.0)),
                     ("secondary 3 mm off, P=0", newtonian(0.0, 0.0, True, 3.0))):  # fmt: skip
        h = 0.0 if "3 mm" in label else 5.0
        for dz in (3.0, 9.0):
            out, _ = t.offset(dz)
            inn, _ = t.offset(-dz)
            c = coma_offset(h, 5.2, 0.25, dz)
            print(f"   {label:24s} {dz:+4.0f} {out:+8.4f}    {c:+8.4f}")
            print(f"   {'':24s} {-dz:+4.0f} {inn:+8.4f}    {c:+8.4f}    {(out + inn) / 2:+8.4f}")
    print("   Racked out the two add; racked in they oppose and may reverse the direction.\n")

    print("3. Newtonian: axis at P = +5 mm. Tilting the primary so that the axis comes to the")
    a, b = newtonian(5.0), newtonian(0.0)
    moved = b.star_x(a.centring_slope())
    print(f"   middle moves the star's image by {moved:+.2f} mm: AWAY from the shadow's side.")
    near = newtonian(4.0)
    print(f"   A fifth of that and re-centring: {a.offset(9)[0]:+.4f} -> {near.offset(9)[0]:+.4f};")
    far = newtonian(6.0)
    print(
        f"   a fifth the other way:           {a.offset(9)[0]:+.4f} -> {far.offset(9)[0]:+.4f}.\n"
    )

    print("4. Two mirrors, secondary tilted by +2 arcmin, star re-centred.")
    tilt = math.radians(2 / 60)
    for spherical in (False, True):
        bad, good = cassegrain(tilt, spherical), cassegrain(0.0, spherical)
        slope = bad.centring_slope()
        moved = good.star_x(slope) - bad.star_x(slope)
        offs = {dz: bad.offset(dz)[0] for dz in (-10.0, 10.0)}
        print(f"   {'spherical' if spherical else 'hyperbolic'} secondary: offset "
              f"{offs[10.0]:+.4f} racked out, {offs[-10.0]:+.4f} racked in; "
              f"mending moves the star {moved:+.2f} mm")  # fmt: skip


if __name__ == "__main__":
    main()
