"""A slow board's step in a push is judged by what this hand went over its other intervals."""

import pytest

from plumbstar.encoders.pace import Pace


def followed(deg_s: float) -> Pace:
    """A hand at that speed for 20 lines of a board of one line a second, still pushing."""
    pace = Pace(60.0)
    for k in range(20):
        pace.note(float(k), (deg_s * k, 40.0), 1.0)
    return pace


def test_a_slow_hand_is_held_to_its_own_speed_in_a_push():
    between = followed(12.0).between(1.0, 1.0, (12.0, 0.0))
    assert between.possible(13.0, 0)
    assert not between.possible(12.0 + 15.0, 0)
    assert not between.possible(12.0 - 25.0, 0), "not back between two lines that go on"


def test_a_fast_hand_may_go_as_far_again():
    between = followed(45.0).between(1.0, 1.0, (10.0, 0.0))
    assert between.possible(48.0, 0)
    assert not between.possible(75.0, 0)


def test_a_hand_hardly_followed_is_only_held_to_the_limit_of_all():
    pace = Pace(60.0)
    for k in range(4):
        pace.note(float(k), (10.0 * k, 40.0), 1.0)
    assert pace.between(1.0, 1.0, (10.0, 0.0)).possible(55.0, 0)


def at_20_lines_a_second(deg_s: float) -> Pace:
    """A hand at that speed, heard twenty times a second."""
    pace = Pace(60.0)
    for k in range(40):
        pace.note(k / 20, (deg_s * k / 20, 40.0), 0.05)
    return pace


@pytest.mark.parametrize("dt", [0.05, 0.1])
def test_between_close_lines_no_hand_sets_a_tube_in_motion_and_stops_it_again(dt):
    at_rest = at_20_lines_a_second(0.0).between(dt, 0.05, (0.0, 0.0))
    assert not at_rest.possible(60.0 * dt + 0.5, 0)
    assert not at_rest.possible(60.0 * dt + 0.5, 1)
    assert at_rest.possible(60.0 * dt, 0)  # no faster than a hand: a jolt
    pushed = at_20_lines_a_second(20.0).between(dt, 0.05, (20.0, 0.0))
    assert pushed.possible(20.0 * dt, 0)
    assert pushed.possible(20.0 * (dt + 0.1), 0)  # a line that came late
    assert not pushed.possible(20.0 * dt + 6.0, 0)
    assert not pushed.possible(20.0 * dt - 8.5, 0)


def test_a_hard_pull_from_rest_is_a_hand():
    between = at_20_lines_a_second(0.0).between(0.05, 0.05, (50.0, 0.0))
    assert between.possible(50.0 * 0.05, 0)


def test_what_could_hide_a_jump_is_counted():
    """A quick board hides nothing, a slow one nearly all of the way, a lost line its share."""
    assert at_20_lines_a_second(55.0).unseen_deg == 0.0
    assert followed(20.0).unseen_deg == pytest.approx(19 * 17.0)
    assert followed(2.5).unseen_deg == 0.0  # pushed gently, a slow board tells all
    pace = at_20_lines_a_second(40.0)
    pace.note(39 / 20 + 0.15, (40.0 * 39 / 20 + 6.0, 40.0), 0.05)
    assert pace.unseen_deg == pytest.approx(3.0)
