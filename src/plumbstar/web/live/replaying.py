"""A recorded evening done again: the same bytes and presses, through the program as it is now."""

from __future__ import annotations

import base64
import binascii
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import msgspec
import numpy as np

from plumbstar.diagnose.hand import LearntHand
from plumbstar.diagnose.learn import Learnt
from plumbstar.errors import UserError
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import MayHaveChanged, OneOf, Priors
from plumbstar.sky.times import Instant
from plumbstar.solve.fix import Fix
from plumbstar.web.evening.evening import Evening
from plumbstar.web.evening.timekeeping import Timekeeping
from plumbstar.web.live import recorder as rec
from plumbstar.web.live.virtual import VirtualClock, VirtualStation


class _ReplayClock(VirtualClock):
    """Gives a press the moment that it had."""

    given: Instant | None = None

    def at(self, monotonic: float) -> Instant:
        return super().at(monotonic) if self.given is None else self.given


@dataclass(frozen=True)
class Replayed:
    """What came of it. ``sentence`` and ``fix``: the last fix, None without one."""

    presses: int
    refused: tuple[str, ...]
    sightings: int
    slip: bool
    fix: Fix | None
    sentence: str


def read(path: Path) -> Iterator[rec.Line]:
    """Its lines; a last one that was cut off is left out. Raises UserError."""
    try:
        raw = path.read_bytes().split(b"\n")
    except OSError as e:
        raise UserError(
            f"the recording {path} ({e.strerror})", "a recording of an evening", "Check the name"
        ) from None
    decoder = msgspec.json.Decoder(rec.Line)
    for number, line in enumerate(raw, 1):
        try:
            if line:
                yield decoder.decode(line)
        except (msgspec.MsgspecError, UnicodeDecodeError):
            if number < len(raw):
                raise UserError(
                    f"line {number} of {path.name}",
                    "a line of a recording of an evening",
                    "Check that this is the file, and whole",
                ) from None


async def replay(path: Path, folder: Path) -> Replayed:
    """Do it again, with a logbook of its own in that empty folder. Raises UserError."""
    lines = list(read(path))
    if not lines or not isinstance(lines[0], rec.RecordingBegan) or lines[0].format != rec.FORMAT:
        raise UserError(
            f"{path.name}", f"a recording that begins with '{rec.FORMAT}'", "Check the file"
        )
    began, file = lines[0], folder / "logbook.sqlite3"
    try:
        file.write_bytes(zlib.decompress(base64.b64decode(began.logbook)))
    except (binascii.Error, zlib.error, ValueError):
        raise UserError(
            f"the logbook at the head of {path.name}", "one that is whole", "Record again"
        ) from None
    moments = {x.press: Instant(*x.jd) for x in lines if isinstance(x, rec.TimedPress)}
    clock = _ReplayClock(began.at, began.unix)
    book = Logbook.open(str(file), clock=clock.real_unix)
    station = VirtualStation(
        lambda: Evening(
            book,
            clock.now,
            encoders=began.encoders,
            timekeeping=Timekeeping(book, clock, earliest=0.0),
        ),
        clock,
    )
    await station.start()
    presses, refused = 0, []
    for x in lines[1:]:
        if isinstance(x, rec.RecordingBegan | rec.TimedPress):
            continue
        await station.go_to(max(x.at, clock.steady_s))
        if isinstance(x, rec.BytesCame):
            station.source.heard(x.data.encode("latin-1"))
        elif isinstance(x, rec.WentQuiet):
            station.source.quiet_since(x.heard)
        elif isinstance(x, rec.LinkOpened):
            station.source.opened()
        elif isinstance(x, rec.LinkLost):
            station.source.lost(x.why)
        elif isinstance(x, rec.LearntPriors):
            _learn(station.evening, x)
        else:
            presses += 1
            clock.given = moments.get(_id_of(x.body))
            try:
                await station.act(x.name, x.body.encode(), x.received)
            except (UserError, KeyError) as why:
                refused.append(f"{x.name}: {why}")
            clock.given = None
    await station.look()
    e = station.evening
    sentence = e.fix_words()[0] if e.fix is not None else ""
    done = Replayed(
        presses, tuple(refused), len(e.sightings.all), e.slips.open is not None, e.fix, sentence
    )
    await station.readings.stop()
    book.close()
    return done


class _Id(msgspec.Struct):
    id: str | int = ""


def _id_of(body: str) -> str:
    try:
        return str(msgspec.json.decode(body, type=_Id).id)
    except msgspec.MsgspecError:
        return ""


def _learn(e: Evening, x: rec.LearntPriors) -> None:
    sigma = np.array([np.inf if s is None else s for s in x.sigma])
    hand = LearntHand(*x.hand) if x.hand is not None else None
    changed = tuple(MayHaveChanged(*c) for c in x.changed)
    one_of = tuple(OneOf(*c) for c in x.one_of)
    priors = Priors(np.array(x.mean), sigma, changed, one_of)
    e.take_learnt(Learnt(priors, (), hand=hand), e.learning_key)
