"""The picture with the answer drawn in."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.collimate.photo import pillow
from plumbstar.collimate.pixels import as_grey
from plumbstar.collimate.result import Collimation

if TYPE_CHECKING:
    from PIL import Image


def overlay(image: NDArray[Any], result: Collimation, long_side_px: int = 1400) -> Image.Image:
    """The picture in grey with the found circles, the offset's arrow and the verdict in red.

    The arrow starts at the disc's middle and is drawn 1, 2, 5, 10 or 20 times too long, as the
    text says. Returns an RGB picture at most ``long_side_px`` on the longer side plus a text band.
    """
    image_module = pillow()
    from PIL import ImageDraw, ImageFont

    g = as_grey(image)
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
