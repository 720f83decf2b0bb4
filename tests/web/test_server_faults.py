"""Faults of the night on the real server: disks, cables, clocks. docs/faults.md lists them."""

import asyncio
import contextlib
import json
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

import patience
from plumbstar.clock.clock import EveningClock
from plumbstar.logbook import Logbook, good_copy
from plumbstar.mount import kinematics
from plumbstar.sky.naming import lookup
from plumbstar.sky.places import place_of
from plumbstar.sky.site import Site
from plumbstar.sky.times import Instant

from .elsewhere import Elsewhere, Guest
from .server_process import Phone, Server, settled_state, shown
from .server_rig import (
    NIGHT,
    SCENE,
    Listener,
    Standing,
    asynchronous,
    board,
    centre,
    live,
    rig,
    toml_for,
)


def until(what, seconds=patience.SECONDS):
    end = time.monotonic() + seconds
    while not (got := what()):
        assert time.monotonic() < end, "never came about"
        time.sleep(0.05)
    return got


def stars_in(path):
    with Logbook.open(path, create=False) as b:
        assert b.file.rows("PRAGMA integrity_check") == [("ok",)]
        return [s.sighting.star for o in b.outings() for s in b.sightings(o.id)]


# ---- the disk


def as_root(*words: str) -> str:
    """Run it; skips the test, with the reason, where it is not allowed."""
    try:
        return subprocess.run(
            words, check=True, capture_output=True, text=True, timeout=patience.SECONDS
        ).stdout.strip()
    except (OSError, subprocess.CalledProcessError) as e:
        why = (getattr(e, "stderr", "") or str(e)).strip()
        pytest.skip(f"no disk can be made and mounted here (needs Linux and root): {why}")


class SmallDisk:
    """A disk of its own for the logbook: a file of so many kilobytes, formatted and mounted.

    Like most memory cards it is set to be read-only after an error (ext4(5), errors=remount-ro).
    """

    def __init__(self, place: Path, kb: int) -> None:
        self.place, self._image = place, place.with_suffix(".image")
        place.mkdir()
        self._image.write_bytes(bytes(kb * 1024))
        as_root("mkfs.ext4", "-q", "-F", "-m", "0", str(self._image))
        self.put_in()

    def put_in(self, options: str = "errors=remount-ro") -> None:
        as_root("mount", "-o", f"loop,{options}", str(self._image), str(self.place))

    def take_out(self) -> None:
        subprocess.run(
            ["umount", str(self.place)], check=False, capture_output=True, timeout=patience.SECONDS
        )

    def mend(self) -> None:
        self.take_out()
        subprocess.run(["e2fsck", "-fy", str(self._image)], check=False, capture_output=True)
        self.put_in()

    def fail(self) -> None:
        """The kernel meets an error on it, and from now on it can only be read."""
        device = Path(as_root("findmnt", "-no", "SOURCE", str(self.place))).name
        assert device.startswith("loop")  # never a real one
        trigger = Path(f"/sys/fs/ext4/{device}/trigger_fs_error")
        if not trigger.exists():
            pytest.skip("this kernel has no trigger_fs_error")
        trigger.write_text("1")


@pytest.fixture
def small_disk(tmp_path):
    disk = SmallDisk(tmp_path / "card", 3000)
    yield disk
    disk.take_out()


def on_that_disk(server, disk):
    at = server.command.index("--logbook") + 1
    server.command[at] = str(disk.place / "log.sqlite3")
    return disk.place / "log.sqlite3"


def test_a_disk_that_is_full_and_then_has_room_again(server, small_disk):
    path = on_that_disk(server, small_disk)
    server.start()
    server.do("sight", star="Capella", id="press-0001", reading=shown("Capella"))
    server.do("end_outing")  # worth a copy at once
    until(lambda: good_copy(path).exists() and stars_in_copy(path) == ["Capella"])
    with contextlib.suppress(OSError), (small_disk.place / "photos").open("wb", 0) as f:
        while True:
            f.write(b"x" * 4096)
    saved, refused = [], 0
    for k in range(2, 200):
        body = {"star": "Rigel", "id": f"press-{k:04d}", "reading": shown("Rigel")}
        status, answer = server.ask("/do/sight", body)
        if status == 200:
            saved.append(body["id"])
            continue
        refused += 1
        assert status == 507, answer
        assert "nothing was saved" in answer["error"].lower()
        if refused == 3:
            break
    assert refused == 3
    state = server.state()  # the pages go on, with what was saved
    assert len(state["sightings"]) == len(saved)
    (small_disk.place / "photos").unlink()
    # The refused press, sent again, is taken now.
    server.do("sight", **body)
    server.kill()
    assert stars_in(path) == ["Capella"] + ["Rigel"] * (len(saved) + 1)
    assert stars_in_copy(path)[:1] == ["Capella"]


def test_a_card_that_fails_and_is_read_only_from_then_on(server, small_disk):
    path = on_that_disk(server, small_disk)
    server.start()
    server.do("sight", star="Capella", id="press-0001", reading=shown("Capella"))
    settled_state(server)
    small_disk.fail()
    body = {"star": "Rigel", "id": "press-0002", "reading": shown("Rigel")}
    for _ in range(2):
        status, answer = server.ask("/do/sight", body)
        assert status == 507, answer
        assert "nothing was saved" in answer["error"].lower()
    assert len(server.state()["sightings"]) == 1  # what was saved can still be seen
    server.kill()
    small_disk.mend()
    server.start()
    server.do("sight", **body)
    assert [s["star"] for s in server.state()["sightings"]] == ["Capella", "Rigel"]
    server.kill()
    assert stars_in(path) == ["Capella", "Rigel"]


def test_started_on_a_read_only_disk_it_says_so(server, small_disk):
    path = on_that_disk(server, small_disk)
    with Logbook.open(path) as b:
        b.set_setting("x", 1)
    small_disk.take_out()
    small_disk.put_in("ro")
    got = subprocess.run(server.command, capture_output=True, text=True, timeout=60)
    assert got.returncode == 1
    assert "Traceback" not in got.stderr
    assert "read" in got.stderr
    assert "--logbook" in got.stderr


def test_the_last_good_copy_and_the_way_back_to_it(server, tmp_path):
    path = tmp_path / "log.sqlite3"
    server.start()
    server.do("sight", star="Capella", id="press-0001", reading=shown("Capella"))
    server.do("sight", star="Rigel", id="press-0002", reading=shown("Rigel"))
    server.do("end_outing")
    until(lambda: good_copy(path).exists() and stars_in_copy(path) == ["Capella", "Rigel"])
    server.do("sight", star="Pollux", id="press-0003", reading=shown("Pollux"))
    server.stop()
    assert stars_in_copy(path) == ["Capella", "Rigel", "Pollux"]  # the stop is worth one too
    raw = bytearray(path.read_bytes())
    for page in range(3, len(raw) // 4096, 2):
        raw[page * 4096 : (page + 1) * 4096] = b"\xa5" * 4096
    path.write_bytes(raw)
    got = subprocess.run(server.command, capture_output=True, text=True, timeout=60)
    assert got.returncode == 1
    assert "Traceback" not in got.stderr
    said = json.loads(got.stdout)
    assert str(good_copy(path)) in said["remedy"]
    command = f"plumbstar log recover --logbook {path}"
    assert command in said["remedy"]
    program = [sys.executable, "-c", "from plumbstar.cli import main; main()"]
    done = subprocess.run(
        [*program, *command.split()[1:]], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    server.start()
    assert [s["star"] for s in server.state()["sightings"]] == ["Pollux"]
    assert stars_in(path) == ["Capella", "Rigel", "Pollux"]


def stars_in_copy(path):
    """Looked at through a copy of the copy: opened, it would change."""
    twin = path.with_name("twin.sqlite3")
    twin.write_bytes(good_copy(path).read_bytes())
    return stars_in(twin)


# ---- two servers


def test_two_servers_on_one_logbook(server, tmp_path):
    """Both press at the same time; both show everything; nothing twice and nothing lost."""
    (tmp_path / "two").mkdir()
    other = Server(tmp_path / "two")
    other.command[other.command.index("--logbook") + 1] = str(tmp_path / "log.sqlite3")
    server.start()
    server.do("start_outing")
    other.start()
    try:
        readings = {s: shown(s) for s in ("Capella", "Rigel")}

        def press(s, star, tag):
            for k in range(8):
                body = {"star": star, "id": f"press-{tag}-{k:03d}", "reading": readings[star]}
                status, answer = s.ask("/do/sight", body)
                assert status == 200, answer

        threads = [
            threading.Thread(target=press, args=a)
            for a in ((server, "Capella", "one"), (other, "Rigel", "two"))
        ]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
        for s in (server, other):
            got = until(lambda s=s: (x := s.state()["sightings"]) and len(x) == 16 and x)
            assert len({x["id"] for x in got}) == 16
        # One is pulled out; the other goes on, and what it saves the first finds on its return.
        other.kill()
        server.do("sight", star="Pollux", id="press-last", reading=shown("Pollux"))
        other.start()
        assert len(other.state()["sightings"]) == 17
    finally:
        if other.process.poll() is None:
            other.kill()
    server.kill()
    assert len(stars_in(tmp_path / "log.sqlite3")) == 17


AXES = ("az", "alt")


# ---- the network and the phone


def test_the_wifi_cut_and_back(tmp_path):
    """A phone over there; its network goes away, presses go on beside it, and it comes back."""
    with Elsewhere() as there:
        s = Server(tmp_path, "--host", "0.0.0.0")
        s.start()
        try:
            g = Guest(there, s.port)
            assert g.pair(s.said["code"]) == 200
            ask = f"GET /stream HTTP/1.1\r\nHost: {g.host}\r\nCookie: {g.cookie}\r\n\r\n".encode()
            old = there.connect(s.port, g.address)
            old.sendall(ask)
            assert old.recv(12) == b"HTTP/1.1 200"
            s.do("start_outing")
            there.cable(up=False)
            local = Phone(s)
            s.do("sight", star="Capella", id="press-0001", reading=shown("Capella"))
            with pytest.raises(OSError):  # noqa: PT011 (no route, or silence)
                there.connect(s.port, g.address, timeout=1.0)
            local.until(lambda n, d: n == "state" and len(d["sightings"]) == 1)  # held up by nobody
            there.cable(up=True)
            new = until(lambda: _connected(there, s.port, g.address))
            new.sendall(ask)
            got = b""
            end = time.monotonic() + patience.SECONDS
            while b"Capella" not in got and time.monotonic() < end:
                got += new.recv(65536)
            assert b"event: state" in got
            assert b"Capella" in got
            # The press that got no answer, sent again, is the one that is there.
            status, _, body = g.ask(
                "/do/sight", {"star": "Capella", "id": "press-0001", "reading": shown("Capella")}
            )
            assert status == 200
            assert json.loads(body)["again"] is True
            old.close()
            new.close()
        finally:
            s.kill()


def _connected(there, port, address):
    with contextlib.suppress(OSError):
        return there.connect(port, address, timeout=1.0)
    return None


@asynchronous
async def test_a_phone_asleep_for_an_hour_gets_the_present_on_waking(tmp_path):
    async with rig(tmp_path) as r, Listener(r.app) as asleep:
        for star in ("Capella", "Rigel"):
            await r.sight(star)
        await r.do("set_target", name="M42")
        first = await asleep.until(lambda n, d: n == "state" and d["target"])
        asleep.stuck = True
        had = len(asleep.events)
        for k in range(12):
            r.times.go(300.0)
            await r.do("set_eyepiece", name=("17 mm", "9 mm")[k % 2])
        await r.sight("Pollux")
        asleep.stuck = False
        now = await asleep.until(lambda n, d: n == "state" and len(d["sightings"]) == 3)
        # One state or two, not twelve; the target where it is now, not where it was.
        assert sum(n == "state" for n, _ in asleep.events[had:]) <= 3
        assert now == asleep.last("state")
        az, alt = place_of(lookup.find_target("M42"), Instant.from_unix(r.times.t), SCENE.site)
        assert now["target"]["az_deg"] == pytest.approx(az, abs=0.05)
        assert now["target"]["alt_deg"] == pytest.approx(alt, abs=0.05)
        assert abs(first["target"]["az_deg"] - az) > 5.0


@asynchronous
async def test_encoders_fail_while_eight_phones_listen(tmp_path):
    """Each press is saved with the tube's true reading, or refused in words. Where half a line
    was taken for a count, the reading is off from then on, and a possible slip is shown, at the
    latest with the next whole lines."""
    faults = ({"unplug": 1.6}, {"half_lines": True}, {"half_lines": False, "silent": 1.6}, {},
              {"garbage": 8})  # fmt: skip
    async with (
        board(55.0) as sim,  # a hand of real speed: half a number is then no motion
        rig(tmp_path, kit_text=toml_for(sim), times=EveningClock(NIGHT)) as r,
        contextlib.AsyncExitStack() as stack,
    ):
        phones = [await stack.enter_async_context(Listener(r.app)) for _ in range(8)]
        phones[0].stuck = True
        stack.callback(setattr, phones[0], "stuck", False)
        await phones[1].until(lambda n, d: n == "reading" and d["state"] == "live")
        await r.do("start_outing")
        rng = np.random.default_rng(20270128)
        presses: list[tuple[int, dict]] = []

        async def another_finger():
            for k in range(15):  # somebody else presses on meanwhile
                await r.do("set_eyepiece", name=("17 mm", "9 mm")[k % 2])
                await asyncio.sleep(0.1)

        beside = asyncio.create_task(another_finger())
        refused = 0
        for k in range(6):
            star = ("Rigel", "Betelgeuse", "Aldebaran", "Bellatrix")[k % 4]
            await live(r)
            await centre(r, sim, star)
            order = faults[k % len(faults)]
            if order:
                sim.command(order)
            await asyncio.sleep(float(rng.uniform(0.0, 1.6)))
            answer = await r.client.post("/do/sight", json={"star": star, "id": r.press()})
            if answer.status_code == 200:
                presses.append((answer.json()["sighting_id"], sim.where(), len(phones[1].events)))
            else:
                refused += 1
                assert answer.status_code == 400
                assert answer.json()["remedy"]
                assert "error" in answer.json()
        await beside
        rows = {s["id"]: s for s in (await r.state())["sightings"]}
        assert len(rows) == len(presses) == 6 - refused
        assert len(presses) >= 1
        assert refused >= 1
        zero, seen = np.zeros(2), 0
        for key, true, heard in presses:
            row = rows[key]
            off = np.array([row[f"{a}_reading_deg"] - true[f"{a}_reading_deg"] for a in AXES])
            if np.abs(off - zero).max() > 0.06:  # a tick and a half
                # After a stall a hand could have moved so far: the next whole lines tell it then.
                shown = [d for n, d in phones[1].events[seen : heard + 40] if n == "reading"]
                assert any(d["slip"] for d in shown), "the reading went wrong without a word"
            zero, seen = off, heard
        newest = await phones[1].until(
            lambda n, d: n == "state" and len(d["sightings"]) == len(rows)
        )
        phones[0].stuck = False
        got = await phones[0].until(lambda n, d: n == "state" and d["version"] >= newest["version"])
        assert len(got["sightings"]) == len(rows)


@asynchronous
async def test_the_computers_clock_is_set_in_the_middle_of_an_outing(tmp_path):
    """An hour on, a day back: no sighting is lost, the outing goes on, and pressing does too."""
    async with rig(tmp_path) as r, Listener(r.app) as a:
        await r.sight("Capella")
        await r.sight("Rigel")
        before = await r.state()
        for jump in (3600.0, -3600.0, -86400.0, 86400.0):
            r.times.t += jump
            await r.sight("Capella")
            await r.do("undo")
            state = await r.state()
            assert state["outing"]["id"] == before["outing"]["id"]
            assert [s["id"] for s in state["sightings"]] == [s["id"] for s in before["sightings"]]
        await r.sight("Pollux")
        assert len((await r.state())["sightings"]) == 3
        await a.until(lambda n, d: n == "state" and len(d["sightings"]) == 3)
        answer = await r.get(f"/data/log/{before['outing']['id']}")
        assert len(answer["sightings"]) >= 3


# ---- the calendar and the ends of the Earth

NIGHTS = {
    "the new year": ("2026-12-31T23:58:30Z", 47.2, 11.6),
    "a leap second": ("2016-12-31T23:58:30Z", 47.2, 11.6),
    "clocks go forward": ("2027-03-28T00:58:30Z", 47.2, 11.6),
    "clocks go back": ("2027-10-31T00:58:30Z", 47.2, 11.6),
    "the 29th of February": ("2028-02-28T23:58:30Z", 47.2, 11.6),
    "near the north pole": ("2026-12-31T23:58:30Z", 89.9, 11.6),
    "the south pole": ("2027-06-21T12:00:00Z", -90.0, 0.0),
    "the north pole": ("2026-12-21T12:00:00Z", 90.0, 0.0),
    "the date line, east of it": ("2027-01-28T09:58:30Z", -17.0, -179.99),
    "the date line, west of it": ("2027-01-28T09:58:30Z", -17.0, 180.0),
}


@pytest.mark.parametrize("night", NIGHTS)
@asynchronous
async def test_an_outing_over(night, tmp_path):
    """Sightings on both sides of the moment, a fix, an export and an import: as on any night."""
    start, lat, lon = NIGHTS[night]
    site = Site(lat, lon, 10.0)
    times = Standing(Instant.parse(start))
    names = [
        n
        for n in ("Capella", "Rigel", "Pollux", "Aldebaran", "Vega", "Deneb", "Dubhe", "Alioth",
                  "Acrux", "Hadar", "Achernar", "Canopus", "Antares", "Arcturus", "Spica")
        if 20.0 < place_of(lookup.find_target(n), Instant.parse(start), site)[1] < 75.0
    ][:5]  # fmt: skip
    assert len(names) >= 3, names
    terms = SCENE.hidden

    def reading(star):
        az, alt = place_of(lookup.find_target(star), Instant.from_unix(times.t), site)
        d = kinematics.unit(np.radians(az), np.radians(alt))
        az, alt = np.degrees(kinematics.reading_of(d, terms))
        return {"az_deg": round(float(az), 2), "alt_deg": round(float(alt), 2)}

    async with rig(tmp_path, site=site, times=times) as r:
        for star in names:
            await r.do("sight", star=star, id=r.press(), reading=reading(star))
            times.go(45.0)
        state = await r.state()
        worst = max(s["residual_arcmin"] for s in state["sightings"])
        assert worst < 15.0
        await r.do("set_target", name=names[-1])
        outing = state["outing"]["id"]
        text = (await r.client.get(f"/data/log/{outing}.csv")).text
        whole = (await r.client.get(f"/data/log/{outing}.json")).text
        begun = [Instant.parse(row.split(",")[0]) for row in text.splitlines()[1:]]
        assert begun == [Instant.from_unix(times.t - 45.0 * k) for k in range(len(names), 0, -1)]
    with Logbook.open(tmp_path / "other.sqlite3") as other:
        came = other.import_json(whole)[0]
        assert [s.sighting.utc for s in other.sightings(came.id)] == begun
