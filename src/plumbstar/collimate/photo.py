"""Loading a picture, and refusing what is none, too large or made to harm."""

from __future__ import annotations

import io
import math
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from plumbstar.collimate.camera import Camera
from plumbstar.errors import UserError, how_to_add

# Limits on what is read from a file: beyond them a picture is refused, before it is decoded.
MAX_BYTES = 64 * 2**20
MAX_PIXELS = 110_000_000
# Larger pictures are shrunk on loading: 16 Mpx keeps memory under about 300 MB.
KEEP_PIXELS = 16_000_000
_FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP")  # never those that run an interpreter


def pillow() -> Any:
    """Pillow's Image module, loaded on first need. Raises UserError if it is not installed."""
    try:
        from PIL import Image
    except ImportError:
        raise UserError(
            "Pictures cannot be read: the part for that (pillow) is not installed",
            "",
            f"Install it: {how_to_add('photos')}",
        ) from None
    return Image


@dataclass(frozen=True)
class Photo:
    """A picture, (height, width, 3), turned upright by its EXIF mark, and what its file tells of
    the camera."""

    pixels: NDArray[np.uint8]
    camera: Camera


def read_photo(source: Path | str | bytes) -> Photo:
    """Read a picture, once.

    ``source`` is a path or the file's bytes. Pictures over 16 million pixels are shrunk. Raises
    UserError for a file that is missing, too large, damaged, or no picture; what the file tells of
    its camera may be damaged, and then counts for nothing.
    """
    image_module = pillow()
    from PIL import ImageOps

    name = "the picture" if isinstance(source, bytes) else f"the picture {source}"
    try:
        size = len(source) if isinstance(source, bytes) else Path(source).stat().st_size
        if size > MAX_BYTES:
            raise UserError(
                f"{name}, {size / 2**20:.0f} MB",
                f"at most {MAX_BYTES // 2**20} MB",
                "Save it smaller, as JPEG",
            )
        data = source if isinstance(source, bytes) else Path(source).read_bytes()
    except OSError as e:
        raise UserError(
            f"{name} ({e.strerror})", "a picture that can be read", "Check the path"
        ) from None
    if data[4:8] == b"ftyp":
        raise UserError(
            f"{name}, in a phone's own format (HEIC, AVIF), or a video",
            "JPEG or PNG",
            "Set the camera to 'most compatible', or share the picture as JPEG",
        )
    not_a_picture = UserError(
        f"{name}, which cannot be read as a picture",
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
        raise _too_many_pixels(f"{name}, with far too many pixels") from None
    except Exception:  # pillow's readers raise many kinds on damaged bytes
        raise not_a_picture from None
    w, h = im.size
    if w * h > MAX_PIXELS:
        raise _too_many_pixels(f"{name}, {w} x {h} pixels")
    shrink = math.ceil(math.sqrt(w * h / KEEP_PIXELS))
    camera = _camera_of(im)
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
        return Photo(np.asarray(upright.convert("RGB"), dtype=np.uint8), camera)
    except MemoryError:
        raise
    except Exception:
        raise not_a_picture from None


def _camera_of(opened: Any) -> Camera:
    """What a picture's file tells of its camera; nothing, if it tells nothing that can be trusted.

    Exif 2.3 (from memory): FocalLengthIn35mmFilm 0xA405, DigitalZoomRatio 0xA404; whether the one
    holds the other differs from phone to phone, so a zoomed picture's is left aside.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            told = opened.getexif().get_ifd(0x8769)
        lens, zoom = float(told.get(0xA405) or 0.0), float(told.get(0xA404) or 1.0)
    except Exception:  # pillow's readers raise many kinds on damaged bytes
        return Camera()
    return Camera.told(lens) if zoom <= 1.01 else Camera()


def _too_many_pixels(came: str) -> UserError:
    return UserError(came, f"at most {MAX_PIXELS // 1_000_000} million pixels", "Save it smaller")
