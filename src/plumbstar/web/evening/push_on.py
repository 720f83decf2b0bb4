"""What is left to push on from a closed controller's zero, and whether that was kept."""

from __future__ import annotations

import math
from dataclasses import dataclass

import msgspec
import numpy as np

from plumbstar.controller.landing import Lies
from plumbstar.logbook.places import log_name
from plumbstar.logbook.shown import DisplayEntry
from plumbstar.sky.places import Target
from plumbstar.turns import half_turn
from plumbstar.units import Array


@dataclass(frozen=True)
class PushOn:
    """From the controller's zero for ``start`` on to ``target``: (2,) on the circles, radians."""

    target: Target
    start: Target
    push: Array
    lies: Lies
    alt: float

    @property
    def on_sky(self) -> Array:
        """The push as the eyepiece shows it: right and up on the sky."""
        return self._seen(self.push)

    def _seen(self, circles: Array) -> Array:
        across: Array = circles * np.array([math.cos(self.alt), 1.0])
        return across

    def promised_to(self, entry: DisplayEntry, field_deg: float) -> DisplayEntry:
        """The entry of the target, centred or not found, with the chance stated of this push and
        whether it brought the target into the field; as it was where another object was chosen on
        the controller, so that what was left is of no push that was told."""
        if log_name(self.start) != (entry.chosen or entry.star):
            return entry
        landed = False
        if entry.left_az_deg is not None and entry.left_alt_deg is not None:
            # What is left to push is from the object back to the zero.
            az = half_turn(-math.radians(entry.left_az_deg) - float(self.push[0]))
            alt = -math.radians(entry.left_alt_deg) - float(self.push[1])
            off = float(np.linalg.norm(self._seen(np.array([az, alt]))))
            landed = entry.event == "centred" and off < math.radians(field_deg) / 2.0
        chance = round(self.lies.hit_chance, 4)
        return msgspec.structs.replace(entry, promised=chance, landed=landed)
