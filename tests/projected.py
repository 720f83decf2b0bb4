"""Pictures of a defocused star as a phone at the eyepiece takes them, by projecting rays.

Made another way than tests/defocused.py and than the tool: every pixel's ray is turned by the
phone's tilt and followed to the eyepiece's focal plane, where disc, shadow and vanes have hard
edges (nine rays a pixel); blur is a convolution with a flat round spot, or with a lopsided one
(coma of the eyepiece, a shaken phone); then light, dust, noise of photons and of the sensor,
burning out, a tone curve and JPEG. Also what is no star at all: a cup, a ring on a table, a disc
with a tiny hole.

Truth: (right, down), the shadow's offset over the disc's radius *in the focal plane*, as the eye
sees it there without a phone.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.floating[Any]]
Picture = NDArray[np.uint8]
_FINE = 3  # rays a pixel, along and across


@dataclass(frozen=True)
class Shot:
    """A telescope, an eyepiece, a star and a phone. Angles in degrees, ``_part`` in disc radii."""

    width: int = 480
    height: int = 360
    focal_px: float = 500.0
    tilt_right_deg: float = 0.0  # where the phone's axis points, from the eyepiece's
    tilt_down_deg: float = 0.0
    star_right_deg: float = 0.0  # the star's place in the eyepiece's field
    star_down_deg: float = 0.0
    radius_deg: float = 10.0  # of the disc, apparent
    right: float = 0.0
    down: float = 0.0
    shadow_part: float = 0.25
    oval_part: float = 0.0  # astigmatism: the disc and the shadow drawn out
    oval_deg: float = 0.0
    vanes: int = 4
    vane_part: float = 0.02
    vane_deg: float = 20.0
    blur_part: float = 0.02
    lopsided: float = 0.0
    uneven: float = 0.0
    uneven_deg: float = 0.0
    falloff: float = 0.0  # darker toward the rim, as a square
    rough: float = 0.0  # streaks and mottles of warm air
    ring_bright: float = 0.0  # a bright line at the rim
    bright: float = 0.6
    stray: float = 0.03
    sky: float = 0.03
    photons: float = 4000.0  # of a white pixel
    read: float = 0.003
    gamma: float = 1.0
    jpeg: int = 0
    crop: tuple[int, int, int, int] | None = None  # left, top, right, bottom
    seed: int = 1


def _rays(s: Shot) -> tuple[Array, Array]:
    """Where each fine ray meets the eyepiece's focal plane, in units of its focal length."""
    n = _FINE
    x = ((np.arange(s.width * n) + 0.5) / n - 0.5 - (s.width - 1) / 2) / s.focal_px
    y = ((np.arange(s.height * n) + 0.5) / n - 0.5 - (s.height - 1) / 2) / s.focal_px
    X, Y = np.meshgrid(x, y)
    a, b = math.radians(s.tilt_right_deg), math.radians(s.tilt_down_deg)
    about_y = np.array([[math.cos(a), 0, math.sin(a)], [0, 1, 0], [-math.sin(a), 0, math.cos(a)]])
    about_x = np.array([[1, 0, 0], [0, math.cos(b), math.sin(b)], [0, -math.sin(b), math.cos(b)]])
    m = about_y @ about_x
    d = [m[i, 0] * X + m[i, 1] * Y + m[i, 2] for i in range(3)]
    return d[0] / d[2], d[1] / d[2]


def _mottle(rng: np.random.Generator, shape: tuple[int, int], grain: int) -> Array:
    """Smooth random patches of unit scatter."""
    coarse = rng.normal(size=(shape[0] // grain + 3, shape[1] // grain + 3)).astype(np.float32)
    big = Image.fromarray(coarse).resize(
        (coarse.shape[1] * grain, coarse.shape[0] * grain), Image.Resampling.BICUBIC
    )
    return np.asarray(big)[: shape[0], : shape[1]]


def _spread(g: Array, radius: float, lopsided: float) -> Array:
    """Convolved with a flat round spot; ``lopsided`` puts more of the light on its right side."""
    if radius < 0.5:
        return g
    n = math.ceil(radius) + 1
    yy, xx = np.mgrid[-n : n + 1, -n : n + 1]
    spot = np.clip(radius + 0.5 - np.hypot(xx, yy), 0, 1) * (1 + lopsided * xx / radius)
    spot /= spot.sum()
    # the middle of the light stays where it is, so that blur itself is no offset of both circles
    padded = np.pad(g, n, mode="edge")
    size = [padded.shape[i] + 2 * n for i in (0, 1)]
    f = np.fft.irfft2(np.fft.rfft2(padded, size) * np.fft.rfft2(spot, size), size)
    return np.asarray(f[2 * n : 2 * n + g.shape[0], 2 * n : 2 * n + g.shape[1]])


def shoot(s: Shot) -> Picture:
    """(height, width, 3) uint8."""
    rng = np.random.default_rng(s.seed)
    X, Y = _rays(s)
    r = math.tan(math.radians(s.radius_deg))
    u = (X - math.tan(math.radians(s.star_right_deg))) / r
    v = (Y - math.tan(math.radians(s.star_down_deg))) / r
    if s.oval_part:
        a = math.radians(s.oval_deg)
        p, q = u * math.cos(a) + v * math.sin(a), v * math.cos(a) - u * math.sin(a)
        p, q = p / (1 + s.oval_part / 2), q * (1 + s.oval_part / 2)
        u, v = p * math.cos(a) - q * math.sin(a), p * math.sin(a) + q * math.cos(a)
    light = (u * u + v * v < 1.0).astype(np.float32)
    su, sv = u - s.right, v - s.down
    dark = su * su + sv * sv < s.shadow_part**2
    for k in range(s.vanes):
        a = math.radians(s.vane_deg) + 2 * math.pi * k / s.vanes
        along, across = su * math.cos(a) + sv * math.sin(a), sv * math.cos(a) - su * math.sin(a)
        dark |= (np.abs(across) < s.vane_part / 2) & (along > 0)
    light = np.where(dark, s.stray * light, light)
    a = math.radians(s.uneven_deg)
    light *= np.clip(1 + s.uneven * (u * math.cos(a) + v * math.sin(a)), 0, None)
    light *= np.clip(1 - s.falloff * (u * u + v * v), 0.05, None)
    if s.ring_bright:
        light *= 1 + s.ring_bright * np.exp(-(((np.hypot(u, v) - 0.96) / 0.03) ** 2))
    if s.rough:
        light *= np.clip(1 + s.rough * _mottle(rng, light.shape, 3 * 14), 0.1, None)
    n = _FINE
    light = light.reshape(s.height, n, s.width, n).mean(axis=(1, 3))
    radius_px = s.focal_px * r
    light = _spread(light, s.blur_part * radius_px, s.lopsided)
    return finish(light * s.bright + s.sky, s, rng)


def finish(scene: Array, s: Shot, rng: np.random.Generator) -> Picture:
    """From light to a file's pixels: noise, burning out, tone curve, crop, JPEG."""
    rgb = np.repeat(np.clip(scene, 0, None)[:, :, None], 3, axis=2) * (1.0, 0.96, 0.9)
    rgb = rng.poisson(rgb * s.photons) / s.photons + rng.normal(0, s.read, rgb.shape)
    out = np.asarray(np.clip(rgb, 0, 1) ** s.gamma * 255 + 0.5).astype(np.uint8)
    if s.crop:
        left, top, right, bottom = s.crop
        out = out[top:bottom, left:right]
    if s.jpeg:
        held = io.BytesIO()
        Image.fromarray(out).save(held, "JPEG", quality=s.jpeg)
        out = np.asarray(Image.open(io.BytesIO(held.getvalue())).convert("RGB"))
    return np.ascontiguousarray(out)


def truth(s: Shot) -> tuple[float, float]:
    """(right, down) in the focal plane, over the disc's mean radius."""
    a = math.radians(s.oval_deg)
    along, across = (s.right * math.cos(a) + s.down * math.sin(a),
                     s.down * math.cos(a) - s.right * math.sin(a))  # fmt: skip
    along, across = along * (1 + s.oval_part / 2), across / (1 + s.oval_part / 2)
    return (along * math.cos(a) - across * math.sin(a), along * math.sin(a) + across * math.cos(a))


def mixed(rng: np.random.Generator, seed: int, most_tilt_deg: float = 8.0) -> Shot:
    """One of the pictures that people take: the whole mixture, tilt and all."""
    width, height = (480, 360) if rng.random() < 0.7 else (360, 480)
    lens_mm = float(rng.choice([24.0, 26.0, 28.0, 35.0, 52.0, 78.0]))  # as for 35 mm film
    focal = lens_mm / 43.27 * math.hypot(width, height)
    tilt, way = rng.uniform(0, most_tilt_deg), rng.uniform(0, 2 * math.pi)
    star, star_way = 2.0 * math.sqrt(rng.random()), rng.uniform(0, 2 * math.pi)
    radius_px = rng.uniform(36, 130)
    tilt_right, tilt_down = tilt * math.cos(way), tilt * math.sin(way)
    star_right, star_down = star * math.cos(star_way), star * math.sin(star_way)
    size, towards = rng.uniform(0, 0.15), rng.uniform(0, 2 * math.pi)
    if rng.random() < 0.3:
        size = 0.0
    # as much of the disc as possible is kept in the picture, as anybody would
    x = width / 2 + focal * math.tan(math.radians(star_right - tilt_right))
    y = height / 2 + focal * math.tan(math.radians(star_down - tilt_down))
    radius_px = max(30.0, min(radius_px, x - 4, y - 4, width - x - 4, height - y - 4))
    if min(x, y, width - x, height - y) < radius_px:  # a strong lens and a strong tilt
        return mixed(rng, seed, most_tilt_deg)
    crop = None
    if rng.random() < 0.25:  # cut out by hand afterwards
        room = [int(radius_px * rng.uniform(1.15, 1.9)) for _ in range(4)]
        crop = (max(0, int(x) - room[0]), max(0, int(y) - room[1]),
                min(width, int(x) + room[2]), min(height, int(y) + room[3]))  # fmt: skip
    return Shot(
        width=width, height=height, focal_px=focal, tilt_right_deg=tilt_right,
        tilt_down_deg=tilt_down, star_right_deg=star_right, star_down_deg=star_down,
        radius_deg=math.degrees(math.atan(radius_px / focal)), right=size * math.cos(towards),
        down=size * math.sin(towards), shadow_part=rng.uniform(0.18, 0.4),
        oval_part=rng.choice([0.0, 0.0, 0.01, 0.03]), oval_deg=rng.uniform(0, 180),
        vanes=int(rng.choice([0, 3, 4])), vane_part=rng.uniform(0.008, 0.03),
        vane_deg=rng.uniform(0, 90), blur_part=rng.choice([0.01, 0.02, 0.04, 0.08]),
        lopsided=rng.choice([0.0, 0.0, 0.5]), uneven=rng.uniform(0, 0.35),
        uneven_deg=rng.uniform(0, 360), falloff=rng.choice([0.0, 0.2]),
        rough=rng.choice([0.0, 0.04, 0.1]), ring_bright=rng.choice([0.0, 0.3]),
        bright=rng.choice([0.25, 0.5, 0.8, 1.4]), stray=rng.uniform(0.0, 0.12),
        sky=rng.uniform(0.0, 0.06), photons=rng.choice([100.0, 600.0, 5000.0]),
        read=rng.choice([0.002, 0.015]), gamma=rng.choice([1.0, 0.45]),
        jpeg=int(rng.choice([0, 55, 85])), crop=crop, seed=seed,
    )  # fmt: skip


# ---------------------------------------------------------------- what is no star


def _scene(size: tuple[int, int]) -> tuple[Array, Array, Array]:
    yy, xx = np.mgrid[0 : size[1], 0 : size[0]].astype(float)
    return xx, yy, np.zeros_like(xx)


def _soft(inside: Array, width: float = 1.2) -> Array:
    """1 where ``inside`` (pixels to the edge) is positive, over a soft edge."""
    return np.asarray(0.5 * (1 + np.tanh(inside / width)))


def _table(rng: np.random.Generator, like: Array, light: float) -> Array:
    """Wood: streaks along one side, and lamplight from one corner."""
    grain = _mottle(rng, like.shape, 23) + 0.6 * rng.normal(size=(like.shape[0], 1))
    slope = np.linspace(0.8, 1.2, like.shape[1])[None, :]
    return np.asarray(np.clip(light * slope * (1 + 0.08 * grain), 0, None))


def cup(seed: int, table: float = 0.2, coffee: float = 0.05, wall_part: float = 0.14) -> Picture:
    """Looked into from above: a bright rim and wall, a dark drink, a handle, a table."""
    rng = np.random.default_rng(seed)
    xx, yy, zero = _scene((480, 360))
    cx, cy, r = rng.uniform(200, 280), rng.uniform(165, 195), rng.uniform(90, 125)
    scene = _table(rng, zero, table)
    far = np.hypot(xx - cx, (yy - cy) / 0.97)
    handle = (np.abs(yy - cy) < 16) & (xx > cx) & (far > r) & (far < 1.35 * r)
    scene = np.where(handle, 0.6, scene)
    scene += _soft(r - far) * (0.7 * (1 - 0.15 * (xx - cx) / r) - scene)
    drink = np.hypot(xx - cx - 0.03 * r, (yy - cy - 0.04 * r) / 0.97)
    scene += _soft((1 - wall_part) * r - drink) * (coffee - scene)
    return finish(scene, Shot(gamma=0.6, jpeg=80), rng)


def ring_on_table(seed: int, table: float = 0.15, inner_part: float = 0.8) -> Picture:
    """A bright flat ring; the table is seen through it."""
    rng = np.random.default_rng(seed)
    xx, yy, zero = _scene((480, 360))
    cx, cy, r = rng.uniform(200, 280), rng.uniform(165, 195), rng.uniform(80, 130)
    scene = _table(rng, zero, table)
    far = np.hypot(xx - cx, yy - cy)
    metal = 0.75 * (1 + 0.25 * np.cos(2 * np.arctan2(yy - cy, xx - cx)))
    scene += _soft(r - far) * _soft(far - inner_part * r) * (metal - scene)
    return finish(scene, Shot(gamma=0.6, jpeg=80), rng)


def holed_disc(seed: int, hole_part: float = 0.06, table: float = 0.02) -> Picture:
    """A pale round disc with a small hole: a button, a target, a lamp."""
    rng = np.random.default_rng(seed)
    xx, yy, zero = _scene((480, 360))
    cx, cy, r = 240 + rng.uniform(-20, 20), 180 + rng.uniform(-10, 10), rng.uniform(80, 130)
    scene = _table(rng, zero, table)
    far = np.hypot(xx - cx, yy - cy)
    scene += _soft(r - far) * _soft(far - hole_part * r) * (0.7 - scene)
    return finish(scene, Shot(gamma=0.8, jpeg=85), rng)
