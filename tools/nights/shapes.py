"""What travels between the parts of a random evening."""

from typing import Any

from plumbstar.units import Array

#: (azimuth, altitude), degrees, of axles, circles or the sky.
Pair = tuple[float, float]
#: When it is delivered (seconds), the action, its body, when it was tapped.
Press = tuple[float, str, dict[str, Any], float]

__all__ = ["Array", "Pair", "Press"]
