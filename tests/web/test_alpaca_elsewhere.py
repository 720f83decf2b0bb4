"""The device from another computer: a second network namespace, with alpyca in it."""

from __future__ import annotations

import contextlib
import socket

import alpaca.discovery
import pytest
import requests
from alpaca.telescope import Telescope

from .elsewhere import Elsewhere
from .test_alpaca_process import Charting


@pytest.fixture(scope="module")
def there():
    with Elsewhere(guests=2) as e:
        yield e


@contextlib.contextmanager
def serving(tmp_path, *options, host="0.0.0.0"):
    s = Charting(tmp_path, "--host", host, *options)
    try:
        yield s.start()
    finally:
        s.kill()


def over_there(there, job):
    """Run it with that computer's network."""
    return there._inside.submit(job).result(30)


def at(there, s):
    return f"{there.server}:{s.alpaca_port}"


def asks(there, s, source):
    """A question of UDP by broadcast from one guest's address; what was answered."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as q:
        q.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        q.bind((source, 0))
        q.settimeout(0.7)
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
            got = session.get(url, headers=headers, timeout=5)
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
        answered = over_there(there, lambda: asks(there, s, mine))
        assert answered == f'{{"AlpacaPort":{s.alpaca_port}}}'


def test_a_chart_on_another_computer(there, tmp_path, monkeypatch):
    with serving(tmp_path, "--alpaca-allow", "local") as s:
        monkeypatch.setattr(alpaca.discovery, "port", s.discovery_port)
        found = over_there(there, lambda: alpaca.discovery.search_ipv4(numquery=1, timeout=0.4))
        assert at(there, s) in found

        def look():
            t = Telescope(at(there, s), 0)
            t.Connected = True
            return t.SiteLatitude, t.CanSync

        assert over_there(there, look) == (47.2, True)
