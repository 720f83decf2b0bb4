"""The mount's kinematics: signs against the reference rows, round trips, the Jacobian."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from plumbstar.mount import kinematics
from plumbstar.mount.terms import N_TERMS, TERMS
from plumbstar.simulate.mounts import terms_from_deg
from samples import tries


def terms_strategy() -> st.SearchStrategy[np.ndarray]:
    """Mounts with every term well beyond what a real one has."""
    small = st.floats(-0.05, 0.05)
    return st.builds(
        lambda a0, rest, scale, run, air: np.array([a0, *rest, *scale, *run, air]),
        st.floats(-3.2, 3.2),
        st.lists(small, min_size=6, max_size=6),
        st.lists(st.floats(-0.01, 0.01), min_size=2, max_size=2),
        st.lists(st.floats(-0.02, 0.02), min_size=2, max_size=2),
        st.floats(-0.002, 0.002),
    )


def moved(term: str, az: float, alt: float, deg: float = 0.1) -> np.ndarray:
    """True minus reading, degrees, for one term alone."""
    d = kinematics.direction(np.radians([az, alt]), terms_from_deg(**{term: deg}))
    return np.degrees(kinematics.az_alt(d)) - [az, alt]


@pytest.mark.parametrize(
    ("term", "az", "alt", "expected"),
    [
        # Computed apart, by exact rotation about the west-east line, 1e-6 deg.
        ("lean_north", 30, 40, (-0.041864, -0.086621)),
        ("lean_north", 110, 55, (-0.134344, 0.034092)),
        # Computed apart, by vector algebra, 1e-6 deg.
        ("cone", 0, 40, (0.1305406, -0.0000732)),
        ("squareness", 0, 40, (0.0839099, -0.0000732)),
    ],
)
def test_signs_and_sizes_follow_the_reference_rows(
    term: str, az: float, alt: float, expected: tuple[float, float]
) -> None:
    assert moved(term, az, alt) % 360 == pytest.approx(np.array(expected) % 360, abs=1e-6)


@pytest.mark.parametrize(
    ("term", "az_part", "alt_part"),
    [
        # First-order forms, true minus encoder: shapes as in J. Mangum's ALMA pointing slides
        # of 2006-07-26, slide 12; signs by exact rotation (docs/conventions.md).
        ("azimuth_zero", lambda A, E: 1 + 0 * A, lambda A, E: 0 * A),
        ("altitude_zero", lambda A, E: 0 * A, lambda A, E: 1 + 0 * A),
        ("lean_north", lambda A, E: -np.tan(E) * np.sin(A), lambda A, E: -np.cos(A)),
        ("lean_west", lambda A, E: -np.tan(E) * np.cos(A), lambda A, E: np.sin(A)),
        ("cone", lambda A, E: 1 / np.cos(E), lambda A, E: 0 * A),
        ("squareness", lambda A, E: np.tan(E), lambda A, E: 0 * A),
        ("droop", lambda A, E: 0 * A, lambda A, E: -np.cos(E)),
        ("refraction", lambda A, E: 0 * A, lambda A, E: -1 / np.tan(E)),
    ],
)
def test_every_term_has_its_classical_first_order_form(term, az_part, alt_part) -> None:
    az, alt = (g.ravel() for g in np.meshgrid(np.arange(5.0, 360, 25), np.arange(5.0, 75, 10)))
    small = 0.001
    got = np.stack([moved(term, a, h, small) for a, h in zip(az, alt, strict=True)])
    got[:, 0] = (got[:, 0] + 180) % 360 - 180
    A, E = np.radians(az), np.radians(alt)
    # Second order: small^2 * tan^2(75 deg) is 2.4e-7 degrees.
    assert got[:, 0] == pytest.approx(small * az_part(A, E), abs=5e-7)
    assert got[:, 1] == pytest.approx(small * alt_part(A, E), abs=5e-7)


def test_scale_and_runout_mean_what_they_say() -> None:
    d = kinematics.direction(np.radians([200.0, 30.0]), terms_from_deg(azimuth_scale=0.001))
    assert np.degrees(kinematics.az_alt(d))[0] == pytest.approx(200.2)
    d = kinematics.direction(np.radians([90.0, 30.0]), terms_from_deg(azimuth_runout_sin=0.5))
    assert np.degrees(kinematics.az_alt(d))[0] == pytest.approx(90.5)


def test_lean_agrees_with_scipy_rotation() -> None:
    north, west = 0.03, -0.05
    d = kinematics.direction(np.array([0.7, 0.5]), terms_from_deg(
        lean_north=np.degrees(north), lean_west=np.degrees(west)))  # fmt: skip
    level = kinematics.unit(np.array(0.7), np.array(0.5))
    assert Rotation.from_rotvec([-north, -west, 0]).apply(level) == pytest.approx(d, abs=1e-14)


@given(terms_strategy(), st.floats(-20, 20), st.floats(-1.45, 1.45))
@settings(max_examples=tries(133, 400), deadline=None)
def test_reading_to_direction_and_back_everywhere(terms: np.ndarray, az: float, alt: float) -> None:
    # Within 7 deg of overhead these large terms put the tube past the zenith: another test.
    reading = np.array([az, alt * 0.95])
    d = kinematics.direction(reading, terms)
    back = kinematics.reading_of(d, terms, near_az=az)
    assert np.linalg.norm(d) == pytest.approx(1, abs=1e-12)
    assert back == pytest.approx(reading, abs=1e-9)


@given(terms_strategy(), st.floats(0, 6.283), st.floats(-1.2, 1.5708))
@settings(max_examples=tries(133, 400), deadline=None)
def test_direction_to_reading_and_back_overhead_too(
    terms: np.ndarray, az: float, alt: float
) -> None:
    d = kinematics.unit(np.array(az), np.array(alt))
    there = kinematics.direction(kinematics.reading_of(d, terms), terms)
    # Cone and squareness keep the tube out of a small cap overhead; the nearest point is returned.
    axis = Rotation.from_rotvec([-terms[2], -terms[3], 0]).apply([0, 0, 1])
    from_axis = np.arccos(np.clip(d @ axis, -1, 1))
    cap = abs(terms[4]) + abs(terms[5])
    if from_axis > cap + 1e-6:
        assert there == pytest.approx(d, abs=1e-9)
    else:
        assert np.linalg.norm(there - d) <= cap + from_axis + 1e-6


def test_the_side_of_the_wrap_is_the_callers() -> None:
    terms = terms_from_deg(azimuth_zero=10, cone=0.3)
    d = kinematics.direction(np.array([6.2, 0.4]), terms)
    for turns in (-2, 0, 1, 5):
        back = kinematics.reading_of(d, terms, near_az=6.2 + 2 * np.pi * turns + 1.0)
        assert back[0] == pytest.approx(6.2 + 2 * np.pi * turns)


@given(terms_strategy(), st.floats(-4, 8), st.floats(-1.5, 1.6))
@settings(max_examples=tries(33, 100), deadline=None)
def test_the_jacobian_is_the_derivative(terms: np.ndarray, az: float, alt: float) -> None:
    reading = np.array([az, alt])
    _, J = kinematics.direction_jacobian(reading, terms)
    h = 1e-6
    for i in range(N_TERMS):
        step = np.zeros(N_TERMS)
        step[i] = h
        numeric = (
            kinematics.direction(reading, terms + step)
            - kinematics.direction(reading, terms - step)
        ) / (2 * h)
        assert J[:, i] == pytest.approx(numeric, abs=2e-8), TERMS[i]


def test_it_broadcasts_over_mounts_and_readings() -> None:
    rng = np.random.default_rng(0)
    readings, terms = rng.uniform(0.5, 1.2, (1, 7, 2)), rng.normal(0, 0.02, (5, 1, N_TERMS))
    d, J = kinematics.direction_jacobian(readings, terms)
    assert d.shape == (5, 7, 3)
    assert J.shape == (5, 7, 3, N_TERMS)
    one = kinematics.direction(readings[0, 3], terms[2, 0])
    assert d[2, 3] == pytest.approx(one, abs=1e-15)
    assert kinematics.reading_of(d, terms) == pytest.approx(
        np.broadcast_to(readings, (5, 7, 2)), abs=1e-9
    )
