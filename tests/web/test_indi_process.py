"""The protocol's port of a running server: its options, its end, and who reaches it from another
computer."""

from __future__ import annotations

import contextlib
import socket

import pytest
from click.testing import CliRunner

import patience
from plumbstar.commands.serve import command
from plumbstar.errors import UserError
from ports import free_port

from .elsewhere import HASTY, Elsewhere, dropped
from .server_process import Server, shown

HELLO = b'<getProperties version="1.7"/>'


class Served(Server):
    def __init__(self, tmp_path, *options, **more):
        self.indi_port = free_port()
        port = ("--indi-port", str(self.indi_port))
        super().__init__(tmp_path, "--no-encoders", "--indi", *port, *options, **more)


@contextlib.contextmanager
def serving(tmp_path, *options, hasty=False):
    s = Served(tmp_path, *options)
    if hasty:
        s.command[2] = HASTY
    try:
        yield s.start()
    finally:
        if s.process.poll() is None:
            s.kill()


def heard(line, wanted):
    got = b""
    line.settimeout(patience.SECONDS)
    while wanted not in got and (more := line.recv(65536)):
        got += more
    return got.decode()


def test_asked_for_it_is_there_and_ends_with_the_server(tmp_path):
    with serving(tmp_path) as s:
        assert s.said["indi"] == {"port": s.indi_port, "allow": []}
        assert "alpaca" not in s.said
        with socket.create_connection(("127.0.0.1", s.indi_port)) as line:
            connect = (
                b'<newSwitchVector device="Plumbstar" name="CONNECTION"><oneSwitch name="CONNECT">'
                b"On</oneSwitch></newSwitchVector>"
            )
            line.sendall(HELLO + connect)
            assert "ON_COORD_SET" in heard(line, b"ON_COORD_SET")
            s.do("sight", star="Capella", id="press-0001", reading=shown("Capella"))
            assert "defNumberVector" in heard(line, b'name="EQUATORIAL_EOD_COORD"')
            # A program that stays on the line does not hold up the end.
            code, _, err = s.stop()
            assert code in (0, -15)
            assert "Traceback" not in err


@pytest.mark.parametrize(
    ("options", "wanted"),
    [
        (["--indi-allow", "local"], "without --indi itself"),
        (["--indi-port", "7625"], "without --indi itself"),
        (["--indi", "--indi-allow", "everybody"], "--indi-allow 'everybody'"),
        (["--indi", "--indi-allow", "local"], "--indi-allow has no effect"),
    ],
)
def test_options_that_make_no_sense(options, wanted):
    done = CliRunner().invoke(command, ["--port", "0", *options])
    assert isinstance(done.exception, UserError)
    assert wanted in str(done.exception)


@pytest.fixture(scope="module")
def there():
    with Elsewhere(guests=2) as e:
        yield e


def test_not_allowed_it_is_not_there(there, tmp_path):
    """The pages are open to the network; this port is not."""
    with serving(tmp_path, "--host", "0.0.0.0") as s:
        with pytest.raises(ConnectionRefusedError):
            there.connect(s.indi_port)
        there.connect(s.port).close()


def test_one_that_is_allowed_and_one_that_is_not(there, tmp_path):
    mine, other = there.guests
    with serving(tmp_path, "--host", "0.0.0.0", "--indi-allow", mine, hasty=True) as s:
        got = there.raw(s.indi_port, HELLO, other).decode()
        assert f"--indi-allow {other}" in got
        assert "defSwitchVector" not in got
        with there.connect(s.indi_port, mine) as line:
            line.sendall(HELLO)
            assert "DRIVER_INFO" in heard(line, b"DRIVER_INFO")
            # Silence, an element by drops, and a crowd from there: dropped, and this one stays.
            slow = [there.connect(s.indi_port, mine) for _ in range(3)]
            slow[1].sendall(HELLO + b"<newNumberVector ")
            slow[2].sendall(b"GET / HTTP/1.1\r\n\r\n")
            assert all(dropped(x, patience.SECONDS) for x in slow)
            crowd = [there.connect(s.indi_port, mine) for _ in range(40)]
            line.sendall(HELLO)
            assert "DRIVER_INFO" in heard(line, b"DRIVER_INFO")
            for x in crowd:
                x.close()
