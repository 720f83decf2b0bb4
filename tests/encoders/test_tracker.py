"""Bytes and moments to readings and plain words, without a clock."""

import msgspec
import pytest

from plumbstar import kit as kits
from plumbstar.encoders.tracker import Tracker
from plumbstar.errors import UserError


def kit(kind="tcp", reversed_az=False, **connection):
    base = {"kind": kind, "host": "board.test", "port": 1, "device": "/dev/x", "poll": "?"}
    return msgspec.structs.replace(
        kits.example(),
        azimuth=kits.Circle(ticks_per_turn=9216, reversed=reversed_az),
        connection=kits.Connection(**{**base, **connection}),
    )


class Run:
    """A tracker with its own time, 20 lines a second."""

    def __init__(self, k=None):
        self.t = 50.0
        self.tracker = Tracker(k or kit())
        self.tracker.opened(self.t)

    def hear(self, *lines):
        for line in lines:
            self.t += 0.05
            self.tracker.feed(line, self.t, 1e9 + self.t)
        return self.tracker.latest

    def stand(self, az, alt, n=4):
        return self.hear(*[f"{az} {alt}\r\n".encode()] * n)

    def silence(self, seconds):
        self.t += seconds
        self.tracker.tick(self.t)
        return self.tracker.latest


def test_counts_become_degrees_in_the_sense_of_the_mount():
    r = Run().stand(256, 2304)
    assert (r.state, r.az_deg, r.alt_deg) == ("live", 10.0, 90.0)
    assert (r.az_count, r.alt_count, r.problem) == (256, 2304, "")
    assert Run(kit(reversed_az=True)).stand(256, 2304).az_deg == -10.0


def test_azimuth_runs_on_past_a_turn():
    run = Run()
    run.stand(0, 0)
    r = run.hear(*[f"{x} 0\n".encode() for x in range(0, 9216 * 2 + 1, 64)])
    assert r.az_deg == pytest.approx(720.0)


def test_before_anything_is_heard_it_is_absent_and_says_so():
    t = Tracker(kit())
    assert t.latest.state == "absent"
    assert t.latest.problem == "connecting to board.test port 1"
    assert t.latest.az_deg is None


def test_a_reading_grows_stale_within_about_a_second_and_keeps_its_time():
    run = Run()
    run.stand(10, 20)
    heard = run.t
    assert run.silence(0.9).state == "live"
    r = run.silence(0.2)
    assert r.state == "stale"
    assert r.at_monotonic == heard
    assert r.problem == "no bytes for 1 s: is the cable in?"
    assert "for 3 s" in run.silence(2.0).problem


def test_a_lost_connection_is_stale_at_once():
    run = Run()
    run.stand(10, 20)
    run.tracker.lost(run.t, "the port is gone: is the cable in?")
    assert run.tracker.latest.state == "stale"
    assert run.tracker.latest.problem == "the port is gone: is the cable in?"
    run.tracker.opened(run.t + 2.0)
    run.t += 2.0
    assert run.stand(10, 20).state == "live"
    assert not run.tracker.latest.slip


def test_no_answer_to_the_poll_is_told_from_a_pulled_cable():
    assert "has not answered" in Run().silence(3.0).problem
    assert Run(kit(pushed=True)).silence(3.0).problem == "no bytes for 3 s: is the cable in?"


def test_bytes_without_numbers_are_shown():
    run = Run()
    r = run.hear(*[b"hello world\r\n"] * 30)
    assert r.state == "absent"
    assert "no line with two whole numbers (last: 'hello world')" in r.problem


def test_leaping_counts_are_told_from_silence():
    run = Run()
    r = run.hear(*[f"{i * 7919 * 100 % 10**6} {i}\n".encode() for i in range(40)])
    assert "leap about" in r.problem


def test_a_slip_is_flagged_in_words_until_acknowledged():
    run = Run()
    run.stand(4000, 2000)
    r = run.stand(0, 0)
    assert r.slip
    assert r.problem.startswith("possible slip: both counts started again from zero")
    assert r.problem.endswith("Sight a star again")
    assert r.az_deg == pytest.approx(156.25), "held where it was"
    run.tracker.acknowledge(run.t, r.slips_before)
    assert not run.tracker.latest.slip
    assert run.stand(0, 0).problem == ""


def test_a_slip_is_remembered_with_the_readings_of_its_time():
    run = Run()
    run.stand(4000, 2000)
    before = run.t
    run.stand(0, 0)
    assert not run.tracker.history.at(before).slip
    assert run.tracker.history.at(run.t).slip


def test_setting_the_reading_on_the_stop():
    run = Run()
    run.stand(5, 0)
    run.tracker.set_reading(run.t, alt_deg=90.0)
    assert run.tracker.latest.alt_deg == 90.0
    run.stand(5, -128)
    assert run.stand(5, -256).alt_deg == pytest.approx(80.0)
    run.tracker.set_reading(run.t, az_deg=200.0)
    assert (run.tracker.latest.az_deg, run.tracker.latest.alt_deg) == pytest.approx((200.0, 80.0))
    assert all(r.az_deg == pytest.approx(200.0) for r in run.tracker.history)


def test_the_reading_cannot_be_set_without_one():
    with pytest.raises(UserError, match=r"do not answer just now: .*press once more"):
        Run().tracker.set_reading(51.0, alt_deg=90.0)
    with pytest.raises(UserError, match="readings are typed, so there is no count to set"):
        Tracker(kits.example()).set_reading(51.0, alt_deg=90.0)


def test_typed_readings_hold():
    t = Tracker(kits.example())
    assert t.latest.problem == "type the two readings"
    t.type_reading(123.0, 45.0, 10.0, 1e9)
    t.tick(9999.0)
    assert (t.latest.state, t.latest.az_deg, t.latest.az_count) == ("typed", 123.0, None)
    assert not t.latest.slip
    with pytest.raises(UserError, match="come from its encoders"):
        Tracker(kit()).type_reading(1.0, 2.0, 3.0, 4.0)


def test_carrying_on_after_the_program_was_closed():
    run = Run()
    run.stand(100, 2304)
    run.tracker.set_reading(run.t, az_deg=77.0)
    saved = run.tracker.snapshot()
    again = Run()
    again.tracker.resume(saved)
    r = again.stand(100, 2304)
    assert (r.az_deg, r.slip) == (pytest.approx(77.0), False)
    moved = Run()
    moved.tracker.resume(saved)
    assert moved.stand(900, 2304).slip


def test_a_reply_without_line_end_is_timed_when_it_came():
    run = Run()
    for _ in range(3):
        run.hear(b"100 200")
        run.tracker.flush(run.t, run.t + 0.04, 1e9 + run.t + 0.04)
    r = run.tracker.latest
    assert (r.state, r.az_count, r.at_monotonic) == ("live", 100, run.t)
    assert r.at_unix == pytest.approx(1e9 + run.t, abs=1e-6)


@pytest.mark.parametrize("reversed_", [False, True])
def test_a_board_that_counts_from_the_stop_reads_upright_at_zero(reversed_):
    kit = kits.example()
    stop = msgspec.structs.replace(kit.stop, counts_from_zero=True)
    altitude = msgspec.structs.replace(kit.altitude, reversed=reversed_)
    down = 1152 if reversed_ else -1152  # 45 degrees of 9216 ticks a turn
    kit = msgspec.structs.replace(
        kit,
        stop=stop,
        altitude=altitude,
        connection=kits.Connection(kind="tcp", host="h", port=1, poll="?"),
    )
    for shown, alt_deg in ((0, 90.0), (down, 45.0), (down % 9216, 45.0)):
        # Started when the tube is down already: a count that begins again each turn shows a turn
        # too much.
        tracker = Tracker(kit)
        tracker.opened(0.0)
        for k in range(3):
            tracker.feed(f"7 {shown}\r\n".encode(), 0.05 * k, 0.0)
        assert tracker.latest.alt_deg == pytest.approx(alt_deg)


def test_an_altitude_where_the_tube_cannot_be_is_a_doubt():
    run = Run()
    assert run.stand(100, 500).problem == ""
    for alt in range(480, -300, -20):
        run.stand(100, alt, 1)
    assert run.tracker.latest.problem.startswith("the altitude reads -11 deg, where the tube")
    assert not run.tracker.latest.slip
