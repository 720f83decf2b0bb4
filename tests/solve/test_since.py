"""What no star has put to the test yet: slips since the last one, and the last one itself."""

from dataclasses import replace

import numpy as np
import pytest

from plumbstar.kit import Kit
from plumbstar.mount.priors import Noise, Priors
from plumbstar.simulate.mounts import HiddenMount, draw_terms
from plumbstar.solve.epochs import solve_parts
from plumbstar.solve.fix import solve
from plumbstar.solve.since import (
    JUMP_RATE,
    NEXT_PUSH,
    PUSH_DEG,
    last_contradicts,
    still_chance,
    suspected,
)
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


def test_a_way_that_the_lines_did_not_show_is_a_chance_for_a_jump():
    """So many pushes' way gone unseen, so often the count has jumped; a quick board adds nought."""
    rng = np.random.default_rng(10)
    jumped_at = rng.geometric(JUMP_RATE, 200_000)
    for pushes in (1, 4):
        held = np.mean(jumped_at > pushes) * still_chance(pushes)
        assert still_chance(pushes, (), pushes * PUSH_DEG) == pytest.approx(held, abs=0.003)
    assert still_chance(1, (), 0.0) == still_chance(1) == NEXT_PUSH


def test_a_star_that_may_be_wrong_is_named_though_it_is_not_set_aside():
    rng = np.random.default_rng(6)
    named = silent = 0
    for k in range(8):
        hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
        good = hidden.sight_all([*STARS, (250, 35)])
        fix = solve(good, PRIOR, NOISE)
        silent += suspected(fix.stories, fix.set_aside) is None
        off = 0.6 + 0.1 * k
        odd = replace(good[2], alt_reading_deg=good[2].alt_reading_deg + off)
        fix = solve([*good[:2], odd, *good[3:]], PRIOR, NOISE)
        # Either it is left out, or it is under suspicion, or the others cannot tell.
        named += 2 in fix.set_aside or suspected(fix.stories, fix.set_aside) == 2
        assert suspected(fix.stories, range(5)) is None or 2 not in fix.set_aside
    assert silent >= 7
    assert named >= 5


def test_a_base_knocked_just_before_a_lost_zero_is_not_taken_for_a_wrong_star():
    """The last star before a circle lost its zero contradicted the others, so the lean may be
    another since: nothing afterwards can say so, and the fix must not be sure of the old one."""
    rng = np.random.default_rng(7)
    hidden = HiddenMount(draw_terms(PRIOR, rng), NOISE, rng)
    good = hidden.sight_all([*STARS, (250, 35), (20, 45)])
    knocked = replace(good[4], az_reading_deg=good[4].az_reading_deg + 5.0)
    lost = [(5, ("azimuth", "altitude"))]
    calm = solve_parts(good, PRIOR, NOISE, lost)[-1].fix
    doubtful = solve_parts([*good[:4], knocked, good[5]], PRIOR, NOISE, lost)[-1].fix
    assert doubtful.mean_hit_chance(1.5) < 0.8 * calm.mean_hit_chance(1.5)
