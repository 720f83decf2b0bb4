"""The turn of the eyepiece, by following rays with vectors: mirrors, a flat, a lens, the eye."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbstar.eyeview.orientation import KINDS, turn

ZENITH = np.array([0.0, 0.0, 1.0])
F, E = 1500.0, 25.0  # focal lengths


def axes(alt: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Along the tube, to its right, and up square to it; pointing north at that altitude."""
    along = np.array([0.0, np.cos(alt), np.sin(alt)])
    right = np.array([1.0, 0.0, 0.0])
    return along, right, np.cross(right, along)


def mirror(ray: np.ndarray, normal: np.ndarray) -> np.ndarray:
    n = normal / np.linalg.norm(normal)
    return ray - 2.0 * (ray @ n) * n


def seen(ray: np.ndarray, axis: np.ndarray, head_up: np.ndarray) -> np.ndarray:
    """(right, up) as the eye sees it. ``ray`` is the one through the middle of the aperture.

    It meets the focal plane off the axis by F times its slope. From there the ray through the
    middle of the eyepiece goes straight on, and all others come out parallel to it. A star is seen
    against the way its light comes.
    """
    off = F * (ray / (ray @ axis) - axis)
    out = E * axis - off
    look = -axis
    up = head_up - (head_up @ look) * look
    up /= np.linalg.norm(up)
    apparent = -out / E
    return np.array([apparent @ np.cross(look, up), apparent @ up]) * E / F


def star(alt: float, right: float, up: float) -> np.ndarray:
    along, r, u = axes(alt)
    return -(along + right * r + up * u)


OFF = st.tuples(st.floats(-0.01, 0.01), st.floats(-0.01, 0.01))
ALT = st.floats(0.0, np.pi / 2 - 0.01)


@given(ALT, OFF, st.sampled_from(["left", "right"]))
def test_two_mirrors_and_the_eyepiece_at_the_side(alt, off, side) -> None:
    along, right, _ = axes(alt)
    out = right if side == "right" else -right
    ray = mirror(mirror(star(alt, *off), along), out - along)
    got = seen(ray, out, ZENITH)
    assert got == pytest.approx(turn("turned", side, alt) @ off, abs=1e-9)


@given(ALT, OFF, st.sampled_from(["left", "right"]))
def test_three_mirrors_and_the_eyepiece_at_the_side(alt, off, side) -> None:
    along, right, _ = axes(alt)
    out = right if side == "right" else -right
    ray = mirror(mirror(mirror(star(alt, *off), along), along), out + along)
    got = seen(ray, out, ZENITH)
    assert got == pytest.approx(turn("mirrored_turned", side, alt) @ off, abs=1e-9)


@given(ALT, OFF)
def test_lenses_alone(alt, off) -> None:
    along, _, up = axes(alt)
    got = seen(star(alt, *off), -along, up)
    assert got == pytest.approx(turn("turned", "end", alt) @ off, abs=1e-9)


@given(ALT, OFF)
def test_lenses_and_a_diagonal_looked_into_from_above(alt, off) -> None:
    """The head's top toward where the tube points."""
    along, _, up = axes(alt)
    got = seen(mirror(star(alt, *off), up + along), up, along)
    assert got == pytest.approx(turn("mirrored", "end", alt) @ off, abs=1e-9)


@pytest.mark.parametrize("kind", list(KINDS))
@pytest.mark.parametrize("side", ["end", "left", "right"])
def test_only_an_odd_number_of_mirrors_exchanges_left_and_right(kind, side) -> None:
    sign = np.linalg.det(turn(kind, side, 0.7))
    assert sign == pytest.approx(-1.0 if kind.startswith("mirrored") else 1.0)
    assert turn("upright", "end", 0.7) == pytest.approx(np.eye(2))
