"""How late is a reading on the phone, and what does the stream cost? Run: python bench/stream.py

A board sends a new count 20 times a second; eight clients listen over real sockets. Measured from
the moment the board writes the line to the moment the client has the event with that count. Beside
it in the same run, as the reference: the least server that does the same without any arithmetic
(the same uvicorn, the line passed on as it came). Then the same while the ranking of stars runs,
and with eight further clients that never read. And how soon each server answers after its start.
"""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import json
import os
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from plumbstar import kit as kits

CLIENTS, HERTZ, SECONDS = 8, 20.0, float(os.environ.get("BENCH_SECONDS", "8"))
TICKS = 9216

REFERENCE = """
import asyncio, sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import StreamingResponse, Response
from starlette.routing import Route
port, board = int(sys.argv[1]), int(sys.argv[2])
latest, news = [b""], set()
async def listen():
    while True:
        try:
            reader, _ = await asyncio.open_connection("127.0.0.1", board)
            while line := await reader.readline():
                az = float(line.split()[0]) * 360 / 9216
                latest[0] = b"event: reading\\ndata: {\\"az_reading_deg\\": %.4f}\\n\\n" % az
                for e in news: e.set()
        except OSError:
            pass
        await asyncio.sleep(0.1)
async def stream(request):
    async def body():
        e = asyncio.Event(); news.add(e)
        try:
            while True:
                await e.wait(); e.clear(); yield latest[0]
        finally: news.discard(e)
    return StreamingResponse(body(), media_type="text/event-stream")
async def main():
    task = asyncio.create_task(listen())
    app = Starlette(routes=[Route("/stream", stream), Route("/", lambda r: Response("ok"))])
    await uvicorn.Server(uvicorn.Config(app, port=port, log_level="critical")).serve()
asyncio.run(main())
"""


def free_port() -> int:
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return int(s.getsockname()[1])


class Board:
    """Writes one line a tick to whoever is connected, and remembers when it wrote which count."""

    def __init__(self) -> None:
        self.sent: dict[int, float] = {}
        self.count = 100
        self.writers: set[asyncio.StreamWriter] = set()
        self.port = free_port()

    async def _client(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.writers.add(writer)
        with contextlib.suppress(ConnectionError, asyncio.CancelledError):
            while await reader.read(100):
                pass
        self.writers.discard(writer)

    async def run(self) -> None:
        server = await asyncio.start_server(self._client, "127.0.0.1", self.port)
        async with server:
            due = time.perf_counter()
            while True:
                due += 1.0 / HERTZ
                await asyncio.sleep(max(0.0, due - time.perf_counter()))
                self.count += 1
                self.sent[self.count] = time.perf_counter()
                for w in list(self.writers):
                    w.write(b"%d %d\r\n" % (self.count, TICKS // 8))


async def listen(port: int, board: Board, lags: list[float], gaps: list[float]) -> None:
    """One client: lag of each event whose count has just been sent, and the gaps between events."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    writer.write(b"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % port)
    last, name = None, b""
    try:
        while line := await reader.readline():
            now = time.perf_counter()
            if line.startswith(b"event: "):
                name = line
            elif line.startswith(b"data: ") and b"reading" in name:
                az = json.loads(line[6:])["az_reading_deg"]
                count = round(az * TICKS / 360.0) if az is not None else -1
                if count in board.sent:
                    lags.append(now - board.sent[count])
                    if last is not None:
                        gaps.append(now - last)
                    last = now
    finally:
        writer.close()


def cpu_seconds(pid: int) -> float:
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def quantile(values: list[float], q: float) -> float:
    return sorted(values)[min(len(values) - 1, int(q * len(values)))] if values else float("nan")


async def measure(port: int, pid: int, board: Board, during: object = None) -> dict[str, float]:
    lags: list[float] = []
    gaps: list[float] = []
    tasks = [asyncio.create_task(listen(port, board, lags, gaps)) for _ in range(CLIENTS)]
    await asyncio.sleep(1.0)
    lags.clear()
    gaps.clear()
    began, used = time.perf_counter(), cpu_seconds(pid)
    if callable(during):
        await asyncio.to_thread(during)
    await asyncio.sleep(SECONDS)
    wall, used = time.perf_counter() - began, cpu_seconds(pid) - used
    for t in tasks:
        t.cancel()
    await asyncio.gather(*tasks, return_exceptions=True)
    return {
        "events_per_s_and_client": len(lags) / wall / CLIENTS,
        "median_ms": 1e3 * statistics.median(lags),
        "p99_ms": 1e3 * quantile(lags, 0.99),
        "worst_gap_ms": 1e3 * max(gaps),
        "cpu_share_percent": 100.0 * used / wall,
    }


def start(
    command: list[str], port: int, env: dict[str, str]
) -> tuple[subprocess.Popen[bytes], float, float]:
    """The process, the seconds from its start to its first page, and those of the processor."""
    began = time.perf_counter()
    process = subprocess.Popen(command, env=env, stdout=subprocess.DEVNULL)
    while True:
        try:
            c = http.client.HTTPConnection("127.0.0.1", port, timeout=5)
            c.request("GET", "/")
            c.getresponse().read()
            return process, time.perf_counter() - began, cpu_seconds(process.pid)
        except OSError:
            if process.poll() is not None:
                raise SystemExit("the server did not start") from None
            time.sleep(0.005)


def post(port: int, name: str, body: dict[str, object]) -> None:
    c = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    c.request("POST", f"/do/{name}", json.dumps(body), {"X-Plumbstar": "1"})
    r = c.getresponse()
    text = r.read()
    if r.status != 200:
        raise SystemExit(f"{name}: {text!r}")


def ranked(port: int) -> None:
    """Wait until the ranking is over, so that it does not run into the next measurement."""
    for _ in range(300):
        c = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
        c.request("GET", "/data/state")
        if json.loads(c.getresponse().read())["choice"]["status"] == "ready":
            return
        time.sleep(0.1)


def show(label: str, m: dict[str, float]) -> None:
    print(
        f"{label:34s} median {m['median_ms']:6.1f} ms   99 in 100 under {m['p99_ms']:6.1f} ms   "
        f"worst gap {m['worst_gap_ms']:6.1f} ms   {m['events_per_s_and_client']:5.1f} a second   "
        f"CPU {m['cpu_share_percent']:4.1f} %"
    )


async def main() -> None:
    board = Board()
    ticking = asyncio.create_task(board.run())
    with tempfile.TemporaryDirectory() as place:
        env = {**os.environ, "XDG_DATA_HOME": place}
        port = free_port()
        reference, ref_ready, ref_cpu = await asyncio.to_thread(
            start, [sys.executable, "-c", REFERENCE, str(port), str(board.port)], port, env
        )
        ref = await measure(port, reference.pid, board)
        reference.kill()
        reference.wait()

        head, tail = kits.example_text().split("[connection]")
        kit = Path(place) / "kit.toml"
        kit.write_text(
            f'{head}[connection]\nkind = "tcp"\nhost = "127.0.0.1"\nport = {board.port}\n'
            f"pushed = true\n\n[stop]{tail.split('[stop]', 1)[1]}"
        )
        port = free_port()
        serve = [
            sys.executable, "-c", "from plumbstar.cli import main; main()", "serve",
            "--site", "47.2,11.6,940", "--kit", str(kit), "--port", str(port),
            "--logbook", f"{place}/log.sqlite3", "--utc", "2027-01-28T18:30:00Z", "--json",
        ]  # fmt: skip
        server, ready, ready_cpu = await asyncio.to_thread(start, serve, port, env)
        began = time.perf_counter()

        def state_ready() -> float:
            c = http.client.HTTPConnection("127.0.0.1", port, timeout=20)
            c.request("GET", "/data/state")
            c.getresponse().read()
            return time.perf_counter() - began

        full = ready + await asyncio.to_thread(state_ready)
        bare = await measure(port, server.pid, board)
        for k, star in enumerate(("Capella", "Rigel")):
            await asyncio.to_thread(
                post, port, "sight", {"star": star, "id": f"press-{k:04d}", "ago_ms": 0}
            )
        await asyncio.to_thread(post, port, "set_target", {"name": "M42"})
        await asyncio.sleep(2.0)
        pushing = await measure(port, server.pid, board)
        busy = await measure(port, server.pid, board, lambda: post(port, "choose", {"stars": 3}))
        await asyncio.to_thread(ranked, port)
        sleepers = []
        for _ in range(CLIENTS):
            s = socket.create_connection(("127.0.0.1", port))
            s.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            s.sendall(b"GET /stream HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % port)
            sleepers.append(s)
        asleep = await measure(port, server.pid, board)
        for s in sleepers:
            s.close()
        server.terminate()
        server.wait()
    ticking.cancel()
    print(
        f"{CLIENTS} clients, {HERTZ:g} readings a second, {SECONDS:g} s each, "
        f"load now {os.getloadavg()[0]:.1f}"
    )
    show("reference: passed on unchanged", ref)
    show("readings alone", bare)
    show("with fix, target and push", pushing)
    show("while stars are being ranked", busy)
    show("with eight more that never read", asleep)
    print(
        f"against the reference: lag {pushing['median_ms'] / ref['median_ms']:.1f} times, "
        f"CPU {pushing['cpu_share_percent'] / max(ref['cpu_share_percent'], 0.1):.1f} times"
    )
    print(
        f"first page {ready:.2f} s after the start ({ready_cpu:.2f} s of processor), whole state "
        f"{full:.2f} s; reference server {ref_ready:.2f} s ({ref_cpu:.2f} s): "
        f"{ready / ref_ready:.1f} times"
    )


if __name__ == "__main__":
    asyncio.run(main())
