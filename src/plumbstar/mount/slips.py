"""What may move behind the readings' back."""

from __future__ import annotations

from typing import Literal

#: A circle whose zero was lost, or the base, which takes the lean with it.
Axis = Literal["azimuth", "altitude", "base"]
#: Where something moved: how many sightings came before, and what moved.
Cut = tuple[int, tuple[Axis, ...]]
