"""What was hidden in a simulated telescope, beside what was solved."""

from __future__ import annotations

import math
from collections.abc import Iterator

from plumbstar.mount.terms import INDEX, TERMS, shown_in
from plumbstar.solve.fix import Fix
from plumbstar.text.words import many
from plumbstar.units import Array


def rows(fix: Fix, hidden: Array) -> Iterator[tuple[str, float, float, float]]:
    """Term by term: name, estimate, sigma, hidden truth (degrees; scales in percent); ``hidden``
    (12,) radians and pure numbers. The azimuth zero is told within the estimate's turn."""
    for i, name in enumerate(TERMS):
        if fix.prior.sigma[i] > 0:
            unit = shown_in(name)[0]
            estimate, truth = float(fix.mean[i]) * unit, float(hidden[i]) * unit
            if name == "azimuth_zero":
                truth += 360.0 * round((estimate - truth) / 360.0)
            yield name, estimate, float(fix.sigma[i]) * unit, truth


def stop_sentence(fix: Fix, hidden: Array, counted: str = "star") -> str:
    """The stop, as it was hidden and as it was solved; ``counted``: what it was solved from."""
    i = INDEX["altitude_zero"]
    truth, solved = math.degrees(hidden[i]), math.degrees(fix.mean[i])
    return (
        f"The stop reads {abs(truth):.2f}° {'low' if truth > 0 else 'high'} and was solved as "
        f"{abs(solved):.2f}° {'low' if solved > 0 else 'high'}, from "
        f"{many(len(fix.sightings), counted)}."
    )
