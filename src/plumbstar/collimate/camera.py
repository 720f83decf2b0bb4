"""What is known of the camera that took a picture: all that a slant look depends on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

#: Sides of a phone's whole pictures, long over short, with the long side over the diagonal of the
#: sensor that the lens's 35 mm figure is told for (16:9 is cut from a sensor of 4:3: from memory).
_WHOLE = ((4 / 3, 0.8), (16 / 9, 0.8), (3 / 2, 0.83205))
_FILM_DIAGONAL_MM = 43.267  # 24 x 36 mm


class StarPlace(Enum):
    """Where the star stood in the eyepiece, as somebody says who looked."""

    UNTOLD = "untold"
    MIDDLE = "middle"
    ASIDE = "aside"


@dataclass(frozen=True)
class Camera:
    """How a picture was taken. Nothing is known unless said.

    ``straight``: no lens between, the sensor stands where the eyepiece would: nothing is slanted.
    ``lens_mm``: the lens's focal length as told for 35 mm film, digital zoom included.
    ``star``: where the star stood in the eyepiece, which no picture tells.
    """

    straight: bool = False
    lens_mm: float | None = None
    star: StarPlace = StarPlace.UNTOLD

    @staticmethod
    def told(lens_mm: float) -> Camera:
        """With the lens as somebody told it, where that can be one (8 to 400 mm)."""
        return Camera(lens_mm=lens_mm if 8.0 <= lens_mm <= 400.0 else None)

    def focal_px(self, width: int, height: int) -> float | None:
        """The lens's focal length in pixels of a whole picture of this size, or None."""
        long_part = _long_part(width, height)
        if self.lens_mm is None or long_part is None:
            return None
        return self.lens_mm / _FILM_DIAGONAL_MM * max(width, height) / long_part


def whole_shape(width: int, height: int) -> bool:
    """Whether a picture has the shape that phones give whole ones; cut by hand it seldom has."""
    return _long_part(width, height) is not None


def _long_part(width: int, height: int) -> float | None:
    shape = max(width, height) / min(width, height)
    return next((part for sides, part in _WHOLE if abs(shape / sides - 1) < 0.01), None)
