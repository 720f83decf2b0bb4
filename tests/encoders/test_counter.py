"""Counts to continuous counts: moves, wraps, garbled lines, restarts and jumps told apart."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbstar.encoders.counter import PairCounter
from plumbstar.encoders.limits import Limits
from plumbstar.encoders.parse import Counts
from plumbstar.mount.slips import CountSlip, SlipCause, slip_words
from samples import tries

TICKS = 9216
DT = 0.05
PER_DEG = TICKS / 360.0


def said(counter):
    """What is said of the open slips."""
    return " | ".join(slip_words(s.causes) for s in counter.slips)


class Board:
    """Feeds a counter at 20 lines a second."""

    def __init__(self, ticks=(TICKS, TICKS), limits=None):
        self.c = PairCounter(ticks, limits) if limits else PairCounter(ticks)
        self.t = 100.0

    def lines(self, *pairs):
        for az, alt in pairs:
            self.t += DT
            self.c.feed(Counts(az, alt), self.t)
        return self.c

    def stand(self, az, alt, n=5):
        return self.lines(*[(az, alt)] * n)


def ramp(a, b, n):
    return [round(a + (b - a) * i / n) for i in range(n + 1)]


def wrap(x, modulus, signed):
    x %= modulus
    return x - modulus if signed and x >= (modulus + 1) // 2 else x


def test_two_lines_must_agree_before_there_is_a_reading():
    b = Board()
    assert b.lines((7, 2304)).total is None
    assert b.lines((7, 2304)).total == (7, 2304)
    assert said(b.c) == ""


def test_a_cut_first_line_is_no_reading():
    b = Board()
    assert b.lines((1234, 2), (1234, 2304)).total is None
    assert b.lines((1234, 2304)).total == (1234, 2304)


def test_a_push_is_followed():
    b = Board()
    b.stand(0, 2304)
    moved = b.lines(*[(a, 2304) for a in ramp(0, 2000, 40)])  # 39 deg/s
    assert moved.total == (2000, 2304)
    assert said(moved) == ""


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize(
    ("modulus", "signed"),
    [(2**16, False), (2**16, True), (2**24, False), (2**24, True), (2**32, False), (2**32, True),
     (TICKS, False), (TICKS, True)],
)  # fmt: skip
def test_a_wrap_is_undone_in_both_directions(modulus, signed, direction):
    edge = modulus // 2 if signed else 0
    start = edge - direction * 300
    b = Board()
    first = wrap(start, modulus, signed)
    before = b.lines((first, 5), (first, 5)).total[0]
    b.lines(*[(wrap(x, modulus, signed), 5) for x in ramp(start, edge + direction * 300, 20)])
    assert b.c.total[0] - before == direction * 600
    assert said(b.c) == ""


@settings(max_examples=tries(16, 50), deadline=None)
@given(
    st.sampled_from([2**16, 2**24, 2**32, TICKS, 8192, 10000]),
    st.booleans(),
    st.integers(-(2**17), 2**17),
    st.lists(st.integers(-70, 70), min_size=5, max_size=400),
)
def test_any_walk_of_hand_speed_is_followed_through_every_wrap(modulus, signed, start, steps):
    ticks = modulus if modulus < 2**16 else TICKS
    b = Board((ticks, ticks))
    x = start
    shown = wrap(x, modulus, signed)
    b.lines((shown, 3), (shown, 3))
    before = b.c.total[0]
    for s in steps:
        x += s * ticks // TICKS  # at most 70 of 9216 a turn in 50 ms: 55 deg/s
        b.lines((wrap(x, modulus, signed), 3))
    assert b.c.total[0] - before == x - start
    assert said(b.c) == ""


def test_an_unsigned_counter_just_below_zero_reads_just_below_zero():
    b = Board()
    assert b.stand(65530, 65535, 2).total == (-6, -1)


def test_one_garbled_line_is_dropped():
    b = Board()
    b.stand(1234, 2000)
    b.lines((12, 34), (1235, 2000), (9999, 1), (1236, 2001))
    assert b.c.total == (1236, 2001)
    assert said(b.c) == ""


def test_every_second_line_garbled_alike_is_still_dropped():
    b = Board()
    b.stand(1234, 2000)
    b.lines(*[(1234, 2), (1234, 2000)] * 20)
    assert b.c.total == (1234, 2000)
    assert said(b.c) == ""


def test_a_jump_that_stays_is_a_possible_slip_and_the_reading_holds():
    b = Board()
    b.stand(1000, 2000)
    b.stand(3000, 2000, 2)
    assert b.c.total == (1000, 2000)
    assert said(b.c) == "", "two lines are not yet enough"
    b.stand(3000, 2000, 1)
    assert "azimuth count jumped by 78.1° at once" in said(b.c)
    assert b.c.total == (1000, 2000)
    b.lines((3010, 2000))
    assert b.c.total == (1010, 2000), "it runs on from where it was held"


@pytest.mark.parametrize("deg", [9.5, 11.0, 14.0, 30.0, 120.0, 179.0])
@pytest.mark.parametrize("way", [1, -1])
def test_no_jump_is_passed_over_by_waiting(deg, way):
    b = Board()
    b.stand(1000, 2000)
    ticks = round(way * deg * PER_DEG)
    b.stand(1000 + ticks, 2000, 30)
    assert f"jumped by {abs(ticks) / PER_DEG:.1f}° at once" in said(b.c)
    assert b.c.total == (1000, 2000)


def test_the_slip_stays_until_acknowledged():
    b = Board()
    b.stand(1000, 2000)
    b.stand(3000, 2000)
    b.lines(*[(x, 2000) for x in ramp(3000, 3400, 60)])
    assert said(b.c)
    b.c.acknowledge(b.c.slips[-1].number)
    assert said(b.c) == ""
    assert said(b.stand(3400, 2000)) == ""


def test_a_slip_is_a_record_with_a_number_of_its_own():
    b = Board()
    b.stand(1000, 2000)
    b.stand(3000, 2000)
    first = b.c.slips[-1]
    assert first == CountSlip(1, (SlipCause("jump", ("azimuth",), 78.125),), first.at_monotonic)
    b.stand(3000, 500)
    assert [s.number for s in b.c.slips] == [1, 2]
    b.c.acknowledge(1)
    assert [s.number for s in b.c.slips] == [2], "what is later than the star stays open"
    again = Board()
    again.c.resume(b.c.snapshot())
    assert (again.c.slips, again.c.slips_before) == (b.c.slips, 2)
    again.c.acknowledge(2)
    again.stand(3000, 500)
    again.stand(0, 0)
    assert again.c.slips[-1].number == 3, "numbers go on over a restart"


def test_a_restart_from_zero_is_flagged_and_the_reading_holds():
    b = Board()
    b.stand(4000, 1500)
    b.t += 3.0
    b.stand(0, 0)
    assert said(b.c) == "both counts started again from zero, as after a loss of power"
    assert b.c.total == (4000, 1500)
    b.lines((0, 0), (20, -10))
    assert b.c.total == (4020, 1490)


def test_a_restart_near_zero_without_a_silence_is_seen_too():
    b = Board()
    b.stand(30, 100)  # 1.2 and 3.9 deg: within reach of a quick hand, but not both exactly to zero
    b.stand(0, 0)
    assert "started again from zero" in said(b.c)
    assert b.c.total == (30, 100)


@pytest.mark.parametrize("end", [-100, 0])
def test_one_axis_swung_through_zero_or_to_rest_on_it_is_no_restart(end):
    b = Board()
    b.stand(200, 0)
    b.lines(*[(az, 0) for az in range(160, end, -40)])
    b.stand(end, 0)
    assert said(b.c) == ""
    assert b.c.total == (end, 0)


def test_what_is_moved_while_a_jump_is_being_confirmed_counts():
    b = Board()
    b.stand(1000, 2000)
    b.lines((3000, 2000), (3010, 2000), (3030, 1990))
    assert said(b.c)
    assert b.c.total == (1030, 1990)


def test_where_a_wrap_and_a_move_cannot_be_told_apart_it_is_a_possible_slip():
    # 16 bits are a sixteenth of this turn: after 0.2 s a hand may have passed half of them
    b = Board(ticks=(2**20, TICKS))
    b.stand(0, 0)
    b.t += 0.1
    b.stand(55000, 0)
    assert said(b.c)


@pytest.mark.parametrize(
    ("seconds", "before", "after", "moved", "words"),
    [
        (10.0, 1000, 1100, 100, "the azimuth count changed by 3.9° while nothing was heard"),
        (10.0, 1000, 1003, 3, ""),
        (10.0, 65533, 3, 6, ""),  # a wrap of 16 bits
        (1.5, 1000, 1400, 400, ""),  # a short hiccup lets the hand move
    ],
)
def test_after_a_silence_the_count_is_followed_and_a_change_is_said(
    seconds, before, after, moved, words
):
    b = Board()
    start = b.stand(before, 2000).total[0]
    b.t += seconds
    b.stand(after, 2000)
    assert said(b.c) == words
    assert b.c.total == (start + moved, 2000)


def test_a_new_connection_is_a_silence_however_short():
    b = Board()
    b.stand(1000, 2000)
    b.c.interrupted()
    b.stand(1100, 2000)
    assert said(b.c)


def test_lines_lost_among_those_held_up_are_no_jump():
    """All come in one moment, so nobody knows how long the step between two of them took."""
    b = Board()
    b.lines(*[(a, 2304) for a in ramp(0, 600, 25)])  # 19 deg/s
    b.t += 0.7
    for az in (624, 648, 768, 792):  # four lost before the third: 4.7 deg
        b.c.feed(Counts(az, 2304), b.t)
    b.lines((816, 2304), (840, 2304), (864, 2304))
    assert b.c.total == (864, 2304)
    assert said(b.c) == ""


@pytest.mark.parametrize("speed", [0, 8])
def test_a_slip_of_a_few_degrees_between_two_close_lines_is_said(speed):
    """At rest, and in a push of 6 deg/s; it passed for a hand up to 9 degrees."""
    b = Board()
    b.lines(*[(speed * k, 2304) for k in range(20)])
    b.lines(*[(speed * k + round(4.5 * PER_DEG), 2304) for k in range(20, 26)])
    assert "azimuth" in said(b.c)


def test_lines_held_up_and_then_all_at_once_are_no_jump():
    c = PairCounter((TICKS, TICKS))
    for i in range(20):
        c.feed(Counts(0, 0), i * DT)
    for i in range(1, 21):  # a second of 30 deg/s, delivered in one moment
        c.feed(Counts(i * 38, 0), 2.0)
    assert c.total == (760, 0)
    assert said(c) == ""


@pytest.mark.parametrize(("every_s", "ticks"), [(1.0, 256), (3.0, 200)])
def test_a_slow_board_is_not_taken_for_unplugged(every_s, ticks):
    c = PairCounter((TICKS, TICKS))
    for i in range(20):
        c.feed(Counts(i * ticks, 0), i * every_s)
    assert c.total == (19 * ticks, 0)
    assert said(c) == ""


def test_a_slow_board_is_silent_after_three_of_its_intervals():
    for missed_s, slip in ((2.9, False), (4.0, True)):
        c = PairCounter((TICKS, TICKS))
        for i in range(40):
            c.feed(Counts(0, 0), i * 1.0)
        for k in range(3):
            c.feed(Counts(256, 0), 39.0 + missed_s + k)
        assert bool(said(c)) == slip


def test_lines_of_a_slow_board_held_up_are_no_jump():
    c = PairCounter((TICKS, TICKS))
    for i in range(10):
        c.feed(Counts(i * 256, 0), i * 1.0)
    c.feed(Counts(2560, 0), 11.5)  # held up; the next follows at once
    c.feed(Counts(2816, 0), 11.5)
    assert c.total == (2816, 0)


def test_a_stuck_altitude_is_suspected_and_cleared_by_one_tick():
    b = Board()
    b.stand(0, 2000)
    b.lines(*[(x, 2000) for x in ramp(0, round(70 * PER_DEG), 60)])
    assert b.c.doubt(b.t).startswith("the altitude count has not changed by one tick while azimuth")
    assert said(b.c) == ""
    b.lines((round(70 * PER_DEG), 2001))
    assert b.c.doubt(b.t) == ""


def test_a_stuck_azimuth_is_suspected():
    b = Board()
    b.stand(0, 0)
    b.lines(*[(0, x) for x in ramp(0, round(45 * PER_DEG), 60)])
    assert "azimuth encoder's cable" in b.c.doubt(b.t)


def test_nothing_moving_for_long_is_mentioned():
    b = Board()
    b.stand(0, 0)
    assert b.c.doubt(b.t) == ""
    assert "neither count has changed for 11 min" in b.c.doubt(b.t + 660.0)
    b.t += 650.0
    b.stand(1, 0)  # one axis is enough
    assert b.c.doubt(b.t + 20.0) == ""


def test_resuming_keeps_the_turns_and_notices_a_change():
    b = Board()
    b.stand(65500, 10)
    b.lines(*[(wrap(x, 2**16, False), 10) for x in ramp(65500, 65600, 10)])
    saved = b.c.snapshot()
    again = Board()
    again.c.resume(saved)
    again.stand(64, 10)
    assert again.c.total == b.c.total
    assert said(again.c) == ""
    moved = Board()
    moved.c.resume(saved)
    moved.stand(600, 10)
    assert "while nothing was heard" in said(moved.c)


def test_fed_nonsense_it_neither_raises_nor_believes():
    b = Board(limits=Limits())
    b.stand(1000, 2000)
    for i in range(200):
        b.lines((i * 7919 * 1000 % 10**6, -(i * 104729) % 10**9))
    assert b.c.total == (1000, 2000)


@settings(max_examples=tries(16, 50), deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(-(2**40), 2**40), st.integers(-(2**40), 2**40), st.floats(0, 5)),
        max_size=60,
    )
)
def test_anything_may_be_fed(lines):
    c = PairCounter((TICKS, 10000))
    t = 0.0
    for az, alt, dt in lines:
        t += dt
        c.feed(Counts(az, alt), t)
        c.doubt(t)
    assert (c.total is None) == (c.raw is None)


def push(start, goal, seconds, dt=DT):
    """Counts along a push: a half cosine, not the path that the counter thinks of."""
    n = round(seconds / dt)
    parts = [(1 - math.cos(math.pi * i / n)) / 2 for i in range(n + 1)]
    return [tuple(round(a + p * (b - a)) for a, b in zip(start, goal, strict=True)) for p in parts]


@pytest.mark.parametrize("silent_s", [0.3, 0.6, 0.9, 1.2])
@pytest.mark.parametrize("at", [0.2, 0.4, 0.6, 0.75])
@pytest.mark.parametrize("start", [(1230, 1434), (500, 300), (-700, 900)])
def test_a_board_that_restarts_in_a_push_is_seen(start, at, silent_s):
    b = Board()
    b.lines(*push((start[0] - 2000, start[1]), start, 4.0))  # so that the hand is known
    path = push(start, (start[0] + 1200, start[1] + 500), 5.0)
    restart = round(at * len(path))
    back = restart + round(silent_s / DT)
    b.lines(*path[:restart])
    zero = path[restart]
    b.t += silent_s
    b.lines(*[(az - zero[0], alt - zero[1]) for az, alt in path[back:]])
    b.stand(path[-1][0] - zero[0], path[-1][1] - zero[1])
    assert b.c.slips, "silently off by tens of degrees"


@pytest.mark.parametrize("silent_s", [0.3, 0.6, 0.9, 1.2])
@pytest.mark.parametrize("at", [0.0, 0.2, 0.4, 0.6, 0.75])
@pytest.mark.parametrize("seconds", [1.6, 3.0, 6.0])
def test_lines_that_are_missing_in_an_honest_push_are_no_slip(seconds, at, silent_s):
    b = Board()
    b.lines(*push((-2500, 1400), (0, 1400), 3.0))
    path = push((0, 1400), (1200, 900), seconds)
    gone = round(at * len(path))
    b.lines(*path[:gone])
    b.t += silent_s
    b.lines(*path[gone + round(silent_s / DT) :])
    b.stand(1200, 900)
    assert said(b.c) == ""
    assert b.c.total == (1200, 900)


def slow(pairs):
    c = PairCounter((TICKS, TICKS))
    for i, (az, alt) in enumerate(pairs):
        c.feed(Counts(az, alt), 1.0 * i)
    return c


@pytest.mark.parametrize("deg", [20.0, 35.0, 50.0, 60.0])
@pytest.mark.parametrize("circle", [0, 1])
def test_a_slip_at_rest_is_seen_on_a_slow_board(deg, circle):
    at = [2500, 1500]
    at[circle] += round(deg * PER_DEG)
    path = push((0, 2000), (2500, 1500), 10.0, 1.0) + [(2500, 1500)] * 4
    c = slow([*path, *[tuple(at)] * 4])
    assert said(c) == (
        f"the {('azimuth', 'altitude')[circle]} count changed by {deg:.1f}° from one line "
        "to the next"
    )


@pytest.mark.parametrize("seconds", [2.0, 3.0, 5.0])
def test_a_fast_push_is_no_slip_on_a_slow_board(seconds):
    path = [(0, 2000)] * 3 + push((0, 2000), (1400, 1500), seconds, 1.0) + [(1400, 1500)] * 3
    path += [(x + 1400, y) for x, y in push((0, 1500), (-1300, 900), seconds, 1.0)]
    c = slow([*path, (100, 900), (100, 900)])
    assert said(c) == ""
    assert c.total == (100, 900)
