"""How an observer centres, learnt from outings of a mount walked in a geometry of its own."""

import math
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plumbstar.diagnose.evidence import hand_from
from plumbstar.diagnose.hand import LearntHand, hand_sentence, learn_hand
from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.mount.sighting import Sighting
from plumbstar.solve.fix import solve
from plumbstar.solve.hands import LOG_TIMES

sys.path.insert(0, str(Path(__file__).parents[2] / "design"))
import weeks as walked_weeks

KIT, NOISE = Kit(), Noise.from_kit(Kit())


def learnt(times: float, seed: int, outings: int = 12, faults: bool = False) -> LearntHand:
    """From outings of three to five stars; with ``faults``, every third has one."""
    rng = np.random.default_rng(seed)
    lasting = walked_weeks.telescope(rng)
    told = []
    for i in range(outings):
        fault = walked_weeks.FAULTS[i // 3] if faults and i % 3 == 0 else ""

        def hand(g: np.random.Generator, shape: tuple[int, ...]) -> np.ndarray:
            return times * g.standard_normal(shape)

        rows = walked_weeks.evening(lasting, rng, fault, hand)[0]
        told.append(hand_from(rows, KIT, NOISE))
    found = learn_hand([y for y in told if y is not None], NOISE)
    assert found is not None
    return found


@pytest.mark.parametrize("times", [0.3, 3.0])
def test_a_hand_is_learnt_from_twelve_outings_a_third_of_them_with_a_fault(times: float) -> None:
    found = learnt(times, seed=7, faults=True)
    assert abs(math.log(found.times / times)) < 3 * found.sigma_log
    assert found.sigma_log < 0.35
    assert found.differs


def test_over_many_observers_the_sigma_is_honest() -> None:
    off = []
    for seed in range(4):
        times = float(np.random.default_rng(100 + seed).choice([0.5, 1.0, 1.7]))
        found = learnt(times, seed, outings=5)
        off.append(math.log(found.times / times) / found.sigma_log)
    assert np.sum(np.abs(off) < 2) >= 4
    assert 0.4 < math.sqrt(np.mean(np.square(off))) < 1.5


def test_one_outing_does_not_call_the_kit_wrong() -> None:
    found = learnt(1.0, seed=3, outings=1)
    assert not found.differs
    assert 0.15 < found.sigma_log < 0.8


def wild(lasting: np.ndarray, rng: np.random.Generator) -> list[Sighting]:
    """Sightings that fit nothing: each reading is off by up to tens of degrees, its own way."""
    rows = [*walked_weeks.evening(lasting, rng)[0], *walked_weeks.evening(lasting, rng)[0]][:6]
    return [
        replace(
            s,
            az_reading_deg=s.az_reading_deg + rng.uniform(-40, 40),
            alt_reading_deg=float(np.clip(s.alt_reading_deg + rng.uniform(-25, 25), 5, 85)),
        )
        for s in rows
    ]


@pytest.mark.parametrize("times", [0.5, 2.0])
def test_an_evening_that_fits_nothing_tells_next_to_nothing_of_the_hand(times: float) -> None:
    """Among nine ordinary ones it moved the hand to three times, "likely 3.0 to 3.1"."""
    rng = np.random.default_rng(2)
    lasting = walked_weeks.telescope(rng)

    def hand(g: np.random.Generator, shape: tuple[int, ...]) -> np.ndarray:
        return times * g.standard_normal(shape)

    evenings = [walked_weeks.evening(lasting, rng, "", hand)[0] for _ in range(9)]
    told = [hand_from(rows, KIT, NOISE) for rows in evenings]
    odd = hand_from(wild(lasting, rng), KIT, NOISE)
    without, among = learn_hand(told, NOISE), learn_hand([*told[:4], odd, *told[4:]], NOISE)
    assert abs(math.log(among.times / without.times)) < 0.3 * without.sigma_log
    assert among.sigma_log > 0.95 * without.sigma_log  # nor is it surer for it
    assert abs(math.log(among.times / times)) < 3 * among.sigma_log
    alone = learn_hand([odd], NOISE)
    assert not alone.differs
    assert alone.sigma_log > 0.4


def test_without_outings_nothing_is_learnt() -> None:
    assert learn_hand([], NOISE) is None
    assert hand_sentence(None) == ""
    one = Sighting("Vega", 100.0, 40.0, 10.0, 40.0)
    assert hand_from([one], KIT, NOISE) is None


def test_the_posterior_is_that_of_known_likelihoods() -> None:
    """Of d squared residuals with sum S: -d u - S exp(-2 u) / 2, whose top is ln(S / d) / 2."""
    d, true = 8, 1.6
    y = -d * LOG_TIMES - d * true**2 / 2 * np.exp(-2 * LOG_TIMES)
    found = learn_hand([y] * 20, NOISE)
    assert found is not None
    assert found.times == pytest.approx(true, rel=0.12)  # evenings differ: drawn a little finer
    assert 0.9 / math.sqrt(2 * d * 20) < found.sigma_log < 0.12
    assert found.differs
    assert "less closely than the kit says: to 9." in hand_sentence(found)


def test_a_fix_counts_on_the_hand_that_was_learnt() -> None:
    rng = np.random.default_rng(5)
    rows = walked_weeks.evening(walked_weeks.telescope(rng), rng)[0][:2]
    prior = Priors.from_kit(KIT)

    def chance(noise: Noise) -> float:
        return solve(rows, prior, noise).mean_hit_chance(0.76)

    rough = LearntHand(2 * NOISE.centring, 0.1, NOISE.centring, 12)
    assert chance(rough.noise(NOISE)) < chance(NOISE) - 0.1
    # A hand that is not known well is one of several, and the fix says which it seems to be.
    open_to = solve(rows, prior, LearntHand(NOISE.centring, 0.4, NOISE.centring, 1).noise(NOISE))
    assert len({w.story.coarser for w in open_to.stories if not w.story.bad}) >= 3
    assert sum(w.share for w in open_to.stories) == pytest.approx(1.0)
