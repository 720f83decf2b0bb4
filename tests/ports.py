"""Ports that no other test takes meanwhile, in whatever process it runs.

A port that the system chose and gave back may be handed out again, to another test or to any
outgoing connection, before the server is up that it was meant for: the server then says that the
port is in use and ends without a word on its standard output. So these lie below the numbers that
systems hand out by themselves (32768 on Linux, 49152 elsewhere), and each is held by the lock on a
file until this process ends.
"""

from __future__ import annotations

import os
import random
import socket
import tempfile
from pathlib import Path

FIRST, LAST = 20_000, 32_000
_CHOICE = random.Random(os.getpid())  # its own: the tests' seed would give all workers one order
_held: list[int] = []


def _lock(port: int) -> bool:
    """Whether the port is this process's from now on."""
    try:
        import fcntl
    except ImportError:  # not on Windows: there the trial below has to do
        return True
    place = Path(tempfile.gettempdir()) / "plumbstar-test-ports"
    place.mkdir(exist_ok=True)
    fd = os.open(place / str(port), os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o666)
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(fd)
        return False
    _held.append(fd)
    return True


def _binds(port: int, kind: socket.SocketKind) -> bool:
    with socket.socket(socket.AF_INET, kind) as s:
        try:
            s.bind(("", port))
        except OSError:
            return False
        return True


def free_port() -> int:
    """A port for TCP and UDP, on every address, that is this process's until it ends."""
    while True:
        port = _CHOICE.randrange(FIRST, LAST)
        if all(_binds(port, k) for k in (socket.SOCK_STREAM, socket.SOCK_DGRAM)) and _lock(port):
            return port
