"""Synthetic phone pictures of a defocused star, of known truth.

Two kinds: :func:`photo` draws the geometry (disc, shadow, vanes, uneven light, blur, noise, JPEG)
and can be made in hundreds; :func:`diffracted` makes the image by wave optics from a pupil with
defocus and coma, to check that the geometry holds for light as it is.

Pixels: (0, 0) is the middle of the top left pixel, y down; the truth is stated in the finished
picture, so that a tilt of the phone is part of it.
"""

from __future__ import annotations

import io
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.floating[Any]]
Photo = NDArray[np.uint8]


@dataclass(frozen=True)
class Scene:
    """What is in front of the phone. Lengths in pixels, or in disc radii if named ``_part``."""

    width: int = 480
    height: int = 360
    x: float = 240.0
    y: float = 180.0
    radius: float = 110.0
    shadow_part: float = 0.25
    right: float = 0.0  # the shadow's offset in disc radii, before the tilt of the phone
    down: float = 0.0
    blur_part: float = 0.02
    stretch: float = 0.0  # the picture is drawn out by this part along stretch_deg
    stretch_deg: float = 0.0
    vanes: int = 4
    vane_part: float = 0.02
    vane_deg: float = 30.0
    tilt_light: float = 0.0  # brightness changes by this part from the disc's middle to its rim
    tilt_light_deg: float = 0.0
    ripple: float = 0.0  # rings of diffraction, part of the brightness
    seeing_part: float = 0.0  # the rims' wobble
    bright: float = 0.6
    sky: float = 0.03
    sky_slope: float = 0.0
    stray: float = 0.0  # light in the shadow, part of the ring's
    field_part: float = 0.0  # radius of the eyepiece's glowing field in disc radii; 0 for none
    noise: float = 0.01
    colour: tuple[float, float, float] = (1.0, 1.0, 1.0)
    gamma: float = 1.0
    specks: int = 0  # faint stars and hot pixels
    jpeg: int = 0  # quality; 0 for none
    seed: int = 1

    def truth(self) -> tuple[float, float]:
        """(right, down) offset in the finished picture over the disc's mean radius there."""
        v = _stretch(self) @ np.array([self.right, self.down])
        v = v / math.sqrt(1.0 + self.stretch)
        return float(v[0]), float(v[1])


def _stretch(s: Scene) -> Array:
    a = math.radians(s.stretch_deg)
    R = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    return np.asarray(R @ np.diag([1.0 + s.stretch, 1.0]) @ R.T)


def _smooth_step(d: Array, width: float) -> Array:
    """1 well inside (d < 0), 0 well outside: the logistic stands in for the blurred edge."""
    return 0.5 * (1.0 - np.tanh(d / (1.1 * width)))


def _wobble(rng: np.random.Generator, ang: Array, amount: float) -> Array:
    if not amount:
        return np.zeros_like(ang)
    table = np.linspace(-math.pi, math.pi, 721)
    out = np.zeros_like(table)
    for m in range(2, 14):
        out += amount * rng.normal() / math.sqrt(6) * np.cos(m * table + rng.uniform(0, 6.3))
    return np.interp(ang, table, out).astype(np.float32)


def photo(s: Scene) -> Photo:
    """The finished picture, (height, width, 3) uint8."""
    rng = np.random.default_rng(s.seed)
    yy, xx = np.mgrid[0 : s.height, 0 : s.width].astype(np.float32)
    inv = np.linalg.inv(_stretch(s)).astype(np.float32)
    px, py = xx - s.x, yy - s.y
    u = (inv[0, 0] * px + inv[0, 1] * py) / s.radius
    v = (inv[1, 0] * px + inv[1, 1] * py) / s.radius
    rho = np.hypot(u, v)
    ang = np.arctan2(v, u)
    blur = s.blur_part
    disc = _smooth_step(rho - 1.0 - _wobble(rng, ang, s.seeing_part), blur)
    su, sv = u - s.right, v - s.down
    srho = np.hypot(su, sv)
    wob = _wobble(rng, np.arctan2(sv, su), s.seeing_part)
    shadow = _smooth_step(srho - s.shadow_part - wob, blur)
    light = disc * (1.0 - (1.0 - s.stray) * shadow)
    for k in range(s.vanes):
        a = math.radians(s.vane_deg) + 2 * math.pi * k / s.vanes
        along, across = su * math.cos(a) + sv * math.sin(a), su * -math.sin(a) + sv * math.cos(a)
        dark = _smooth_step(np.abs(across) - s.vane_part / 2, blur) * _smooth_step(-along, blur)
        light *= 1.0 - 0.9 * dark
    a = math.radians(s.tilt_light_deg)
    light *= np.clip(1.0 + s.tilt_light * (u * math.cos(a) + v * math.sin(a)), 0.0, None)
    if s.ripple:
        light *= 1.0 + s.ripple * np.cos(2 * math.pi * 9 * (1 - rho)) * np.exp(-3 * (1 - rho))
    scene = s.sky * (1.0 + s.sky_slope * (xx / s.width - 0.5)) + s.bright * light
    if s.field_part:
        scene += 0.12 * s.bright * _smooth_step(rho - s.field_part, 0.01)
    for _ in range(s.specks):
        cx, cy = rng.uniform(0, s.width), rng.uniform(0, s.height)
        size = rng.uniform(0.5, 1.5)
        scene += 0.5 * s.bright * np.exp(-((xx - cx) ** 2 + (yy - cy) ** 2) / (2 * size**2))
    rgb = scene[:, :, None] * np.array(s.colour, dtype=np.float32)
    grain = rng.standard_normal(rgb.shape, dtype=np.float32)
    rgb = rgb + grain * s.noise * np.sqrt(0.3 + np.clip(rgb, 0, 1))
    return _finish(rgb, s.gamma, s.jpeg)


def _finish(rgb: Array, gamma: float, jpeg: int) -> Photo:
    out = (np.clip(rgb, 0.0, 1.0) ** gamma * 255.0 + 0.5).astype(np.uint8)
    if jpeg:
        from PIL import Image

        buffer = io.BytesIO()
        Image.fromarray(out).save(buffer, "JPEG", quality=jpeg)
        out = np.asarray(Image.open(io.BytesIO(buffer.getvalue())).convert("RGB"))
    return out


def random_scene(rng: np.random.Generator, seed: int) -> Scene:
    """One of the wide range of pictures the accuracy is quoted for."""
    width, height = int(rng.integers(260, 620)), int(rng.integers(240, 520))
    if rng.random() < 0.4:
        width, height = height, width
    radius = float(rng.uniform(24, 0.42 * min(width, height)))
    # off-centre, and in one picture of four cut by the edge (up to a third of the diameter)
    room = 1.0 if rng.random() > 0.25 else 0.35
    x = float(rng.uniform(room * radius, width - room * radius))
    y = float(rng.uniform(max(room, 0.9) * radius, height - max(room, 0.9) * radius))
    eps = float(rng.uniform(0.15, 0.42))
    size = float(rng.uniform(0, 0.3)) if rng.random() < 0.7 else float(rng.uniform(0, 0.04))
    # a cut disc must still show its shadow
    way = float(rng.uniform(0, 2 * math.pi))
    return Scene(
        width=width,
        height=height,
        x=x,
        y=y,
        radius=radius,
        shadow_part=eps,
        right=size * math.cos(way),
        down=size * math.sin(way),
        blur_part=max(float(rng.uniform(0.005, 0.05)), 0.6 / radius),
        stretch=float(rng.uniform(0, 0.05)),
        stretch_deg=float(rng.uniform(0, 180)),
        vanes=int(rng.choice([0, 1, 3, 4])),
        vane_part=float(rng.uniform(0.005, 0.05)),
        vane_deg=float(rng.uniform(0, 90)),
        tilt_light=float(rng.uniform(0, 0.4)),
        tilt_light_deg=float(rng.uniform(0, 360)),
        ripple=float(rng.choice([0.0, 0.15])),
        seeing_part=float(rng.choice([0.0, 0.005, 0.01])),
        bright=float(rng.uniform(0.25, 0.75)),
        sky=float(rng.uniform(0.0, 0.1)),
        sky_slope=float(rng.uniform(0, 0.8)),
        stray=float(rng.uniform(0, 0.3)),
        field_part=float(rng.choice([0.0, 0.0, 2.0])),
        noise=float(rng.choice([0.003, 0.02, 0.05])),
        colour=tuple(rng.uniform(0.6, 1.0, 3)),  # type: ignore[arg-type]
        gamma=float(rng.choice([1.0, 0.45])),
        specks=int(rng.integers(0, 6)),
        jpeg=int(rng.choice([0, 50, 85])),
        seed=seed,
    )


def enlarged(picture: Photo, factor: int) -> Photo:
    """The picture at a phone's full size, smoothly enlarged; (0, 0) stays a pixel's corner."""
    from PIL import Image

    im = Image.fromarray(picture)
    return np.asarray(im.resize((im.width * factor, im.height * factor), Image.Resampling.BICUBIC))


def jpeg_bytes(picture: Photo, **save: Any) -> bytes:
    """A JPEG file of the picture."""
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(picture).save(buffer, "JPEG", quality=90, **save)
    return buffer.getvalue()


def diffracted(
    defocus_waves: float,
    coma_right_waves: float,
    obstruction: float = 0.25,
    shadow_right: float = 0.0,
    n: int = 768,
    pupil_px: float = 150.0,
    gamma: float = 1 / 2.2,
) -> tuple[Photo, float]:
    """A defocused star by wave optics, 300 nm of bandwidth, and its expected geometric radius.

    Pupil phase W = W020 rho^2 + W131 rho^3 cos(theta) in waves of 550 nm, theta from the right;
    ``shadow_right`` puts the obstruction off-centre in the pupil, in pupil radii. The image is the
    squared modulus of the pupil's Fourier transform (Fraunhofer), summed over seven wavelengths
    each rescaled to one pixel scale. Geometric rays land at the gradient of W: a radius of
    2 W020 n / pupil_px pixels at 550 nm.
    """
    c = (np.arange(n) - n / 2) / pupil_px
    total = np.zeros((n, n))
    for ratio in np.linspace(0.8, 1.2, 7):  # wavelength over 550 nm
        # A pupil drawn 1/ratio as large keeps one pixel scale for all colours.
        X, Y = np.meshgrid(c * ratio, c * ratio)
        r2 = X * X + Y * Y
        px = pupil_px / ratio
        pupil = _smooth_step((np.sqrt(r2) - 1) * px, 0.7)
        pupil *= 1 - _smooth_step((np.hypot(X - shadow_right, Y) - obstruction) * px, 0.7)
        waves = (defocus_waves * r2 + coma_right_waves * r2 * X) / ratio
        # The transform's kernel is exp(-2 pi i k x): a phase 2 pi W sends light toward +dW/dx.
        field = np.fft.fftshift(np.fft.fft2(np.fft.ifftshift(pupil * np.exp(2j * np.pi * waves))))
        image = np.abs(field) ** 2
        total += image / image.sum()
    picture = total / np.percentile(total, 99.5) * 0.7
    rgb = np.repeat(picture[:, :, None], 3, axis=2)
    return _finish(rgb, gamma, 0), 2 * abs(defocus_waves) * n / pupil_px
