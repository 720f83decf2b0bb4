"""The simulated telescope: its hand, its counter, its hidden mount, its orders."""

import asyncio
import math

import numpy as np
import pytest

from plumbstar import kit as kits
from plumbstar.errors import UserError
from plumbstar.mount.terms import INDEX
from plumbstar.simulate import hidden
from plumbstar.simulate.board import Shape
from plumbstar.simulate.motion import Hand
from plumbstar.simulate.scenario import thornback_ridge
from plumbstar.simulate.telescope import SimulatedTelescope

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
    assert len(named) == 12


@pytest.mark.parametrize("name", ["m.toml", "m.json"])
def test_a_mount_file_is_read(tmp_path, name):
    path = tmp_path / name
    path.write_text('{"cone_deg": 0.5}' if name.endswith("json") else "cone_deg = 0.5\n")
    assert hidden.load(path)[INDEX["cone"]] == pytest.approx(math.radians(0.5))


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
                assert abs((w["az_reading_deg"] - az + 180) % 360 - 180) > 5.0
        rms = np.sqrt(np.mean(np.square(off)))
        # 16 draws of 6 arcmin: the mean square lies within a factor of 0.4 to 2 of 36, 99 %
        assert 3.0 < rms < 9.5

    asyncio.run(run())


def test_what_is_followed_stays_where_it_was_in_the_eyepiece():
    """A hand that centred anew at each nudge shook the tube by half a degree now and then."""

    async def run():
        async with SimulatedTelescope(kits.example(), port=None, hand_deg_s=9000.0) as sim:
            low = []
            for alt, follow in [(40.0, False), (40.5, True), (41.0, True), (41.5, False)]:
                sim.command({"point_az_deg": 90.0, "point_alt_deg": alt, "follow": follow})
                await sim.settled()
                low.append(sim.where()["true_alt_deg"] - alt)
            assert low[1:3] == pytest.approx([low[0]] * 2, abs=1e-4)
            assert low[3] != pytest.approx(low[0], abs=1e-2)

    asyncio.run(run())


def test_pointing_goes_the_shorter_way_round():
    async def run():
        async with SimulatedTelescope(kits.example(), port=None, hand_deg_s=9000.0) as sim:
            for az in (350.0, 10.0, 350.0):
                sim.point(az, 40.0)
                await sim.settled()
            assert sim.where()["az_reading_deg"] == pytest.approx(-10.0, abs=1.0)

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
