"""The device from another computer: a second network namespace, with alpyca in it."""

from __future__ import annotations

import contextlib
import socket
import threading

import alpaca.discovery
import pytest
import requests
from alpaca.telescope import Telescope

import patience

from .elsewhere import HASTY, Elsewhere, dropped
from .test_alpaca_process import Charting


@pytest.fixture(scope="module")
def there():
    with Elsewhere(guests=2) as e:
        yield e


@contextlib.contextmanager
def serving(tmp_path, *options, hasty=False):
    s = Charting(tmp_path, "--host", "0.0.0.0", *options)
    if hasty:
        s.command[2] = HASTY
    try:
        yield s.start()
    finally:
        s.kill()


def over_there(there, job):
    """Run it with that computer's network."""
    return there._inside.submit(job).result(30)


def at(there, s):
    return f"{there.server}:{s.alpaca_port}"


def asks(there, s, source, seconds=0.7):
    """A question of UDP by broadcast from one guest's address; what was answered."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as q:
        q.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        q.bind((source, 0))
        q.settimeout(seconds)
        q.sendto(b"alpacadiscovery1", (f"{there.net}.255", s.discovery_port))
        with contextlib.suppress(TimeoutError):
            return q.recv(100).decode()
    return None


def test_not_allowed_it_is_not_there(there, tmp_path):
    """The pages are open to the network; the device is not."""
    with serving(tmp_path) as s:
        with pytest.raises(ConnectionRefusedError):
            there.connect(s.alpaca_port)
        with pytest.raises(OSError):  # noqa: PT011 - unreachable or refused: over there is nothing
            there.connect(s.alpaca_port, to="127.0.0.1")
        assert over_there(there, lambda: asks(there, s, there.guests[0])) is None
        there.connect(s.port).close()


def test_one_that_is_allowed_and_one_that_is_not(there, tmp_path, monkeypatch):
    mine, other = there.guests
    with serving(tmp_path, "--alpaca-allow", mine) as s:
        url = f"http://{at(there, s)}/api/v1/telescope/0/sitelatitude"

        def get(source, **headers):
            session = requests.Session()
            adapter = requests.adapters.HTTPAdapter()
            adapter.init_poolmanager(1, 1, source_address=(source, 0))
            session.mount("http://", adapter)
            got = session.get(url, headers=headers, timeout=patience.SECONDS)
            return got.status_code, got.text

        status, text = over_there(there, lambda: get(other))
        assert status == 403
        assert f"--alpaca-allow {other}" in text
        assert "47.2" not in text
        assert over_there(there, lambda: get(mine))[0] == 200
        for trick in ({"X-Forwarded-For": mine}, {"Forwarded": f"for={mine}"},
                      {"Host": f"127.0.0.1:{s.alpaca_port}"}):  # fmt: skip
            assert over_there(there, lambda h=trick: get(other, **h))[0] == 403
        assert over_there(there, lambda: get(mine, Host=f"evil.example:{s.alpaca_port}"))[0] == 421

        assert over_there(there, lambda: asks(there, s, other)) is None
        answered = over_there(there, lambda: asks(there, s, mine, patience.SECONDS))
        assert answered == f'{{"AlpacaPort":{s.alpaca_port}}}'


def test_a_chart_on_another_computer(there, tmp_path, monkeypatch):
    with serving(tmp_path, "--alpaca-allow", "local") as s:
        monkeypatch.setattr(alpaca.discovery, "port", s.discovery_port)

        def found(wait):  # it always waits its whole time
            return alpaca.discovery.search_ipv4(numquery=1, timeout=wait)

        assert any(at(there, s) in over_there(there, lambda w=w: found(w)) for w in (0.4, 1.0, 5.0))

        def look():
            t = Telescope(at(there, s), 0)
            t.Connected = True
            return t.SiteLatitude, t.CanSync

        assert over_there(there, look) == (47.2, True)


def test_too_much_too_slow_and_too_many_as_on_the_pages(there, tmp_path):
    stranger, mine = there.guests  # a stranger may not use it, but can connect
    with serving(tmp_path, "--alpaca-allow", mine, hasty=True) as s:
        put = (
            f"PUT /api/v1/telescope/0/connected HTTP/1.1\r\nHost: {at(there, s)}\r\n"
            "Content-Type: application/x-www-form-urlencoded\r\n"
        )

        def alive():
            return b" 200 " in there.raw(
                s.alpaca_port,
                f"GET /api/v1/telescope/0/name HTTP/1.1\r\nHost: {at(there, s)}\r\n"
                "Connection: close\r\n\r\n".encode(),
                mine,
            )

        # Too much: announced, in pieces without end, and in the head.
        got = there.raw(s.alpaca_port, f"{put}Content-Length: 10000000000\r\n\r\n".encode(), mine)
        assert b" 413 " in got[:20]
        assert b"connection: close" in got.lower()
        pieces = (b"4000\r\n" + b"x" * 0x4000 + b"\r\n") * 5
        head = f"{put}Transfer-Encoding: chunked\r\n\r\n".encode()
        assert b" 413 " in there.raw(s.alpaca_port, head + pieces, mine)[:20]
        assert b" 200 " not in there.raw(s.alpaca_port, put.encode() + b"X: " + b"y" * 200_000)
        # Cut off in the middle: no answer, and nothing in the log (looked at below).
        with there.connect(s.alpaca_port, mine) as cut:
            cut.sendall(f"{put}Content-Length: 14\r\n\r\nConnec".encode())

        # Too slow.
        slow = [there.connect(s.alpaca_port, x) for x in (stranger, stranger, mine)]
        slow[1].sendall(b"GET /setup HTTP/1.1\r\n")
        slow[2].sendall(f"{put}Content-Length: 60000\r\n\r\n".encode())
        stop = threading.Event()

        def drip():
            while not stop.wait(0.2):
                for sock, drop in zip(slow[1:], (b"X: y\r\n", b"x"), strict=True):
                    with contextlib.suppress(OSError):
                        sock.sendall(drop)

        thread = threading.Thread(target=drip)
        thread.start()
        try:
            assert all(dropped(x, 6.0) for x in slow)
        finally:
            stop.set()
            thread.join()
            for x in slow:
                x.close()
        assert alive()

        # Too many.
        crowd = [there.connect(s.alpaca_port, stranger) for _ in range(300)]
        assert alive()
        assert 300 - sum(dropped(x, 0.001) for x in crowd) <= 32
        for x in crowd:
            x.close()
        assert s.stop()[2] == ""
