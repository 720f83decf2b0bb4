"""What no star has put to the test yet: slips since the last one, and the last one itself."""

from dataclasses import replace

import numpy as np
import pytest

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.fix import solve
from plumbstar.solve.since import last_contradicts, still_chance
from plumbstar.solve.stories import MOVED_RATE

PRIOR, NOISE = Priors.from_kit(Kit()), Noise()


def test_each_push_is_another_chance_for_a_slip():
    """Counted out: evenings in which something moves at random, those with a hit left in."""
    rng = np.random.default_rng(8)
    moved_at = rng.geometric(MOVED_RATE, 200_000)  # in which push
    for pushes in (1, 3, 8):
        assert still_chance(pushes) == pytest.approx(np.mean(moved_at > pushes), abs=0.003)


def test_a_miss_where_a_hit_was_nearly_sure_speaks_for_a_slip():
    """The same, of the evenings in which the first push shows nothing."""
    rng = np.random.default_rng(9)
    n, hit = 400_000, 0.9
    moved_at = rng.geometric(MOVED_RATE, n)
    nothing = (moved_at == 1) | (rng.random(n) > hit)
    held = np.mean(moved_at[nothing] > 2)
    assert still_chance(2, [(1, 1 - hit)]) == pytest.approx(held, abs=0.02)
    assert still_chance(2, [(1, 1 - hit)]) < 0.85 < still_chance(2)


STARS = [(100, 30), (190, 55), (300, 40), (40, 60)]


@pytest.mark.parametrize("off_deg", [(7.0, 1.5), (-4.0, 3.0), (0.0, -9.0)])
def test_the_last_star_is_doubted_where_it_contradicts_the_others(off_deg):
    rng = np.random.default_rng(4)
    for _ in range(3):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        good = hidden.sight_all([*STARS, (250, 35)])
        assert not last_contradicts(solve(good, PRIOR, NOISE).stories, 5)
        last = good[4]
        az, alt = last.az_reading_deg + off_deg[0], last.alt_reading_deg + off_deg[1]
        odd = replace(last, az_reading_deg=az, alt_reading_deg=alt)
        assert last_contradicts(solve([*good[:4], odd], PRIOR, NOISE).stories, 5)
        # Where it is not the last, those that came after have told.
        assert not last_contradicts(solve([*good[:3], odd, good[3]], PRIOR, NOISE).stories, 5)
