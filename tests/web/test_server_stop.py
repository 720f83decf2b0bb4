"""Stopped while phones press on: a quiet end, and every answered press is kept."""

import http.client
import signal
import sqlite3
import threading
import time
from contextlib import closing

import pytest

import patience

from .server_process import Phone, shown


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
