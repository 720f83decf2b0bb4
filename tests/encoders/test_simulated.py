"""The simulated telescope: its hand, its hidden mount, its control port, its keys."""

import asyncio
import json
import math
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from plumbstar import kit as kits
from plumbstar import mount
from plumbstar.commands import readings, simulate
from plumbstar.encoders import hidden
from plumbstar.encoders.reading import Reading
from plumbstar.encoders.simulated import Hand, Shape, SimulatedTelescope
from plumbstar.errors import UserError
from plumbstar.scenario import thornback_ridge

SRC = str(Path(simulate.__file__).parents[2])
RUN = "from plumbstar.cli import main; main()"
needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="no pty")


# ---------------------------------------------------------------------- the hand


def test_the_hand_starts_and_ends_at_rest_and_keeps_its_speed():
    hand = Hand((0.0, 90.0), peak_deg_s=15.0, now=0.0)
    lasts = hand.go((40.0, 50.0), 0.0)
    t = np.linspace(0.0, lasts, 2001)
    path = np.array([hand.at(x) for x in t])
    speed = np.abs(np.diff(path[:, 0])) / np.diff(t)
    assert path[0].tolist() == [0.0, 90.0]
    assert path[-1] == pytest.approx([40.0, 50.0])
    assert speed.max() == pytest.approx(15.0, rel=1e-3)
    assert speed[0] < 0.1
    assert speed[-1] < 0.1


def test_a_second_push_begins_where_the_tube_is():
    hand = Hand((0.0, 0.0), 15.0, 0.0)
    lasts = hand.go((10.0, 0.0), 0.0)
    middle = hand.at(lasts / 2)
    hand.go((10.0, 5.0), lasts / 2)
    assert hand.at(lasts / 2) == pytest.approx(middle)


# ---------------------------------------------------------------------- the counter


@pytest.mark.parametrize(
    ("shape", "count", "shown"),
    [
        (Shape(), -70000, -70000),
        (Shape(bits=16), 32768, -32768),
        (Shape(bits=16), 32767, 32767),
        (Shape(bits=16, signed=False), -1, 65535),
        (Shape(bits=24), -(2**23) - 1, 2**23 - 1),
        (Shape(wraps_each_turn=True, signed=False), 9216, 0),
        (Shape(wraps_each_turn=True), 4608, -4608),
    ],
)
def test_counters_wrap_as_they_are_described(shape, count, shown):
    assert shape.wrapped(count, 9216) == shown


# ---------------------------------------------------------------------- the hidden mount


def test_terms_are_named_with_their_units_and_come_back():
    terms = thornback_ridge().hidden
    named = hidden.to_mapping(terms)
    assert named["altitude_zero_deg"] == pytest.approx(0.9)
    assert named["azimuth_scale_percent"] == pytest.approx(0.04)
    assert hidden.from_mapping(named) == pytest.approx(terms, abs=1e-15)
    assert len(named) == 11


@pytest.mark.parametrize("name", ["m.toml", "m.json"])
def test_a_mount_file_is_read(tmp_path, name):
    path = tmp_path / name
    path.write_text('{"cone_deg": 0.5}' if name.endswith("json") else "cone_deg = 0.5\n")
    assert hidden.load(path)[mount.INDEX["cone"]] == pytest.approx(math.radians(0.5))


@pytest.mark.parametrize(
    "text", ["kone_deg = 1", "cone_deg = 'x'", "cone_deg = true", "= =", "cone_deg = 1" + 400 * "0"]
)
def test_a_wrong_mount_file_is_refused_in_words(tmp_path, text):
    path = tmp_path / "m.toml"
    path.write_text(text)
    with pytest.raises(UserError):
        hidden.load(path)


def test_pointing_centres_the_direction_through_the_hidden_mount():
    async def run():
        sim = SimulatedTelescope(
            kits.example(), thornback_ridge().hidden, port=None, hand_deg_s=9000.0, seed=4
        )
        off = []
        async with sim:
            for az, alt in [(10.0, 30.0), (200.0, 70.0), (359.0, 15.0), (90.0, 80.0)] * 2:
                sim.point(az, alt)
                await sim.settled()
                w = sim.where()
                across = (w["true_az_deg"] - az + 180) % 360 - 180
                off.append(
                    (across * math.cos(math.radians(alt)) * 60, (w["true_alt_deg"] - alt) * 60)
                )
                # the faults are real: the reading is not the direction
                assert abs((w["reading_az_deg"] - az + 180) % 360 - 180) > 5.0
        rms = np.sqrt(np.mean(np.square(off)))
        # 16 draws of 6 arcmin: the mean square lies within a factor of 0.4 to 2 of 36, 99 %
        assert 3.0 < rms < 9.5

    asyncio.run(run())


def test_pointing_goes_the_shorter_way_round():
    async def run():
        async with SimulatedTelescope(kits.example(), port=None, hand_deg_s=9000.0) as sim:
            for az in (350.0, 10.0, 350.0):
                sim.point(az, 40.0)
                await sim.settled()
            assert sim.where()["reading_az_deg"] == pytest.approx(-10.0, abs=1.0)

    asyncio.run(run())


# ---------------------------------------------------------------------- control commands


def test_orders_are_checked():
    async def run():
        async with SimulatedTelescope(kits.example(), port=None) as sim:
            for order in (
                {},
                {"fly": 1},
                {"push_az_deg": "x"},
                {"push_az_deg": True},
                {"point_az_deg": 10},
                {"slip_deg": [1]},
                {"stuck": "both"},
                {"stuck": ["az"]},
                {"push_az_deg": 10**400},
                {"point_az_deg": 10, "point_alt_deg": -60},
            ):
                with pytest.raises(UserError):
                    sim.command(order)

    asyncio.run(run())


def test_a_moved_base_changes_the_truth_and_not_the_reading():
    async def run():
        async with SimulatedTelescope(kits.example(), port=None, hand_deg_s=900.0) as sim:
            sim.push(alt_deg=-50.0)
            await sim.settled()
            before = sim.where()
            sim.command({"base_moved_deg": [0.0, 0.0, 2.0]})
            after = sim.where()
            assert after["true_az_deg"] - before["true_az_deg"] == pytest.approx(2.0, abs=1e-9)
            assert after["az_count"] == before["az_count"]

    asyncio.run(run())


def test_two_telescopes_cannot_take_one_port():
    async def run():
        async with SimulatedTelescope(kits.example()) as sim:
            with pytest.raises(UserError, match="free port"):
                async with SimulatedTelescope(kits.example(), port=sim.port):
                    pass

    asyncio.run(run())


# ---------------------------------------------------------------------- the process


class Process:
    """``plumbstar simulate`` as a user starts it."""

    def __init__(self, *args, stdin=subprocess.DEVNULL):
        env = {**os.environ, "PYTHONPATH": SRC}
        self.p = subprocess.Popen(
            [sys.executable, "-c", RUN, "simulate", *map(str, args)],
            stdin=stdin, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=env, text=True,
        )  # fmt: skip

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.p.poll() is None:
            self.p.terminate()
        self.p.communicate(timeout=10)

    def report(self):
        return json.loads(self.p.stdout.readline())


def tell(port, *orders):
    with socket.create_connection(("127.0.0.1", port), 5.0) as s, s.makefile("rw") as f:
        answers = []
        for order in orders:
            f.write((order if isinstance(order, str) else json.dumps(order)) + "\n")
            f.flush()
            answers.append(json.loads(f.readline()))
        return answers


@needs_pty
def test_the_process_serves_tcp_pty_control_and_a_kit_that_connects(tmp_path):
    link, kit_path = tmp_path / "port", tmp_path / "kit.toml"
    with Process(
        "--json", "--demo", "--link", link, "--write-kit", kit_path, "--hand-speed", 60
    ) as p:
        report = p.report()
        answers = tell(
            report["control_port"],
            {"push_az_deg": 10, "push_alt_deg": -10, "wait": True},
            {"where": True, "hidden": True},
            "not json",
            {"fly": 1},
        )
        assert answers[0]["ok"]
        assert answers[1]["hidden"]["altitude_zero_deg"] == pytest.approx(0.9)
        where = answers[1]["where"]
        assert (where["az_count"], where["alt_count"]) == (256, 2048)
        assert not answers[2]["ok"]
        assert "any of" in answers[3]["error"]

        serial_kit = tmp_path / "serial.toml"
        serial_kit.write_text(
            simulate.with_connection(
                kit_path.read_text(),
                f'[connection]\nkind = "serial"\ndevice = "{link}"\npoll = "?\\r"\n',
            )
        )
        for path in (kit_path, serial_kit):
            result = CliRunner().invoke(readings.command, ["--kit", str(path), "--json"])
            said = json.loads(result.output)
            assert (said["state"], said["az_count"], said["alt_count"]) == ("live", 256, 2048)
            assert said["az_deg"] == pytest.approx(10.0)
        # ends quietly with clients still on the line
        with (
            socket.create_connection(("127.0.0.1", report["control_port"])) as script,
            socket.create_connection(("127.0.0.1", report["port"])),
        ):
            # one of them in the middle of a push that takes some seconds
            script.sendall(b'{"push_az_deg": 300, "wait": true}\n')
            tell(report["control_port"], {"where": True})
            p.p.send_signal(signal.SIGTERM)
            p.p.wait(10)
        _, errors = p.p.communicate(timeout=10)
        assert p.p.returncode == 0
        assert errors == ""
        assert not link.is_symlink()


@needs_pty
def test_arrow_keys_push_the_tube_and_q_ends():
    master, slave = os.openpty()
    try:
        with Process("--no-serial", "--control-port", 0, "--hand-speed", 60, stdin=slave) as p:
            port = None
            for line in p.p.stdout:
                if "JSON lines" in line:
                    port = int(line.split("port ")[1].split()[0])
                if "Arrow keys" in line:
                    break
            os.write(master, b"\x1b[C\x1b[C\x1b[1;2C\x1b[B\x1b[1;2B?")
            deadline = time.monotonic() + 5.0
            while time.monotonic() < deadline:
                where = tell(port, {"where": True})[0]["where"]
                if not where["moving"] and where["reading_az_deg"]:
                    break
                time.sleep(0.05)
            assert where["reading_az_deg"] == pytest.approx(5.5)
            assert where["reading_alt_deg"] == pytest.approx(84.75)
            os.write(master, b"q")
            p.p.communicate(timeout=10)
            assert p.p.returncode == 0
    finally:
        os.close(master)
        os.close(slave)


def test_contradicting_options_are_refused():
    with pytest.raises(UserError, match="one of them"):
        CliRunner().invoke(simulate.command, ["--demo", "--seed", "3"], catch_exceptions=False)


# ---------------------------------------------------------------------- commands


def test_a_kit_keeps_all_but_its_connection():
    old = kits.example_text()
    table = '[connection]\nkind = "tcp"\nhost = "127.0.0.1"\nport = 5\npoll = "?"\n'
    k = kits.loads(simulate.with_connection(old, table))
    assert k.connection.port == 5
    assert k.shim == kits.example().shim
    assert k.priors == kits.example().priors
    # a kit without encoders cannot be connected until it says how many ticks make a turn
    with pytest.raises(UserError, match="ticks_per_turn"):
        kits.loads(simulate.with_connection("", table))


def test_the_same_seed_is_the_same_mount_and_others_differ():
    kit = kits.example()
    first = simulate.faults(kit, seed=5)
    assert (simulate.faults(kit, seed=5) == first).all()
    assert (simulate.faults(kit, seed=6) != first).sum() >= 9
    assert (simulate.faults(kit) == thornback_ridge().hidden).all()


def reading(az_deg, alt_deg):
    return Reading(az_deg, alt_deg, 0, 0, 0.0, 0.0, "live")


def test_hints_name_ticks_and_direction():
    said = readings.hints(kits.example(), reading(0.0, 90.0), reading(-359.93, 90.0))
    assert "changed by 9214, which the kit takes as 359.9 deg left" in said[0]
    assert "If you turned right, set reversed = true under [azimuth]" in said[0]
    assert "ticks_per_turn = 9214 (the kit says 9216)" in said[1]
    assert said[2].startswith("altitude: the count has not changed")


def test_typed_readings_are_explained(tmp_path):
    path = tmp_path / "k.toml"
    path.write_text("[azimuth]\nreversed = true\n")
    result = CliRunner().invoke(
        readings.command, ["--kit", str(path), "--json", "10 30", "45,5"], catch_exceptions=False
    )
    assert json.loads(result.output)["az_deg"] == pytest.approx(349.5)
    with pytest.raises(UserError, match="without encoders"):
        CliRunner().invoke(readings.command, ["--kit", str(path)], catch_exceptions=False)
