"""A real source on a real socket and a real pseudo-terminal, with every fault."""

import asyncio
import socket
import sys
import time
from contextlib import asynccontextmanager, suppress
from dataclasses import replace

import msgspec
import pytest

import patience
from plumbstar import kit as kits
from plumbstar.encoders.source import Source, explain, poll_bytes
from plumbstar.encoders.tracker import Timing
from plumbstar.errors import UserError
from plumbstar.mount.slips import slip_words
from plumbstar.simulate.board import Shape
from plumbstar.simulate.telescope import SimulatedTelescope
from ports import free_port

KINDS = ["tcp"] if sys.platform == "win32" else ["tcp", "serial"]


def everywhere(run, *cases):
    """Run ``run(kind, *case)`` for every kind of connection (and case), all at the same time."""

    async def all_of_them():
        await asyncio.gather(*(run(kind, *case) for kind in KINDS for case in cases or [()]))

    asyncio.run(all_of_them())


QUICK = Timing(first_retry_s=0.05, last_retry_s=0.2)


def kit(**connection):
    c = msgspec.structs.replace(
        kits.example().connection, **{"poll": "?\r", "interval_ms": 20, **connection}
    )
    return msgspec.structs.replace(kits.example(), connection=c)


@asynccontextmanager
async def at_work(kind, tmp_path, k=None, timing=QUICK, **options):
    """A simulated telescope and a source that has just become live."""
    link = tmp_path / "port" if kind == "serial" else None
    sim = SimulatedTelescope(k or kit(), link=link, hand_deg_s=50.0, **options)
    async with sim, Source(sim.kit(kind), timing=timing) as source:
        await until(source, lambda r: r.state == "live")
        yield sim, source


async def until(source, wanted, seconds=patience.SECONDS):
    """The first reading that is as wanted."""
    try:
        async with asyncio.timeout(seconds):
            async for r in source.subscribe():
                if wanted(r):
                    return r
    except TimeoutError:
        raise AssertionError(f"never came; the last was {source.latest}") from None
    raise AssertionError("the source stopped")


async def rest(sim, source):
    """Let the tube come to rest and its last counts arrive."""
    await sim.settled()
    where = sim.where()
    counts = (where["az_count"], where["alt_count"])
    return await until(source, lambda r: (r.az_count, r.alt_count) == counts)


BOARDS = [
    ({}, {}),
    ({"pushed": True, "poll": ""}, {}),
    ({"base": 16, "altitude_first": True}, {"shape": Shape(line_end="\r", between="\t")}),
    ({"poll": "read"}, {"shape": Shape(line_end="")}),
    ({"pushed": True, "poll": "go"}, {"shape": Shape(line_end="\n", between=",")}),
    ({"base": 16}, {"shape": Shape(bits=16, signed=False)}),
]


def test_a_push_is_read_from_any_board(tmp_path):
    async def run(kind, i):
        connection, options = BOARDS[i]
        place = tmp_path / str(i)
        place.mkdir(exist_ok=True)
        async with at_work(kind, place, kit(**connection), **options) as (sim, source):
            before = source.latest
            sim.push(az_deg=-4.0, alt_deg=-3.0)
            r = await rest(sim, source)
            assert r.az_deg - before.az_deg == pytest.approx(-4.0, abs=0.05)
            assert r.alt_deg - before.alt_deg == pytest.approx(-3.0, abs=0.05)
            assert not r.slip
            assert r.problem == ""

    everywhere(run, *[(i,) for i in range(len(BOARDS))])


@pytest.mark.parametrize("way", [1, -1])
def test_wraps_are_undone_both_ways(way, tmp_path):
    async def run():
        shape = Shape(wraps_each_turn=True, signed=False)
        async with at_work("tcp", tmp_path, shape=shape) as (sim, source):
            sim.push(az_deg=way * 4.0)
            r = await rest(sim, source)
            sim.push(az_deg=way * -8.0)
            back = await rest(sim, source)
            assert back.az_deg - r.az_deg == pytest.approx(way * -8.0, abs=0.05)
            assert not back.slip

    asyncio.run(run())


def test_unplugged_it_goes_stale_and_comes_back_by_itself(tmp_path):
    async def run(kind):
        async with at_work(kind, tmp_path) as (sim, source):
            pulled = time.monotonic()
            sim.command({"unplug": 0.6})
            r = await until(source, lambda r: r.state == "stale")
            assert time.monotonic() - pulled < 1.3
            assert r.problem
            assert r.az_deg == 0.0, "the last reading stays on show"
            back = await until(source, lambda r: r.state == "live")
            assert time.monotonic() - pulled > 0.5
            assert not back.slip, "nothing moved"
            assert back.problem == ""

    everywhere(run)


def test_a_tube_moved_while_unplugged_is_a_possible_slip(tmp_path):
    async def run(kind):
        async with at_work(kind, tmp_path) as (sim, source):
            sim.command({"unplug": 0.4, "push_az_deg": 6.0})
            await until(source, lambda r: r.state == "stale")
            r = await until(source, lambda r: r.slip)
            assert "while nothing was heard" in r.problem
            assert slip_words(source.slips[-1].causes) in r.problem
            source.acknowledge(r.slips_before)
            assert not source.latest.slip
            assert source.slips == ()

    everywhere(run)


def test_power_lost_while_unplugged_is_a_possible_slip_and_the_reading_holds(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            sim.push(az_deg=5.0, alt_deg=-9.0)
            await rest(sim, source)
            sim.command({"unplug": 0.3, "lose_power": True})
            r = await until(source, lambda r: r.slip)
            assert "started again from zero" in r.problem
            assert (r.az_count, r.alt_count) == (0, 0)
            assert (r.az_deg, r.alt_deg) == pytest.approx((5.0, 81.0), abs=0.03)

    asyncio.run(run())


def test_a_silent_board_on_an_open_line_goes_stale_and_is_dialled_again(tmp_path):
    async def run():
        timing = replace(QUICK, silent_tcp_s=1.6)
        async with at_work("tcp", tmp_path, timing=timing) as (sim, source):
            began = time.monotonic()
            sim.command({"silent": 2.2})
            r = await until(source, lambda r: r.state == "stale")
            assert 0.9 < time.monotonic() - began < 1.4
            assert "no bytes for 1 s" in r.problem
            await until(source, lambda r: "Trying again" in r.problem)
            await until(source, lambda r: r.state == "live")

    asyncio.run(run())


def test_garbage_passes_without_a_trace(tmp_path):
    async def run(kind):
        async with at_work(kind, tmp_path) as (sim, source):
            sim.command({"garbage": 4})
            sim.push(az_deg=3.0)
            r = await rest(sim, source)
            assert (r.state, r.slip) == ("live", False)
            assert r.az_deg == pytest.approx(3.0, abs=0.03)

    everywhere(run)


@pytest.mark.parametrize("pushed", [False, True])
def test_half_lines_are_put_together_or_dropped(pushed, tmp_path):
    async def run():
        k = kit(pushed=pushed, poll="" if pushed else "?")
        async with at_work("tcp", tmp_path, k) as (sim, source):
            sim.command({"half_lines": True})
            seen = []
            sim.push(az_deg=4.0, alt_deg=-4.0)
            async with asyncio.timeout(patience.SECONDS):
                async for r in source.subscribe():
                    seen.append(r)
                    if abs(r.az_deg - 4.0) < 0.02 and abs(r.alt_deg - 86.0) < 0.02:
                        break
            assert not seen[-1].slip
            assert all(-9.0 < r.az_deg < 13.0 for r in seen), "no wild reading was shown"

    asyncio.run(run())


def test_a_stuck_altitude_encoder_is_suspected(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            sim.command({"stuck": "alt", "push_az_deg": 70.0, "push_alt_deg": -20.0})
            r = await until(source, lambda r: r.problem)
            assert "altitude count has not changed" in r.problem
            assert r.alt_deg == 90.0

    asyncio.run(run())


def test_a_count_reset_while_running_is_a_possible_slip(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            sim.push(az_deg=12.0)
            await rest(sim, source)
            sim.command({"reset_counter": True})
            r = await until(source, lambda r: r.slip)
            assert r.az_deg == pytest.approx(12.0, abs=0.03)
            assert r.state == "live"

    asyncio.run(run())


def test_a_small_slip_cannot_be_seen_and_a_large_one_is(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            sim.command({"slip_deg": [1, 0]})
            r = await until(source, lambda r: r.az_count == 26)
            assert not r.slip, "a slip of a degree looks just like a push; only a star shows it"
            sim.command({"slip_deg": [40, 0]})
            r = await until(source, lambda r: r.slip)
            assert "jumped by 40.0°" in r.problem

    asyncio.run(run())


def test_the_reading_at_a_taps_own_instant(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            sim.push(az_deg=20.0)
            await asyncio.sleep(0.3)
            tap = time.monotonic()
            then = sim.where()["az_reading_deg"]
            await sim.settled()
            await asyncio.sleep(0.1)
            r = source.reading_at(tap)
            # at most one interval and a little of 50 deg/s: the tap is not the end of the push
            assert r.az_deg == pytest.approx(then, abs=3.0)
            assert abs(r.az_deg - 20.0) > 3.0
            assert source.reading_at(tap - 1000.0) is None

    asyncio.run(run())


def test_a_slow_subscriber_gets_the_newest(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            stream = source.subscribe()
            await anext(stream)
            sim.push(az_deg=5.0)
            await rest(sim, source)
            assert (await anext(stream)).az_deg == pytest.approx(5.0, abs=0.03)
            await stream.aclose()

    asyncio.run(run())


def test_stopping_ends_the_subscriptions_and_frees_the_port(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (_, source):
            got = []

            async def listen():
                async for r in source.subscribe():
                    got.append(r)

            task = asyncio.create_task(listen())
            await asyncio.sleep(0.1)
            await source.stop()
            async with asyncio.timeout(patience.SECONDS):
                await task
            assert got

    asyncio.run(run())


def test_no_board_at_all_is_said_in_words_and_tried_again():
    async def run():
        port = free_port()
        k = kit(kind="tcp", host="127.0.0.1", port=port)
        async with Source(k, timing=QUICK) as source:
            r = await until(source, lambda r: "nothing answers" in r.problem)
            assert (r.state, r.az_deg) == ("absent", None)
            async with SimulatedTelescope(kit(), port=port):
                await until(source, lambda r: r.state == "live")

    asyncio.run(run())


@pytest.mark.skipif(sys.platform == "win32", reason="no pty")
def test_a_port_that_appears_later_is_found(tmp_path):
    async def run():
        k = kit(kind="serial", device=str(tmp_path / "port"))
        async with Source(k, timing=QUICK) as source:
            r = await until(source, lambda r: "there is no port" in r.problem)
            assert r.state == "absent"
            async with SimulatedTelescope(kit(), port=None, link=tmp_path / "port"):
                await until(source, lambda r: r.state == "live")

    asyncio.run(run())


def test_a_board_that_talks_without_numbers():
    async def run():
        async def chat(_reader, writer):
            while True:
                writer.write(b"welcome\r\n")
                await asyncio.sleep(0.05)

        server = await asyncio.start_server(chat, "127.0.0.1", 0)
        port = server.sockets[0].getsockname()[1]
        k = kit(kind="tcp", host="127.0.0.1", port=port, pushed=True, poll="")
        async with Source(k) as source:
            r = await until(source, lambda r: "two whole numbers" in r.problem)
            assert "'welcome'" in r.problem
        server.close()

    asyncio.run(run())


def odd_board(answer):
    """Run a source against a board that answers each poll by ``await answer(writer, n)``."""

    async def run():
        async def board(reader, writer):
            n = 0
            with suppress(ConnectionError):
                while await reader.read(64):
                    n += 1
                    await answer(writer, n)
            writer.close()

        server = await asyncio.start_server(board, "127.0.0.1", 0)
        port = server.sockets[0].getsockname()[1]
        async with Source(kit(kind="tcp", host="127.0.0.1", port=port)) as source:
            r = await until(source, lambda r: r.state == "live")
        server.close()
        return r

    return asyncio.run(run())


def test_half_an_answer_that_is_never_finished_does_not_spoil_the_next():
    async def answer(writer, n):
        writer.write(b"123" if n % 2 else b"1234 2304\r\n")

    r = odd_board(answer)
    assert (r.az_count, r.alt_count) == (1234, 2304)


def test_an_answer_with_a_pause_in_its_second_number_is_read_whole():
    async def answer(writer, n):
        writer.write(b"1234 23")
        await asyncio.sleep(0.1)
        writer.write(b"04\r\n")

    r = odd_board(answer)
    assert (r.az_count, r.alt_count) == (1234, 2304)


def test_every_new_count_is_passed_on_at_once(tmp_path):
    async def run():
        async with at_work("tcp", tmp_path) as (sim, source):
            times = set()
            sim.push(az_deg=20.0)
            with suppress(TimeoutError):
                async with asyncio.timeout(0.5):
                    async for r in source.subscribe():
                        times.add(r.at_monotonic)
            assert len(times) > 8  # 25 were asked for; the slow look at the age alone would give 5

    asyncio.run(run())


def test_typed_readings_need_no_port():
    async def run():
        async with Source(kits.example()) as source:
            assert source.latest.state == "absent"
            source.type_reading(123.0, 45.0)
            r = await until(source, lambda r: r.state == "typed")
            assert (r.az_deg, r.alt_deg) == (123.0, 45.0)
            with pytest.raises(UserError, match="altitude reading"):
                source.type_reading(1.0, 400.0)

    asyncio.run(run())


def test_a_kit_that_cannot_be_asked_is_refused():
    with pytest.raises(UserError, match="neither"):
        Source(kit(kind="tcp", host="h", port=1, poll=""))
    with pytest.raises(UserError, match="poll"):
        poll_bytes(kit(kind="tcp", host="h", port=1, poll="☆").connection)


@pytest.mark.parametrize("kind", ["tcp", "serial"])
@pytest.mark.parametrize(
    "error",
    [OSError(13, "x"), OSError(2, "x"), OSError(113, "x"), ConnectionResetError(), TimeoutError(),
     socket.gaierror(-2, "x"), ValueError("bad"), RuntimeError("odd")],
)  # fmt: skip
def test_every_error_becomes_a_sentence_with_something_to_do(kind, error):
    words = explain(error, kit(kind=kind, host="board.test", port=4, device="/dev/x").connection)
    assert "board.test" in words or "/dev/x" in words
    assert words.endswith((".", "?"))
