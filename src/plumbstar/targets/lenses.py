"""The kit's eyepieces in its telescope, and what each is good for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from plumbstar.kit import Eyepiece, Filter, Kit
from plumbstar.units import Array

#: The field should be this much wider than the object.
ROOM = 1.2
#: What the inner half of an object should look like to the eye to have a shape, arcminutes. Common
#: practice, no source.
SHAPE_ARCMIN = 60.0
#: Exit pupils, millimetres, at which observers see most of each kind: stars of a globular part at
#: high power, large nebulae want a bright image. Common practice, no source.
WANTED_PUPIL_MM = {
    "globular cluster": 2.0, "planetary nebula": 1.5, "galaxy": 2.5, "pair of galaxies": 2.0,
    "triplet of galaxies": 2.0, "group of galaxies": 2.0, "open cluster": 3.5,
    "cluster with nebula": 4.0, "nebula": 4.5, "reflection nebula": 3.5, "supernova remnant": 4.5,
}  # fmt: skip
USUAL_PUPIL_MM = 3.0
#: Worth in magnitudes of margin: of a shape twice as large, of an exit pupil twice as near (within
#: a quarter all are the same), of room for the whole. Judgement.
_SHAPE, _PUPIL, _SAME, _NO_ROOM = 0.5, 0.35, 0.3, 3.0


@dataclass(frozen=True, slots=True)
class FittedEyepiece:
    """One eyepiece in this telescope."""

    name: str
    magnification: float
    field_arcmin: float

    @staticmethod
    def of(kit: Kit, e: Eyepiece) -> FittedEyepiece:
        return FittedEyepiece(e.name, kit.magnification(e), 60.0 * kit.true_field_deg(e))


@dataclass(frozen=True, slots=True)
class LookWith:
    """What to look with: an eyepiece, the second best (None for the only one), a filter or none."""

    eyepiece: FittedEyepiece
    second: FittedEyepiece | None = None
    filter: Filter | Literal[""] = ""


def eyepieces(kit: Kit) -> tuple[FittedEyepiece, ...]:
    """The kit's eyepieces, lowest power first; the finder eyepiece where none is listed."""
    own = kit.eyepiece or (kit.finder_eyepiece(),)
    return tuple(sorted((FittedEyepiece.of(kit, e) for e in own), key=lambda x: x.magnification))


def suits_mag(
    power: Array, field_arcmin: Array, aperture_mm: float, length: Array, half: Array, pupil: Array
) -> Array:
    """What each eyepiece (e,) is worth for each object (n,) beside the contrast, as (e, n).

    In magnitudes of margin, 0 or less. ``length`` and ``half`` are the object's longest side and
    the size of its inner half, arcminutes; ``pupil`` the exit pupil its kind wants. The widest
    field is excused from having room for what has room in none.
    """
    shape = np.minimum(np.log2(np.maximum(power[:, None] * half, 1e-3) / SHAPE_ARCMIN), 0.0)
    off = np.abs(np.log2(aperture_mm / power[:, None] / pupil))
    room = field_arcmin[:, None] >= ROOM * length
    room[int(np.argmax(field_arcmin))] = True
    return np.asarray(
        _SHAPE * shape - _PUPIL * np.maximum(off - _SAME, 0.0) - _NO_ROOM * ~room, dtype=np.float64
    )
