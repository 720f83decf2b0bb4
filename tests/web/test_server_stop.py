"""Stopped while phones press on: a quiet end, and every answered press is kept."""

import asyncio
import gc
import http.client
import signal
import sqlite3
import threading
import time
from contextlib import closing

import pytest

import patience
from plumbstar.errors import UserError
from plumbstar.web.live.workers import Ending, Workers

from .server_process import Phone, shown
from .server_rig import asynchronous


@pytest.mark.parametrize("sign", [signal.SIGTERM, signal.SIGINT])
def test_stopped_with_presses_in_flight_it_ends_quietly(server, sign):
    server.start()
    answered, stop, capella = [], threading.Event(), shown("Capella")

    def press_on(finger: int) -> None:
        k = 0
        while not stop.is_set():
            k += 1
            body = {"star": "Capella", "id": f"press-{finger}-{k:04d}", "reading": capella}
            try:
                status, reply = server.ask("/do/sight", body)
            except (OSError, http.client.HTTPException, ValueError):
                time.sleep(0.01)  # the server is gone: so is the finger in a moment
                continue
            if status == 200:
                answered.append(reply["sighting_id"])

    phones = [Phone(server) for _ in range(3)]
    fingers = [threading.Thread(target=press_on, args=(n,)) for n in range(6)]
    for f in fingers:
        f.start()
    # On a busy machine a press may take seconds; that they come at all is what is waited for.
    until = time.monotonic() + patience.SECONDS
    while len(answered) < 4 and time.monotonic() < until:
        time.sleep(0.02)
    _code, _out, err = server.stop(sign)
    stop.set()
    for f in fingers:
        f.join(5.0)
    assert "Traceback" not in err, err
    assert err.strip() in ("", "Stopped.")
    assert len(answered) >= 4
    with closing(sqlite3.connect(server.tmp_path / "log.sqlite3")) as db:
        kept = {r[0] for r in db.execute("SELECT id FROM sightings")}
    assert set(answered) <= kept
    for phone in phones:
        phone.join(5.0)
        assert phone.ended


@asynchronous
async def test_an_action_that_nobody_waits_for_any_more_ends_quietly_or_is_logged(caplog):
    """Whoever asked was cancelled meanwhile, as all are at the end: asyncio then printed what the
    action was refused with as a traceback, now and then."""
    told = []
    asyncio.get_running_loop().set_exception_handler(lambda _, what: told.append(what["message"]))
    workers, hold = Workers(), threading.Event()

    def spoilt():
        raise ZeroDivisionError

    def refused():
        raise UserError("a reading of 400°", "0 to 360°", "Read it again")

    first = asyncio.create_task(workers.evening(hold.wait))
    asked = [asyncio.create_task(workers.to_its_end(job)) for job in (spoilt, refused)]
    await asyncio.sleep(0)
    at_the_end = asyncio.create_task(workers.to_its_end(lambda: workers.end()))
    late = asyncio.create_task(workers.to_its_end(lambda: None))
    await asyncio.sleep(0.05)
    for task in (*asked, late):
        task.cancel()
    await asyncio.gather(*asked, late, return_exceptions=True)
    hold.set()
    await asyncio.gather(first, at_the_end)
    with pytest.raises(Ending):
        await workers.to_its_end(lambda: None)  # all before it are over
    workers.shutdown()
    gc.collect()
    assert told == []
    assert [r.exc_info[0] for r in caplog.records] == [ZeroDivisionError]
