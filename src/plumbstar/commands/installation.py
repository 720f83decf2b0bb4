"""Is everything in place? Each question of one kind, answered in one sentence, with what to do.

This looks at the world (disk, clock, ports) and changes nothing in it.
"""

from __future__ import annotations

import errno
import importlib.util
import os
import shutil
import socket
import sqlite3
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from plumbstar import __version__
from plumbstar import kit as kits
from plumbstar.clock import doubts as clock_check
from plumbstar.clock import say as clock_say
from plumbstar.errors import UserError, how_to_add
from plumbstar.kit import Kit
from plumbstar.logbook import elements_file, own_file
from plumbstar.logbook.connecting import connect, inspect
from plumbstar.sky.earth import past_table, table_end
from plumbstar.sky.lists import catalogue, deepsky, doubles, faint, towns
from plumbstar.sky.times import Instant
from plumbstar.text.words import many
from plumbstar.web.evening.timekeeping import not_before

State = Literal["good", "mend", "unsure"]

#: An evening's log is under a megabyte; a disk with less than this fills up with other things.
LEAST_FREE_MB = 50.0
#: A clock may run this much off against the steady one while it is set over the network.
_CLOCK_STEP_S = 0.2
_EXTRAS = {
    "PIL": ("Judging photographs of stars", "photos"),
    "typst": ("The night card on paper", "card"),
    "cryptography": ("Serving the pages over https", "https"),
    "pynmeagps": ("Place and time from a GPS receiver", "gps"),
}


@dataclass(frozen=True, slots=True)
class InPlace:
    """Whether one part is in place. ``remedy`` is empty where nothing is to be done."""

    about: str
    state: State
    sentence: str
    remedy: str = ""


def look(kit_path: str | None, logbook: Path, port: int, host: str) -> Iterator[InPlace]:
    """All of them, one after another, as they are found; none stops the rest."""
    kit, kit_finding = _kit(kit_path)
    steps: tuple[Callable[[], Iterator[InPlace]], ...] = (
        _program,
        _data,
        lambda: iter([kit_finding]),
        lambda: _encoders(kit),
        lambda: _clock(logbook),
        lambda: _logbook(logbook),
        _own,
        lambda: _port(host, port),
    )
    for step in steps:
        yield from step()


def _program() -> Iterator[InPlace]:
    python = ".".join(str(n) for n in sys.version_info[:3])
    yield InPlace("program", "good", f"Plumbstar {__version__} on Python {python}")
    for module, (what, extra) in _EXTRAS.items():
        if importlib.util.find_spec(module) is None:
            yield InPlace(
                "program", "unsure", f"{what}: not installed",
                f"If you want it: {how_to_add(extra)}",
            )  # fmt: skip


def _data() -> Iterator[InPlace]:
    try:
        counts = (
            f"{len(catalogue.load()):,} stars, {len(deepsky.load()):,} objects, "
            f"{len(doubles.load())} double stars"
        )
        faint.load()
        towns.load()
    except (OSError, ValueError, KeyError) as e:
        yield InPlace(
            "data", "mend", f"The packaged lists cannot be read ({type(e).__name__}: {e})",
            "Install Plumbstar again",
        )  # fmt: skip
        return
    yield InPlace("data", "good", counts)
    now = Instant.from_unix(time.time())
    end = table_end().iso()[:10]
    if past_table(now):
        yield InPlace(
            "data", "unsure",
            f"The table of the Earth's rotation ended on {end}; its last value is used, which "
            "is less than half a second of time off in the first year",
            "pip install --upgrade astropy-iers-data",
        )  # fmt: skip
    else:
        yield InPlace("data", "good", f"The table of the Earth's rotation reaches to {end}")


def _kit(path: str | None) -> tuple[Kit | None, InPlace]:
    if path is None:
        return None, InPlace(
            "kit", "unsure", "No kit file was named", "Give --kit; plumbstar kit --new writes one"
        )
    try:
        kit = kits.load(Path(path))
    except UserError as e:
        return None, InPlace("kit", "mend", e.trouble, e.remedy)
    t = kit.telescope
    n = len(kit.eyepiece)
    return kit, InPlace(
        "kit", "good",
        f"{kit.name}: {t.aperture_mm:g} mm, {many(n, 'eyepiece') if n else 'no eyepieces'}",
    )  # fmt: skip


def _encoders(kit: Kit | None) -> Iterator[InPlace]:
    if kit is None or not kit.connection.heard:
        if kit is not None:
            beside = kit.connection.kind == "controller"
            said = "In a closed controller" if beside else "None: readings are typed"
            yield InPlace("encoders", "good", said)
        return
    c = kit.connection
    if c.kind == "serial":
        device = Path(c.device)
        on_windows = os.name == "nt"
        if not on_windows and not device.exists():
            have = sorted(str(p) for n in ("ttyUSB*", "ttyACM*") for p in Path("/dev").glob(n))
            yield InPlace(
                "encoders", "mend", f"The port {c.device} is not there",
                f"Those there: {', '.join(have)}" if have else "Plug the board in, and look again",
            )  # fmt: skip
        elif not on_windows and not os.access(device, os.R_OK | os.W_OK):
            yield InPlace(
                "encoders", "mend", f"The port {c.device} may not be used by you",
                "Add yourself to its group (often dialout), then log in anew",
            )  # fmt: skip
        else:
            yield InPlace("encoders", "good", f"The port {c.device} is there",
                          "plumbstar readings shows what comes")  # fmt: skip
        return
    try:
        with socket.create_connection((c.host, c.port), timeout=2.0):
            yield InPlace("encoders", "good", f"{c.host}:{c.port} answers")
    except OSError as e:
        yield InPlace(
            "encoders", "mend", f"{c.host}:{c.port} does not answer ({e.strerror or e})",
            "Is the board on, and on this network?",
        )  # fmt: skip


def _clock(logbook: Path) -> Iterator[InPlace]:
    before, steady = time.time(), time.monotonic()
    time.sleep(0.05)
    step = (time.time() - before) - (time.monotonic() - steady)
    now, last = time.time(), _last_entry(logbook)
    doubts = clock_check.look(
        now, not_before=not_before(), last_entry=last.to_unix() if last is not None else None
    )
    if doubts:
        yield InPlace(
            "clock", "mend", clock_say.sentence(doubts[0]).rstrip("."),
            "Set its clock: a second is 15 arcsec of sky",
        )  # fmt: skip
    elif abs(step) > _CLOCK_STEP_S:
        yield InPlace("clock", "unsure", f"The clock was just moved by {step:+.1f} s",
                      "Look again in a minute")  # fmt: skip
    else:
        yield InPlace(
            "clock", "good", f"It is {Instant.from_unix(now)}: compare with a clock you trust"
        )


def _last_entry(path: Path) -> Instant | None:
    """When something was last written, which is not when it was observed: that may be rehearsed."""
    try:
        with closing(connect(path, "mode=ro")) as db:
            row = db.execute("SELECT at FROM changes ORDER BY id DESC LIMIT 1").fetchone()
        return Instant.parse(row[0]) if row is not None else None
    except (sqlite3.Error, OSError, UserError):
        return None


def _logbook(path: Path) -> Iterator[InPlace]:
    folder = path.parent
    there = next(p for p in (folder, *folder.parents) if p.exists())
    free = shutil.disk_usage(there).free / 1e6
    if free < LEAST_FREE_MB:
        yield InPlace("disk", "mend", f"Only {free:.0f} MB are free where the logbook is kept",
                      "Make room before going out")  # fmt: skip
    else:
        yield InPlace("disk", "good", f"{free:,.0f} MB free where the logbook is kept")
    if not os.access(there if not path.exists() else path, os.W_OK):
        yield InPlace("logbook", "mend", f"{path} can only be read",
                      "Make it writable, or name another with --logbook")  # fmt: skip
        return
    if not path.exists():
        yield InPlace("logbook", "good", f"None yet: {path} will be made with the first outing")
        return
    try:
        with closing(connect(path, "mode=ro")) as db:
            inspect(db, path)
            (outings,) = db.execute("SELECT count(*) FROM outings").fetchone()
    except UserError as e:
        yield InPlace("logbook", "mend", e.trouble, e.remedy)
        return
    except sqlite3.Error as e:
        yield InPlace(
            "logbook", "mend", f"{path} cannot be read ({e})",
            "Keep the file; plumbstar log recover brings back the last good copy",
        )  # fmt: skip
        return
    yield InPlace("logbook", "good", f"{path}: sound, {many(outings, 'outing')}")


def _own() -> Iterator[InPlace]:
    try:
        own = own_file.load(own_file.default_path())
    except UserError as e:
        yield InPlace("own objects", "mend", e.trouble, e.remedy)
        return
    if len(own):
        yield InPlace("own objects", "good", f"{len(own)} in {own_file.default_path()}")
    kept = elements_file.load(elements_file.default_folder())
    if kept.bad:
        yield InPlace(
            "orbits", "mend", f"{many(len(kept.bad), 'line')} of elements cannot be read",
            "plumbstar orbits list names them",
        )  # fmt: skip
    if len(kept.bodies):
        yield InPlace("orbits", "good", f"{len(kept.bodies)} in {elements_file.default_folder()}")


def _port(host: str, port: int) -> Iterator[InPlace]:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as s:
        s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            s.bind((host, port))
        except OSError as e:
            taken = e.errno == errno.EADDRINUSE
            yield InPlace(
                "pages", "unsure" if taken else "mend",
                f"Port {port} is in use" if taken else f"Port {port}: {e.strerror or e}",
                "If that is Plumbstar itself, all is well; else serve with another --port"
                if taken else "Serve with another --host or --port",
            )  # fmt: skip
            return
    yield InPlace("pages", "good", f"Port {port} is free for the pages")
