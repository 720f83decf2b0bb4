"""The sheet that the picture is drawn on: its size, and where a place of the field comes to lie."""

from __future__ import annotations

SIZE, R = 480.0, 186.0  # the whole drawing, and the field's radius in it
C = SIZE / 2.0


def star_radius(v_mag: float, limit_mag: float) -> float:
    """How large a star is drawn: the faintest as a fine dot, each magnitude a step more."""
    return min(9.0, 1.3 + 0.95 * max(0.0, limit_mag - v_mag))


def at_x(x: float) -> str:
    return f"{C + R * x:.1f}"


def at_y(y: float) -> str:
    return f"{C - R * y:.1f}"
