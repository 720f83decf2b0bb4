"""Programs begun from a Python that has everything imported already.

A server of the page tests took 0.8 s of processor time to come up, most of it for importing what
the hundred before it had imported too. Here one process imports it all, and reads what comes with
it (pages, names, lists), once in a test process, and each program is a fork of it: with its own
files, environment and folder, its own process id and signals. What is about the start itself
(``plumbstar`` as a user's shell starts it, what an import may bring along) still starts from
nothing, with ``subprocess``.

Linux and macOS; :class:`Program` is the small part of ``subprocess.Popen`` that the tests use.
"""

from __future__ import annotations

import contextlib
import functools
import gc
import importlib
import json
import os
import pkgutil
import select
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import IO, Self

import books
import plumbstar
from plumbstar.sky.lists import asterisms, doubles
from plumbstar.sky.naming.lookup import find_target
from plumbstar.web.routes import bundle

PIPE = subprocess.PIPE
#: ``plumbstar`` with the arguments that follow.
PROGRAM = "from plumbstar.cli import main; main()"

START = "import ready; ready.wait_for_work(); exec(ready.code)"
#: What a forked program runs, as if given to ``python -c``.
code = ""


class Program:
    """Python code with arguments, in a process of its own that has all imports behind it.

    ``code`` runs as ``python -c code *args`` would. ``stderr=None`` lets it write where the tests
    do; PIPE keeps it to be read. Text, UTF-8.
    """

    def __init__(
        self,
        code: str,
        *args: str,
        env: Mapping[str, str] | None = None,
        cwd: Path | str | None = None,
        stdin: str | None = None,
        stderr: int | None = None,
    ) -> None:
        self.args = (code, *args)
        self.returncode: int | None = None
        out, its_out = os.pipe()
        err, its_err = os.pipe() if stderr == PIPE else (None, os.dup(2))
        its_in, say = os.pipe()
        self._ended, its_status = os.pipe()
        where = str(cwd or os.getcwd())
        order = {"code": code, "args": args, "env": dict(env or os.environ), "cwd": where}
        theirs = [its_in, its_out, its_err, its_status]
        with _LOCK:
            server = _ready()
            data = json.dumps(order).encode()
            socket.send_fds(server, [len(data).to_bytes(8, "big")], theirs)
            server.sendall(data)
        for fd in theirs:
            os.close(fd)
        with open(say, "w", encoding="utf-8") as f, contextlib.suppress(BrokenPipeError):
            f.write(stdin or "")
        self.stdout: IO[str] = os.fdopen(out, encoding="utf-8")
        self.stderr: IO[str] | None = None if err is None else os.fdopen(err, encoding="utf-8")
        self.pid = int.from_bytes(os.read(self._ended, 8), "big")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, e: BaseException | None, t: TracebackType | None
    ) -> None:
        self.stdout.close()
        self.wait()

    def poll(self) -> int | None:
        """How it ended, as ``subprocess`` says it (minus the signal's number), or None."""
        if self.returncode is None and select.select([self._ended], [], [], 0.0)[0]:
            status = int.from_bytes(os.read(self._ended, 8), "big")
            self.returncode = os.waitstatus_to_exitcode(status)
            os.close(self._ended)
        return self.returncode

    def wait(self, timeout: float | None = None) -> int:
        """Until it has ended. Raises subprocess.TimeoutExpired."""
        if self.returncode is None and not select.select([self._ended], [], [], timeout)[0]:
            raise subprocess.TimeoutExpired(self.args, timeout or 0.0)
        ended = self.poll()
        assert ended is not None
        return ended

    def communicate(self, timeout: float | None = None) -> tuple[str, str]:
        """What it wrote until its end. Raises subprocess.TimeoutExpired."""
        until = time.monotonic() + (1e9 if timeout is None else timeout)
        wrote = ["", ""]

        def read(n: int, f: IO[str]) -> None:
            if not f.closed:
                with f:
                    wrote[n] = f.read()

        readers = [
            threading.Thread(target=read, args=(n, f), daemon=True)
            for n, f in enumerate((self.stdout, self.stderr))
            if f is not None
        ]
        for t in readers:
            t.start()
        for t in readers:
            t.join(min(until - time.monotonic(), 1e6))
        self.wait(min(max(0.0, until - time.monotonic()), 1e6))
        return wrote[0], wrote[1]

    def send_signal(self, number: int) -> None:
        """Nothing is sent to one that has ended."""
        if self.poll() is None:
            os.kill(self.pid, number)

    def kill(self) -> None:
        self.send_signal(signal.SIGKILL)

    def terminate(self) -> None:
        self.send_signal(signal.SIGTERM)


def run(
    code: str, *args: str, stdin: str | None = None, timeout: float = 120.0, **how: object
) -> subprocess.CompletedProcess[str]:
    """To its end, with all that it wrote."""
    program = Program(code, *args, stdin=stdin, stderr=PIPE, **how)  # type: ignore[arg-type]
    out, err = program.communicate(timeout)
    return subprocess.CompletedProcess([code, *args], program.wait(), out, err)


_LOCK = threading.Lock()


@functools.cache
def _ready() -> socket.socket:
    """The way to the process that has it all imported; it ends with this one."""
    ours, theirs = socket.socketpair()
    env = {**os.environ, "PYTHONPATH": str(Path(__file__).parent)}
    subprocess.Popen(
        [sys.executable, "-c", START, str(theirs.fileno())], pass_fds=[theirs.fileno()],
        stdin=subprocess.DEVNULL, env=env,
    )  # fmt: skip
    theirs.close()
    return ours


def wait_for_work() -> None:
    """Import everything, then return once in each fork, set up as ``python -c`` would be."""
    global code
    for module in pkgutil.walk_packages(plumbstar.__path__, "plumbstar."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    importlib.import_module("uvicorn.protocols.http.h11_impl")  # which it would choose by itself
    for page in ("app", "pair"):
        bundle.parts(page)
    find_target("M 42")
    doubles.load()
    asterisms.load()
    books.copy_the_new()
    # What is imported stays: nobody's collector goes through it again, and so copies its pages.
    gc.collect()
    gc.freeze()
    at = socket.socket(fileno=int(sys.argv[1]))
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # those that wait are never waited for
    while True:
        size, fds, _, _ = socket.recv_fds(at, 8, 4)
        if not size:
            os._exit(0)
        order = json.loads(at.recv(int.from_bytes(size, "big"), socket.MSG_WAITALL))
        if not os.fork():
            at.close()
            signal.signal(signal.SIGCHLD, signal.SIG_DFL)
            break
        for fd in fds:
            os.close(fd)
    *files, status = fds
    if pid := os.fork():  # waits for the program and tells how it ended
        for fd in (0, 1, 2, *files):
            os.close(fd)
        os.write(status, pid.to_bytes(8, "big"))
        ended = os.waitpid(pid, 0)[1]
        with contextlib.suppress(BrokenPipeError):
            os.write(status, ended.to_bytes(8, "big"))
        os._exit(0)
    os.close(status)
    for n, fd in enumerate(files):
        os.dup2(fd, n)
        os.close(fd)
    os.environ.clear()
    os.environ.update(order["env"])
    time.tzset()
    os.chdir(order["cwd"])
    sys.argv = ["-c", *order["args"]]
    sys.stdout.reconfigure(write_through="PYTHONUNBUFFERED" in os.environ)  # type: ignore[union-attr]
    code = order["code"]
