"""Runs of evenings with a hidden stop, hidden hands, a hidden clock and hidden bad evenings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbstar import controller
from plumbstar.commands.nights import read_nights
from plumbstar.controller import Pair, ShownNumber
from plumbstar.errors import UserError
from plumbstar.kit import Kit
from plumbstar.mount import kinematics
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.terms import INDEX, N_TERMS
from plumbstar.simulate.mounts import draw_terms
from plumbstar.sky.site import Site
from samples import chance_of, tries

PRIORS = Priors.from_kit(Kit())
NOISE = Noise(math.radians(0.08))
STOP = INDEX["altitude_zero"]


def run(rng, n, terms, *, clockless, hand=NOISE.centring, seconds=120.0, spoil=()):
    out = []
    for i in range(n):
        az = rng.uniform(0, 2 * np.pi)
        places = np.array(
            [
                [az, math.radians(rng.uniform(20, 65))],
                [az + math.radians(rng.uniform(50, 190)), math.radians(rng.uniform(20, 65))],
            ]
        )
        early = places[1] - [
            math.radians(rng.uniform(-0.5, 0.5)),
            math.radians(rng.uniform(-0.5, 0.5)),
        ]
        read = kinematics.reading_of(kinematics.unit(places[:, 0], places[:, 1]), terms)
        read += (
            rng.normal(size=(2, 2)) * hand / np.stack([np.cos(places[:, 1]), np.ones(2)], axis=1)
        )
        p = Pair("A", "B", *(tuple(np.degrees(x)) for x in (places[0], places[1], early)), seconds)
        number = controller.angle(read) - controller.angle(places)
        number += p.drift if clockless else 0.0
        number += math.radians(spoil[i]) if i < len(spoil) else 0.0
        out.append(ShownNumber(math.degrees(number), p, f"night {i + 1}"))
    return out


def hidden(rng):
    sigma = np.where(np.isinf(PRIORS.sigma), 0.0, PRIORS.sigma)
    return draw_terms(Priors(np.zeros(N_TERMS), sigma), rng)


def test_hidden_stop_and_its_interval():
    rng = np.random.default_rng(1)
    pulls, clocks = [], []
    trials = tries(20, 100)
    for trial in range(trials):
        terms = hidden(rng)
        clockless = trial % 2 == 0
        hand = NOISE.centring * math.exp(rng.normal() * math.log(2.0))
        c = controller.combine(run(rng, 6, terms, clockless=clockless, hand=hand), PRIORS, NOISE)
        pulls.append(abs(c.stop_deg - math.degrees(terms[STOP])) / c.stop_sigma_deg)
        clocks.append(c.clockless if clockless else 1 - c.clockless)
    assert chance_of(float(np.mean(np.array(pulls) < 1)), 0.683, trials)
    assert np.mean(np.array(pulls) < 2) > 0.88
    assert np.mean(clocks) > 0.8


def test_evenings_beat_one():
    rng = np.random.default_rng(2)
    rows = run(rng, 8, hidden(rng), clockless=False)
    one = controller.judge(rows[0], PRIORS, NOISE, clock=True)
    many = controller.combine(rows, PRIORS, NOISE, clock=True)
    assert many.stop_sigma_deg < one.stop_sigma_deg


def test_bad_evening_is_set_aside():
    rng = np.random.default_rng(3)
    terms = np.zeros(N_TERMS)
    terms[STOP] = math.radians(0.9)
    spoil = (0, 0, 7.5, 0, 0, 0)
    c = controller.combine(
        run(rng, 6, terms, clockless=False, spoil=spoil), PRIORS, NOISE, clock=True
    )
    assert c.evenings[2].bad > 0.95
    assert max(e.bad for i, e in enumerate(c.evenings) if i != 2) < 0.3
    assert c.stop_deg == pytest.approx(0.9, abs=3 * c.stop_sigma_deg)
    assert c.finding is controller.RunFinding.STOP
    assert "night 3" in controller.run_sentence(c)
    assert c.decides


def test_centring_is_learnt_from_the_scatter():
    rng = np.random.default_rng(4)
    terms = hidden(rng)
    rough = controller.combine(
        run(rng, 14, terms, clockless=False, hand=3 * NOISE.centring), PRIORS, NOISE, clock=True
    )
    neat = controller.combine(
        run(rng, 14, terms, clockless=False, hand=0.4 * NOISE.centring), PRIORS, NOISE, clock=True
    )
    assert rough.centring_deg == pytest.approx(0.24, rel=0.4)
    assert neat.centring_deg < 0.06
    assert rough.stop_sigma_deg > neat.stop_sigma_deg


def test_pairs_at_one_azimuth_never_decide():
    p = Pair("A", "B", (100.0, 20.0), (101.0, 65.0), (101.0, 65.0), 30.0)
    c = controller.combine([ShownNumber(0.2, p, str(i)) for i in range(12)], PRIORS, NOISE)
    assert not c.decides
    assert c.finding is controller.RunFinding.UNDECIDED
    assert "cannot decide" in controller.run_sentence(c)
    assert c.stop_sigma_deg > 0.9 * c.stop_prior_sigma_deg


def test_sign_from_a_known_change():
    """Added 1 mm and the number went from +1.4 to +0.6, on a kit where adding lowers the tube."""
    s = controller.learn_sign(1.4, 0.6, 1.0, NOISE, adding="lowers", lever_arm_mm=75.0)
    assert s.sign == "measured-minus-true"
    assert s.per_mm_deg == pytest.approx(-0.8)
    assert s.to_zero_mm == pytest.approx(0.75)
    assert s.size_ratio == pytest.approx(0.8 / (math.degrees(math.atan(1 / 75.0)) * 1.1), rel=1e-6)
    assert (
        controller.learn_sign(1.4, 0.6, 1.0, NOISE, adding="raises").sign == "true-minus-measured"
    )
    assert (
        controller.learn_sign(1.4, 0.6, -1.0, NOISE, adding="raises").sign == "measured-minus-true"
    )


def test_sign_that_cannot_be_learnt():
    s = controller.learn_sign(1.4, 0.6, 1.0, NOISE)
    assert s.sign is None
    assert s.adding == "lowers"
    assert s.to_zero_mm == pytest.approx(0.75)  # the mend is known all the same
    assert not s.direction_known
    assert "cannot both" in controller.sign_sentence(s)
    faint = controller.learn_sign(1.40, 1.35, 1.0, NOISE, adding="lowers")
    assert faint.to_zero_mm is None
    assert faint.sign is None
    assert "too little" in controller.sign_sentence(faint)
    off = controller.learn_sign(1.4, 0.6, 1.0, NOISE, adding="lowers", lever_arm_mm=400.0)
    assert "lever arm" in controller.sign_sentence(off)


def test_sign_simulated():
    """The stop moved by hidden shims under both signs and both directions: the sign is found."""
    rng = np.random.default_rng(6)
    places = np.radians([[80.0, 40.0], [200.0, 50.0]])
    k = float(controller.sensitivities(places)[STOP])
    for sign in (1, -1):
        for adding in ("raises", "lowers"):
            numbers = []
            for mm in (0.0, 3.0):
                terms = np.zeros(N_TERMS)
                tip = math.atan(mm / 150.0) * (1 if adding == "raises" else -1)
                terms[STOP] = math.radians(0.5) + tip
                read = kinematics.reading_of(kinematics.unit(places[:, 0], places[:, 1]), terms)
                m = controller.angle(read) - controller.angle(places)
                m += rng.normal() * math.sqrt(2) * NOISE.centring
                numbers.append(sign * math.degrees(m))
            s = controller.learn_sign(
                *numbers, 3.0, NOISE, adding=adding, lever_arm_mm=150.0, sensitivity=k
            )
            assert s.sign == controller.SIGNS[0 if sign > 0 else 1]


@pytest.mark.parametrize("mm", [0.0, math.inf, 5000.0])
def test_change_must_be_a_thickness(mm):
    with pytest.raises(UserError):
        controller.learn_sign(1.4, 0.6, mm, NOISE)


def test_the_file_may_come_from_any_spreadsheet():
    site = Site(47.2, 11.6)
    head = "shown_deg,star_a,time_a,star_b,time_b"
    row = "1.4,Capella,2027-01-28T17:40:00Z,Deneb,2027-01-28T17:40:30Z"
    (point,), _ = read_nights(f"{head}\n{row}\n", site, "a file")
    for text in (
        f"{head}\n{row}".replace(",", ";").replace("1.4", "1,4"),
        f"{head}\n{row}".replace(",", "\t"),
    ):
        assert read_nights(text, site, "a file") == ([point], ())


def test_no_evenings():
    with pytest.raises(UserError):
        controller.combine([], PRIORS, NOISE)
