"""A rehearsal by one press: the observer's own kit and site, simulated circles, another port.

It is a server of its own beside this one (``plumbstar demo --serve --kit``), with a logbook that is
thrown away: nothing of it can touch the evening. It ends with this server, or by a press.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from plumbstar.errors import UserError

#: So long the other server may take to come up, seconds.
COMES_UP_S = 60.0


@dataclass(frozen=True)
class OwnEvening:
    """What is rehearsed: the kit's text, the place as coordinates, the skyline's text, and the
    site's zone. ``zenith_mag``: how dark its sky gets, None where nobody said. ``controller``:
    beside a closed one."""

    kit_text: str
    place: str
    skyline: str
    time_zone: str
    zenith_mag: float | None = None
    controller: bool = False


class Rehearsing:
    """At most one at a time. ``options``: how the pages are reached (host, names, https)."""

    def __init__(self, options: tuple[str, ...], port: int) -> None:
        self._options, self._port = options, port
        self._process: asyncio.subprocess.Process | None = None
        self._folder: tempfile.TemporaryDirectory[str] | None = None
        self._lock = asyncio.Lock()

    async def begin(self, what: OwnEvening) -> int:
        """Start it anew. Returns the port of its pages. Raises :class:`UserError`."""
        async with self._lock:
            await self._end()
            self._folder = tempfile.TemporaryDirectory(prefix="plumbstar-rehearsal-")
            kit = Path(self._folder.name) / "own.toml"
            kit.write_text(what.kit_text, encoding="utf-8")
            self._process = await asyncio.create_subprocess_exec(
                *(sys.executable, "-m", "plumbstar", "demo", "--serve", "--json"),
                *("--kit", str(kit), "--site", what.place, "--skyline", what.skyline),
                *("--zone", what.time_zone, "--port", "0", "--back-port", str(self._port)),
                *(() if what.zenith_mag is None else ("--zenith-mag", str(what.zenith_mag))),
                *(("--controller",) if what.controller else ()),
                *self._options,
                stdin=asyncio.subprocess.DEVNULL,
                stdout=asyncio.subprocess.PIPE,
                stderr=asyncio.subprocess.DEVNULL,
            )
            try:
                return await asyncio.wait_for(self._told(self._process), COMES_UP_S)
            except UserError:
                await self._end()
                raise
            except (TimeoutError, ValueError, KeyError):
                await self._end()
                raise UserError(
                    "The rehearsal did not start",
                    "",
                    "Try once more, or start the demo with your kit on the telescope's computer",
                ) from None

    @staticmethod
    async def _told(process: asyncio.subprocess.Process) -> int:
        assert process.stdout is not None
        said = json.loads(await process.stdout.readline())
        if "error" in said:
            why = str(said["error"]).removesuffix(str(said.get("remedy", ""))).rstrip(". ")
            raise UserError(f"The rehearsal did not start: {why}", "", str(said.get("remedy", "")))
        url = said["url"]
        return int(str(url).rstrip("/").rpartition(":")[2])

    async def end(self) -> None:
        """Stop it, if it runs."""
        async with self._lock:
            await self._end()

    async def _end(self) -> None:
        process, self._process = self._process, None
        if process is not None and process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.terminate()
            try:
                await asyncio.wait_for(process.wait(), 10.0)
            except TimeoutError:
                process.kill()
                await process.wait()
        if self._folder is not None:
            self._folder.cleanup()
            self._folder = None
