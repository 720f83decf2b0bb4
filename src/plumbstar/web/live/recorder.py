"""A recording of an evening: the board's bytes and the presses, each with its time, one a line.

Off unless asked for (``serve --record``). A file never grows beyond its bound: then the recording
ends and the evening goes on; so it does when the disk refuses. replaying.py reads it back.
"""

from __future__ import annotations

import base64
import threading
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from plumbstar.encoders.source import Source
from plumbstar.encoders.tracker import Tracker
from plumbstar.errors import UserError
from plumbstar.sky.times import Instant

if TYPE_CHECKING:
    from plumbstar.web.evening.evening import Evening

FORMAT = "plumbstar recording 1"
#: Eight hours of a board at 20 lines a second are about 30 MB.
MOST_BYTES = 64_000_000


class RecordingBegan(msgspec.Struct, frozen=True, tag="began"):
    """The first line: the clocks (seconds), and the logbook with the outing in progress only."""

    format: str
    at: float
    unix: float
    encoders: bool
    logbook: str


class BytesCame(msgspec.Struct, frozen=True, tag="bytes"):
    """Bytes of the board, as Latin-1."""

    at: float
    data: str
    unix: float


class WentQuiet(msgspec.Struct, frozen=True, tag="quiet"):
    """Silence since ``heard``: an unfinished line was taken as whole."""

    at: float
    heard: float
    unix: float


class LinkOpened(msgspec.Struct, frozen=True, tag="opened"):
    at: float


class LinkLost(msgspec.Struct, frozen=True, tag="lost"):
    at: float
    why: str


class RequestCame(msgspec.Struct, frozen=True, tag="press"):
    """A request of a page: ``received`` on the steady clock, its body as it came."""

    at: float
    name: str
    body: str
    received: float


class TimedPress(msgspec.Struct, frozen=True, tag="moment"):
    """The moment (a pair of Julian dates, UTC) that a press was given."""

    press: str
    jd: tuple[float, float]


class LearntPriors(msgspec.Struct, frozen=True, tag="learnt"):
    """What past outings had taught: means and sigmas, radians; None stands for unknown. ``hand``:
    centring, sigma of its logarithm, the kit's centring, and how many outings tell.
    ``changed``, ``one_of``: as in :class:`~plumbstar.mount.priors.Priors`."""

    at: float
    mean: tuple[float, ...]
    sigma: tuple[float | None, ...]
    hand: tuple[float, float, float, int] | None = None
    changed: tuple[tuple[int, float, float], ...] = ()
    one_of: tuple[tuple[int, float, float, float], ...] = ()


Line = (
    RecordingBegan
    | BytesCame
    | WentQuiet
    | LinkOpened
    | LinkLost
    | RequestCame
    | TimedPress
    | LearntPriors
)


class Recorder:
    """Lines into one file; may be called from any thread. Nothing raises once it is open."""

    def __init__(self, path: Path, most_bytes: int = MOST_BYTES) -> None:
        self.path, self._most = path, most_bytes
        self._lock = threading.Lock()
        self._size = 0
        #: Why nothing is recorded any more; empty while it is.
        self.ended = ""
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._file = path.open("xb")
        except OSError as e:
            raise UserError(
                f"the recording {path} ({e.strerror})",
                "a new file that can be written",
                "Give the recording another name",
            ) from None

    def write(self, line: Line) -> None:
        """One more line, on its way to the disk when this returns."""
        raw = msgspec.json.encode(line) + b"\n"
        with self._lock:
            if self.ended:
                return
            if self._size + len(raw) > self._most:
                self._end(f"it has reached its bound of {self._most // 1_000_000} MB")
                return
            try:
                self._file.write(raw)
                self._file.flush()
            except OSError as e:
                self._end(f"the disk refused it ({e.strerror})")
            self._size += len(raw)

    def _end(self, why: str) -> None:
        self.ended = why
        self._file.close()

    def close(self) -> None:
        """The end of the evening."""
        with self._lock:
            if not self.ended:
                self._end("closed")

    # ---- what is written when

    def begin(self, evening: Evening, at: float, unix: float, encoders: bool) -> None:
        """The evening as it is before anything happens."""
        outing = evening.outing
        raw = evening.book.copy_of_one(outing.id if outing is not None else None)
        packed = base64.b64encode(zlib.compress(raw)).decode()
        self.write(RecordingBegan(FORMAT, at, unix, encoders, packed))

    def press(self, at: float, name: str, body: bytes, received: float) -> None:
        """A request that is about to be done."""
        self.write(RequestCame(at, name, body.decode("utf-8"), received))

    def moment(self, press: str, utc: Instant) -> None:
        """When a press was, by the evening's clock."""
        self.write(TimedPress(press, (utc.jd1, utc.jd2)))

    def learnt(self, evening: Evening, at: float) -> None:
        """What past outings taught has come in."""
        priors = evening.instrument.priors
        sigma = tuple(None if s == float("inf") else s for s in priors.sigma.tolist())
        learnt = evening.instrument.learnt
        h = learnt.hand if learnt is not None else None
        hand = (h.centring, h.sigma_log, h.stated, h.outings) if h is not None else None
        mean, may_be = tuple(priors.mean.tolist()), (priors.changed, priors.one_of)
        self.write(LearntPriors(at, mean, sigma, hand, *may_be))


class _RecordingTracker(Tracker):
    """Writes down what it is told, then does it."""

    def __init__(self, recorder: Recorder, like: Tracker) -> None:
        self.__dict__.update(like.__dict__)
        self._recorder = recorder

    def opened(self, now: float) -> None:
        self._recorder.write(LinkOpened(now))
        super().opened(now)

    def lost(self, now: float, why: str) -> None:
        self._recorder.write(LinkLost(now, why))
        super().lost(now, why)

    def feed(self, data: bytes, now: float, unix: float) -> int:
        self._recorder.write(BytesCame(now, data.decode("latin-1"), unix))
        return super().feed(data, now, unix)

    def flush(self, heard: float, now: float, unix: float) -> int:
        self._recorder.write(WentQuiet(now, heard, unix))
        return super().flush(heard, now, unix)


def recorded(source: Source, recorder: Recorder) -> Source:
    """The same source, which has said nothing yet, with what it hears written down."""
    source._tracker = _RecordingTracker(recorder, source._tracker)
    return source
