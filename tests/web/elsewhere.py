"""Another machine: a network namespace of its own, joined to this one by a cable of two ends.

What it sends goes through the kernel's network as a neighbour's would: the server sees an address
that is not its own, and loopback is out of reach. Needs Linux and root; see network_namespaces(7).
"""

from __future__ import annotations

import concurrent.futures
import contextlib
import ctypes
import http.client
import itertools
import json
import os
import socket
import subprocess
from typing import Any

import pytest

import patience

CLONE_NEWNET = 0x40000000  # linux/sched.h

#: The real server; only its waits are shortened, so that the tests need not wait half a minute.
HASTY = """
from plumbstar.web.door import connections as c
from plumbstar.web.door.pairing import Pairing
Pairing.FIRST_WAIT, Pairing.MINUTE = 1.5, 4.0
c.HEAD_S, c.BODY_S, c.ANSWER_S, c.LOOK_S = 1.0, 1.0, 1.5, 0.2
from plumbstar.cli import main
main()
"""


def ip(*words: str) -> None:
    subprocess.run(
        ["ip", *words], check=True, capture_output=True, text=True, timeout=patience.SECONDS
    )


_NUMBERS = itertools.count()


class Elsewhere:
    """Use as a context; skips the test, with the reason, where it cannot be made."""

    def __init__(self, guests: int = 30) -> None:
        # This process's own, and not that of another test in it whose end the kernel still tidies.
        n = 10 * os.getpid() + next(_NUMBERS) % 10
        self.name = f"plumb{n}"
        self.ends = (f"pa{n}"[:15], f"pb{n}"[:15])
        self.net = f"10.{200 + n % 50}.{n // 50 % 256}"
        self.net6 = f"fd7a:{n >> 16:x}:{n & 0xFFFF:x}"
        self.server, self.server6 = f"{self.net}.1", f"{self.net6}::1"
        self.guests = [f"{self.net}.{10 + k}" for k in range(guests)]
        self.guests6 = [f"{self.net6}::1:{k:x}" for k in range(10)]
        self._inside = concurrent.futures.ThreadPoolExecutor(1)

    def __enter__(self) -> Elsewhere:
        try:
            ip("netns", "add", self.name)
            here, there = self.ends
            ip("link", "add", here, "type", "veth", "peer", "name", there, "netns", self.name)
            ip("addr", "add", f"{self.server}/24", "dev", here)
            ip("-6", "addr", "add", f"{self.server6}/64", "dev", here, "nodad")
            ip("link", "set", here, "up")
            for g in self.guests:
                ip("-n", self.name, "addr", "add", f"{g}/24", "dev", there)
            for g in self.guests6:
                ip("-n", self.name, "-6", "addr", "add", f"{g}/64", "dev", there, "nodad")
            ip("-n", self.name, "link", "set", there, "up")
            ip("-n", self.name, "link", "set", "lo", "up")
            self._inside.submit(self._move).result(10)
        except (OSError, subprocess.CalledProcessError) as e:
            self.__exit__()
            why = (getattr(e, "stderr", "") or str(e)).strip()
            pytest.skip(f"no second network namespace here (needs Linux and root): {why}")
        return self

    def __exit__(self, *_: object) -> None:
        self._inside.shutdown()
        for words in (("netns", "del", self.name), ("link", "del", self.ends[0])):
            with contextlib.suppress(OSError, subprocess.CalledProcessError):
                ip(*words)

    def _move(self) -> None:
        """Take this one thread over there (setns(2)); sockets it makes belong to that network."""
        fd = os.open(f"/run/netns/{self.name}", os.O_RDONLY)
        try:
            libc = ctypes.CDLL(None, use_errno=True)
            if libc.setns(fd, CLONE_NEWNET) != 0:
                raise OSError(ctypes.get_errno(), "setns")
        finally:
            os.close(fd)

    def cable(self, up: bool) -> None:
        """Pull it out, or put it in again."""
        ip("link", "set", self.ends[0], "up" if up else "down")

    def connect(
        self,
        port: int,
        guest: str | None = None,
        to: str | None = None,
        timeout: float = patience.SECONDS,
    ) -> socket.socket:
        """A connection from a guest's address, made over there and usable from here."""
        guest = guest or self.guests[0]
        to = to or (self.server6 if ":" in guest else self.server)
        source = None if to.startswith("127.") else (guest, 0)
        return self._inside.submit(socket.create_connection, (to, port), timeout, source).result(
            timeout + 5
        )

    def raw(self, port: int, data: bytes, guest: str | None = None, seconds: float = 5.0) -> bytes:
        """Send these bytes; what came back until the server closed, or was silent so long."""
        with contextlib.closing(self.connect(port, guest)) as s:
            s.settimeout(seconds)
            got = b""
            with contextlib.suppress(OSError):
                s.sendall(data)
            with contextlib.suppress(OSError):
                while more := s.recv(65536):
                    got += more
            return got


class Guest:
    """A browser of sorts, over there."""

    def __init__(self, there: Elsewhere, port: int, address: str | None = None) -> None:
        self.there, self.port = there, port
        self.address = address or there.guests[0]
        server = f"[{there.server6}]" if ":" in self.address else there.server
        self.host = f"{server}:{port}"
        self.cookie = ""

    def ask(
        self,
        path: str,
        body: Any = None,
        method: str = "",
        headers: dict[str, str | None] | None = None,
    ) -> tuple[int, http.client.HTTPMessage, bytes]:
        """Status, headers and body. A header given as None is left out."""
        data = None if body is None else body if isinstance(body, bytes) else json.dumps(body)
        all_headers: dict[str, str | None] = {
            "Host": self.host, "X-Plumbstar": "1", "Cookie": self.cookie or None, **(headers or {})
        }  # fmt: skip
        c = http.client.HTTPConnection("unused", timeout=patience.SECONDS)
        c.sock = self.there.connect(self.port, self.address)
        with contextlib.closing(c):
            c.putrequest(method or ("GET" if data is None else "POST"), path, skip_host=True,
                         skip_accept_encoding=True)  # fmt: skip
            if data is not None:
                data = data.encode() if isinstance(data, str) else data
                all_headers.setdefault("Content-Length", str(len(data)))
            for key, value in all_headers.items():
                if value is not None:
                    c.putheader(key, value)
            c.endheaders(data)
            r = c.getresponse()
            return r.status, r.headers, r.read()

    def pair(self, code: str) -> int:
        """Type the code; the cookie is kept when it was right."""
        status, headers, _ = self.ask("/pair", {"code": code})
        if status == 200:
            self.cookie = (headers["set-cookie"] or "").split(";")[0]
        return status


def dropped(sock: socket.socket, seconds: float) -> bool:
    """Whether the server cut this connection within that time."""
    sock.settimeout(seconds)
    try:
        while sock.recv(65536):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True
