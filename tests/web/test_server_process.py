"""The real server as a process: up, killed, up again; many at once; over HTTPS."""

import concurrent.futures
import http.client
import json
import os
import re
import signal
import socket
import ssl
import subprocess
import threading
import time
import urllib.request

import pytest
from click.testing import CliRunner

import patience
from plumbstar.commands import serve
from plumbstar.errors import UserError

from .server_process import HEADERS, Phone, Server, settled_state, shown

#: What may differ between two looks at the same evening: the clock and what moves with it.
MOVES = {
    "version",
    "now_utc",
    "server_unix_ms",
    "sun",
    "messages",
    "pairing",
    "loading",
    "next_star",
    "next",
}


def still(state):
    """The state without what moves with the sky."""
    out = {k: v for k, v in state.items() if k not in MOVES}
    for p in out["plan"]:
        for k in ("az_deg", "alt_deg", "az_reading_deg", "alt_reading_deg", "where"):
            p.pop(k)
        for a in p["lookalikes"]:
            for k in ("right_deg", "up_deg", "sentence"):
                a.pop(k)
    if out["target"]:
        moving = ("az_deg", "alt_deg", "az_reading_deg", "alt_reading_deg", "patch")
        for k in (*moving, "hit_chance", "hit_chance_words"):
            out["target"].pop(k)
        if out["target"]["sweep"]:
            for k in ("az_reading_deg", "alt_reading_deg"):
                out["target"]["sweep"].pop(k)
    return out


def test_killed_in_mid_outing_it_comes_back_as_it_was(server):
    server.start()
    server.do("set_skyline", text="290:10 296:27 334:27")
    server.do("choose", stars=2)
    server.do("pick", stars=["Capella", "Rigel"])
    settled_state(server)
    server.do("set_eyepiece", name="17 mm")
    for k, star in enumerate(("Capella", "Rigel", "Pollux")):
        server.do("sight", star=star, id=f"press-{k}-x", reading=shown(star))
    server.do("set_target", name="M42")
    server.do("not_in_field")
    server.do("note", text="before the power cut")
    before = settled_state(server)
    assert before["target"]["sweep"]["index"] == 1
    server.kill()
    server.start()
    after = settled_state(server)
    assert after["version"] > 0
    assert still(after) == still(before)
    # The phone repeats the press whose answer the power cut swallowed.
    again = server.do("sight", star="Pollux", id="press-2-x", reading=shown("Pollux"))
    assert again["again"] is True
    assert len(server.state()["sightings"]) == 3


def test_killed_while_pressing_every_answered_press_is_kept(server):
    """Kill -9 at a random moment: what was answered is there, and nothing twice."""
    server.start()
    answered, stop, capella = [], threading.Event(), shown("Capella")

    def press_on():
        for k in range(400):
            if stop.is_set():
                return
            body = {
                "star": "Capella",
                "id": f"press-{k:04d}",
                "reading": capella,
            }
            try:
                status, reply = server.ask("/do/sight", body, timeout=patience.SECONDS)
            except (OSError, http.client.HTTPException, ValueError):
                return
            if status == 200:
                answered.append(reply["sighting_id"])

    thread = threading.Thread(target=press_on)
    thread.start()
    until = time.monotonic() + patience.SECONDS
    while len(answered) < 6 and time.monotonic() < until:
        time.sleep(0.01)
    server.kill()
    stop.set()
    thread.join(patience.SECONDS)
    assert len(answered) >= 6
    server.start()
    kept = [s["id"] for s in server.state()["sightings"]]
    assert set(answered) <= set(kept)
    assert len(kept) <= len(answered) + 1  # one may have been saved and not yet answered
    assert len(kept) == len(set(kept))


def test_many_at_once(server):
    """Eight phones press at the same time, some of them twice: each press is one sighting."""
    stars = ("Capella", "Rigel", "Pollux", "Alpheratz")
    readings = {name: shown(name) for name in stars}
    server.start()
    server.do("start_outing")

    def press(k):
        star = stars[k // 2 % len(stars)]
        body = {"star": star, "id": f"press-{k // 2:04d}", "reading": readings[star]}
        return server.ask("/do/sight", body)

    with concurrent.futures.ThreadPoolExecutor(8) as pool:
        replies = list(pool.map(press, range(24)))
    assert all(status == 200 for status, _ in replies), replies
    s = server.state()
    assert len(s["sightings"]) == 12
    assert len({r["sighting_id"] for _, r in replies}) == 12


def test_two_phones_one_asleep_and_the_stop(server):
    server.start()
    a = Phone(server)
    a.until(lambda n, d: n == "state")
    # This one never reads what it is sent: a phone in a pocket.
    sleeper = socket.create_connection((server.host, server.port))
    sleeper.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
    sleeper.sendall(f"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n\r\n".encode())
    b = Phone(server)
    for name in ("17 mm", "9 mm", "32 mm") * 10:
        version = server.do("set_eyepiece", name=name)["version"]
    one = a.until(lambda n, d: n == "state" and d["version"] >= version)
    two = b.until(lambda n, d: n == "state" and d["version"] == one["version"])
    assert one == two
    assert one["kit"]["eyepiece"] == "32 mm"
    sleeper.close()
    began = time.monotonic()
    code, _, err = server.stop()
    assert time.monotonic() - began < 6.0
    assert code in (0, -signal.SIGTERM)
    assert "Traceback" not in err
    a.join(patience.SECONDS)
    assert a.ended


def test_control_c_is_a_quiet_end(server):
    server.start()
    phone = Phone(server)
    phone.until(lambda n, d: n == "reading")
    # A static file is read on a thread of its own, which must not keep the program alive.
    with urllib.request.urlopen(f"http://{server.host}:{server.port}/static/app.js") as r:
        assert r.status == 200
    code, _, err = server.stop(signal.SIGINT)
    assert code in (0, 130, -signal.SIGINT)
    assert "Traceback" not in err


def test_what_it_says_on_start(tmp_path):
    s = Server(tmp_path, "--host", "0.0.0.0", "--name", "scope.local")
    s.command.remove("--json")
    env = {**os.environ, "XDG_DATA_HOME": str(tmp_path), "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(s.command, stdout=subprocess.PIPE, env=env, text=True)
    try:
        text = ""
        while "Stop with" not in text:
            line = process.stdout.readline()
            assert line, text
            text += line
    finally:
        process.kill()
        process.communicate(timeout=patience.SECONDS)
    assert f"http://scope.local:{s.port}/" in text
    assert re.search(r"Pairing code: [A-Z2-9]{4} [A-Z2-9]{4}", text)
    assert text.count("█") + text.count("▀") + text.count("▄") > 100  # the code's picture
    assert "screen time" in text
    assert "Sun" in text


def test_a_port_that_is_taken(tmp_path, server):
    server.start()
    other = Server(tmp_path)
    other.port = server.port
    other.command[other.command.index("--port") + 1] = str(server.port)
    got = subprocess.run(other.command, capture_output=True, text=True, timeout=60)
    assert got.returncode == 1
    assert "choose another --port" in got.stderr
    assert "Traceback" not in got.stderr
    assert json.loads(got.stdout)["error"]


@pytest.mark.parametrize(
    "options",
    [["--site", "moon"], ["--utc", "soon"], ["--kit", "/no/such.toml"], ["--logbook", "/"]],
)
def test_mistakes_are_told_before_anything_is_served(options):
    result = CliRunner().invoke(serve.command, ["--port", "0", *options])
    assert isinstance(result.exception, UserError)
    assert result.exception.remedy


def test_over_https_with_pairing(tmp_path):
    s = Server(tmp_path, "--host", "0.0.0.0", "--https")
    s.start()
    try:
        assert re.fullmatch(r"([0-9A-F]{2}:){31}[0-9A-F]{2}", s.said["fingerprint_sha256"])
        context = ssl.create_default_context(
            cafile=str(tmp_path / "plumbstar" / "https-certificate.pem")
        )
        context.verify_flags &= ~ssl.VERIFY_X509_STRICT
        c = http.client.HTTPSConnection(
            "127.0.0.1", s.port, timeout=patience.SECONDS, context=context
        )
        # Called by another of its names it asks for the code, even from here.
        address = next((u for u in s.said["urls"]), "")
        host = address.removeprefix("https://").rstrip("/")
        c.request("GET", "/data/state", headers={"Host": host})
        r = c.getresponse()
        r.read()
        if not host.startswith("127."):
            assert r.status == 401
        c.request("POST", "/pair", json.dumps({"code": s.said["code"]}), {**HEADERS, "Host": host})
        r = c.getresponse()
        r.read()
        assert r.status == 200
        cookie = r.headers["set-cookie"]
        assert "; Secure" in cookie
        session = cookie.split(";")[0]
        c.request("GET", "/data/state", headers={"Host": host, "Cookie": session})
        r = c.getresponse()
        assert r.status == 200
        assert json.loads(r.read())["pairing"]["secure"] is True
        c.close()
        # A paired phone stays paired over a restart; the code is a new one.
        code = s.said["code"]
        s.kill()
        s.start()
        assert s.said["code"] != code
        c = http.client.HTTPSConnection(
            "127.0.0.1", s.port, timeout=patience.SECONDS, context=context
        )
        c.request("GET", "/data/state", headers={"Host": host, "Cookie": session})
        assert c.getresponse().status == 200
        c.close()
    finally:
        s.kill()
