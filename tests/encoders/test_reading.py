"""The history: what was read at the instant of a tap."""

import math

import pytest

from plumbstar.encoders.reading import History, Reading
from plumbstar.errors import UserError


def live(t, az, alt=40.0, slips_before=0):
    slip = bool(slips_before)
    counts = round(az * 10), round(alt * 10)
    return Reading(az, alt, *counts, t, 1e9 + t, "live", slip, slips_before)


def test_between_two_readings_a_straight_line():
    h = History()
    h.add(live(10.0, 5.0, 40.0))
    h.add(live(10.1, 6.0, 42.0))
    r = h.at(10.025)
    assert (r.az_deg, r.alt_deg) == pytest.approx((5.25, 40.5))
    assert r.at_monotonic == 10.025
    assert r.at_unix == pytest.approx(1e9 + 10.025, abs=1e-6)
    assert r.az_count == 50, "the nearer reading's counts"


def test_exactly_on_a_reading():
    h = History()
    h.add(live(10.0, 5.0))
    h.add(live(10.1, 6.0))
    assert h.at(10.0) == live(10.0, 5.0)


def test_before_the_first_and_long_after_the_last_there_is_none():
    h = History(hold_s=1.0)
    assert h.at(1.0) is None
    h.add(live(10.0, 5.0))
    assert h.at(9.99) is None
    assert h.at(10.9).az_deg == 5.0
    assert h.at(11.1) is None
    assert h.at(math.nan) is None


def test_no_line_is_drawn_across_a_long_gap_or_a_slip():
    h = History()
    h.add(live(10.0, 5.0))
    h.add(live(15.0, 9.0))
    assert h.at(12.0) is None
    h.add(live(15.1, 20.0, slips_before=1))
    assert h.at(15.02).az_deg == 9.0
    assert h.at(15.08).az_deg == 20.0


def test_a_typed_reading_holds_until_the_next():
    h = History()
    h.add(Reading(10.0, 20.0, None, None, 5.0, 5.0, "typed"))
    h.add(Reading(30.0, 40.0, None, None, 500.0, 500.0, "typed"))
    assert h.at(400.0).az_deg == 10.0
    assert h.at(9000.0).az_deg == 30.0


def test_readings_are_kept_by_time_and_time_never_runs_back():
    h = History(keep_s=10.0)
    for i in range(100):
        h.add(live(float(i), float(i)))
    h.add(live(3.0, 999.0))
    assert [r.az_deg for r in h] == [float(i) for i in range(79, 100)]


@pytest.mark.parametrize("every_s", [0.01, 0.05, 0.2])
def test_a_press_of_ten_minutes_ago_finds_its_reading_however_fast_the_board(every_s):
    h = History()
    for i in range(round(700.0 / every_s)):
        t = i * every_s
        h.add(live(t, 20.0 * (t % 60.0) if t % 60.0 < 5.0 else 100.0))  # pushed once a minute
    now = 700.0 - every_s
    for ago_s in (600.0, 598.0, 577.3, 300.0, 37.7, 0.0):
        t = now - ago_s
        expected = 20.0 * (t % 60.0) if t % 60.0 < 5.0 else 100.0
        assert h.at(t).az_deg == pytest.approx(expected, abs=0.2), ago_s
    assert len(h) < 20_000


def test_asking_an_absent_reading_for_degrees_says_why():
    with pytest.raises(UserError, match="is the cable in"):
        Reading(problem="no bytes for 3 s: is the cable in?").degrees()
