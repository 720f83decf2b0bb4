"""A satellite receiver's lines (invented): sound ones, garbage, no fix, an old week count."""

from __future__ import annotations

import os
import threading
import time
from collections.abc import Iterator
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import needs
from plumbstar.clock import gps_port
from plumbstar.clock.gps import LAG_S, Receiver
from plumbstar.clock.gps_port import listen, open_port, parse_port
from plumbstar.clock.say import against_computer, gps_notes, no_fix_yet
from plumbstar.commands.site import command
from plumbstar.errors import UserError
from plumbstar.sky.times import Instant
from receiver import sentence
from samples import tries

needs.module("pynmeagps")
pty = pytest.importorskip("pty", reason="pseudo-terminals are of Unix")

MADE = Instant.parse("2026-11-02").to_unix()
START = Instant.parse("2027-01-28T18:30:00Z")


def rmc(second: float, *, status: str = "A", date: str = "280127", lat: str = "4712.0000") -> bytes:
    t = START.plus_seconds(second).iso()[11:19].replace(":", "")
    return sentence(f"GNRMC,{t}.00,{status},{lat},N,01136.0000,E,0.0,,{date},,,A")


def gga(second: float, quality: int = 1, satellites: int = 7, height: str = "940.3") -> bytes:
    t = START.plus_seconds(second).iso()[11:19].replace(":", "")
    return sentence(
        f"GNGGA,{t}.00,4712.0000,N,01136.0000,E,{quality},{satellites:02d},1.1,{height},M,47.0,M,,"
    )


#: Steady moment of the start, and how late each line comes.
BEGAN, LATE = 5000.0, (0.45, 0.31, 0.62, 0.38)


def fed(receiver: Receiver, *lines: bytes) -> Receiver:
    for k, line in enumerate(lines):
        receiver.feed(line, BEGAN + k + LATE[k % 4])
    return receiver


def test_a_fix_from_sound_lines() -> None:
    r = fed(Receiver(MADE), *(gga(k) + rmc(k) for k in range(4)))
    assert r.fix is not None
    assert (r.fix.lat_deg, r.fix.lon_deg) == (47.2, 11.6)
    assert r.fix.elevation_m == 940.3
    assert r.fix.satellites == 7
    assert r.fix.turns == 0
    # Right to within half the lag, whatever the lateness.
    assert r.fix.zero == pytest.approx(START.to_unix() - BEGAN, abs=LAG_S / 2)
    assert r.fix.site().elevation_m == 940
    assert "half of that" in gps_notes(r.fix)[0]


def test_lines_in_halves_and_between_garbage() -> None:
    r = Receiver(MADE)
    text = b"".join(
        b"\xff\x00$GNRM" + gga(k) + b"$GNRMC,broken*00\r\n" + b"\x80" * 300 + b"\n" + rmc(k)
        for k in range(4)
    )
    for k in range(0, len(text), 7):
        r.feed(text[k : k + 7], BEGAN + k / len(text) * 4.0)
    assert r.fix is not None
    assert r.broken == 4
    assert r.fix.lat_deg == 47.2


def test_a_bent_digit_is_refused_by_the_checksum() -> None:
    r = Receiver(MADE)
    for k in range(6):
        line = rmc(k)
        at = line.index(b"4712") + 1
        bent = line[:at] + b"8" + line[at + 1 :]
        r.feed(bent, BEGAN + k)
    assert r.fix is None
    assert r.lines == 0
    assert r.broken == 6


@pytest.mark.parametrize(
    "lines",
    [
        [sentence("GPRMC,,V,,,,,,,,,,N") + sentence("GPGGA,,,,,,0,03,,,M,,M,,")] * 5,
        [rmc(k, status="V") + gga(k, 0, 3) for k in range(5)],
        [rmc(k) if k % 2 else rmc(k, status="V") for k in range(9)],
        [rmc(k, lat=f"{4712 + k}.0000") for k in range(9)],  # a place that runs about
        [rmc(50.0 * k) for k in range(9)],  # a time that does
        [sentence(f"GNRMC,18300{k}.00,A,4712.0,N,01136.0,E,0,,280127,,,E") for k in range(9)],
    ],
)
def test_what_is_no_fix_gives_none(lines: list[bytes]) -> None:
    r = fed(Receiver(MADE), *lines)
    assert r.fix is None
    assert "no fix yet" in str(no_fix_yet(r))


def test_a_receiver_without_a_height_or_with_a_reckoned_one() -> None:
    assert fed(Receiver(MADE), *(rmc(k) for k in range(4))).fix.elevation_m is None  # type: ignore[union-attr]
    r = fed(Receiver(MADE), *(gga(k, quality=6) + rmc(k) for k in range(4)))
    assert r.fix is not None
    assert r.fix.elevation_m is None
    assert any("taken as 0 m" in n for n in gps_notes(r.fix))


def test_a_week_count_that_has_turned_is_said_and_mended() -> None:
    # 1024 weeks are 7168 days: 2027-01-28 minus that is 2007-06-14 (by Python's own calendar).
    r = fed(Receiver(MADE), *(rmc(k, date="140607") for k in range(4)))
    assert r.fix is not None
    assert r.fix.turns == 1
    assert r.fix.zero == pytest.approx(START.to_unix() - BEGAN, abs=LAG_S / 2)
    assert any("1024 weeks" in n for n in gps_notes(r.fix))


@settings(max_examples=tries(20, 60), deadline=None)
@given(st.lists(st.binary(max_size=60), max_size=30))
def test_no_bytes_whatever_break_it(parts: list[bytes]) -> None:
    r = Receiver(MADE)
    for k, part in enumerate(parts):
        r.feed(part, float(k))
        r.feed(b"$" + part + b"\r\n", float(k))
    assert r.fix is None


def test_the_computers_clock_beside_it() -> None:
    assert "agrees" in against_computer(0.6)
    assert "12 min 23 s behind" in against_computer(743.0)
    assert "3.1 degrees" in against_computer(743.0)
    assert "almanac" in against_computer(-18.2)
    assert "ahead of" in against_computer(-18.2)


# The port


class Talker:
    """A receiver on a pseudo-terminal, a line every tenth of a second, as if each were a second."""

    def __init__(self, make: Any) -> None:
        self._master, slave = pty.openpty()
        self.path = os.ttyname(slave)
        self._slave = slave
        self._going = True
        self._make = make
        self._thread = threading.Thread(target=self._talk, daemon=True)
        self._thread.start()

    def _talk(self) -> None:
        while self._going:
            os.write(self._master, self._make(time.time()))
            time.sleep(0.05)

    def close(self) -> None:
        self._going = False
        self._thread.join(2.0)
        os.close(self._master)
        os.close(self._slave)


def true_lines(unix: float) -> bytes:
    """What a receiver with a fix says at that moment of this computer's clock."""
    now = Instant.from_unix(unix).iso(2)
    t = now[11:22].replace(":", "")
    date = f"{now[8:10]}{now[5:7]}{now[2:4]}"
    body = f"{t},A,4712.0000,N,01136.0000,E,0.0,,{date},,,A"
    return sentence(f"GNGGA,{t},4712.0000,N,01136.0000,E,1,07,1.1,940.0,M,47.0,M,,") + sentence(
        f"GNRMC,{body}"
    )


@pytest.fixture
def talker() -> Iterator[Talker]:
    t = Talker(true_lines)
    yield t
    t.close()


def test_the_command_gives_place_and_time(talker: Talker) -> None:
    done = CliRunner().invoke(command, ["gps", talker.path, "--seconds", "20"])
    assert done.exception is None, done.output
    assert "47.20000° N, 11.60000° E, 940 m, from 7 satellites" in done.output
    assert "This computer's clock agrees with it." in done.output
    assert 'plumbstar site add NAME "47.2,11.6,940"' in done.output


def test_no_fix_and_no_lines_are_told_apart() -> None:
    for make, words in (
        (lambda u: sentence("GPRMC,,V,,,,,,,,,,N") + sentence("GPGGA,,,,,,0,03,,,M,,M,,"),
         "It hears 3 satellites"),
        (lambda u: b"\xf0\x0f\x80$GPR*zz\n", "not what a GPS sends"),
        (lambda u: b"", "Nothing comes"),
    ):  # fmt: skip
        t = Talker(make)
        try:
            done = CliRunner().invoke(command, ["gps", t.path, "--seconds", "1"])
        finally:
            t.close()
        assert isinstance(done.exception, UserError)
        assert words in str(done.exception)


def test_a_port_that_is_not_there_or_said_badly() -> None:
    with pytest.raises(UserError, match="/dev/nosuchport"):
        open_port("/dev/nosuchport")
    assert parse_port("/dev/ttyUSB1") == ("/dev/ttyUSB1", 9600)
    assert parse_port("/dev/ttyUSB1@4800") == ("/dev/ttyUSB1", 4800)
    for bad in ("", "@4800", "/dev/ttyUSB1@fast", "/dev/ttyUSB1@1"):
        with pytest.raises(UserError, match="the GPS port"):
            parse_port(bad)


def test_a_cable_pulled_is_an_error_in_words() -> None:
    class Pulled:
        in_waiting = 0

        def read(self, n: int) -> bytes:
            raise OSError(5, "Input/output error")

    with pytest.raises(UserError, match="stopped answering"):
        listen(Pulled(), Receiver(MADE), time.monotonic, 1.0)
    assert gps_port.SLICE_S < 1.0
