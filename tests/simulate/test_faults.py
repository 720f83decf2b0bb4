"""The simulator does exactly what each fault says, and nothing else."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar.diagnose.explain.causes import FAULT_RATES, KINDS, draw_fault, draw_kind
from plumbstar.diagnose.explain.causes.base_moved import BaseMovedFault
from plumbstar.diagnose.explain.causes.careless_sighting import MisreadFault
from plumbstar.diagnose.explain.causes.clock_or_site import ClockFault, SiteMixedUpFault
from plumbstar.diagnose.explain.causes.coarse_centring import CoarseFault
from plumbstar.diagnose.explain.causes.fault import Fault, Scene
from plumbstar.diagnose.explain.causes.nothing import NoFault
from plumbstar.diagnose.explain.causes.several import SeveralFaults
from plumbstar.diagnose.explain.causes.slip import SlipFault
from plumbstar.diagnose.explain.causes.term import TermFault
from plumbstar.diagnose.explain.causes.ticks import TicksFault
from plumbstar.diagnose.explain.causes.wrong_star import WrongStarFault
from plumbstar.errors import UserError
from plumbstar.kit import example
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate.faults import simulate
from plumbstar.sky import places
from plumbstar.sky.lists import catalogue
from plumbstar.sky.naming.lookup import find_target
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import solve

RIDGE = Site(47.2, 11.6, 940.0, name="Thornback Ridge")
START = Instant.parse("2027-01-28T18:30:00Z")
NAMES = ("Capella", "Rigel", "Aldebaran", "Caph", "Castor")
MOMENTS = [START.plus_seconds(75.0 * k) for k in range(len(NAMES))]
SILENT = Noise(0.0, 0.0, 0.0)


def truth(**degrees: float) -> np.ndarray:
    t = np.zeros(N_TERMS)
    for name, value in degrees.items():
        t[INDEX[name]] = math.radians(value)
    return t


ORDINARY = truth(azimuth_zero=200.0, altitude_zero=0.9, lean_north=1.0, lean_west=-1.0, cone=0.25)


def run(fault: Fault, noise: Noise = SILENT, **more: object) -> np.ndarray:
    """Readings (n, 2), degrees."""
    seen = simulate(ORDINARY, fault, NAMES, noise, np.random.default_rng(3), RIDGE, MOMENTS, **more)
    return np.array([[s.az_reading_deg, s.alt_reading_deg] for s in seen])


PLAIN = run(NoFault())


def apart(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    """Differences of readings, azimuth the short way round."""
    d = a - b
    d[:, 0] = (d[:, 0] + 180.0) % 360.0 - 180.0
    return d


def test_without_fault_or_noise_the_tube_points_at_the_star():
    seen = simulate(ORDINARY, NoFault(), NAMES, SILENT, np.random.default_rng(0), RIDGE, MOMENTS)
    for s, name, t in zip(seen, NAMES, MOMENTS, strict=True):
        pointed = kinematics.az_alt(
            kinematics.direction(np.radians([s.az_reading_deg, s.alt_reading_deg]), ORDINARY)
        )
        wanted = places.place_of(find_target(name), t, RIDGE)
        assert np.degrees(pointed) == pytest.approx(wanted, abs=1e-7)
        assert (s.true_az_deg, s.true_alt_deg) == pytest.approx(wanted, abs=1e-9)
        assert s.utc == t


def test_the_fix_finds_what_was_hidden():
    kit = example()
    seen = simulate(ORDINARY, NoFault(), NAMES, Noise(), np.random.default_rng(1), RIDGE, MOMENTS)
    fix = solve(seen, Priors.from_kit(kit), Noise.from_kit(kit))
    for name in ("altitude_zero", "lean_north", "lean_west", "cone"):
        i = INDEX[name]
        assert abs(fix.mean[i] - ORDINARY[i]) < 4 * fix.sigma[i], name


@pytest.mark.parametrize("axis", ["azimuth", "altitude"])
def test_a_slip_shifts_one_axis_from_then_on(axis):
    d = apart(run(SlipFault(1, axis, 4.0)), PLAIN)
    k = 0 if axis == "azimuth" else 1
    assert d[:2] == pytest.approx(np.zeros((2, 2)), abs=1e-9)
    assert d[2:, k] == pytest.approx(-4.0, abs=1e-9)  # a zero 4 deg larger reads 4 deg lower
    assert d[2:, 1 - k] == pytest.approx(0.0, abs=1e-9)


def test_a_moved_base_changes_nothing_before_it_moves():
    d = apart(run(BaseMovedFault(2, 2.0, 0.5, -0.5)), PLAIN)
    assert d[:3] == pytest.approx(np.zeros((3, 2)), abs=1e-9)
    assert np.all(np.abs(d[3:, 0]) > 1.0)


@pytest.mark.parametrize(
    ("kind", "names", "sizes"),
    [
        ("stop_off", ["altitude_zero"], (5.0,)),
        ("cone", ["cone"], (2.0,)),
        ("squareness", ["squareness"], (-1.5,)),
        ("runout", ["azimuth_runout_sin", "azimuth_runout_cos"], (0.8, -0.3)),
        ("base_leaning", ["lean_north", "lean_west"], (6.0, 2.0)),
    ],
)
def test_a_fault_of_a_term_is_that_term_larger(kind, names, sizes):
    wanted = ORDINARY + truth(**dict(zip(names, sizes, strict=True)))
    seen = simulate(wanted, NoFault(), NAMES, SILENT, np.random.default_rng(3), RIDGE, MOMENTS)
    readings = np.array([[s.az_reading_deg, s.alt_reading_deg] for s in seen])
    assert apart(run(TermFault(kind, tuple(names), sizes)), readings) == pytest.approx(
        np.zeros((5, 2)), abs=1e-9
    )


def test_wrong_ticks_multiply_the_turn_and_reverse_it():
    whole = run(NoFault(), wrapped=False)
    double = run(TicksFault("azimuth", 2.0), wrapped=False)
    assert double[:, 0] == pytest.approx(2 * whole[:, 0], abs=1e-9)
    assert double[:, 1] == pytest.approx(whole[:, 1], abs=1e-9)
    upright = run(TicksFault("altitude", 0.5, reference_deg=90.0), wrapped=False)
    assert 90.0 - upright[:, 1] == pytest.approx(0.5 * (90.0 - whole[:, 1]), abs=1e-9)
    back = run(TicksFault("both", -1.0))
    assert np.diff(back[:, 1]) == pytest.approx(-np.diff(PLAIN[:, 1]), abs=1e-9)


def test_the_push_is_the_shorter_way():
    steps = np.diff(run(NoFault(), wrapped=False)[:, 0])
    assert np.all(np.abs(steps) <= 181.0)


def test_a_misread_number_is_off_by_exactly_that():
    d = apart(run(MisreadFault(3, "altitude", -10.0)), PLAIN)
    assert d[3] == pytest.approx([0.0, -10.0], abs=1e-9)
    assert np.delete(d, 3, axis=0) == pytest.approx(np.zeros((4, 2)), abs=1e-9)


def test_a_wrong_star_is_where_the_tube_really_points():
    seen = simulate(
        ORDINARY, WrongStarFault(4, "Pollux"), NAMES, SILENT,
        np.random.default_rng(3), RIDGE, MOMENTS,
    )  # fmt: skip
    s = seen[4]
    pointed = np.degrees(
        kinematics.az_alt(
            kinematics.direction(np.radians([s.az_reading_deg, s.alt_reading_deg]), ORDINARY)
        )
    )
    assert s.star == "Castor"
    assert pointed == pytest.approx(
        places.place_of(find_target("Pollux"), MOMENTS[4], RIDGE), abs=1e-7
    )


def test_a_slow_clock_writes_earlier_times_and_their_places():
    fault = ClockFault(3600.0)
    seen = simulate(ORDINARY, fault, NAMES, SILENT, np.random.default_rng(3), RIDGE, MOMENTS)
    for s, t, plain in zip(seen, MOMENTS, PLAIN, strict=True):
        assert s.utc is not None
        assert t.minus(s.utc) == pytest.approx(3600.0)
        assert (s.true_az_deg, s.true_alt_deg) == pytest.approx(
            places.place_of(find_target(s.star), s.utc, RIDGE), abs=1e-9
        )
        assert [s.az_reading_deg, s.alt_reading_deg] == pytest.approx(plain, abs=1e-9)


@pytest.mark.parametrize("how", ["longitude_sign", "latitude_sign", "exchanged"])
def test_a_site_mix_up_is_its_own_inverse(how):
    fault = SiteMixedUpFault(how)
    believed = fault.recorded_site(RIDGE)
    assert believed != RIDGE
    again = fault.recorded_site(believed)
    assert (again.lat_deg, again.lon_deg) == pytest.approx((RIDGE.lat_deg, RIDGE.lon_deg))


def test_readings_are_rounded_to_the_grain():
    noise = Noise.from_kit(example())
    step = 360.0 / 9216
    ticks = run(NoFault(), noise, wrapped=False) / step
    assert ticks == pytest.approx(np.round(ticks), abs=1e-6)


def test_coarse_centring_scatters_that_much_more():
    one, five = [], []
    for seed in range(60):
        for rows, fault in ((one, NoFault()), (five, CoarseFault(5.0))):
            seen = simulate(
                ORDINARY, fault, NAMES, Noise(), np.random.default_rng(seed), RIDGE, MOMENTS
            )
            rows.append([s.alt_reading_deg for s in seen])
    flat = PLAIN[:, 1]
    ratio = np.std(np.array(five) - flat) / np.std(np.array(one) - flat)
    assert ratio == pytest.approx(5.0, rel=0.01)  # the same draws, five times larger


def test_several_faults_add_up():
    stop = TermFault("stop_off", ("altitude_zero",), (3.0,))
    both = SeveralFaults((SlipFault(1, "azimuth", 4.0), stop))
    one = apart(run(SlipFault(1, "azimuth", 4.0)), PLAIN)
    two = apart(run(stop), PLAIN)
    d = apart(run(both), PLAIN)
    assert d[:, 1] == pytest.approx(one[:, 1] + two[:, 1], abs=1e-6)
    assert d[2, 0] < -3.0


def test_kinds_come_at_their_stated_rates():
    rng = np.random.default_rng(5)
    drawn = [draw_kind(rng) for _ in range(4000)]
    for kind, p in FAULT_RATES.items():
        sigma = math.sqrt(p * (1 - p) / 4000)
        assert drawn.count(kind) / 4000 == pytest.approx(p, abs=4 * sigma), kind


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_can_be_drawn_and_simulated(kind):
    rng = np.random.default_rng(11)
    stars = [find_target(n) for n in NAMES]
    near = [catalogue.load()[i] for i in range(200)]
    for _ in range(5):
        fault = draw_fault(kind, rng, Scene(stars, MOMENTS, RIDGE, near))
        assert fault.kind == kind
        seen = simulate(ORDINARY, fault, stars, Noise(), rng, RIDGE, MOMENTS)
        assert len(seen) == len(NAMES)
        assert all(0 <= s.az_reading_deg < 360 for s in seen) or fault.kind in (
            "careless_sighting", "several",
        )  # fmt: skip


def test_mistakes_are_told_in_words():
    with pytest.raises(UserError, match="a fault 'gremlins'"):
        draw_fault("gremlins", np.random.default_rng(0), Scene((), (), RIDGE))
    with pytest.raises(UserError, match="bare directions"):
        simulate(
            ORDINARY, ClockFault(60.0), [(100.0, 40.0)], SILENT,
            np.random.default_rng(0), RIDGE, MOMENTS[:1],
        )  # fmt: skip
    with pytest.raises(TypeError, match="other"):  # a wrong star cannot go without its name
        WrongStarFault(4)
