"""What a filter before the eyepiece takes from the sky and from what shines through it.

The sky between the lines is light of all colours, and so are stars and galaxies: a filter takes the
same from all of these, and gains nothing. Gas shines in a few lines, and keeps them. How much is
taken is common practice, no source: a band of 25 nm, a line of 10 and a band of 90 out of the 100
nm or so that the eye sees by night; planetary nebulae and remnants shine most in the line of
oxygen, other nebulae in oxygen and hydrogen. Left out: that lamps of single colours are taken
better than their share by the broad one, and what a nebula's own spectrum is.
"""

from __future__ import annotations

from dataclasses import dataclass

from plumbstar.kit import Filter


@dataclass(frozen=True, slots=True)
class FilterEffect:
    """Magnitudes taken: from the sky, from nebulae, from planetary nebulae and remnants."""

    sky_mag: float
    nebula_mag: float
    oxygen_mag: float

    def loss(self, kind: str) -> float:
        """What an object of that kind loses of its own light."""
        return self.oxygen_mag if kind in OXYGEN else self.nebula_mag


EFFECT: dict[Filter, FilterEffect] = {
    "narrow band": FilterEffect(1.75, 0.15, 0.15),
    "line": FilterEffect(2.75, 1.3, 0.25),
    "broadband": FilterEffect(0.6, 0.1, 0.1),
}
OXYGEN = ("planetary nebula", "supernova remnant")
#: Kinds whose glow is gas.
GAS = ("nebula", "cluster with nebula", *OXYGEN)
