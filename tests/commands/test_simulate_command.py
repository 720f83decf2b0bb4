"""``plumbstar simulate``: as a process with its ports and keys, and the kit it writes."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

import patience
from plumbstar import kit as kits
from plumbstar.commands import readings, simulate
from plumbstar.errors import UserError
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.simulate.telescope import SimulatedTelescope
from plumbstar.sky.naming.lookup import find_target

SRC = str(Path(simulate.__file__).parents[2])
RUN = "from plumbstar.cli import main; main()"
needs_pty = pytest.mark.skipif(sys.platform == "win32", reason="no pty")


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
        self.p.communicate(timeout=patience.SECONDS)

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


def test_a_kit_of_circles_read_by_eye_gets_the_boards_counts():
    """Written without them it could not be read back."""
    text = 'name = "Shed box"\n\n[azimuth]\nread_to_deg = 0.5\n'
    sim = SimulatedTelescope(kits.loads(text), port=4321)
    table = simulate.connection_text(sim.kit("tcp"))
    written = simulate.with_ticks(simulate.with_connection(text, table), sim.kit("tcp"))
    kit = kits.loads(written)
    assert (kit.azimuth.ticks_per_turn, kit.altitude.ticks_per_turn) == (9216, 9216)
    assert (kit.name, kit.azimuth.read_to_deg, kit.connection.kind) == ("Shed box", 0.5, "tcp")


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
            assert said["az_reading_deg"] == pytest.approx(10.0)
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
        _, errors = p.p.communicate(timeout=patience.SECONDS)
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
            deadline = time.monotonic() + patience.SECONDS
            while time.monotonic() < deadline:
                where = tell(port, {"where": True})[0]["where"]
                if not where["moving"] and where["az_reading_deg"]:
                    break
                time.sleep(0.05)
            assert where["az_reading_deg"] == pytest.approx(5.5)
            assert where["alt_reading_deg"] == pytest.approx(84.75)
            os.write(master, b"q")
            p.p.communicate(timeout=patience.SECONDS)
            assert p.p.returncode == 0
    finally:
        os.close(master)
        os.close(slave)


def test_contradicting_options_are_refused():
    with pytest.raises(UserError, match="Only one of"):
        CliRunner().invoke(simulate.command, ["--demo", "--seed", "3"], catch_exceptions=False)


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


def test_a_kit_for_a_board_that_counts_from_the_stop_says_so():
    from plumbstar.commands.simulate import with_counts_from_zero

    for text in (
        'name = "a"\n',
        "[stop]\nlever_arm_mm = 250\n\n[priors]\nlean_sigma_deg = 1\n",
        "[stop]   # upright\ncounts_from_zero = false\nlever_arm_mm = 250",
    ):
        kit = kits.loads(with_counts_from_zero(text))
        assert kit.stop.counts_from_zero is True
        assert kit.stop.lever_arm_mm == (250 if "lever" in text else 0)


def test_a_closed_controller_obeys_what_is_typed_and_tells_the_truth_last():
    typed = (
        "stop\ncentre Capella\nstar Capella\ncentre Hamal\nstar Hamal\nobject Hamal\nlist\nx\nq\n"
    )
    with Process("--controller", "--sharing", "second", "--no-clock", stdin=subprocess.PIPE) as p:
        told, _ = p.p.communicate(typed, timeout=patience.SECONDS)
    assert "pair taken" in told
    assert "differs " in told
    assert "Alpha Cen" in told  # its own spelling
    assert "the word 'x'" in told
    assert (
        told.strip()
        .splitlines()[-1]
        .startswith(
            "What was hidden: the controller brings its second star out exactly and has no clock"
        )
    )


def test_a_closed_controller_in_the_background_writes_a_kit_that_names_its_stars(tmp_path):
    path = tmp_path / "kit.toml"
    with Process("--controller", "--json", "--write-kit", path) as p:
        report = p.report()
        with urllib.request.urlopen(report["url"] + "stars", timeout=patience.SECONDS) as r:
            assert json.load(r) == report["stars"]
    kit = kits.load(path)
    assert kit.connection.kind == "controller"
    # Ticked by the tool's names: the controller's own list spells some otherwise.
    assert kit.controller.stars == tuple(find_target(s).label for s in report["stars"])
    assert set(kit.controller.stars) != set(report["stars"])
    assert kit.controller.clock == "unknown"


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--controller", "--bits", "16"], "--bits with --controller"),
        (["--no-clock"], "without --controller"),
        (["--site", "47,11"], "without --controller"),
    ],
)
def test_options_that_would_do_nothing_are_refused(options, told):
    out = CliRunner().invoke(simulate.command, options)
    assert isinstance(out.exception, UserError)
    assert told in str(out.exception)
