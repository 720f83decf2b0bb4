"""Attacks on a running server from another machine: a second network namespace (elsewhere.py).

docs/security.md lists them. The same door is tried from within in test_server_security.py; here it
is a process of its own, listening on all addresses, and what it wrote is searched for secrets.
"""

import contextlib
import json
import os
import re
import socket
import ssl
import subprocess
import sys
import threading
import time

import pytest

import patience
from plumbstar.web.door.secrets_dir import session_key
from plumbstar.web.door.sessions import Sessions

from .elsewhere import HASTY, Elsewhere, Guest, dropped, ip
from .server_process import Server


@pytest.fixture(scope="module")
def there():
    with Elsewhere() as e:
        yield e


class Served(Server):
    def __init__(self, place, *options, hasty=False, host="0.0.0.0"):
        super().__init__(place, "--host", host, *options)
        self.command.remove("--utc")
        self.command.remove("2027-01-28T18:30:00Z")
        if hasty:
            self.command[2] = HASTY

    @property
    def code(self):
        return self.said["code"]


@pytest.fixture(scope="module")
def server(there, tmp_path_factory):
    """One for all of the file's attacks, in whatever order; what it said is looked at last."""
    s = Served(tmp_path_factory.mktemp("lan"))
    s.start()
    yield s
    try:
        assert s.process.poll() is None, "it did not outlive the attacks"
        assert s.ask("/data/version")[0] == 200
        _, _, err = s.stop()
        assert "Traceback" not in err, err
        assert len(err) < 2000, err
    finally:
        if s.process.poll() is None:
            s.kill()


@pytest.fixture
def hasty(there, tmp_path):
    s = Served(tmp_path, hasty=True)
    s.start()
    yield s
    if s.process.poll() is None:
        s.kill()


@pytest.fixture
def guest(there, server):
    return Guest(there, server.port)


@pytest.fixture
def paired(there, server):
    g = Guest(there, server.port, there.guests[1])
    assert g.pair(server.code) == 200
    return g


def outings(server, guest):
    return json.loads(guest.ask("/data/log")[2])["outings"]


def routes():
    """Every path that the application answers, with something in place of its parameters."""
    from plumbstar.clock.clock import EveningClock
    from plumbstar.web.app import make_app
    from plumbstar.web.door.gate import Gate
    from plumbstar.web.door.pairing import Pairing
    from plumbstar.web.live.station import Station

    gate = Gate(frozenset(), 1, False, Sessions(b""))
    app = make_app(Station(lambda: None, EveningClock(), pairing={}), gate, Pairing())
    paths = {re.sub(r"{(\w+)(:\w+)?}", "1", r.path) for r in app.routes}
    assert {"/stream", "/data/state", "/card.pdf", "/do/1"} <= paths
    return sorted(paths - {"/static", "/pair"})


# ---- who may come in


def test_a_server_for_this_computer_is_not_there_for_others(there, tmp_path):
    s = Served(tmp_path, host="127.0.0.1")
    s.start()
    try:
        for to in (there.server, "127.0.0.1"):
            with pytest.raises(OSError, match="refused"):
                there.connect(s.port, to=to)
    finally:
        s.kill()


def test_without_the_code_every_path_is_shut(guest):
    for path in routes():
        for body in (None, {}):
            status, headers, got = guest.ask(path, body)
            assert status == 401, (path, status)
            assert "set-cookie" not in headers
            if b"<!doctype html>" in got[:20].lower():
                assert b"/static/pair-" in got
                assert b"app.js" not in got
            else:
                assert set(json.loads(got)) == {"error", "remedy"}
    assert guest.ask("/pair")[0] == 200
    assert guest.ask("/static/pair.js")[0] == 200


def test_saying_to_be_this_computer_does_not_help(guest, server):
    for host in (f"127.0.0.1:{server.port}", f"localhost:{server.port}", f"[::1]:{server.port}"):
        claims = {"Host": host, "X-Forwarded-For": "127.0.0.1", "Forwarded": "for=127.0.0.1",
                  "X-Real-IP": "127.0.0.1", "X-Forwarded-Host": host}  # fmt: skip
        assert guest.ask("/data/state", headers=claims)[0] == 401


def test_with_the_code_one_is_in_by_the_address_at_which_one_came(there, server, paired):
    """The cable's address is not the way out of this computer, and it is known all the same."""
    assert f"http://{there.server}:{server.port}/" in server.said["urls"]
    assert json.loads(paired.ask("/data/state")[2])["version"] > 0
    assert paired.ask("/do/undo", {})[0] in (200, 400)  # 400: nothing to undo; the door was open


def test_an_access_point_that_came_up_later(there, server, paired):
    late = f"{there.net}.2"
    ip("addr", "add", f"{late}/24", "dev", there.ends[0])
    with contextlib.closing(there.connect(server.port, to=late)) as s:
        s.sendall(f"GET /data/version HTTP/1.1\r\nHost: {late}:{server.port}\r\n"
                  f"Cookie: {paired.cookie}\r\n\r\n".encode())  # fmt: skip
        assert s.recv(100).startswith(b"HTTP/1.1 200")


def test_a_rebound_name_is_refused_with_the_cookie_too(paired, server, there):
    port = server.port
    for host in ("evil.example", f"evil.example:{port}", f"{there.server}.evil.example:{port}",
                 f"{there.server}:80", f"{there.server}", f"evil.example:{port}@{there.server}",
                 f"{there.server}:{port}.", f"192.0.2.77:{port}", ""):  # fmt: skip
        for path, body in (("/data/state", None), ("/do/start_outing", {}), ("/pair", {})):
            status, _, got = paired.ask(path, body, headers={"Host": host})
            assert status in (400, 421), (host, status)
            assert b"site" not in got
    assert outings(server, paired) == []


def test_another_sites_page_cannot_act_with_the_cookie(paired, server, there):
    for more in ({"Origin": "http://evil.example"}, {"Origin": "null"},
                 {"Origin": f"https://{there.server}:{server.port}"},
                 {"Origin": f"http://{there.server}:{server.port + 1}"},
                 {"Origin": f"http://127.0.0.1:{server.port + 1}"},
                 {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"},
                 {"X-Plumbstar": None}, {"X-Plumbstar": None, "Content-Type": "text/plain"},
                 ):  # fmt: skip
        status, headers, _ = paired.ask("/do/start_outing", {}, headers=more)
        assert status == 403, more
        assert "access-control-allow-origin" not in headers
    assert outings(server, paired) == []


def test_another_sites_page_cannot_read_with_the_cookie(paired):
    cross = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
    for path in routes():
        if path.startswith("/do/"):
            continue
        assert paired.ask(path, headers=cross)[0] == 403, path
    # Browsers send no Sec-Fetch to plain HTTP by address: then the cookie stays at home
    # (SameSite=Strict), and what is fetched all the same may not be read.
    _, headers, _ = paired.ask("/data/state")
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers
    # Nor does asking beforehand help.
    status, headers, _ = paired.ask(
        "/do/note", method="OPTIONS", headers={"Origin": "http://evil.example"}
    )
    assert status == 405
    assert "access-control-allow-origin" not in headers


def test_every_answer_forbids_foreign_script_and_frames(guest, paired):
    for who, path in ((guest, "/"), (paired, "/"), (paired, "/data/state"), (paired, "/card.html"),
                      (paired, "/nothing"), (guest, "/static/pair.js")):  # fmt: skip
        _, headers, _ = who.ask(path)
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"


# ---- cookies


def cookie(key, age_s=0.0):
    return f"plumbstar={Sessions(key, lambda: time.time() - age_s).issue()}"


def test_cookies_of_another_key_of_yesterday_and_bent_ones(guest, server):
    key = session_key(server.tmp_path / "plumbstar")
    guest.cookie = cookie(key, 15.9 * 3600)
    assert guest.ask("/data/state")[0] == 200  # the key is the real one
    good = guest.cookie
    bent = [cookie(key, 16.1 * 3600), cookie(key, 400 * 86400), cookie(b"x" * 32), cookie(b""),
            good[:-1] + ("0" if good[-1] != "0" else "1"), good.replace("=1", "=2", 1),
            good.rpartition(".")[0], good.rpartition(".")[0] + ".", "plumbstar=", "plumbstar=1.2.3",
            good.replace("plumbstar=", "plumbstar2="), "plumbstar=" + "a" * 6000]  # fmt: skip
    for text in bent:
        guest.cookie = text
        assert guest.ask("/data/state")[0] == 401, text
        assert guest.ask("/do/start_outing", {})[0] == 401, text


def test_the_cookie_is_out_of_scripts_and_other_sites_reach(there, server):
    g = Guest(there, server.port, there.guests[2])
    _, headers, _ = g.ask("/pair", {"code": server.code.lower()})
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(headers["set-cookie"].split("; "))
    assert "Domain" not in headers["set-cookie"]


# ---- guessing the code


def test_wrong_codes_from_one_address(there, hasty):
    g, other = (Guest(there, hasty.port, a) for a in there.guests[:2])
    assert [g.pair("WRONGONE") for _ in range(7)] == [403] * 5 + [429] * 2
    assert g.pair(hasty.code) == 429  # even the right one waits
    assert other.pair(hasty.code) == 200  # the observer's own phone does not
    time.sleep(1.6)
    assert g.pair("WRONGONE") == 403
    assert g.pair(hasty.code) == 429  # at once, and for twice as long
    time.sleep(1.6)
    assert g.pair(hasty.code) == 429
    time.sleep(1.6)
    assert g.pair(hasty.code) == 200


def test_wrong_codes_held_back_and_sent_at_once(there, hasty):
    """A hundred requests past the brake before the first of them guesses: still five guesses."""
    head = (f"POST /pair HTTP/1.1\r\nHost: {there.server}:{hasty.port}\r\nX-Plumbstar: 1\r\n"
            "Content-Length: 19\r\n\r\n").encode()  # fmt: skip
    body = b'{"code":"WRONGONE"}'
    socks = [there.connect(hasty.port, there.guests[0]) for _ in range(30)]
    for s in socks:
        s.sendall(head + body[:-1])
    time.sleep(0.3)
    for s in socks:
        s.sendall(body[-1:])
    status = [s.recv(100).split(b" ")[1] for s in socks]
    for s in socks:
        s.close()
    assert (status.count(b"403"), status.count(b"429")) == (5, 25)


def test_wrong_codes_from_many_addresses(there, hasty):
    got = [Guest(there, hasty.port, a).pair("WRONGONE") for a in there.guests[:20] for _ in "1234"]
    assert got == [403] * 60 + [429] * 20
    late = Guest(there, hasty.port, there.guests[25])
    assert late.pair(hasty.code) == 429
    time.sleep(4.1)
    assert late.pair(hasty.code) == 200


def test_one_ipv6_network_is_one_guesser(there, tmp_path):
    s = Served(tmp_path, host="::", hasty=True)
    s.start()
    try:
        got = [Guest(there, s.port, a).pair("WRONGONE") for a in there.guests6]
        assert got == [403] * 5 + [429] * 5
        assert Guest(there, s.port, there.guests6[0]).ask("/data/state")[0] == 401
        time.sleep(1.6)
        assert Guest(there, s.port, there.guests6[7]).pair(s.code) == 200
    finally:
        s.kill()


# ---- paths


TRAVERSALS = (
    "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py", "/static/%2e%2e%2fapp.py",
    "/static/..%5capp.py", "/static/....//app.py", "/static//etc/passwd", "/static/%2fetc/passwd",
    "/static/../../../../../../../../etc/passwd", "/static/%00", "/static/app.js%00.css",
    "/static/%c0%ae%c0%ae/app.py", "/static/..;/app.py", "//etc/passwd", "/static", "/static/",
    "/static/%252e%252e/app.py", "/static/app.js/../../app.py", "/data/log/../../etc/passwd",
    "/data/log/..%2f..%2f..%2fetc%2fpasswd", "/data/log/1.csv%2f..%2f..%2fsession.key",
    "/data/log/1.%2e%2e%2fsession.key", "/data/log/%2e%2e.json", "/data/log/-1.json",
    "/data/log/1e9.json", "/data/log/99999999999999999999999.json",
    "/data/log/99999999999999999999",
    "/data/log/1.exe", "/templates/page.html", "/..", "/%2e%2e/%2e%2e/etc/passwd",
    "/do/../data/state", "/static/" + "a/" * 3000, "/static/" + "a" * 5000,
)  # fmt: skip


def test_no_path_leads_out(there, guest, paired, server):
    """Sent as they are: a client that tidies paths up would hide the fault."""
    for who in (guest, paired):
        for path in TRAVERSALS:
            lines = f"GET {path} HTTP/1.1\r\nHost: {who.host}\r\nConnection: close\r\n"
            if who.cookie:
                lines += f"Cookie: {who.cookie}\r\n"
            got = there.raw(server.port, lines.encode() + b"\r\n")
            status = int(got.split(b" ")[1])
            assert status in (307, 400, 401, 404), (path[:60], status)
            for secret in (b"root:", b"import ", b"BEGIN", b"{%"):
                assert secret not in got, path
            if status == 307:  # to a path of ours, with its slash put right
                assert b"location: http://" + who.host.encode() in got.lower()


# ---- too much, too slow, too many


def alive(guest):
    return guest.ask("/data/version")[0] == 200


def test_bodies_too_large(there, guest, paired, server):
    head = f"POST {{}} HTTP/1.1\r\nHost: {paired.host}\r\nX-Plumbstar: 1\r\n"
    head += f"Cookie: {paired.cookie}\r\n"
    for path in ("/do/note", "/pair", "/data/collimate"):
        # Ten gigabytes announced: refused before any of it is taken, and the line is cut.
        got = there.raw(
            server.port, (head.format(path) + "Content-Length: 10000000000\r\n\r\n").encode()
        )
        assert b" 413 " in got[:20], path
        for length in ("-1", "1e3", "0x10", "99999999999999999999999", "5, 5000000"):
            got = there.raw(
                server.port,
                (head.format(path) + f"Content-Length: {length}\r\n\r\n").encode() + b"x" * 99,
            )
            assert got[9:12] in (b"400", b"413"), (path, length, got[:20])
    assert alive(paired)


@pytest.mark.parametrize(("path", "limit"), [("/pair", 64 << 10), ("/data/collimate", 24 << 20)])
def test_an_endless_body_is_cut_off(there, paired, server, path, limit):
    """In pieces, with no length told: counted while it comes, and then no more is taken."""
    piece = b"10000\r\n" + b"x" * 0x10000 + b"\r\n"
    s = there.connect(server.port, there.guests[3])
    s.sendall((f"POST {path} HTTP/1.1\r\nHost: {paired.host}\r\nX-Plumbstar: 1\r\n"
               f"Cookie: {paired.cookie}\r\nTransfer-Encoding: chunked\r\n\r\n"
               ).encode())  # fmt: skip
    sent = 0
    with contextlib.closing(s), contextlib.suppress(OSError):
        while sent < limit + (16 << 20):
            s.sendall(piece)
            sent += 0x10000
    assert sent < limit + (16 << 20)
    assert alive(paired)


def test_a_thousand_ranges_of_one_file(guest):
    """Asked for by a stranger: no answer much larger than the file, and the server goes on."""
    whole = len(guest.ask("/static/app.js")[2])
    open_ended, the_same = ",".join(f"{k}-" for k in range(2000)), ",".join(["0-"] * 4000)
    single, from_the_end = ",".join(f"{k}-{k}" for k in range(0, 8000, 2)), "-1," * 3000 + "0-0"
    for ranges in (open_ended, the_same, single, from_the_end):
        try:
            status, _, got = guest.ask("/static/app.js", headers={"Range": f"bytes={ranges}"})
        except ConnectionResetError:  # refused before all of the head was read: cut off, no answer
            continue
        assert status in (200, 206, 400, 416, 431)
        assert len(got) < 12 * whole
    assert guest.ask("/pair")[0] == 200


def refuses_more(sock, data):
    """Whether the other end of this connection is gone."""
    try:
        for _ in range(20):
            sock.sendall(data * 100)
            time.sleep(0.05)
    except OSError as e:
        return not isinstance(e, TimeoutError)
    return False


def test_slow_heads_slow_bodies_and_answers_not_taken(there, hasty):
    g = Guest(there, hasty.port, there.guests[1])
    assert g.pair(hasty.code) == 200
    silent = there.connect(hasty.port)
    head = there.connect(hasty.port)
    second = there.connect(hasty.port)
    body = there.connect(hasty.port)
    start = f"POST /pair HTTP/1.1\r\nHost: {g.host}\r\nX-Plumbstar: 1\r\n".encode()
    second.sendall(f"GET /pair HTTP/1.1\r\nHost: {g.host}\r\n\r\n".encode())
    body.sendall(start + b"Content-Length: 60000\r\n\r\n")
    head.sendall(b"GET /pair HTTP/1.1\r\n")
    stop = threading.Event()

    def drip():
        while not stop.wait(0.2):
            for s, drop in ((head, b"X: y\r\n"), (second, b"GET "[:1]), (body, b"x")):
                with contextlib.suppress(OSError):
                    s.sendall(drop)

    thread = threading.Thread(target=drip)
    thread.start()
    try:
        for s in (silent, head, second, body):
            assert dropped(s, 6.0)
        assert alive(g)
    finally:
        stop.set()
        thread.join()
        for s in (silent, head, second, body):
            s.close()
    # Many answers asked for on one line, none taken.
    greedy = there.connect(hasty.port)
    greedy.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    one = f"GET /static/app.js HTTP/1.1\r\nHost: {g.host}\r\n\r\n".encode()
    greedy.settimeout(1.0)
    with contextlib.suppress(OSError):
        greedy.sendall(one * 2000)
    time.sleep(3.5)
    with contextlib.closing(greedy):
        # What the kernels hold would still come: so it is told by sending, not by reading.
        assert refuses_more(greedy, one)
    assert alive(g)


def test_one_address_cannot_take_all_places(there, server, paired):
    """A stranger's five hundred connections; the paired phone and the computer itself go on."""
    crowd = [there.connect(server.port, there.guests[4]) for _ in range(500)]
    try:
        began = time.monotonic()
        assert alive(paired)
        assert server.ask("/data/version")[0] == 200
        assert time.monotonic() - began < 5.0
        time.sleep(0.3)
        gone = sum(dropped(s, 0.001) for s in crowd)
        assert 500 - gone <= 32
    finally:
        for s in crowd:
            s.close()


def test_many_addresses_cannot_shut_the_phone_out(there, server, paired):
    crowd = [there.connect(server.port, there.guests[5 + k % 20]) for k in range(400)]
    try:
        assert all(alive(paired) for _ in range(5))
    finally:
        for s in crowd:
            s.close()


def test_too_many_streams(there, server, paired):
    """Sixty-four; the next is told so, in words, and those that are there go on."""
    ask = f"GET /stream HTTP/1.1\r\nHost: {paired.host}\r\nCookie: {paired.cookie}\r\n\r\n".encode()
    streams = []
    try:
        for k in range(64):
            s = there.connect(server.port, there.guests[5 + k // 20])
            s.sendall(ask)
            assert s.recv(12) == b"HTTP/1.1 200"
            streams.append(s)
        status, _, got = paired.ask("/stream")
        assert status == 503
        assert json.loads(got)["remedy"]
        assert alive(paired)
        streams[0].settimeout(patience.SECONDS)
        streams[0].recv(1 << 20)
        assert streams[0].recv(100)  # the heartbeat
    finally:
        for s in streams:
            s.close()


# ---- odd requests


def test_methods_and_protocols_that_are_not_spoken(there, paired, server):
    for method in ("PUT", "DELETE", "OPTIONS", "PATCH", "TRACE", "CONNECT", "PROPFIND", "POSTT"):
        assert paired.ask("/do/start_outing", method=method)[0] == 405
    assert paired.ask("/data/state", method="HEAD")[0] in (200, 405)
    for path in ("/stream", "/", "/static/app.js", "/do/start_outing"):
        for g in (paired, Guest(there, server.port, there.guests[6])):
            status, _, _ = g.ask(path, headers={
                "Connection": "Upgrade", "Upgrade": "websocket", "Sec-WebSocket-Version": "13",
                "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==", "Origin": "http://evil.example",
                "Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "websocket"})  # fmt: skip
            assert status in (401, 403, 404, 405), (path, status)
    for raw in (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 200,  # a TLS greeting
                b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"GET /data/state\r\n\r\n",
                b"GET /data/state HTTP/1.0\r\n\r\n", b"GET /data/state HTTP/1.1\r\n\r\n",
                b"\r\n" * 500 + b"X", b"\x00" * 1000, b"GET " + b"/a" * 70000):  # fmt: skip
        got = there.raw(server.port, raw, seconds=0.4)
        assert not got or got[9:12] in (b"400", b"421"), (raw[:30], got[:40])
    assert alive(paired)
    assert outings(server, paired) == []


def test_a_second_request_cannot_be_smuggled_in_the_first(there, paired, server):
    """Headers about which two readers could disagree. Whatever is made of them, each request that
    is answered has passed the door by itself: the stranger's inner one gets nothing."""
    inner = f"GET /data/state HTTP/1.1\r\nHost: {paired.host}\r\n\r\n"
    start = f"POST /pair HTTP/1.1\r\nHost: {paired.host}\r\nX-Plumbstar: 1\r\n"
    n = len(inner)
    for name, lines in {
        "both": f"Content-Length: {n}\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n{inner}",
        "length twice": f"Content-Length: 0\r\nContent-Length: {n}\r\n\r\n{inner}",
        "no such coding": f"Transfer-Encoding: xchunked\r\n\r\n{inner}",
        "two codings": f"Transfer-Encoding: identity, chunked\r\n\r\n0\r\n\r\n{inner}",
        "space before colon": f"Transfer-Encoding : chunked\r\n\r\n0\r\n\r\n{inner}",
        "folded": f"X: y\r\n Transfer-Encoding: chunked\r\nContent-Length: 0\r\n\r\n{inner}",
        "bare line feed": f"Content-Length: 0\n\n{inner}",
        "bare return": f"X: y\rTransfer-Encoding: chunked\r\n\r\n{inner}",
        "null in a header": f"X: a\0b\r\nContent-Length: 0\r\n\r\n{inner}",
        "plus sign": f"Content-Length: +{n}\r\n\r\n{inner}",
        "chunk with a sign": f"Transfer-Encoding: chunked\r\n\r\n-1\r\n{inner}",
        "two hosts": f"Host: evil.example\r\nContent-Length: 0\r\n\r\n{inner}",
    }.items():
        got = there.raw(server.port, (start + lines).encode(), there.guests[7], seconds=0.4)
        statuses = re.findall(rb"HTTP/1\.1 (\d{3})", got)
        assert b"200" not in statuses, (name, statuses)
        assert b'"version"' not in got, name
    # Two honest requests on one line: the cookie of the first does not stand for the second.
    two = (f"GET /data/version HTTP/1.1\r\nHost: {paired.host}\r\nCookie: {paired.cookie}\r\n\r\n"
           + inner.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n"))  # fmt: skip
    got = there.raw(server.port, two.encode())
    assert re.findall(rb"HTTP/1\.1 (\d{3})", got) == [b"200", b"401"]
    # A target with a host of its own is judged by the Host header, which it may not replace.
    whole = f"GET http://evil.example/data/state HTTP/1.1\r\nHost: {paired.host}\r\n"
    got = there.raw(server.port, (whole + f"Cookie: {paired.cookie}\r\n\r\n").encode(), seconds=0.4)
    assert b" 200 " not in got[:20]


# ---- secrets


def test_no_secret_in_what_the_server_writes(there, tmp_path):
    """Every kind of request above once more, with a failure inside; then its words are searched."""
    s = Served(tmp_path)
    s.command.remove("--json")
    s.start = lambda: None
    env = {**os.environ, "XDG_DATA_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    s.command[0] = sys.executable
    log = tmp_path / "said.txt"
    with log.open("wb") as out:
        process = subprocess.Popen(s.command, stdout=out, stderr=subprocess.STDOUT, env=env)
        try:
            until = time.monotonic() + patience.SECONDS
            while "Stop with" not in log.read_text() and time.monotonic() < until:
                time.sleep(0.05)
            code = re.search(r"Pairing code: (\w{4}) (\w{4})", log.read_text())
            code = "".join(code.groups())
            time.sleep(0.3)
            g = Guest(there, s.port)
            assert g.pair("WRONGONE") == 403
            assert g.pair(code) == 200
            for path in routes():
                if path != "/stream":  # which does not end
                    g.ask(path)
                    if "card" not in path:  # which takes its time
                        g.ask(path, {"code": code})
            there.raw(s.port, f"GET / HTTP/9.9\r\nCookie: {g.cookie}\r\n\r\n".encode(), seconds=0.5)
            # Damaged under its hands: the error that this makes is logged, with its traceback.
            for file in tmp_path.glob("log.sqlite3*"):
                file.write_bytes(b"\xff" * 8192)
            for path in ("/data/log", "/data/log/1", "/data/state"):
                g.ask(path)
            g.ask("/do/start_outing", {})
        finally:
            process.terminate()
            process.wait(10)
    said = log.read_text()
    key = session_key(tmp_path / "plumbstar")
    assert said.count(code[:4]) == 1  # where it is shown to be typed, and nowhere else
    value = g.cookie.partition("=")[2]
    for secret in (code, value, value[-64:], key.hex(), repr(key)[2:-1]):
        assert secret not in said
    assert (tmp_path / "plumbstar" / "session.key").stat().st_mode & 0o077 == 0


def test_no_secret_in_any_address_of_a_paired_phone(there, server, tmp_path, driver):
    """A real browser over there: pairs by the picture's address, and goes through every page."""
    from .scope import CHROMIUM_ARGS, chromium

    path = chromium()
    if path is None:
        pytest.skip("no chromium on this machine")

    over = tmp_path / "browser-over-there"
    over.write_text(f'#!/bin/sh\nexec ip netns exec {there.name} {path} "$@"\n')
    over.chmod(0o755)
    asked, errors = [], []
    browser = driver.chromium.launch(executable_path=over, args=CHROMIUM_ARGS)
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.on("request", lambda r: asked.append((r.url, r.headers.get("referer", ""))))
    page.on("pageerror", lambda e: errors.append(str(e)))
    home = f"http://{there.server}:{server.port}/"
    page.goto(f"{home}pair#{server.code}")
    page.wait_for_url(home)
    places = []
    for name in ("tonight", "find", "sight", "log", "check", "prepare"):
        page.goto(f"{home}#{name}")
        page.wait_for_timeout(150)
        places.append(page.url)
    kept = page.evaluate("JSON.stringify([{...localStorage}, {...sessionStorage}])")
    seen = page.evaluate("document.cookie")
    title = page.evaluate("document.title")
    value = page.context.cookies()[0]["value"]
    browser.close()
    assert errors == []
    assert len(asked) > 12
    first, rest = asked[0], asked[1:]
    assert first[0].partition("#")[0] == f"{home}pair"
    for text in [*(u for pair in rest for u in pair), *places, kept, seen, title]:
        assert server.code not in text.upper()
        assert value not in text
    assert value.count(".") == 2
    assert seen == ""
    assert all(u.startswith((home, "data:", "blob:")) for u, _ in asked)


def test_over_https_a_plain_request_and_a_slow_greeting_harm_nothing(there, tmp_path):
    s = Served(tmp_path, "--https")
    s.start()
    try:
        got = there.raw(s.port, b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", seconds=0.4)
        assert b"HTTP/1.1 200" not in got
        slow = [there.connect(s.port) for _ in range(50)]
        context = ssl.create_default_context()
        context.check_hostname, context.verify_mode = False, ssl.CERT_NONE
        with contextlib.closing(there.connect(s.port, there.guests[1])) as plain:
            tls = context.wrap_socket(plain)
            tls.sendall(f"GET /pair HTTP/1.1\r\nHost: {there.server}:{s.port}\r\n\r\n".encode())
            assert tls.recv(12) == b"HTTP/1.1 200"
            assert tls.version() in ("TLSv1.2", "TLSv1.3")
        # Old versions of the protocol are not spoken; this client can offer nothing newer.
        old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        old.check_hostname, old.verify_mode = False, ssl.CERT_NONE
        old.maximum_version = ssl.TLSVersion.TLSv1_1
        with contextlib.closing(there.connect(s.port)) as plain, pytest.raises(OSError):  # noqa: PT011
            old.wrap_socket(plain)
        for x in slow:
            x.close()
    finally:
        s.kill()


def test_after_what_came_before_the_server_runs_for_the_paired(server, paired):
    """What it has said by the end, whichever test was last, is looked at in its fixture."""
    assert alive(paired)
