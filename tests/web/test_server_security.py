"""Who may come in. Each test is one attack, or one honest guest."""

import datetime as dt
import ipaddress
import re
import ssl
import stat
import time

import pytest

from plumbstar.errors import UserError
from plumbstar.web.door import addresses, limits, pairing, sessions
from plumbstar.web.door.addresses import is_loopback, split_host
from plumbstar.web.door.gate import Gate
from plumbstar.web.door.https import certificate_for
from plumbstar.web.door.pairing import Pairing
from plumbstar.web.door.secrets_dir import kept_code, session_key, write_private
from plumbstar.web.door.sessions import Sessions

from .server_rig import NIGHT, Standing, asynchronous, rig

LAN = "192.168.7.20"  # the server's address on the telescope's own network
PHONE = "192.168.7.33"


def lan(tmp_path, **more):
    more = {"host": LAN, "peer": PHONE, "names": (LAN, "scope.test"), **more}
    return rig(tmp_path, **more)


@asynchronous
async def test_every_answer_carries_the_headers(tmp_path):
    async with rig(tmp_path) as r:
        for path in ("/", "/data/state", "/nothing", "/static/page.css", "/static/none"):
            h = (await r.client.get(path)).headers
            policy = h["content-security-policy"]
            assert "default-src 'none'" in policy
            assert "unsafe" not in policy
            assert "http" not in policy
            assert h["x-content-type-options"] == "nosniff"
            assert h["referrer-policy"] == "no-referrer"
            assert h["x-frame-options"] == "DENY"
            assert "server" not in h
        assert (await r.client.get("/data/state")).headers["cache-control"] == "no-store"
        assert (await r.client.get("/")).headers["cache-control"] == "no-cache"
        assert (await r.client.get("/static/page.css")).headers["cache-control"] == "no-cache"


@asynchronous
async def test_the_page_has_no_inline_script_or_style(tmp_path):
    async with rig(tmp_path) as r:
        html = (await r.client.get("/")).text
        assert not re.search(r"<script(?![^>]*\bsrc=)", html)
        assert "<style" not in html
        assert " style=" not in html
        assert not re.search(r"\son\w+=", html)
        assert not re.search(r"(src|href)=.?(https?:)?//", html)


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",  # DNS rebinding: the name is theirs, the address ours
        "evil.example:8273",
        "127.0.0.1.evil.example:8273",
        "127.0.0.1:80",
        "127.0.0.1:8124",
        "localhost",
        "",
        "127.0.0.1:8273@evil.example",
        "[::1",
    ],
)
@asynchronous
async def test_other_hosts_are_refused_even_from_this_computer(tmp_path, host):
    async with rig(tmp_path) as r:
        for method, path in (("GET", "/data/state"), ("POST", "/do/undo"), ("GET", "/pair")):
            got = await r.client.request(method, path, headers={"Host": host}, json={})
            assert got.status_code == 421, (host, got.status_code)
            assert "site" not in got.json()


@asynchronous
async def test_own_names_are_taken(tmp_path):
    async with rig(tmp_path) as r:
        for host in ("127.0.0.1:8273", "LocalHost:8273", "[::1]:8273", "localhost.:8273"):
            assert (await r.client.get("/data/state", headers={"Host": host})).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "https://127.0.0.1:8273"},
        {"Origin": "http://127.0.0.1:9000"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Sec-Fetch-Site": "none"},
        {"X-Plumbstar": ""},
    ],
)
@asynchronous
async def test_another_sites_page_cannot_act(tmp_path, headers):
    async with rig(tmp_path) as r:
        got = await r.client.post("/do/start_outing", json={}, headers=headers)
        assert got.status_code == 403
        assert (await r.state())["outing"] is None
        good = {"Origin": "http://127.0.0.1:8273", "Sec-Fetch-Site": "same-origin"}
        ok = await r.client.post("/do/start_outing", json={}, headers=good)
        assert ok.status_code == 200


@asynchronous
async def test_another_sites_page_cannot_read_but_may_link(tmp_path):
    async with rig(tmp_path) as r:
        cross = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
        for path in ("/data/state", "/stream", "/"):
            assert (await r.client.get(path, headers=cross)).status_code == 403
        link = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate"}
        assert (await r.client.get("/", headers=link)).status_code == 200
        assert "access-control-allow-origin" not in (await r.client.get("/data/state")).headers


@asynchronous
async def test_other_methods(tmp_path):
    async with rig(tmp_path) as r:
        for method in ("PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"):
            assert (await r.client.request(method, "/do/undo")).status_code == 405


@asynchronous
async def test_a_stranger_on_the_network_sees_only_the_pairing_page(tmp_path):
    async with lan(tmp_path) as r:
        page = await r.client.get("/")
        assert page.status_code == 401
        assert "/static/pair-" in page.text
        for path in ("/data/state", "/data/log/1.csv", "/stream", "/data/nothing"):
            got = await r.client.get(path)
            assert got.status_code == 401
            assert set(got.json()) == {"error", "remedy"}
        for name in ("start_outing", "note", "nothing"):
            assert (await r.client.post(f"/do/{name}", json={})).status_code == 401
        assert (await r.client.get("/static/page.css")).status_code == 200
        assert (await r.client.get("/static/../app.py")).status_code in (401, 404)
        assert (await r.client.get("/static/%2e%2e/app.py")).status_code in (401, 404)
        assert await r.station.ask(lambda e: e.outing) is None


@asynchronous
async def test_pairing_by_code(tmp_path):
    async with lan(tmp_path) as r:
        wrong = await r.client.post("/pair", json={"code": "ABCDEFGJ"})
        assert wrong.status_code == 403
        assert "set-cookie" not in wrong.headers
        good = await r.client.post("/pair", json={"code": "abcd efgh"})
        assert good.status_code == 200
        cookie = good.headers["set-cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Strict" in cookie
        assert "Secure" not in cookie  # over plain HTTP it could not come back
        assert (await r.client.get("/")).status_code == 200
        assert (await r.client.post("/do/start_outing", json={})).status_code == 200
        assert (await r.client.get("/pair")).status_code == 303
        # Not for ever: past the night the code is asked again.
        r.times.go(sessions.SESSION_SECONDS + 5)
        assert (await r.client.get("/data/state")).status_code == 401


def test_a_clock_that_is_set_in_mid_evening_unpairs_nobody(monkeypatch):
    """A board without a battery begins in 1970; its network comes, and with it the year."""
    began = time.time()
    monkeypatch.setattr(time, "time", lambda: 1e6)
    sessions = Sessions(b"k" * 32)
    cookie = sessions.issue()
    monkeypatch.setattr(time, "time", lambda: began)
    assert sessions.valid(cookie)


@asynchronous
async def test_a_forged_cookie(tmp_path):
    async with lan(tmp_path) as r:
        real = Sessions(b"k" * 32).issue()
        other = Sessions(b"x" * 32).issue()
        for value in (other, real[:-1] + "0x", "", "1.2.3", "a" * 5000, real.replace(".", "", 1)):
            got = await r.client.get("/data/state", headers={"Cookie": f"plumbstar={value}"})
            assert got.status_code == 401, value
        got = await r.client.get("/data/state", headers={"Cookie": '=;;"\x7f'})
        assert got.status_code == 401


@asynchronous
async def test_a_peer_from_the_network_cannot_claim_to_be_this_computer(tmp_path):
    async with lan(tmp_path, host="127.0.0.1") as r:  # the Host header says loopback, the peer not
        assert (await r.client.get("/data/state")).status_code == 401
        forged = {"X-Forwarded-For": "127.0.0.1", "Forwarded": "for=127.0.0.1"}
        assert (await r.client.get("/data/state", headers=forged)).status_code == 401


@asynchronous
async def test_a_proxy_on_this_computer_does_not_open_the_door(tmp_path):
    async with lan(tmp_path, peer="127.0.0.1") as r:
        assert (await r.client.get("/data/state")).status_code == 401


@asynchronous
async def test_guessing_is_braked(tmp_path):
    times = Standing(NIGHT)
    async with lan(tmp_path, times=times) as r:
        for _ in range(5):
            got = await r.client.post("/pair", json={"code": "WRONGONE"})
            assert got.status_code == 403
        # Even the right code has to wait now.
        got = await r.client.post("/pair", json={"code": "ABCDEFGH"})
        assert got.status_code == 429
        assert 25 < got.json()["retry_after_s"] <= 30
        times.go(31)
        assert (await r.client.post("/pair", json={"code": "WRONGONE"})).status_code == 403
        got = await r.client.post("/pair", json={"code": "ABCDEFGH"})
        assert got.json()["retry_after_s"] > 55  # longer each time
        times.go(61)
        assert (await r.client.post("/pair", json={"code": "ABCDEFGH"})).status_code == 200
        for bad in (b"", b"[]", b'{"code": 7}', b"\xff"):
            assert (await r.client.post("/pair", content=bad)).status_code == 400


def test_the_brake_is_for_each_address_and_over_all():
    t = [0.0]
    p = Pairing("ABCDEFGH", lambda: t[0])
    for _ in range(5):
        assert not p.guess("WRONGONE", "10.0.0.1")
    assert p.wait_for("10.0.0.1") > 0
    assert p.wait_for("10.0.0.2") == 0
    # One /64 is one guesser.
    for k in range(5):
        assert not p.guess("WRONGONE", f"2001:db8::{k}")
    assert p.wait_for("2001:db8::99") > 0
    assert p.wait_for("2001:db8:1::1") == 0
    for k in range(60):
        p.guess("WRONGONE", f"10.1.{k}.1")
    assert p.wait_for("10.9.9.9") > 0
    t[0] += 61
    assert p.wait_for("10.9.9.9") == 0
    assert p.guess("abcd-efgh", "10.9.9.9")


def test_longest_wait_is_bounded():
    t = [0.0]
    p = Pairing("ABCDEFGH", lambda: t[0])
    for _ in range(40):
        t[0] += p.wait_for("10.0.0.1") + 0.01
        p.guess("WRONGONE", "10.0.0.1")
    assert p.wait_for("10.0.0.1") <= Pairing.LONGEST_WAIT


def test_codes_are_long_and_free_of_lookalikes():
    codes = {Pairing().code for _ in range(200)}
    assert len(codes) == 200
    assert all(len(c) == 8 and set(c) <= set(pairing.ALPHABET) for c in codes)
    assert not set("01OIL") & set(pairing.ALPHABET)
    assert len(set(pairing.ALPHABET)) == 31


@asynchronous
async def test_oversized_bodies(tmp_path):
    async with rig(tmp_path) as r:
        big = b"x" * (limits.BODY_LIMIT + 1)
        got = await r.client.post("/do/note", content=big)
        assert got.status_code == 413

        async def pieces():
            for _ in range(20):
                yield b"y" * 8192

        got = await r.client.post("/do/note", content=pieces())  # no length told beforehand
        assert got.status_code == 413
        assert got.json()["remedy"]
        got = await r.client.post("/do/note", content=b"{}", headers={"Content-Length": "-5"})
        assert got.status_code in (400, 413)
        # A photograph may be larger than that.
        got = await r.client.post("/data/collimate", content=big)
        assert got.status_code == 400


@asynchronous
async def test_one_answer_for_two_host_headers(tmp_path):
    async with rig(tmp_path) as r:
        got = []

        async def send(message):
            got.append(message)

        async def receive():
            return {"type": "http.request", "body": b""}

        scope = {
            "type": "http", "method": "GET", "path": "/data/state", "query_string": b"",
            "headers": [(b"host", b"127.0.0.1:8273"), (b"host", b"evil.example")],
            "client": ("127.0.0.1", 1), "scheme": "http", "http_version": "1.1",
        }  # fmt: skip
        await r.app(scope, receive, send)
        assert got[0]["status"] == 421


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("127.0.0.1:80", ("127.0.0.1", "80")),
        ("[::1]:8273", ("::1", "8273")),
        ("[::1]", ("::1", "")),
        ("Scope.Local", ("scope.local", "")),
        ("scope.local.:81", ("scope.local", "81")),
    ],
)
def test_host_headers(text, parts):
    assert split_host(text) == parts


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.8.8", "::1", "::ffff:127.0.0.1"])
def test_loopback(address):
    assert is_loopback(address)


@pytest.mark.parametrize("address", ["10.0.0.1", "::ffff:10.0.0.1", "fe80::1%eth0", "", "x"])
def test_not_loopback(address):
    assert not is_loopback(address)


def test_names_for_a_bound_address():
    assert "192.168.7.20" in Gate.names_for("192.168.7.20")
    assert "scope.local" in Gate.names_for("127.0.0.1", ["Scope.Local."])
    assert set(addresses.own_addresses()) <= Gate.names_for("0.0.0.0")


# ---- keys on disk


def test_a_code_that_is_kept_is_the_same_at_every_start_and_private(tmp_path):
    code = kept_code(tmp_path)
    path = tmp_path / "pairing.code"
    assert kept_code(tmp_path) == code
    assert path.stat().st_mode & 0o777 == 0o600
    for bent in ("", "short", "ABCDEFG0", "é" * 8):
        path.write_text(bent)
        again = kept_code(tmp_path)
        assert again not in (code, bent)
        assert Pairing(again).code == again
    (tmp_path / "file").write_text("")
    with pytest.raises(UserError, match="--keep-code"):
        kept_code(tmp_path / "file")


def test_the_session_key_is_kept_and_private(tmp_path):
    key = session_key(tmp_path)
    path = tmp_path / "session.key"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert session_key(tmp_path) == key
    path.write_bytes(b"short")
    assert session_key(tmp_path) != key
    # Phones stay paired over a restart: the same key takes the same cookie.
    assert Sessions(key).valid(Sessions(key).issue())


def test_writing_privately_replaces_whole(tmp_path):
    path = tmp_path / "secret"
    path.write_bytes(b"old")
    path.chmod(0o644)
    write_private(path, b"new")
    assert path.read_bytes() == b"new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_the_certificate(tmp_path):
    from cryptography import x509

    now = dt.datetime(2027, 1, 28, tzinfo=dt.UTC)
    names = ["127.0.0.1", "192.168.7.20", "fe80::7", "scope.local"]
    made = certificate_for(names, now, tmp_path)
    assert stat.S_IMODE(made.key.stat().st_mode) == 0o600
    cert = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    san = cert.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert {str(a) for a in san.get_values_for_type(x509.IPAddress)} == {
        str(ipaddress.ip_address(n)) for n in names[:3]
    }
    assert san.get_values_for_type(x509.DNSName) == ["scope.local"]
    assert cert.not_valid_after_utc - cert.not_valid_before_utc <= dt.timedelta(days=398)
    assert cert.not_valid_before_utc < now < cert.not_valid_after_utc
    assert re.fullmatch(r"([0-9A-F]{2}:){31}[0-9A-F]{2}", made.fingerprint)
    ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(made.certificate, made.key)
    # Kept while it serves; made anew for another address, or before it runs out.
    assert certificate_for(names[:2], now, tmp_path).fingerprint == made.fingerprint
    other = certificate_for(["10.0.0.9"], now, tmp_path).fingerprint
    assert other != made.fingerprint
    late = now + dt.timedelta(days=380)
    assert certificate_for(["10.0.0.9"], late, tmp_path).fingerprint != other
    made.certificate.write_text("damaged")
    assert certificate_for(["10.0.0.9"], late, tmp_path).fingerprint
